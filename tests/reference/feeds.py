"""Feed and calendar against independent readers.

    python tests/reference/feeds.py BRICKBOOK RECORD.json

starts BRICKBOOK with its invented data, corrects the unit of RECORD.json, and reads /feed.atom
with feedparser and against RFC 4287 (atom.rng, and the rules that a schema cannot say), and
/coming.ics with icalendar and against RFC 5545. An empty installation is read as well.
"""

import datetime
import json
import pathlib
import sys
import time

import feedparser
import icalendar
from lxml import etree

from counted import check, told
from served import Server

ATOM = "{http://www.w3.org/2005/Atom}"


def read_feed(server, schema):
    """Reads the feed in both ways; gives feedparser's view."""
    status, headers, body = server.get("/feed.atom")
    check("the feed is served", status == 200)
    check("as Atom", headers["content-type"].startswith("application/atom+xml"), headers["content-type"])
    again, _, _ = server.get("/feed.atom", headers["etag"])
    check("an unchanged feed is not sent again", again == 304, again)
    tree = etree.fromstring(body)
    check("RFC 4287 by schema", schema.validate(tree), schema.error_log)

    # What the schema cannot say (sections 4.1.1 and 4.1.2).
    links = tree.findall(f"{ATOM}link")
    own = [link.get("href") for link in links if link.get("rel") == "self"]
    check("names its own address", own == [f"{server.base}/feed.atom"], own)
    feed_author = tree.find(f"{ATOM}author") is not None
    entries = tree.findall(f"{ATOM}entry")
    ids = [tree.findtext(f"{ATOM}id")] + [entry.findtext(f"{ATOM}id") for entry in entries]
    check("every id is its own", len(set(ids)) == len(ids))
    check("ids are absolute", all(id.startswith("urn:uuid:") for id in ids))
    times = []
    for entry in entries:
        title = entry.findtext(f"{ATOM}title")
        alternates = [link for link in entry.findall(f"{ATOM}link") if link.get("rel", "alternate") == "alternate"]
        check("one alternate of each kind", len(alternates) == 1, title)
        check("an author", feed_author or entry.find(f"{ATOM}author/{ATOM}name") is not None, title)
        updated = datetime.datetime.fromisoformat(entry.findtext(f"{ATOM}updated"))
        published = datetime.datetime.fromisoformat(entry.findtext(f"{ATOM}published"))
        check("published no later than updated", published <= updated, title)
        times.append(updated)
        code, _, _ = server.get(alternates[0].get("href").removeprefix(server.base))
        check("the alternate is there", code == 200, alternates[0].get("href"))
    check("newest first", times == sorted(times, reverse=True))
    check("at most fifty", len(entries) <= 50, len(entries))
    feed_updated = datetime.datetime.fromisoformat(tree.findtext(f"{ATOM}updated"))
    check("the feed is as new as its newest entry", not times or feed_updated == times[0])

    parsed = feedparser.parse(body, response_headers={"content-type": headers["content-type"]})
    check("feedparser finds it well-formed", not parsed.bozo, parsed.get("bozo_exception"))
    check("feedparser calls it Atom 1.0", parsed.version == "atom10", parsed.version)
    check("both count the same", len(parsed.entries) == len(entries))
    for entry in parsed.entries:
        whole = all(entry.get(key) for key in ("id", "title", "link", "updated_parsed", "published_parsed", "summary", "author"))
        check("feedparser reads every part", whole, entry.get("title"))
        check("the summary says who measured", "Measured by us" in entry.summary, entry.summary)
    return parsed


def read_calendar(server):
    """The events of the calendar, held against the API."""
    status, headers, body = server.get("/coming.ics")
    check("the calendar is served", status == 200 and headers["content-type"].startswith("text/calendar"))
    check("lines end in CRLF", body.endswith(b"\r\n") and b"\n" not in body.replace(b"\r\n", b""))
    longest = max(len(line) for line in body.split(b"\r\n"))
    check("no line is longer than 75 octets", longest <= 75, longest)
    calendar = icalendar.Calendar.from_ical(body)
    check("icalendar finds no fault", not calendar.errors and not any(part.errors for part in calendar.walk()))
    for key in ("PRODID", "VERSION"):
        check(f"{key} is there once", isinstance(calendar.get(key), str), calendar.get(key))
    check("it holds something", len(calendar.subcomponents) >= 1)
    check("what is read is written the same", icalendar.Calendar.from_ical(calendar.to_ical()).to_ical() == calendar.to_ical())
    missing = [(part.name, key) for part in calendar.walk() for key in part.required if key not in part]
    check("nothing required is missing", not missing, missing)
    events = list(calendar.walk("VEVENT"))
    uids = [str(event["UID"]) for event in events]
    check("every UID is its own", len(set(uids)) == len(uids))
    for event in events:
        start = event.decoded("DTSTART")
        check("an event is a whole day", type(start) is datetime.date, start)
        check("DTSTAMP is in UTC", event.decoded("DTSTAMP").utcoffset() == datetime.timedelta(0))
        check("DTSTAMP comes from the data", event.decoded("DTSTAMP") == event.decoded("LAST-MODIFIED"))
        check("STATUS is one of an event's", event["STATUS"] in ("TENTATIVE", "CONFIRMED", "CANCELLED"), event["STATUS"])
        check("SEQUENCE counts", event.decoded("SEQUENCE") >= 0)
    listed = json.loads(server.get("/api/v1/coming")[2])["candidates"]
    dated = {one["uid"]: (f"{one['maker']} {one['model']}", one["planned_on"]) for one in listed if one["planned_on"]}
    shown = {str(e["UID"]): (str(e["SUMMARY"]).removesuffix(": test result"), e.decoded("DTSTART").isoformat()) for e in events}
    check("calendar and API agree", dated == shown, (dated, shown))
    time.sleep(1.1)
    check("the clock changes nothing", server.get("/coming.ics")[2] == body)
    return events


def main(binary, record):
    schema = etree.RelaxNG(etree.parse(str(pathlib.Path(__file__).with_name("atom.rng"))))
    with Server(binary) as server:
        check("an empty feed has no entries", read_feed(server, schema).entries == [])
        check("an empty calendar has no events", read_calendar(server) == [])
    with Server(binary, "--demo") as server:
        before = read_feed(server, schema)
        check("the invented units are in the feed", len(before.entries) == 50, len(before.entries))
        check("the invented plans are in the calendar", len(read_calendar(server)) >= 4)

        corrected = json.loads(record.read_text())
        corrected["notes"] = "Invented. Weighed again."
        file = pathlib.Path(server.folder.name) / "corrected.json"
        file.write_text(json.dumps(corrected))
        slug, reason = record.stem, "scale was <off> & \"wrong\""
        server.run("add", "--revise", slug, "--reason", reason, str(file))
        for _ in range(100):
            after = feedparser.parse(server.get("/feed.atom")[2])
            if after.entries[0].summary.startswith("Corrected"):
                break
            time.sleep(0.1)
        first = read_feed(server, schema).entries[0]
        check("the corrected unit comes first", first.link == f"{server.base}/unit/{slug}", first.link)
        check("and says why", f"Corrected (revision 2): {reason}." in first.summary, first.summary)
        earlier = {entry.id: entry for entry in before.entries}
        if old := earlier.get(first.id):
            check("published when it was", old.published == first.published)
        check("it is one entry still", sum(entry.link == first.link for entry in after.entries) == 1)
    return told()


if __name__ == "__main__":
    sys.exit(main(pathlib.Path(sys.argv[1]).resolve(), pathlib.Path(sys.argv[2])))

"""Makes the data of a released schema with the program of that time.

    make.py PROGRAM_OF_THAT_TIME ITS_SEED_DATA PRESENT_PROGRAM SCHEMA

fills an empty folder as a tester would (an account, published and revised units, a draft; a raw
log, a photo and the queue where that program knows them) and has the present program pack it into
schema-N.zip beside this file. Run once a schema; what is there is never made again.

No program of schema 4 could take a photo in, as the tables came first; a record that it published
may name one.
"""

import http.cookiejar
import json
import pathlib
import re
import signal
import struct
import subprocess
import sys
import tempfile
import urllib.parse
import urllib.request
import zlib

old, seeds, present, schema = sys.argv[1:5]
old, present = (str(pathlib.Path(path).resolve()) for path in (old, present))
schema = int(schema)
PASSWORD = "correct horse battery"


def fields_of(page, action):
    """Fields of the form of a page that goes to an address."""
    form = re.search(rf'<form[^>]*action="{re.escape(action)}"[^>]*>(.*?)</form>', page, re.S)
    found = {}
    for tag in re.findall(r"<input[^>]*>", form.group(1)):
        name = re.search(r'name="([^"]*)"', tag)
        value = re.search(r'value="([^"]*)"', tag)
        if name:
            found[name.group(1)] = value.group(1) if value else ""
    return found


with tempfile.TemporaryDirectory() as folder:
    folder = pathlib.Path(folder)
    data = folder / "data"

    def call(*arguments, text=None, program=old):
        done = subprocess.run(
            [program, *arguments, "--data-dir", str(data)],
            input=text,
            capture_output=True,
            text=True,
            cwd=folder,
        )
        if done.returncode != 0:
            sys.exit(f"{arguments}: {done.stderr}")
        return done.stdout

    call("user", "add", "Ada", "--password-stdin", text=PASSWORD + "\n")
    names = sorted(pathlib.Path(seeds).glob("*.json"))
    plain = [name for name in names if not json.loads(name.read_text()).get("logs")]
    chosen = plain[:2]
    for name in chosen:
        record = json.loads(name.read_text())
        record.pop("photos", None)
        # As somebody types it: indented, numbers with trailing zeros.
        text = json.dumps(record, indent=1, ensure_ascii=False).replace("115,", "115.0,")
        (folder / name.name).write_text(text + "\n")
        told = call("add", "--author", "Ada", name.name)
    slug = re.search(r"(\S+) revision 1", told).group(1)
    record = json.loads((folder / chosen[-1].name).read_text())
    record["notes"] = "weighed again"
    (folder / "revised.json").write_text(json.dumps(record))
    call("add", "--author", "Ada", "--revise", slug, "--reason", "typing error", "revised.json")
    if schema >= 3:
        rows = "".join(f"{second};230,1;3,2;{50 + second % 3},0\r\n" for second in range(900))
        (folder / "noload.csv").write_text("Time [s];U [V];I [mA];P [mW]\r\n" + rows)
        entry = json.loads(call("import-log", "--json", "noload.csv"))
        record = json.loads(chosen[0].read_text())
        record.pop("photos", None)
        record["unit"]["sample"] = "logged"
        record["logs"] = [entry]
        record["instruments"] = [
            {
                "quantity": "no_load_power_w",
                "reading_percent": 0.1,
                "range_percent": 0.1,
                "range": 3,
                "fixed": 0,
            }
        ]
        record["runs"][0]["no_load"] = {"log": "noload.csv"}
        (folder / "logged.json").write_text(json.dumps(record))
        call("add", "--author", "Ada", "logged.json")

    if schema == 4:
        record = json.loads(chosen[1].read_text())
        record["unit"]["sample"] = "pictured"
        record["photos"] = [{"sha256": "5c" * 32, "width_px": 90, "height_px": 60}]
        (folder / "pictured.json").write_text(json.dumps(record))
        call("add", "--author", "Ada", "pictured.json")

    server = subprocess.Popen(
        [old, "serve", "--listen", "127.0.0.1:0", "--data-dir", str(data)],
        stderr=subprocess.PIPE,
        text=True,
    )
    base = next(
        match.group(1)
        for line in server.stderr
        if (match := re.search(r"serving on (http://\S+?)/?\s*$", line))
    )
    jar = urllib.request.HTTPCookieProcessor(http.cookiejar.CookieJar())
    visitor = urllib.request.build_opener(jar)
    get = lambda path: visitor.open(base + path).read().decode()

    def post(path, fields):
        body = urllib.parse.urlencode(fields).encode()
        request = urllib.request.Request(base + path, body, {"Origin": base})
        answer = visitor.open(request)
        return urllib.parse.urlsplit(answer.geturl()).path

    sign_in = fields_of(get("/sign-in"), "/sign-in") | {"name": "Ada", "password": PASSWORD}
    post("/sign-in", sign_in)
    draft = post("/desk/draft", fields_of(get("/desk"), "/desk/draft"))
    form = fields_of(get(draft), draft)
    form |= {"unit.maker": "Fernhill", "unit.model": "FH-65", "unit.sample": "draft"}
    post(draft, form | {"action": "save"})
    if schema >= 5:
        rows = b"".join(
            b"\0" + b"".join(bytes((x * 2, y * 4, 90)) for x in range(90)) for y in range(60)
        )
        chunk = lambda kind, bytes_: (
            struct.pack(">I", len(bytes_))
            + kind
            + bytes_
            + struct.pack(">I", zlib.crc32(kind + bytes_))
        )
        picture = (
            b"\x89PNG\r\n\x1a\n"
            + chunk(b"IHDR", struct.pack(">IIBBBBB", 90, 60, 8, 2, 0, 0, 0))
            + chunk(b"IDAT", zlib.compress(rows))
            + chunk(b"IEND", b"")
        )
        csrf = form["csrf"]
        parts = [
            f'--b\r\ncontent-disposition: form-data; name="csrf"\r\n\r\n{csrf}\r\n'.encode(),
            b'--b\r\ncontent-disposition: form-data; name="photo"; filename="front.png"\r\n'
            b"content-type: image/png\r\n\r\n" + picture + b"\r\n--b--\r\n",
        ]
        request = urllib.request.Request(
            base + "/desk/photos",
            b"".join(parts),
            {"Origin": base, "Content-Type": "multipart/form-data; boundary=b"},
        )
        sha256 = re.search(r"[0-9a-f]{64}", visitor.open(request).read().decode()).group()
        record = json.loads(chosen[1].read_text())
        record["unit"]["sample"] = "pictured"
        record["photos"] = [{"sha256": sha256, "width_px": 90, "height_px": 60}]
        (folder / "pictured.json").write_text(json.dumps(record))
        call("add", "--author", "Ada", "pictured.json")
    if schema >= 5:
        queue = fields_of(get("/desk/queue"), "/desk/queue")
        post("/desk/queue", queue | {"maker": "Tessawick", "model": "TW-30", "price": "19.00 EUR"})
    server.send_signal(signal.SIGTERM)
    server.wait()
    archive = pathlib.Path(__file__).with_name(f"schema-{schema}.zip")
    print(call("backup", str(archive), program=present))

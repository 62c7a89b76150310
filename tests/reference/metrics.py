"""The exposition against Prometheus' own parser.

    python tests/reference/metrics.py BRICKBOOK

starts BRICKBOOK with its invented data and an address for metrics, asks for some pages, and reads
/metrics with the strict OpenMetrics parser of prometheus_client, which refuses what the format
(OpenMetrics 1.0.0) does not allow. Counts are held against what was asked, and what is said of
backups against the files that two more servers made, or failed to make.
"""

import pathlib
import sys
import time
from datetime import UTC, datetime

from prometheus_client.openmetrics.parser import text_string_to_metric_families

from counted import check, told
from served import Server


def read(server):
    status, headers, body = server.fetch(server.metrics)
    check("metrics are served", status == 200, status)
    check(
        "as OpenMetrics 1.0.0",
        headers["content-type"] == "application/openmetrics-text; version=1.0.0; charset=utf-8",
        headers["content-type"],
    )
    return {family.name: family for family in text_string_to_metric_families(body.decode())}


def value(families, family, sample, **labels):
    found = [s for s in families[family].samples if s.name == sample and labels.items() <= s.labels.items()]
    return sum(s.value for s in found)


with Server(sys.argv[1], "--demo", "--metrics-listen", "127.0.0.1:0") as server:
    check("not on the public address", server.get("/metrics")[0] == 404)
    before = read(server)
    for _ in range(5):
        server.get("/method")
    server.get("/nowhere/at-all")
    after = read(server)

    def grown(family, sample, **labels):
        return value(after, family, sample, **labels) - value(before, family, sample, **labels)

    requests = "brickbook_http_requests", "brickbook_http_requests_total"
    check("five pages are five", grown(*requests, route="/method", method="GET", status="200") == 5)
    check("a wrong address is one", grown(*requests, route="(none)", status="404") == 1)
    check("nothing else was asked", grown(*requests) == 6, grown(*requests))
    times = "brickbook_http_request_duration_seconds"
    check("each was timed", grown(times, times + "_count") == 6)
    hits = grown("brickbook_page_cache_hits", "brickbook_page_cache_hits_total")
    check("all but the first came from the cache", hits == 4, hits)
    check("none is left in flight", value(after, "brickbook_http_requests_in_flight", "brickbook_http_requests_in_flight") == 0)
    check("units are those of the invented data", value(after, "brickbook_units", "brickbook_units") >= 60)
    check("kinds are named", after["brickbook_units"].type == "gauge" and after[times].type == "histogram")
    check("units of measurement are named", after[times].unit == "seconds")
    for family in (
        "brickbook_build",
        "brickbook_drafts",
        "brickbook_database_connections",
        "brickbook_database_size_bytes",
        "brickbook_data_disk_free_bytes",
        "brickbook_page_cache_pages",
        "process_resident_memory_bytes",
        "process_cpu_seconds",
        "process_start_time_seconds",
        "process_open_fds",
    ):
        check(f"{family} is there", family in after and after[family].samples)
    for name, family in after.items():
        check(f"{name} says what it is", family.documentation.strip() != "")
    check("without backups nothing is said of them", not any("backup" in name for name in after))


def backups(folder, done):
    """Figures of a server that makes backups in a folder, once they say what is waited for."""
    with Server(sys.argv[1], "--metrics-listen", "127.0.0.1:0", "--backup-dir", folder) as server:
        while True:
            body = server.fetch(server.metrics)[2].decode()
            families = {family.name: family for family in text_string_to_metric_families(body)}
            made_at = value(families, MADE_AT, MADE_AT)
            size = value(families, SIZE, SIZE)
            failures = value(families, FAILURES, FAILURES + "_total")
            if done(made_at, failures):
                break
            time.sleep(0.1)
        # Names end with the time that the backup holds, such as 2026-11-30T130509Z.zip.
        kept = [
            (
                datetime.strptime(file.name[-22:], "%Y-%m-%dT%H%M%SZ.zip").replace(tzinfo=UTC).timestamp(),
                file.stat().st_size,
            )
            for file in pathlib.Path(server.folder.name, folder).glob("*.zip")
        ]
    return families, made_at, size, failures, kept


MADE_AT = "brickbook_backup_last_success_timestamp_seconds"
SIZE = "brickbook_backup_last_size_bytes"
FAILURES = "brickbook_backup_failures"
families, made_at, size, failures, kept = backups("kept", lambda made_at, failures: made_at > 0)
check("one backup was made", len(kept) == 1, kept)
check("its time and size are those of the file", kept == [(made_at, size)], (kept, made_at, size))
check("none has failed", failures == 0, failures)
check(
    "kinds are named",
    [families[name].type for name in (MADE_AT, SIZE, FAILURES)] == ["gauge", "gauge", "counter"],
)
# A file stands where the folder should be.
_, made_at, size, failures, _ = backups("brickbook.db", lambda made_at, failures: failures > 0)
check("one failure is one", failures == 1, failures)
check("where none was made time and size are zero, not absent", made_at == 0 and size == 0)

sys.exit(told())

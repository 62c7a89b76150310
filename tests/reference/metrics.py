"""The exposition against Prometheus' own parser.

    python tests/reference/metrics.py BRICKBOOK

starts BRICKBOOK with its invented data and an address for metrics, asks for some pages, and reads
/metrics with the strict OpenMetrics parser of prometheus_client, which refuses what the format
(OpenMetrics 1.0.0) does not allow. Counts are held against what was asked.
"""

import sys

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

sys.exit(told())

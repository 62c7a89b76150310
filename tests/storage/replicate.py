"""A writing server beside a tool that replicates SQLite's write-ahead log (Litestream, from PyPI).

    replicate.py BRICKBOOK LITESTREAM

The server and `brickbook add` write while the tool copies and folds the log. Then the last state
and an earlier moment are brought back from the replica alone; `brickbook check` must find both
whole, with the units that had been acknowledged then.
"""

import datetime
import json
import pathlib
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time

BRICKBOOK, LITESTREAM = (str(pathlib.Path(path).resolve()) for path in sys.argv[1:3])
passed = failed = 0


def holds(what, found, expected):
    global passed, failed
    if found == expected:
        passed += 1
    else:
        failed += 1
        print(f"{what}: {found!r}; expected {expected!r}")


def records(batch, count):
    """JSON lines of invented units."""
    return "".join(
        json.dumps(
            {
                "format": "brickbook-record/1",
                "unit": {
                    "maker": "Larkfield",
                    "model": f"R{batch}X{number}",
                    "nameplate": {"output_power_w": 30},
                },
            }
        )
        + "\n"
        for number in range(count)
    )


def brickbook(*arguments, text=""):
    return subprocess.run(
        [BRICKBOOK, *arguments], input=text, capture_output=True, text=True, check=True
    ).stdout


def units(folder):
    with sqlite3.connect(f"file:{folder}/brickbook.db?mode=ro", uri=True) as database:
        return database.execute("SELECT count(*) FROM ranking").fetchone()[0]


def restored(folder, replica, *arguments):
    """A data folder that holds what the replica gives."""
    folder.mkdir()
    subprocess.run(
        [LITESTREAM, "restore", "-o", str(folder / "brickbook.db"), *arguments, f"file://{replica}"],
        check=True,
        capture_output=True,
    )
    checked = brickbook("check", "--data-dir", str(folder))
    holds(f"check of {folder.name}", "all is whole" in checked, True)
    return units(folder)


def waits_for(what, is_so):
    deadline = time.monotonic() + 60
    while not is_so():
        if time.monotonic() > deadline:
            sys.exit(f"{what} did not happen within a minute")
        time.sleep(0.1)


with tempfile.TemporaryDirectory() as place:
    place = pathlib.Path(place)
    data, replica = place / "data", place / "replica"
    server = subprocess.Popen(
        [BRICKBOOK, "serve", "--listen", "127.0.0.1:0", "--data-dir", str(data)],
        stderr=subprocess.PIPE,
        text=True,
    )
    tool = None
    try:
        for line in server.stderr:
            if "serving on" in line:
                break
        # What the README says, with shorter times.
        settings = place / "litestream.yml"
        settings.write_text(
            json.dumps(
                {
                    "dbs": [
                        {
                            "path": str(data / "brickbook.db"),
                            "monitor-interval": "100ms",
                            "checkpoint-interval": "500ms",
                            "min-checkpoint-page-count": 20,
                            "replicas": [{"path": str(replica), "sync-interval": "200ms"}],
                        }
                    ]
                }
            )
        )
        tool = subprocess.Popen(
            [LITESTREAM, "replicate", "-config", str(settings)],
            stdout=(place / "tool.txt").open("w"),
            stderr=subprocess.STDOUT,
        )
        waits_for("a first copy", lambda: any(replica.rglob("*.ltx")))
        add = ("add", "--data-dir", str(data), "-")
        acknowledged = 0
        moments = []
        for batch in range(4):
            acknowledged += brickbook(*add, text=records(batch, 60)).count(" revision 1")
            time.sleep(1.5)
            moments.append((datetime.datetime.now(datetime.timezone.utc), acknowledged))
            time.sleep(0.5)
        holds("units acknowledged", acknowledged, 240)

        # The server is killed in the midst of writing: a power cut, but for the replica.
        last = subprocess.Popen(
            [BRICKBOOK, *add], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )
        last.stdin.write(records("last", 40))
        last.stdin.close()
        heard = [line for line in last.stdout if " revision 1" in line]
        last.wait()
        server.kill()
        server.wait()
        time.sleep(1)
        tool.send_signal(signal.SIGTERM)
        holds("the tool's exit code", tool.wait(60), 0)
        holds("the last state", restored(place / "last", replica), acknowledged + len(heard))
        for number, (moment, then) in enumerate(moments):
            stamp = moment.strftime("%Y-%m-%dT%H:%M:%S.%fZ")
            found = restored(place / f"moment-{number}", replica, "-timestamp", stamp)
            holds(f"the state at {stamp}", found, then)
        # The original was not harmed by whoever else folded its log.
        checked = brickbook("check", "--data-dir", str(data))
        holds("check of the original", "all is whole" in checked, True)
        holds("units of the original", units(data), acknowledged + len(heard))
        problems = [
            line
            for line in (place / "tool.txt").read_text().splitlines()
            if "level=ERROR" in line
        ]
        holds("errors of the tool", problems, [])
    finally:
        for process in (server, tool):
            if process is not None and process.poll() is None:
                process.kill()

print(f"{passed} passed, {failed} failed")
sys.exit(1 if failed else 0)

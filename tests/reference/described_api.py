"""The API against its own description, by schemathesis.

    python tests/reference/described_api.py BRICKBOOK RECORD.json…

publishes the records on a database of its own and lets schemathesis (property-based, from the
OpenAPI document) ask everything that the description allows, and much that it does not, with a
token for writing. No answer may be a fault of ours, and each must be as described: status, kind
of content, headers, every key of every document.
"""

import os
import pathlib
import subprocess
import sys

from served import Server

# The same requests every time; another number finds other ones.
SEED = os.environ.get("BRICKBOOK_API_SEED", "6")
EXAMPLES = os.environ.get("BRICKBOOK_API_EXAMPLES", "15")

# What a schema cannot say is refused with words by design: ids that are not known, parameters that
# need another beside them, a reason that is missing (400), another revision than the newest (412),
# figures of a record that contradict each other (422).
CONFIG = """
[checks.positive_data_acceptance]
expected-statuses = ["2xx", "3xx", "400", "404", "409", "412", "422"]
"""

binary, *records = sys.argv[1:]
with Server(binary) as server:
    server.run("add", *[str(pathlib.Path(record).resolve()) for record in records])
    token = server.token()
    config = pathlib.Path(server.folder.name, "schemathesis.toml")
    config.write_text(CONFIG)
    code = subprocess.run(
        [
            str(pathlib.Path(sys.executable).with_name("schemathesis")),
            "--config-file",
            str(config),
            "run",
            f"{server.base}/api/v1/openapi.json",
            "--header",
            f"Authorization: Bearer {token}",
            "--checks",
            "all",
            "--seed",
            SEED,
            "--max-examples",
            EXAMPLES,
            "--continue-on-failure",
            "--no-shrink",
            "--request-timeout",
            "30",
        ],
        cwd=server.folder.name,
    ).returncode
    alive = server.process.poll() is None
if not alive:
    print("the program has ended")
sys.exit(code or (0 if alive else 1))

"""The built program as a server on a database of its own, for checks by other programs."""

import http.cookiejar
import os
import pathlib
import re
import subprocess
import tempfile
import threading
import urllib.error
import urllib.parse
import urllib.request


class Server:
    def __init__(self, binary, *flags):
        self.folder = tempfile.TemporaryDirectory()
        environment = {k: v for k, v in os.environ.items() if not k.startswith("BRICKBOOK_")}
        environment["BRICKBOOK_DATA_DIR"] = self.folder.name
        self.binary, self.environment = str(pathlib.Path(binary).resolve()), environment
        self.process = subprocess.Popen(
            [self.binary, "serve", "--listen", "127.0.0.1:0", *flags],
            env=environment,
            cwd=self.folder.name,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
        )
        self.secret = None
        self.metrics = None
        for line in self.process.stderr:
            if found := re.search(r"one-time secret: (\S+)", line):
                self.secret = found.group(1)
            if found := re.search(r"metrics on (http://\S+)", line):
                self.metrics = found.group(1)
            if found := re.search(r"serving on (http://\S+?)/?\s*$", line):
                self.base = found.group(1)
                break
        else:
            raise SystemExit("the program does not serve")
        # Nobody reads the rest, but a full pipe would stop the program.
        threading.Thread(target=lambda: list(self.process.stderr), daemon=True).start()

    def get(self, path, etag=None):
        return self.fetch(self.base + path, etag)

    def fetch(self, address, etag=None):
        request = urllib.request.Request(address)
        if etag:
            request.add_header("If-None-Match", etag)
        try:
            with urllib.request.urlopen(request, timeout=30) as answer:
                return answer.status, answer.headers, answer.read()
        except urllib.error.HTTPError as answer:
            return answer.code, answer.headers, b""

    def run(self, *arguments):
        subprocess.run([self.binary, *arguments], env=self.environment, cwd=self.folder.name, check=True, capture_output=True)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.process.terminate()
        self.process.wait()
        self.folder.cleanup()

    def token(self):
        """Makes the first operator at /set-up and gives a token for writing by the API."""
        browser = urllib.request.build_opener(
            urllib.request.HTTPCookieProcessor(http.cookiejar.CookieJar())
        )

        def hidden(page):
            return re.search(r'name="csrf" value="([^"]+)"', page).group(1)

        def get(path):
            return browser.open(self.base + path, timeout=30).read().decode()

        def post(path, **fields):
            body = urllib.parse.urlencode(fields, doseq=True).encode()
            return browser.open(self.base + path, body, timeout=60).read().decode()

        password = "correct horse battery"
        post("/set-up", csrf=hidden(get("/set-up")), secret=self.secret, name="Ada",
             password=password, again=password)
        page = post("/desk/tokens", csrf=hidden(get("/desk/tokens")), label="check",
                    days="90", scope=["records", "evidence", "drafts", "queue"])
        return re.search(r'value="(bb_[^"]+)"', page).group(1)

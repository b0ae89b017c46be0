"""Real time-series servers for tests, started on this machine with temporary folders and stopped afterwards.

`VictoriaMetrics` takes the 2.x write API itself and keeps numbers only. `Influx` is InfluxDB 1.6, which keeps text too
but knows only /write and /query; `CompatibleInflux` puts in front of it what InfluxDB 1.8 has built in, as its
documentation describes ("InfluxDB 2.x API compatibility endpoints"): POST /api/v2/write?bucket=db/rp&precision=... with
the header `Authorization: Token user:password` is /write?db=...&rp=...&precision=... with those credentials.
"""

import base64
import http.client
import json
import os
import shutil
import socket
import subprocess
import threading
import time
import urllib.error
import urllib.parse
import urllib.request
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

import pytest


def require(binary):
    """Return the path of a program, or skip the test; with HIVEMON_NO_SKIP=1 a missing program is a failure."""
    found = shutil.which(binary)
    if found:
        return found
    reason = f"{binary} is not installed (on Debian: apt-get install {binary_package(binary)})"
    if os.environ.get("HIVEMON_NO_SKIP") == "1":
        pytest.fail(reason)
    return pytest.skip(reason)


def binary_package(binary):
    return {"influxd": "influxdb"}.get(binary, binary)


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def fetch(url, data=None, headers=None):
    with urllib.request.urlopen(urllib.request.Request(url, data, headers or {}), timeout=10) as answer:
        return answer.read().decode()


def answers(url):
    try:
        fetch(url)
    except OSError:
        return False
    return True


class Running:
    """A program that answers on `health` once it is up."""

    def __init__(self, arguments, health, folder, environment=None):
        self._log = (folder / "server.log").open("ab")
        self._process = subprocess.Popen(
            arguments, stdout=self._log, stderr=self._log, env={**os.environ, **(environment or {})}
        )
        give_up = time.monotonic() + 30
        while not answers(health):
            if self._process.poll() is not None or time.monotonic() > give_up:
                self.stop()
                pytest.fail((folder / "server.log").read_text(errors="replace")[-2000:])
            time.sleep(0.05)

    def stop(self):
        self._process.terminate()
        try:
            self._process.wait(15)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
        self._log.close()


class VictoriaMetrics:
    """VictoriaMetrics, keeping points as old as a century: it answers 204 to points older than that and drops them."""

    token = "anything"

    def __init__(self, folder):
        folder.mkdir(exist_ok=True)
        self.port = free_port()
        self.url = f"http://127.0.0.1:{self.port}"
        self._folder = folder

    def start(self):
        arguments = [
            require("victoria-metrics"),
            f"-httpListenAddr=127.0.0.1:{self.port}",
            f"-storageDataPath={self._folder / 'data'}",
            "-retentionPeriod=100y",
            "-dedup.minScrapeInterval=1ms",
            "-memory.allowedBytes=64MB",
        ]
        self._running = Running(arguments, f"{self.url}/health", self._folder)

    def stop(self):
        self._running.stop()

    def points(self, name):
        """Return {(frozen tags, time): number} of a metric, and how many points the server holds of it."""
        fetch(f"{self.url}/internal/force_flush")
        match = urllib.parse.urlencode({"match[]": f'{{__name__="{name}"}}'})
        found, count = {}, 0
        for line in fetch(f"{self.url}/api/v1/export?{match}").splitlines():
            row = json.loads(line)
            tags = frozenset((k, v) for k, v in row["metric"].items() if k not in ("__name__", "db"))
            found |= {(tags, time_): value for time_, value in zip(row["timestamps"], row["values"], strict=True)}
            count += len(row["timestamps"])
        return found, count


class Influx:
    """InfluxDB 1.6 with users switched on."""

    user, password, database = "bee", "s3cret-of-the-hive", "hivemon"

    def __init__(self, folder):
        folder.mkdir(exist_ok=True)
        self.port = free_port()
        self.own_url = f"http://127.0.0.1:{self.port}"
        self._folder = folder

    def start(self):
        environment = {
            "INFLUXDB_REPORTING_DISABLED": "true",
            "INFLUXDB_BIND_ADDRESS": f"127.0.0.1:{free_port()}",
            "INFLUXDB_META_DIR": str(self._folder / "meta"),
            "INFLUXDB_DATA_DIR": str(self._folder / "data"),
            "INFLUXDB_DATA_WAL_DIR": str(self._folder / "wal"),
            "INFLUXDB_HTTP_BIND_ADDRESS": f"127.0.0.1:{self.port}",
            "INFLUXDB_HTTP_AUTH_ENABLED": "true",
            "INFLUXDB_MONITOR_STORE_ENABLED": "false",
        }
        configuration = self._folder / "influxdb.conf"
        configuration.touch()
        arguments = [require("influxd"), "-config", str(configuration)]
        self._running = Running(arguments, f"{self.own_url}/ping", self._folder, environment)
        try:
            self.make_user_and_database()
        except BaseException:
            self._running.stop()
            raise

    def make_user_and_database(self):
        if not (self._folder / "made").exists():
            self.ask(f"CREATE USER {self.user} WITH PASSWORD '{self.password}' WITH ALL PRIVILEGES")
            self.ask(f'CREATE DATABASE "{self.database}"')
            (self._folder / "made").touch()

    def stop(self):
        self._running.stop()

    def ask(self, question):
        """Run a query and return its rows as dictionaries, times in ms."""
        access = urllib.parse.urlencode({"db": self.database, "epoch": "ms", "u": self.user, "p": self.password})
        body = urllib.parse.urlencode({"q": question}).encode()
        (result,) = json.loads(fetch(f"{self.own_url}/query?{access}", body))["results"]
        assert "error" not in result, result
        return [
            dict(zip(series["columns"], row, strict=True))
            for series in result.get("series", [])
            for row in series["values"]
        ]

    def put(self, line):
        """Write a line directly, past the sender."""
        query = urllib.parse.urlencode({"db": self.database, "precision": "ms", "u": self.user, "p": self.password})
        fetch(f"{self.own_url}/write?{query}", line.encode())


class CompatibleInflux(Influx):
    """InfluxDB 1.6 behind the 2.x write path of 1.8."""

    def __init__(self, folder):
        super().__init__(folder)
        self.front_port = free_port()
        self.url = f"http://127.0.0.1:{self.front_port}"
        self.token = f"{self.user}:{self.password}"
        self.requests = []

    def start(self):
        super().start()
        back = self

        class Front(BaseHTTPRequestHandler):
            protocol_version = "HTTP/1.1"

            def do_POST(self):
                body = self.rfile.read(int(self.headers["Content-Length"]))
                status, words = back.forward(self.path, self.headers, body)
                back.requests.append((self.path, status))
                self.send_response(status)
                if words:
                    self.send_header("Content-Type", "application/json")
                if status != http.HTTPStatus.NO_CONTENT:
                    self.send_header("Content-Length", str(len(words)))
                self.end_headers()
                self.wfile.write(words)

            def log_message(self, *_):
                """Keep the test's output quiet."""

        self._front = ThreadingHTTPServer(("127.0.0.1", self.front_port), Front)
        self._front.daemon_threads = True
        threading.Thread(target=self._front.serve_forever, daemon=True).start()

    def stop(self):
        self._front.shutdown()
        self._front.server_close()
        super().stop()

    def forward(self, path, headers, body):
        """Map one request to the older path and return the answer's status and body."""
        parts = urllib.parse.urlsplit(path)
        asked = dict(urllib.parse.parse_qsl(parts.query))
        if parts.path != "/api/v2/write":
            return 404, b""
        database, _, policy = asked["bucket"].partition("/")
        query = {"db": database, "precision": asked["precision"]} | ({"rp": policy} if policy else {})
        kind, _, credentials = headers["Authorization"].partition(" ")
        passed = {"Content-Encoding": headers.get("Content-Encoding", "identity")}
        if kind == "Token":
            passed["Authorization"] = "Basic " + base64.b64encode(credentials.encode()).decode()
        try:
            fetch(f"{self.own_url}/write?{urllib.parse.urlencode(query)}", body, passed)
        except urllib.error.HTTPError as error:
            return error.code, error.read()
        return 204, b""

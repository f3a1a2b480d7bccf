"""A cheap finish, and a running page in its own process."""

from __future__ import annotations

import http.client
import json
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import uvicorn

from render.commands.serve import _listen
from render.page.app import build_app
from render.page.easel import Easel

FINISH = """
name = "Test board"
summary = "Two coats and a glaze."

[[layer]]
kind = "texture_coat"
name = "base"
material = "sanded wall coat"
spread = "165 ft2/gal"

[[layer]]
kind = "brushed_coat"
name = "wash"
material = "limewash"
coverage = "70 %"
spread = "300-340 ft2/gal"
thin = "20 %"

[[layer]]
kind = "spatter"
name = "umber spatter"
material = "glaze medium"
colourants = { "raw umber" = "2 tsp" }
spread = "2000 ft2/gal"
"""


@pytest.fixture(scope="session")
def finish_text() -> str:
    """The finish's file."""
    return FINISH


@dataclass
class Answer:
    """What came back."""

    status: int
    headers: dict[str, str]
    body: bytes

    def json(self) -> Any:
        """Return the body as data."""
        return json.loads(self.body)


class Client:
    """Plain HTTP to the page's application on a real socket; nothing is tidied on the way."""

    def __init__(self, easel: Easel) -> None:
        """Listen on a free port and serve in a thread."""
        self.easel = easel
        listening = _listen(0)
        self.port = listening.getsockname()[1]
        self.here = f"http://127.0.0.1:{self.port}"
        app = build_app(self.port, {"finish": {"name": "Bare wall"}}, easel)
        self._server = uvicorn.Server(uvicorn.Config(app, log_level="critical", timeout_graceful_shutdown=1))
        self._thread = threading.Thread(target=self._server.run, args=([listening],))
        self._thread.start()
        while not self._server.started:
            time.sleep(0.01)

    def ask(self, method: str, path: str, headers: dict[str, str | None] | None = None, body: Any = None) -> Answer:
        """Send one request with exactly these headers besides Host; a None takes one away."""
        sent = {k: v for k, v in (headers or {}).items() if v is not None}
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
        try:
            connection.request(method, path, body, sent, encode_chunked=not isinstance(body, bytes | None))
            got = connection.getresponse()
            return Answer(got.status, {k.lower(): v for k, v in got.getheaders()}, got.read())
        finally:
            connection.close()

    def post(self, path: str, body: Any, headers: dict[str, str | None] | None = None) -> Answer:
        """Post as the page does; some headers changed."""
        raw = body if isinstance(body, bytes) else json.dumps(body).encode()
        return self.ask("POST", path, {"Content-Type": "application/json", "Origin": self.here, **(headers or {})}, raw)

    def stop(self) -> None:
        """End the server."""
        self._server.should_exit = True
        self._thread.join(20)


@pytest.fixture(scope="module")
def client() -> Iterator[Client]:
    """The application behind a socket."""
    running = Client(Easel())
    yield running
    running.stop()


class Page:
    """``finishboard serve`` in a process of its own, on one port from start to start."""

    def __init__(self, folder: Path) -> None:
        """Write the finish and start."""
        self.file = folder / "board.toml"
        self.file.write_text(FINISH, encoding="utf-8")
        self.errors = (folder / "errors.txt").open("w", encoding="utf-8")
        self.port = 0
        self.start()

    def start(self) -> None:
        """Start, and wait for the address on stdout."""
        command = [sys.executable, "-m", "render", "serve", str(self.file), "--wall", "5 in x 4 in"]
        self.process = subprocess.Popen(
            [*command, "--port", str(self.port), "--no-browser"],
            stdout=subprocess.PIPE, stderr=self.errors, text=True, env={**os.environ, "OMP_NUM_THREADS": "1"},
        )  # fmt: skip
        assert self.process.stdout is not None
        self.address = self.process.stdout.readline().strip()
        self.port = int(self.address.rstrip("/").rpartition(":")[2])

    def end(self) -> str:
        """End it and return what it said of errors."""
        self.kill()
        self.errors.close()
        return Path(self.errors.name).read_text(encoding="utf-8")

    def kill(self) -> None:
        """End it as a crash would."""
        self.process.send_signal(signal.SIGKILL)
        self.process.wait(20)
        if self.process.stdout:
            self.process.stdout.close()


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Page]:
    """A running page, which must not have met an error of its own in all that it was asked."""
    running = Page(tmp_path_factory.mktemp("page"))
    yield running
    assert "Traceback" not in (said := running.end()), said

"""A headless Chromium driven over its debugging pipe: no driver, no further package."""

from __future__ import annotations

import fcntl
import json
import os
import select
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
QUIET = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--disable-dev-shm-usage", "--remote-debugging-pipe",
)  # fmt: skip
PATIENCE_S = 30


def chromium() -> str | None:
    return next((path for name in NAMES if (path := shutil.which(name))), None)


class Page:
    """One page: sends commands, keeps the events that came meanwhile."""

    def __init__(self, to: int, come: int) -> None:
        self.to, self.come = to, come
        self.events: list[dict[str, Any]] = []
        self._waiting = b""
        self._number = 0
        self._session: str | None = None

    def attach(self) -> None:
        target = self.send("Target.createTarget", url="about:blank")["targetId"]
        found = self.send("Target.attachToTarget", targetId=target, flatten=True)
        self._session = found["sessionId"]

    def send(self, method: str, **params: Any) -> Any:
        self._number += 1
        message = {"id": self._number, "method": method, "params": params}
        if self._session:
            message["sessionId"] = self._session
        os.write(self.to, json.dumps(message).encode() + b"\0")
        while True:
            answer = self._read()
            if answer.get("id") == self._number:
                assert "error" not in answer, answer
                return answer["result"]

    def wait_for(self, method: str) -> dict[str, Any]:
        for event in self.events:
            if event["method"] == method:
                return event
        while True:
            event = self._read()
            if event.get("method") == method:
                return event

    def _read(self) -> dict[str, Any]:
        while b"\0" not in self._waiting:
            ready, _, _ = select.select([self.come], [], [], PATIENCE_S)
            chunk = os.read(self.come, 1 << 16) if ready else b""
            if not chunk:
                raise ConnectionError("the browser has gone or hangs")
            self._waiting += chunk
        one, _, self._waiting = self._waiting.partition(b"\0")
        answer: dict[str, Any] = json.loads(one)
        if "method" in answer:
            self.events.append(answer)
        return answer

    def value(self, expression: str) -> Any:
        found = self.send("Runtime.evaluate", expression=expression, returnByValue=True)
        assert "exceptionDetails" not in found, found
        return found["result"].get("value")

    def open(self, file: Path) -> None:
        for domain in ("Page", "Runtime", "Network", "Log"):
            self.send(f"{domain}.enable")
        self.send("Page.navigate", url=file.as_uri())
        self.wait_for("Page.loadEventFired")


@contextmanager
def browser(profile: Path) -> Iterator[Page]:
    """A page of a browser that is ended with the block, whatever happens."""
    program = chromium()
    assert program is not None
    read_there, to = os.pipe()
    come, write_there = os.pipe()

    def pipes() -> None:
        # The browser reads from 3 and writes to 4; the pipes' own numbers may be these.
        high = [fcntl.fcntl(fd, fcntl.F_DUPFD, 10) for fd in (read_there, write_there)]
        os.dup2(high[0], 3)
        os.dup2(high[1], 4)

    process = subprocess.Popen(
        [program, *QUIET, f"--user-data-dir={profile}"],
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, close_fds=False, preexec_fn=pipes,
    )  # fmt: skip
    os.close(read_there)
    os.close(write_there)
    page = Page(to, come)
    try:
        page.attach()
        yield page
    finally:
        os.close(to)
        os.close(come)
        process.terminate()
        try:
            process.wait(timeout=5)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()

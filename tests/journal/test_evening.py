"""A whole evening at a demo kit, by keys in a real terminal and by commands: the same state.

Takes about a minute: ``SOLDERRISK_CRASHES=full`` runs it.
"""

from __future__ import annotations

import contextlib
import fcntl
import os
import pty
import select
import signal
import struct
import subprocess
import sys
import termios
import time
from pathlib import Path

import pytest

from solderrisk.cli import run
from solderrisk.journal.place import JournalProblem
from solderrisk.journal.recording import Recorder
from solderrisk.journal.state import BuildState
from solderrisk.journal.store import Journal

KIT = "river-recorder"
FAULTS, BREAKS, LOST_AT = 15, (40, 90), 60

pytestmark = pytest.mark.skipif(
    os.environ.get("SOLDERRISK_CRASHES") != "full", reason="SOLDERRISK_CRASHES=full runs it"
)


class Terminal:
    """The program in a pseudo-terminal; a key counts once the journal holds what it records."""

    def __init__(self, journal: Path) -> None:
        self.journal = journal
        self.seen = 0
        self.start()

    def start(self) -> None:
        self.master, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 40, 0, 0))
        words = [sys.executable, "-m", "solderrisk", "build", KIT, "--journal", str(self.journal)]
        self.process = subprocess.Popen(
            words, stdin=slave, stdout=slave, stderr=slave, start_new_session=True,
            env={**os.environ, "TERM": "xterm-256color"},
        )  # fmt: skip
        os.close(slave)

    def _drain(self) -> None:
        while select.select([self.master], [], [], 0)[0]:
            with contextlib.suppress(OSError):
                if os.read(self.master, 65536):
                    continue
            return

    def count(self) -> int:
        with contextlib.suppress(JournalProblem), Journal(self.journal) as journal:
            builds = journal.builds()
            return len(journal.events(builds[0].build)) if builds else 0
        return 0

    def press(self, key: str, *, again: bool = False, limit_s: float = 40.0) -> None:
        """Press a key and wait for its record; ``again``: until the program takes it."""
        deadline = time.monotonic() + limit_s
        os.write(self.master, key.encode())
        since = time.monotonic()
        while self.count() <= self.seen:
            self._drain()
            assert time.monotonic() < deadline, f"{key!r} recorded nothing"
            if again and time.monotonic() - since > 2:
                os.write(self.master, key.encode())
                since = time.monotonic()
            time.sleep(0.01)
        self.seen = self.count()

    def go(self, key: str) -> None:
        """A key that records nothing."""
        os.write(self.master, key.encode())
        time.sleep(0.15)
        self._drain()

    def leave(self) -> None:
        os.write(self.master, b"q")
        deadline = time.monotonic() + 20
        while self.process.poll() is None and time.monotonic() < deadline:
            self._drain()
            time.sleep(0.02)
        if self.process.poll() is None:
            os.killpg(self.process.pid, signal.SIGKILL)
        os.close(self.master)
        assert self.process.returncode == 0


def _state(path: Path) -> BuildState:
    with Journal(path) as journal:
        return Recorder(journal, journal.builds()[0]).state


def test_an_evening_by_keys_and_by_commands(tmp_path: Path) -> None:
    keys, commands = tmp_path / "keys.sqlite", tmp_path / "commands.sqlite"

    def typed(*words: str) -> None:
        assert run(["record", KIT, *words, "--journal", str(commands)]) == 0

    typed("start")
    order = list(_state(commands).sheet.jobs)
    faulty = [job.key for job in order if job.joints][3 :: len(order) // FAULTS][:FAULTS]
    terminal = Terminal(keys)
    terminal.press(" ", again=True, limit_s=60)
    gates = faults = 0
    for number, job in enumerate(order):
        if number in BREAKS:
            terminal.leave()
            terminal.start()
            # The first key is taken once the program shows where it was left.
            time.sleep(6)
        if job.kind == "gate":
            terminal.go("5")
            terminal.press(" ")
            typed("gate", job.key, "passed", "--reading", "5")
            gates += 1
            continue
        terminal.press(" ")
        typed("done", job.key)
        if job.key in faulty:
            terminal.go("\x1b[D")
            for key in ("o", " "):
                terminal.press(key)
            typed("fault", job.key, "open")
            typed("mended", job.key, "open")
            faults += 1
            terminal.go("\x1b[C")
        if number == LOST_AT:
            terminal.go("\x1b[D")
            for key in ("P", "1", " "):
                terminal.press(key)
            typed("lost", job.key, "--then", "spare")
            typed("done", job.key)
    terminal.press("\r")
    terminal.press("W")
    terminal.leave()
    soldered = [job.key for job in order if job.joints]
    typed("looked", ",".join(soldered))
    typed("end", "works")
    by_keys, by_commands = _state(keys), _state(commands)
    print(f"{len(order)} jobs, {faults} faults, {gates} gates, {len(BREAKS)} breaks, 1 lost part")
    assert faults == FAULTS
    assert gates >= 3
    assert by_keys.done == by_commands.done
    assert by_keys.left == by_commands.left == ()
    assert by_keys.ended is by_commands.ended is True
    for key, job in by_keys.jobs.items():
        twin = by_commands.jobs[key]
        for name in ("open", "tries", "lost", "settled", "technique", "passed", "reading"):
            assert getattr(job, name) == getattr(twin, name), (key, name)
        assert [f[:3] for f in job.faults] == [f[:3] for f in twin.faults]
        assert bool(job.looked) == bool(twin.looked)

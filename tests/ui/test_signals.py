"""Whatever signal ends the program, the terminal is as it was before."""

from __future__ import annotations

import os
import select
import signal
import sys
import time

import pytest

pty = pytest.importorskip("pty", reason="needs a pseudo-terminal")
pytest.importorskip("fcntl", reason="needs a pseudo-terminal")

LIGHT_BACKGROUND = b"48;2;244;245;243"  # f4f5f3 of the light theme
ENTERED = b"\x1b[?1049h"
PROGRAM = "from solderrisk.__main__ import main; raise SystemExit(main({args!r}))"


def started(*args: str) -> tuple[int, int]:
    """The program in a terminal of its own: its process and the terminal's other end."""
    pid, terminal = pty.fork()
    if pid == 0:
        os.environ.update(TERM="xterm-256color", COLUMNS="80", LINES="24")
        os.execv(sys.executable, [sys.executable, "-c", PROGRAM.format(args=list(args))])
    return pid, terminal


def read_until(terminal: int, done: bytes, rounds: int = 600) -> bytes:
    """What the program wrote, up to ``done`` or its end."""
    got = b""
    for _ in range(rounds):
        if done and done in got:
            break
        if select.select([terminal], [], [], 0.05)[0]:
            try:
                part = os.read(terminal, 65536)
            except OSError:
                break
            if not part:
                break
            got += part
    return got


@pytest.mark.parametrize("name", ["SIGTERM", "SIGHUP", "SIGQUIT"])
def test_the_terminal_is_put_right(name: str) -> None:
    pid, terminal = started("open", "there-is-no-such-kit.yaml")
    seen = read_until(terminal, ENTERED)
    assert ENTERED in seen
    time.sleep(0.5)
    os.kill(pid, getattr(signal, name))
    seen += read_until(terminal, b"")
    status = os.waitpid(pid, 0)[1]
    os.close(terminal)
    assert os.waitstatus_to_exitcode(status) == 128 + getattr(signal, name)
    for entered, left in (
        (b"\x1b[?1049h", b"\x1b[?1049l"),
        (b"\x1b[?1000h", b"\x1b[?1000l"),
        (b"\x1b[?25l", b"\x1b[?25h"),
    ):
        assert seen.rfind(left) > seen.rfind(entered) >= 0, (name, left)


@pytest.mark.parametrize(
    ("answer", "light"),
    [
        (b"\x1b]11;rgb:ffff/ffff/ffff\x1b\\\x1b[?62c", True),
        (b"\x1b]11;rgb:1010/1010/1010\x07\x1b[?62c", False),
        (b"\x1b[?62c", False),
    ],
)
def test_a_light_terminal_gets_light_colours(
    answer: bytes, light: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("COLORFGBG", raising=False)
    monkeypatch.setenv("COLORTERM", "truecolor")
    monkeypatch.delenv("NO_COLOR", raising=False)
    pid, terminal = started("open", "there-is-no-such-kit.yaml")
    seen = read_until(terminal, b"\x1b[c")
    # Typed before the program was there: it counts as well.
    os.write(terminal, b"2" + answer)
    seen += read_until(terminal, b"[2 Placements]")
    assert b"[2 Placements]" in seen
    assert (LIGHT_BACKGROUND in seen) is light
    os.kill(pid, signal.SIGTERM)
    read_until(terminal, b"")
    os.waitpid(pid, 0)
    os.close(terminal)

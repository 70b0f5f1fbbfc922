"""Leaving at once, and leaving the terminal as it was, whatever asks for it."""

from __future__ import annotations

import asyncio
import contextlib
import os
import re
import select
import signal
import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from types import FrameType

    from solderrisk.tui.program import Program

POOL = "solderrisk-work"
# A thread that writes a file gets this long to end; nothing else of theirs is kept.
PATIENCE_S = 0.3
# The program draws its last within this time of a signal, or is ended.
SIGNAL_PATIENCE_S = 2.0
SIGNALS = tuple(getattr(signal, name) for name in ("SIGTERM", "SIGHUP", "SIGQUIT")
                if hasattr(signal, name))  # fmt: skip
BACKGROUND = re.compile(r"\x1b\]11;rgba?:([0-9a-fA-F]{1,4})/([0-9a-fA-F]{1,4})/([0-9a-fA-F]{1,4})")
ANSWER = re.compile(r"\x1b\]11;[^\x07\x1b]*(?:\x07|\x1b\\)|\x1b\[\?[0-9;]*c")
ATTRIBUTES = b"\x1b[?"
ANSWER_S = 0.2
# Leave the alternate screen; no mouse reports, no bracketed paste; the cursor shows.
RESTORE = "".join(f"\x1b[?{mode}l" for mode in (1000, 1002, 1003, 1006, 1015, 2004, 1049)) + (
    "\x1b[?25h\x1b[0m"
)


def run_to_the_end(app: Program) -> int:
    """Run the program; gives the exit status, 128 and its number after a signal."""
    return asyncio.run(_run(app))


def background_is_light() -> tuple[bool, str]:
    """Whether the terminal says that its background is light, and what was typed meanwhile.

    Asks for the background colour (OSC 11) and, so that every terminal answers something,
    for its attributes (DA 1).
    """
    told = os.environ.get("COLORFGBG", "").split(";")[-1]
    if told.isdecimal():
        return int(told) in (7, 15), ""
    try:
        import termios
        import tty

        source = sys.stdin.fileno()
        if not (sys.stdin.isatty() and sys.stdout.isatty()):
            return False, ""
        before = termios.tcgetattr(source)
    except (ImportError, OSError, ValueError, AttributeError):
        return False, ""
    try:
        tty.setcbreak(source, termios.TCSANOW)
        sys.stdout.write("\x1b]11;?\x1b\\\x1b[c")
        sys.stdout.flush()
        got = _read_answers(source)
    finally:
        termios.tcsetattr(source, termios.TCSANOW, before)
    found = BACKGROUND.search(got)
    typed = ANSWER.sub("", got)
    if found is None:
        return False, typed
    parts = (int(part, 16) / (16 ** len(part) - 1) for part in found.groups())
    red, green, blue = parts
    return 0.299 * red + 0.587 * green + 0.114 * blue > 0.5, typed


def _read_answers(source: int) -> str:
    got, end = b"", time.monotonic() + ANSWER_S
    while (left := end - time.monotonic()) > 0 and select.select([source], [], [], left)[0]:
        part = os.read(source, 1024)
        got += part
        if not part or (ATTRIBUTES in got and got.rstrip().endswith(b"c")):
            break
    return got.decode(errors="replace")


async def _run(app: Program) -> int:
    pool = ThreadPoolExecutor(thread_name_prefix=POOL)
    loop = asyncio.get_running_loop()
    loop.set_default_executor(pool)
    asked: list[int] = []

    def leave(number: int, frame: FrameType | None) -> None:
        if not asked:
            asked.append(number)
            app.leaving = True
            loop.call_soon_threadsafe(app.exit, 128 + number)
            threading.Thread(target=_end_late, args=(128 + number,), daemon=True).start()

    for number in SIGNALS:
        signal.signal(number, leave)
    result = await app.run_async()
    # The terminal is as it was before by now.
    status = 128 + asked[0] if asked else (result if result is not None else app.return_code or 0)
    pool.shutdown(wait=False, cancel_futures=True)
    end = time.monotonic() + PATIENCE_S
    while _working() and time.monotonic() < end:
        time.sleep(0.01)
    if _working():
        with contextlib.suppress(OSError, ValueError):
            sys.stdout.flush()
            sys.stderr.flush()
        os._exit(status)
    return status


def redraw_when_continued(app: Program) -> None:
    """After a stop that nobody could catch, what the shell wrote meanwhile is drawn over."""
    if not hasattr(signal, "SIGCONT") or threading.current_thread() is not threading.main_thread():
        return
    before, loop = signal.getsignal(signal.SIGCONT), asyncio.get_running_loop()

    def again(number: int, frame: FrameType | None) -> None:
        if callable(before):
            before(number, frame)
        loop.call_soon_threadsafe(lambda: app.screen.refresh(layout=True))

    signal.signal(signal.SIGCONT, again)


def _end_late(status: int) -> None:
    """Ends a program that does not answer, with the terminal put right."""
    time.sleep(SIGNAL_PATIENCE_S)
    with contextlib.suppress(OSError, ValueError):
        os.write(sys.__stderr__.fileno() if sys.__stderr__ else 2, RESTORE.encode())
    os._exit(status)


def _working() -> bool:
    return any(thread.name.startswith(POOL) for thread in threading.enumerate())

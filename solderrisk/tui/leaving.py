"""Leaving at once: a thread that still computes holds nobody up."""

from __future__ import annotations

import asyncio
import os
import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from solderrisk.tui.app import SolderriskApp

POOL = "solderrisk-work"
# A thread that writes a file gets this long to end; nothing else of theirs is kept.
PATIENCE_S = 0.3


def run_to_the_end(app: SolderriskApp) -> int:
    """Run the program; gives the exit status."""
    return asyncio.run(_run(app))


async def _run(app: SolderriskApp) -> int:
    pool = ThreadPoolExecutor(thread_name_prefix=POOL)
    asyncio.get_running_loop().set_default_executor(pool)
    result = await app.run_async()
    # The terminal is as it was before by now.
    status = result if result is not None else app.return_code or 0
    pool.shutdown(wait=False, cancel_futures=True)
    end = time.monotonic() + PATIENCE_S
    while _working() and time.monotonic() < end:
        time.sleep(0.01)
    if _working():
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(status)
    return status


def _working() -> bool:
    return any(thread.name.startswith(POOL) for thread in threading.enumerate())

"""Entry point of ``solderrisk`` and ``python -m solderrisk``."""

from __future__ import annotations

import atexit
import gc
import sys

# Modules and values that stay are made by the hundred thousand while starting: looking through
# them for what may go, again and again and once more at the end, is a fifth of a short run.
GARBAGE = 500_000


def main(argv: list[str] | None = None) -> int:
    if argv is None:
        gc.set_threshold(GARBAGE, 20, 100)
        atexit.register(gc.freeze)
    from solderrisk.cli import run

    return run(sys.argv[1:] if argv is None else argv)


if __name__ == "__main__":
    sys.exit(main())

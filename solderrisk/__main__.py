"""Entry point of ``solderrisk`` and ``python -m solderrisk``."""

from __future__ import annotations

import sys


def main(argv: list[str] | None = None) -> int:
    from solderrisk.cli import run

    return run(sys.argv[1:] if argv is None else argv)


if __name__ == "__main__":
    sys.exit(main())

"""Values as people write them on the command line, checked where no file has to be read."""

from __future__ import annotations

import argparse

TYPE_CHECKING = False
if TYPE_CHECKING:
    from pathlib import Path

PAGE_SECTIONS = (
    "verdict", "statement", "findings", "risk", "checks", "costs", "safety", "sheet", "cards",
    "rescue", "practice", "built", "assumed",
)  # fmt: skip


def path(text: str) -> Path:
    from pathlib import Path

    return Path(text)


def sections(text: str) -> list[str]:
    names = [name.strip() for name in text.split(",") if name.strip()]
    wrong = [name for name in names if name not in PAGE_SECTIONS]
    if wrong or not names:
        raise argparse.ArgumentTypeError(f"{text[:40]!r} names no section like verdict,sheet")
    return names


def share(text: str) -> float:
    """A chance: 0.7, 70 and 70% are the same."""
    number = text.strip().removesuffix("%").strip()
    try:
        value = float(number)
    except ValueError:
        value = -1.0
    if number != text.strip() or value > 1:
        value /= 100
    if not 0 <= value < 1:
        raise argparse.ArgumentTypeError(f"{text[:40]!r} is no chance, like 0.8 or 80%")
    return value


def number(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not -1e12 < value < 1e12:
        raise argparse.ArgumentTypeError(f"{text[:40]!r} is no number, like 4.98")
    return value


def day(text: str) -> str:
    from datetime import date

    try:
        return date.fromisoformat(text).isoformat()
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text[:40]!r} is no day, like 2026-03-01") from None


def seed(text: str) -> int:
    if text.isascii() and text.isdecimal() and len(text) <= 20:
        return int(text)
    raise argparse.ArgumentTypeError(f"{text[:40]!r} is no whole number from 0 on, like 20")

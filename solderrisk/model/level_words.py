"""Levels of self-description in words, the same on every face."""

from __future__ import annotations

LEVEL_WORDS: dict[str, str] = {
    "never": "never soldered",
    "few": "a kit or two",
    "several": "several kits",
    "regular": "every week",
    "trained": "trained",
}

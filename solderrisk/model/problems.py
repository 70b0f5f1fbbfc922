"""What is told of a fault in the user's files. Loads nothing that is slow to load: recording at
the bench starts with it."""

from __future__ import annotations

Loc = tuple[int | str, ...]


class UserProblem(Exception):  # noqa: N818 - it is told, not thrown at the user
    """The message is one line with the remedy."""


def path_text(loc: Loc) -> str:
    """``placements[0].pitch_mm``."""
    text = ""
    for part in loc:
        if isinstance(part, int):
            text += f"[{part}]"
        else:
            word = part if part.replace("-", "_").isidentifier() else repr(part[:40])
            text += f".{word}" if text else word
    return text if len(text) <= 120 else f"...{text[-116:]}"

"""Problems that a user can mend, told in one line.

UserProblem
 ├─ UnknownName    a kit names what does not exist
 └─ CyclicOrder    (plan) the kit's rules contradict each other
"""

from __future__ import annotations

from typing import NamedTuple

Loc = tuple[int | str, ...]


class KitProblem(NamedTuple):
    """A fault between the parts of a kit; ``loc`` leads to it: ``("gates", 0, "after", 1)``."""

    loc: Loc
    message: str


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

"""Lists of references as people write them: ``R1-R9, C3``."""

from __future__ import annotations

import re

MAX_REFS = 5000

_RANGE = re.compile(r"([A-Za-z_]*)([0-9]{1,9})\s*(?:-|\.\.|–)\s*([A-Za-z_]*)([0-9]{1,9})")


def expand_refs(text: str) -> tuple[str, ...]:
    """Give every single reference of a list, in its order.

    Raises:
        ValueError: an empty item, a reference twice, a range that runs backwards or mixes
            letters, or more than ``MAX_REFS`` references.
    """
    found: list[str] = []
    for item in re.split(r"[,;]", text):
        name = item.strip()
        if not name:
            raise ValueError(f"empty reference in {text[:40]!r}; drop the spare comma")
        found.extend(_expand_item(name))
        if len(found) > MAX_REFS:
            raise ValueError(f"more than {MAX_REFS} references in {text[:40]!r}; split it")
    seen: set[str] = set()
    for ref in found:
        if ref in seen:
            raise ValueError(f"reference {ref} is written twice in {text[:40]!r}; keep one")
        seen.add(ref)
    return tuple(found)


def ref_range(name: str) -> tuple[str, int, int] | None:
    """The letters, first and last number of a range such as ``R1-R9``; None for one reference.

    Raises:
        ValueError: a range that runs backwards, mixes letters or is too long.
    """
    match = _RANGE.fullmatch(name)
    if match is None:
        return None
    head, first, tail, last = match.groups()
    if tail and tail != head:
        raise ValueError(f"range {name!r} mixes {head!r} and {tail!r}; write R1-R9")
    start, stop = int(first), int(last)
    if stop < start:
        raise ValueError(f"range {name!r} runs backwards; write the lower number first")
    if stop - start >= MAX_REFS:
        raise ValueError(f"range {name!r} has more than {MAX_REFS} references; split it")
    return head, start, stop


def _expand_item(name: str) -> list[str]:
    found = ref_range(name)
    if found is not None:
        head, start, stop = found
        return [f"{head}{number}" for number in range(start, stop + 1)]
    if any(letter.isspace() for letter in name):
        raise ValueError(f"reference {name!r} holds a space; part references with commas")
    return [name]

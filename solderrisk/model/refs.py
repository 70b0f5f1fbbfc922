"""Reference lists as people write them: 'R1', 'C1, C4', 'R1-R9,R12'."""

from __future__ import annotations

import re
from collections.abc import Iterable

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


def fold_refs(refs: Iterable[str], least: int) -> str:
    """References as people write them, runs of at least ``least`` as ranges: 'R1-R12, R15'.
    Nothing is sorted: only neighbours in the given order make a run."""
    runs: list[list[str]] = []
    for ref in refs:
        if runs and _follows(runs[-1][-1], ref):
            runs[-1].append(ref)
        else:
            runs.append([ref])
    return ", ".join(f"{run[0]}-{run[-1]}" if len(run) >= least else ", ".join(run) for run in runs)


def _follows(ref: str, after: str) -> bool:
    head, number = _parted(ref)
    next_head, next_number = _parted(after)
    return number is not None and head == next_head and next_number == number + 1


def _parted(ref: str) -> tuple[str, int | None]:
    head = ref.rstrip("0123456789")
    digits = ref[len(head) :]
    # Leading zeros are part of the name: R09 is no R9.
    return (head, int(digits)) if digits and str(int(digits)) == digits else (ref, None)

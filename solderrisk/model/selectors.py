"""References of parts, one or many, and what a rule of a kit names by them."""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from typing import NamedTuple, Protocol

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


KIND_WORDS: dict[str, tuple[str, ...]] = {
    "lifts": ("lift",),
    "fits": ("fit",),
    "wires": ("wire",),
    "tasks": ("task",),
    "gates": ("gate",),
    "all": ("lift", "fit", "wire"),
}
PREFIXES = ("fit", "lift", "wire", "task", "gate", "board", "donor")

_NUMBERED = re.compile(r"(.+)\.\d+")


class Selectable(Protocol):
    """What a selector looks at; ``Job`` has it."""

    @property
    def key(self) -> str: ...
    @property
    def ref(self) -> str: ...
    @property
    def kind(self) -> str: ...
    @property
    def place(self) -> str: ...


class JobIndex(NamedTuple):
    """Jobs by everything a selector may say; build it once for many selectors."""

    order: dict[str, int]
    by_name: dict[str, tuple[str, ...]]
    numbers: dict[str, list[int]]

    @classmethod
    def of(cls, jobs: Iterable[Selectable]) -> JobIndex:
        order: dict[str, int] = {}
        table: dict[str, list[str]] = {}
        lifted: dict[str, list[str]] = {}
        for job in jobs:
            order[job.key] = len(order)
            names = _names(job)
            for name in names:
                table.setdefault(f"{job.kind}:{name}", []).append(job.key)
                plain = lifted if job.kind == "lift" else table
                plain.setdefault(name, []).append(job.key)
            if job.place:
                place = job.place if job.kind == "lift" else f"board:{job.place}"
                table.setdefault(place, []).append(job.key)
            for word, kinds in KIND_WORDS.items():
                if job.kind in kinds:
                    table.setdefault(word, []).append(job.key)
        by_name = {name: tuple(keys) for name, keys in {**lifted, **table}.items()}
        return cls(order, by_name, _numbers(by_name))

    def keys(self, selector: str) -> tuple[str, ...]:
        """Keys of the jobs that a selector names, each once, in the jobs' order."""
        found = {key for item in _items(selector) for key in self._item(item)}
        return tuple(sorted(found, key=self.order.__getitem__))

    def unmatched(self, selector: str) -> tuple[str, ...]:
        """Items of a selector that name no job at all."""
        return tuple(item for item in _items(selector) if not self._item(item))

    def close_to(self, item: str) -> str | None:
        """The name that looks most like an item which names nothing."""
        # Recording at the bench reads references without the time this import takes.
        from difflib import get_close_matches

        near = get_close_matches(item[:60], list(self.by_name)[:2000], n=1, cutoff=0.6)
        return near[0] if near else None

    def _item(self, item: str) -> tuple[str, ...]:
        found = self.by_name.get(item)
        if found is not None:
            return found
        head, colon, tail = item.partition(":")
        prefix, refs = (f"{head}:", tail.strip()) if colon and head in PREFIXES else ("", item)
        try:
            span = ref_range(refs)
        except ValueError:
            span = None
        if span is None:
            return self.by_name.get(prefix + refs, ())
        letters, start, stop = prefix + span[0], span[1], span[2]
        numbers = self.numbers.get(letters, [])
        inside = numbers[bisect_left(numbers, start) : bisect_right(numbers, stop)]
        return tuple(key for number in inside for key in self.by_name[f"{letters}{number}"])


def select(selector: str, jobs: Sequence[Selectable]) -> tuple[str, ...]:
    """Keys of the jobs that a selector names, in the jobs' order; () where it names none.

    A gate or task named by its own selector is not left out: callers drop such self-references.
    """
    return JobIndex.of(jobs).keys(selector)


def parted(
    first: Iterable[str], then: Iterable[str], own: str = ""
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Two sets of keys as the ends of a rule: ``first`` before ``then``.

    What both name belongs to the narrower one: 'all fits before U1' means all the others. The
    key ``own`` (a gate's or task's) is dropped from both. An end may come out empty.
    """
    early = dict.fromkeys(key for key in first if key != own)
    late = dict.fromkeys(key for key in then if key != own)
    wide, narrow = (early, late) if len(early) >= len(late) else (late, early)
    for key in narrow:
        wide.pop(key, None)
    return tuple(early), tuple(late)


def _names(job: Selectable) -> tuple[str, ...]:
    # A placement of quantity n with one reference makes REF.1 .. REF.n; REF names them all.
    numbered = _NUMBERED.fullmatch(job.ref)
    return (job.ref, numbered.group(1)) if numbered else (job.ref,)


def _numbers(names: Iterable[str]) -> dict[str, list[int]]:
    """Numbers in use by their letters, sorted, so that a range costs what it finds."""
    table: dict[str, list[int]] = {}
    for name in names:
        letters = name.rstrip("0123456789")
        digits = name[len(letters) :]
        if digits and len(digits) < 10 and str(int(digits)) == digits:
            table.setdefault(letters, []).append(int(digits))
    return {letters: sorted(numbers) for letters, numbers in table.items()}


def _items(selector: str) -> tuple[str, ...]:
    return tuple(item.strip() for item in re.split(r"[,;]", selector) if item.strip())

"""Whether the names in a bench and a builder mean something in the reference data."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from difflib import get_close_matches

from solderrisk.model.bench import Bench
from solderrisk.model.builder import Builder
from solderrisk.model.problems import KitProblem, Loc


@dataclass(frozen=True)
class KnownNames:
    """Names that files may use. An empty collection leaves its kind unchecked."""

    alloys: Collection[str] = ()
    techniques: Collection[str] = ()
    skills: Collection[str] = ()
    notes: Collection[str] = ()


def alloy_key(name: str) -> str:
    """Alloys compare without case, spaces and hyphens."""
    return name.casefold().replace(" ", "").replace("-", "")


def bench_problems(bench: Bench, known: KnownNames) -> list[KitProblem]:
    """Alloys of solders and removal alloys that nobody knows."""
    problems: list[KitProblem] = []
    if known.alloys:
        keys = {alloy_key(name) for name in known.alloys}
        named: list[tuple[Loc, str]] = [
            (("solders", index, "alloy"), solder.alloy)
            for index, solder in enumerate(bench.solders)
        ]
        named += [(("removal_alloys", i), name) for i, name in enumerate(bench.removal_alloys)]
        for loc, name in named:
            if alloy_key(name) not in keys:
                problems.append(unknown(loc, "alloy", name, known.alloys))
    return problems


def builder_problems(builder: Builder, known: KnownNames) -> list[KitProblem]:
    """Skills and notes that nobody knows, a skill with two levels, impossible records."""
    problems: list[KitProblem] = []
    seen: set[str] = set()
    for index, entry in enumerate(builder.skills):
        loc: Loc = ("skills", index, "skill")
        if known.skills and entry.skill not in known.skills:
            problems.append(unknown(loc, "skill", entry.skill, known.skills))
        elif entry.skill in seen:
            problems.append(KitProblem(loc, f"skill {entry.skill!r} has two levels; keep one"))
        seen.add(entry.skill)
    for index, record in enumerate(builder.records):
        loc = ("records", index, "skill")
        if known.skills and record.skill not in known.skills:
            problems.append(unknown(loc, "skill", record.skill, known.skills))
        if record.faults > record.joints:
            message = f"{record.faults} faults in {record.joints} joints; at most one a joint"
            problems.append(KitProblem(("records", index, "faults"), message))
    for index, note in enumerate(builder.acknowledged):
        if known.notes and note not in known.notes:
            problems.append(unknown(("acknowledged", index), "safety note", note, known.notes))
    return problems


def unknown(loc: Loc, what: str, name: str, known: Collection[str]) -> KitProblem:
    """An unknown name with the nearest known one, or some of those there are."""
    near = get_close_matches(name[:60], list(known), n=1, cutoff=0.6)
    names = list(known)
    some = f"allowed: {', '.join(names[:12])}{', ...' if len(names) > 12 else ''}"
    hint = f"did you mean {near[0]!r}?" if near else some
    return KitProblem(loc, f"unknown {what} {name!r}; {hint}")

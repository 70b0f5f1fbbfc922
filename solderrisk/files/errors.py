"""Errors of files that people write.

FileProblems
 └─ holds Problem values: where, what was found, what is allowed
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches

from solderrisk.model.problems import UserProblem
from solderrisk.words import escaped

MAX_PROBLEMS = 20


@dataclass(frozen=True)
class Problem:
    """One fault of a file, told in one line. Lines and columns count from 1."""

    file: str
    message: str
    line: int | None = None
    column: int | None = None
    path: str = ""

    def __str__(self) -> str:
        place = ":".join(str(p) for p in (self.file, self.line, self.column) if p is not None)
        return escaped(f"{place}: {self.path + ': ' if self.path else ''}{self.message}")


class FileProblems(UserProblem):
    """A file cannot be used; ``problems`` says why, each in one line, at most
    ``MAX_PROBLEMS``; ``more`` counts those that are not written out."""

    def __init__(self, problems: Iterable[Problem], more: int = 0) -> None:
        self.problems = _bounded(list(problems), more)
        super().__init__("\n".join(map(str, self.problems)))


def did_you_mean(name: str, known: Iterable[str], *, limit: int = 12) -> str:
    """A hint to append to a message: the nearest known name, or the names there are."""
    names = list(dict.fromkeys(known))
    by_fold = {n.casefold(): n for n in reversed(names)}
    near = get_close_matches(name.casefold()[:100], list(by_fold), n=1, cutoff=0.6)
    if near:
        return f"; did you mean {by_fold[near[0]]!r}?"
    if not names:
        return ""
    more = f" and {len(names) - limit} more" if len(names) > limit else ""
    return f"; allowed: {', '.join(names[:limit])}{more}"


def _bounded(problems: list[Problem], more: int) -> list[Problem]:
    fits = len(problems) + bool(more) <= MAX_PROBLEMS
    kept = problems if fits else problems[: MAX_PROBLEMS - 1]
    rest = len(problems) - len(kept) + more
    return [*kept, Problem(problems[0].file, f"and {rest} more problems")] if rest else kept

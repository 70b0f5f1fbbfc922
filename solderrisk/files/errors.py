"""Errors of files that people write.

FileProblems
 └─ holds Problem values: where, what was found, what is allowed
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Problem:
    """One fault of a file, told in one line."""

    file: str
    message: str
    line: int | None = None
    column: int | None = None
    path: str = ""

    def __str__(self) -> str:
        place = ":".join(str(p) for p in (self.file, self.line, self.column) if p is not None)
        return f"{place}: {self.path + ': ' if self.path else ''}{self.message}"


class FileProblems(Exception):  # noqa: N818 - several problems in one
    """A file cannot be used; ``problems`` says why, each in one line."""

    def __init__(self, problems: list[Problem]) -> None:
        super().__init__("\n".join(map(str, problems)))
        self.problems = problems

"""A YAML text: its values, parsed once and kept, and on demand the place of each.

A text of some length is kept as JSON under the hash of itself: in the package for what the
program brings, made with the wheel, and in the platform's cache folder for all else. The text
stays what counts: a changed one has another hash, and what cannot be read is parsed anew.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import secrets
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from solderrisk.files.text import Problem
from solderrisk.folders import platform_folder, settings_off
from solderrisk.model.problems import Loc, path_text

if TYPE_CHECKING:
    from solderrisk.files.yaml_values import Marks

# Another number where the same text would give other values.
FORM = 1
WORTH_KEEPING = 100  # characters
MOST_KEPT = 200
PACKAGED = Path(__file__).resolve().parent.parent / "parsed"


@dataclass(frozen=True)
class Source:
    """A YAML text and, on demand, the place of every value in it."""

    name: str
    text: str

    @cached_property
    def marks(self) -> Marks:
        from solderrisk.files.yaml_values import marks_of

        return marks_of(self.name, self.text)

    def value(self) -> object:
        """Plain dicts, lists, text and numbers.

        Raises:
            FileProblems: not one well-formed, bounded YAML document with unique keys.
        """
        key = key_of(self.text)
        kept = _kept(key) if key else None
        if kept is not None:
            return kept
        from solderrisk.files.yaml_values import values_of

        value = values_of(self.name, self.text)
        if key and value is not None:
            _keep(key, value)
        return value

    def problem(self, loc: Loc, message: str) -> Problem:
        """A problem at a location such as ``("placements", 0, "pitch_mm")``."""
        mark = self.marks.at(loc)
        written = self.marks.written(loc)
        return Problem(self.name, message, mark.line, mark.column, path_text(written))


def key_of(text: str) -> str:
    """The name of a text's parsed form; '' where none is kept."""
    if len(text) < WORTH_KEEPING:
        return ""
    return hashlib.sha256(f"{FORM}\n{text}".encode("utf-8", "surrogatepass")).hexdigest()


def write_packaged(sources: list[Path], folder: Path) -> None:
    """The parsed forms of what the program brings, for the wheel."""
    from solderrisk.files.yaml_values import values_of

    for path in sources:
        text = path.read_text(encoding="utf-8")
        if key := key_of(text):
            (folder / f"{key}.json").write_text(json.dumps(values_of(str(path), text)))


def _own_folder() -> Path | None:
    return None if settings_off() else Path(platform_folder("cache"), "parsed")


def _kept(key: str) -> object:
    for folder in filter(None, (PACKAGED, _own_folder())):
        with contextlib.suppress(OSError, ValueError, RecursionError):
            with open(folder / f"{key}.json", encoding="ascii") as file:
                found: object = json.load(file)
            return found
    return None


def _keep(key: str, value: object) -> None:
    """Best effort: without a folder to write to, the text is parsed again next time."""
    folder = _own_folder()
    if folder is None:
        return
    # Without the way to the disk that people's own files get: what is lost is parsed again.
    with contextlib.suppress(OSError):
        folder.mkdir(parents=True, exist_ok=True)
        part = folder / f"{key}.{secrets.token_hex(4)}"
        try:
            part.write_text(json.dumps(value), encoding="ascii")
            os.replace(part, folder / f"{key}.json")
        finally:
            part.unlink(missing_ok=True)
        _thin_out(folder)


def _thin_out(folder: Path) -> None:
    files = [(entry.stat().st_mtime_ns, entry.path) for entry in os.scandir(folder)]
    if len(files) > MOST_KEPT:
        for _, path in sorted(files)[: MOST_KEPT // 2]:
            os.unlink(path)

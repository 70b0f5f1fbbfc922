"""Footprint definitions: the packaged ones and the user's own folders."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path

from solderrisk.files.errors import FileProblems, Problem
from solderrisk.files.yaml_source import read_model_with_marks
from solderrisk.files.yaml_values import Source
from solderrisk.model.footprint import Footprint, FootprintFile
from solderrisk.model.lands import definition_faults
from solderrisk.model.library import Library, name_key

PACKAGE = Path(__file__).resolve().parent.parent
# Inside a wheel the definitions sit in the package; in a checkout beside it.
PLACES = (PACKAGE / "footprints", PACKAGE.parent / "footprints")

# A file that is read again only when it changed: (path, time of change in ns, size).
Stamp = tuple[str, int, int]


def load_library(extra: Sequence[Path] = ()) -> Library:
    """Every definition; folders (or single files) of ``extra`` go first, in their order.

    Raises:
        FileProblems: a folder is missing or empty, a file is faulty, or a name is defined
            twice inside one folder.
    """
    own = tuple(_stamps(source) for source in extra)
    return _joined(own, _stamps(packaged_footprints()))


def packaged_footprints() -> Path:
    """The folder of the packaged definitions, whatever the working directory."""
    return next((place for place in PLACES if place.is_dir()), PLACES[0])


@lru_cache(maxsize=8)
def _joined(own: tuple[tuple[Stamp, ...], ...], packaged: tuple[Stamp, ...]) -> Library:
    folders = [*(_folder(source, sound=False) for source in own), _folder(packaged, sound=True)]
    return Library.of(footprint for folder in folders for footprint in folder)


def _stamps(source: Path) -> tuple[Stamp, ...]:
    try:
        files = sorted(source.iterdir()) if source.is_dir() else [source]
        found = [(file, file.stat()) for file in files]
    except (OSError, ValueError):
        message = "no such folder of footprints; check the path"
        raise FileProblems([Problem(str(source), message)]) from None
    stamps = tuple(
        (str(file), stat.st_mtime_ns, stat.st_size)
        for file, stat in found
        if file.suffix in (".yaml", ".yml")
    )
    if not stamps:
        raise FileProblems([Problem(str(source), "no footprint files (.yaml) here")])
    return stamps


@lru_cache(maxsize=16)
def _folder(stamps: tuple[Stamp, ...], sound: bool) -> tuple[Footprint, ...]:
    """Definitions of one folder; ``sound`` ones, the packaged, are looked over by tests."""
    problems: list[Problem] = []
    found: list[Footprint] = []
    first: dict[str, tuple[Footprint, str]] = {}
    for name, _, _ in stamps:
        try:
            file = read_model_with_marks(Path(name), FootprintFile)
        except FileProblems as error:
            problems.extend(error.problems)
            continue
        for index, footprint in enumerate(file.value.footprints):
            problems.extend(_twice(footprint, index, first, file.source))
            for loc, message in () if sound else definition_faults(footprint):
                place = ("footprints", index, *loc)
                problems.append(file.source.problem(place, f"{footprint.name}: {message}"))
            words = (*footprint.words, *file.value.words)
            found.append(footprint.model_copy(update={"words": words}) if words else footprint)
    if problems:
        raise FileProblems(problems)
    return tuple(found)


def _twice(
    footprint: Footprint, index: int, first: dict[str, tuple[Footprint, str]], source: Source
) -> list[Problem]:
    problems = []
    names = [
        (footprint.name, "name"),
        *((alias, "aliases") for alias in footprint.aliases),
        *((alias, "capacitor_names") for alias in footprint.capacitor_names),
    ]
    for name, key in names:
        other, place = first.setdefault(name_key(name), (footprint, source.name))
        if other is not footprint:
            message = f"{name!r} is taken by {other.name!r} in {place}; rename one"
            problems.append(source.problem(("footprints", index, key), message))
    return problems

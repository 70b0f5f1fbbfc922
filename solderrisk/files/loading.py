"""Loading libraries, kits, benches and builders from files, and their JSON Schemas."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Sequence
from datetime import date
from functools import lru_cache
from pathlib import Path
from typing import Any, Literal, TypeVar

from pydantic import BaseModel

from solderrisk.files.reference import load_reference
from solderrisk.files.text import FileProblems, Problem, did_you_mean
from solderrisk.files.yaml_source import Marked, read_model_with_marks
from solderrisk.files.yaml_text import Source
from solderrisk.model.base import KitProblem
from solderrisk.model.bench import Bench, Builder
from solderrisk.model.footprint import Footprint, FootprintFile
from solderrisk.model.kit import Kit
from solderrisk.model.kit_check import KnownNames, bench_problems, builder_problems, kit_problems
from solderrisk.model.lands import definition_faults
from solderrisk.model.library import Library, name_key
from solderrisk.model.question import Question

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


T = TypeVar("T")
Kind = Literal["kit", "bench", "builder"]
STDIN = "/dev/stdin"

DEMO_FOLDERS: dict[Kind, Path] = {
    "kit": PACKAGE / "demo" / "kits",
    "bench": PACKAGE / "demo" / "benches",
    "builder": PACKAGE / "demo" / "builders",
}


def open_inputs(
    kit: str | Path,
    bench: str | Path,
    builder: str | Path,
    libraries: Sequence[Path] = (),
    as_of: str | None = None,
) -> Question:
    """The question that a kit, a bench and a builder pose together, judged by the packaged
    reference data; problems of all files are told together. ``as_of``: no record may be later.

    Raises:
        FileProblems: what is wrong, with its place and the remedy.
    """
    library = load_library(libraries)
    problems: list[Problem] = []
    found_kit = _told(problems, lambda: load_kit(kit, library))
    found_bench = _told(problems, lambda: load_bench(bench))
    found_builder = _told(problems, lambda: load_builder(builder, as_of))
    if found_kit is None or found_bench is None or found_builder is None:
        raise FileProblems(problems)
    question = Question(found_kit, found_bench, found_builder, library, load_reference())
    return question.but(as_of=as_of)


def _told(problems: list[Problem], load: Callable[[], T]) -> T | None:
    try:
        return load()
    except FileProblems as error:
        problems.extend(error.problems)
        return None


MODELS: dict[Kind, type[Kit] | type[Bench] | type[Builder]] = {
    "kit": Kit,
    "bench": Bench,
    "builder": Builder,
}
F = TypeVar("F", Kit, Bench, Builder)


def _of_kind(path: str | Path, kind: Kind, model: type[F]) -> Marked[F]:
    """The file as a kind; one of another kind is told so, rather than key by key."""
    file = input_path(path, kind)
    try:
        return read_model_with_marks(file, model)
    except FileProblems:
        if str(file) == STDIN:
            raise
        for other, shape in MODELS.items():
            if other != kind and _reads_as(file, shape, model):
                told = (
                    f"this is a {other} file; give it as --{other}"
                    if other != "kit"
                    else ("this is a kit file")
                )
                raise FileProblems([Problem(str(path), f"{told}, a {kind} is wanted")]) from None
        raise


def _reads_as(
    file: Path,
    shape: type[Kit] | type[Bench] | type[Builder],
    wanted: type[Kit] | type[Bench] | type[Builder],
) -> bool:
    """Whether a file is of a shape and says something that the wanted one does not know."""
    try:
        found = read_model_with_marks(file, shape).value
    except FileProblems:
        return False
    return bool(found.model_fields_set - set(wanted.model_fields))


def load_kit(path: str | Path, library: Library) -> Kit:
    """A kit whose names, references and order fit together.

    Raises:
        FileProblems: what is wrong, with its place and the remedy.
    """
    marked = _of_kind(path, "kit", Kit)
    known = known_names()
    _checked(
        marked.source,
        kit_problems(marked.value, library, alloys=known.alloys, techniques=known.techniques),
    )
    return marked.value


def load_bench(path: str | Path) -> Bench:
    """A bench whose alloys are known.

    Raises:
        FileProblems: what is wrong, with its place and the remedy.
    """
    marked = _of_kind(path, "bench", Bench)
    _checked(marked.source, bench_problems(marked.value, known_names()))
    return marked.value


def load_builder(path: str | Path, as_of: str | None = None) -> Builder:
    """A builder whose skills and safety notes are known, with no record later than ``as_of``.

    Raises:
        FileProblems: what is wrong, with its place and the remedy.
    """
    marked = _of_kind(path, "builder", Builder)
    _checked(marked.source, builder_problems(marked.value, known_names(), as_of))
    return marked.value


@lru_cache(maxsize=1)
def known_names() -> KnownNames:
    """What the packaged reference data has names for."""
    reference = load_reference()
    alloys = reference.physics.alloys.alloys
    return KnownNames(
        alloys=tuple(name for alloy in alloys for name in (alloy.name, *alloy.aliases)),
        techniques=tuple(technique.id for technique in reference.risk.techniques),
        skills=tuple(skill.id for skill in reference.risk.levels.skills),
        notes=tuple(note.id for note in reference.plan.safety.notes),
        aids=reference.plan.aids,
        modes=tuple(mode.id for mode in reference.risk.faults.modes),
        today=date.today().isoformat(),
    )


def _checked(source: Source, faults: list[KitProblem]) -> None:
    if faults:
        problems = [source.problem(fault.loc, fault.message) for fault in faults[:1000]]
        problems.sort(key=lambda problem: (problem.line or 0, problem.column or 0))
        raise FileProblems(problems, more=len(faults) - len(problems))


def demo_names(kind: Kind) -> list[str]:
    """Names of the packaged demo files of a kind."""
    return sorted(file.stem for file in DEMO_FOLDERS[kind].glob("*.yaml"))


def demo_path(name: str, kind: Kind | None = None) -> Path:
    """The packaged demo file of a name, e.g. ``river-recorder``.

    Raises:
        FileProblems: there is none; those that exist are named.
    """
    kinds = (kind,) if kind else tuple(DEMO_FOLDERS)
    for each in kinds:
        if name in demo_names(each):
            return DEMO_FOLDERS[each] / f"{name}.yaml"
    known = [known for each in kinds for known in demo_names(each)]
    what = f"demo {kind}" if kind else "demo file"
    hint = did_you_mean(name, known) or "; give the path of a file"
    raise FileProblems([Problem(name, f"no such file, and no {what} of this name{hint}")])


def load_benches(paths: Iterable[str | Path], own: Bench | None = None) -> list[Bench]:
    """Several benches, and one's own where it is another. Raises as ``load_bench``."""
    benches = [load_bench(path) for path in paths]
    return benches if own is None or own in benches else [*benches, own]


def load_person(text: str, bench: str | Path) -> tuple[Builder, Bench, str | None]:
    """Somebody as "ada.yaml,bench.yaml,journal.sqlite": builder, bench and the journal's path;
    ``bench`` where none is named. Raises as ``load_bench``."""
    builder, _, rest = text.partition(",")
    own, _, journal = rest.partition(",")
    return load_builder(builder.strip()), load_bench(own.strip() or bench), journal.strip() or None


def input_path(given: str | Path, kind: Kind) -> Path:
    """The file that a person means: a path, or a demo file where the bare name is one."""
    text = str(given)
    if text == "-":
        return Path(STDIN)
    path = Path(given)
    bare = text == path.name and not path.suffix and "\\" not in text
    if not bare or os.path.isfile(path):
        return path
    # A folder that happens to be called like a demo file does not hide it.
    return path if os.path.exists(path) and text not in demo_names(kind) else demo_path(text, kind)


SchemaKind = Literal["kit", "bench", "builder", "footprints"]

SHAPES: dict[SchemaKind, type[BaseModel]] = {
    "kit": Kit,
    "bench": Bench,
    "builder": Builder,
    "footprints": FootprintFile,
}
DIALECT = "https://json-schema.org/draft/2020-12/schema"


def json_schema(kind: SchemaKind) -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of one kind of file.

    Raises:
        KeyError: no such kind.
    """
    schema = SHAPES[kind].model_json_schema(mode="validation")
    if kind == "bench":
        schema["properties"]["aids"]["items"]["enum"] = list(load_reference().plan.aids)
    _loosen(schema)
    schema["title"] = f"solderrisk: {kind} file"
    return {"$schema": DIALECT, **schema}


def _loosen(node: Any) -> None:
    """Where text is wanted a bare number will do (``footprint: 0603``, ``value: 4.70``)."""
    if isinstance(node, list):
        for item in node:
            _loosen(item)
    elif isinstance(node, dict):
        if node.get("type") == "string" and not {"enum", "const", "pattern"} & node.keys():
            node["type"] = ["string", "number"]
        for item in node.values():
            _loosen(item)

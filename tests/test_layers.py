"""The layers of the program point one way, read from the imports themselves."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from functools import cache
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1] / "solderrisk"
SOURCES = {file.relative_to(ROOT).as_posix(): file for file in sorted(ROOT.rglob("*.py"))}
MAX_LINES = 400

# What everybody may use, and what knows nothing of the rest.
GROUND = ("words", "folders")
# What each layer may use beside itself, the ground and the package's version.
USES = {
    **{name: set() for name in GROUND},
    "console": {"files", "model"},
    "files_cli": {"arguments", "console", "files", "model", "draft", "report", "journal.events"},
    "model": set(),
    "physics": {"model"},
    "risk": {"model", "physics"},
    "plan": {"model", "physics", "risk"},
    "journal": {"model", "physics", "risk", "plan"},
    "session": {"model", "physics", "risk", "plan", "journal"},
    "report": {"model", "physics", "risk", "plan", "session", "journal"},
    "files": {"model"},
    "packages": {"model", "files"},
    "readers": {"model", "files", "packages"},
    "draft": {"model", "files", "packages", "readers"},
    "tui": {
        *("arguments", "model", "physics", "risk", "plan", "session", "report", "files"),
        *("draft", "readers.formats", "journal"),
    },
    "arguments": {"console"},
    "journal_cli": {"arguments", "model", "session", "journal"},
    "learning_cli": {
        *("arguments", "journal_cli", "model", "session", "journal", "files", "risk"),
        "report",
    },
    "survey": {"model", "files", "plan.verdict", "risk.engine"},
    "cli": {
        "console",
        "files_cli",
        *("arguments", "model", "session", "report", "files", "draft", "tui"),
        *("journal_cli", "learning_cli", "journal.events", "readers.formats", "survey"),
    },
    "__main__": {"cli"},
    "__init__": {"files", "model", "session"},
}
# Who may load what is slow to load or drawn on the screen.
LOADS = {
    "textual": {"tui"},
    "rich": {"tui"},
    "numpy": {"physics", "risk", "plan", "journal"},
    "scipy": {"physics", "risk", "plan", "journal"},
    "sqlite3": {"journal"},
    "python_calamine": {"readers"},
}


def layer(name: str) -> str:
    return name.split("/")[0].removesuffix(".py")


@cache
def imported(file: Path) -> tuple[str, ...]:
    """Full names of modules that a file imports, at its top or anywhere in it."""
    return tuple(_imports(file))


def _imports(file: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{file}: write the full name of the module"
            assert node.module is not None
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def test_there_is_something_to_read() -> None:
    assert len(SOURCES) > 100
    assert {layer(name) for name in SOURCES} == set(USES)


@pytest.mark.parametrize("of", sorted(USES))
def test_a_layer_uses_only_those_below_it(of: str) -> None:
    wrong = [
        f"{name} imports {found}"
        for name, file in SOURCES.items()
        if layer(name) == of
        for found in imported(file)
        if found.startswith("solderrisk.") and not _allowed(of, found.split(".", 1)[1])
    ]
    assert wrong == []


def _allowed(of: str, what: str) -> bool:
    below = {of, *GROUND, "__version__", *USES[of]}
    return any(what == one or what.startswith(f"{one}.") for one in below)


@pytest.mark.parametrize("library", sorted(LOADS))
def test_heavy_libraries_stay_in_their_layers(library: str) -> None:
    wrong = [
        f"{name} imports {found}"
        for name, file in SOURCES.items()
        for found in imported(file)
        if found.split(".")[0] == library and layer(name) not in LOADS[library]
    ]
    assert wrong == []


def test_scipy_stats_is_loaded_nowhere() -> None:
    found = {(name, what) for name, file in SOURCES.items() for what in imported(file)}
    assert not [pair for pair in found if pair[1].startswith("scipy.stats")]


def test_no_import_circle() -> None:
    names = {
        name.removesuffix(".py").removesuffix("/__init__").replace("/", "."): file
        for name, file in SOURCES.items()
    }
    uses = {
        name: {
            known
            for found in imported(file)
            if (known := _module(found.removeprefix("solderrisk."), names)) and known != name
        }
        for name, file in names.items()
    }
    tuple(TopologicalSorter(uses).static_order())  # raises CycleError, which names the circle


def _module(found: str, names: dict[str, Path]) -> str | None:
    """The module of the product that an imported name is, or is of."""
    return next((one for one in (found, found.rpartition(".")[0]) if one in names), None)


def test_modules_stay_readable() -> None:
    lines = {name: len(file.read_bytes().splitlines()) for name, file in SOURCES.items()}
    assert {name: count for name, count in lines.items() if count > MAX_LINES} == {}

"""Bounds of what is read and told, at the bound itself; names that data must know."""

from __future__ import annotations

import json
import shutil
import stat
from pathlib import Path

import pytest

from solderrisk.files import reference, settings
from solderrisk.files.loading import demo_names, load_bench
from solderrisk.files.text import (
    MAX_PROBLEMS,
    FileProblems,
    Problem,
    bounded,
    did_you_mean,
    read_text,
    without_controls,
    write_new,
)
from solderrisk.files.yaml_source import parse_model
from solderrisk.files.yaml_text import Source
from solderrisk.files.yaml_values import MAX_ALIASES, MAX_DEPTH, MAX_KEY, MAX_NODES
from solderrisk.model.base import Frozen, Many


def said(text: str) -> str:
    with pytest.raises(FileProblems) as caught:
        Source("f.yaml", text).value()
    return str(caught.value)


# --- how much is read


def test_yaml_at_its_bounds() -> None:
    deep = "[" * MAX_DEPTH + "]" * MAX_DEPTH
    assert Source("f", deep).value() is not None
    assert f"deeper than {MAX_DEPTH} levels" in said("[" + deep + "]")
    key = "k" * MAX_KEY
    assert Source("f", f"{key}: 1").value() == {key: 1}
    assert f"a key of {MAX_KEY + 1} characters" in said(f"{key}k: 1")
    # The list itself is one value.
    full = "[" + ",".join("1" * 1 for _ in range(MAX_NODES - 1)) + "]"
    assert len(Source("f", full).value()) == MAX_NODES - 1  # type: ignore[arg-type]
    assert f"more than {MAX_NODES} values" in said(full[:-1] + ",1]")
    nested = "[" + ",".join("[]" for _ in range(MAX_NODES - 1)) + "]"
    assert len(Source("f", nested).value()) == MAX_NODES - 1  # type: ignore[arg-type]
    assert f"more than {MAX_NODES} values" in said(nested[:-1] + ",[]]")


def test_aliases_up_to_as_many() -> None:
    again = "a: &a 1\nb: [" + ",".join(["*a"] * MAX_ALIASES) + "]"
    assert len(Source("f", again).value()["b"]) == MAX_ALIASES  # type: ignore[index, call-overload]
    assert f"more than {MAX_ALIASES} aliases" in said(again[:-1] + ",*a]")


def test_bytes_at_their_limit(tmp_path: Path) -> None:
    assert bounded(tmp_path, b"x" * 10, 10) == b"x" * 10
    with pytest.raises(FileProblems, match="larger than"):
        bounded(tmp_path, b"x" * 11, 10)
    # More than one reading of a mebibyte.
    (tmp_path / "long").write_bytes(b"#" * 1_900_000)
    assert len(read_text(tmp_path / "long")) == 1_900_000


# --- how much is told


@pytest.mark.parametrize(("count", "told"), [(19, 19), (20, 20), (21, 20), (40, 20)])
def test_twenty_problems_or_nineteen_and_the_rest(count: int, told: int) -> None:
    found = FileProblems([Problem("f", f"n{n}") for n in range(count)])
    assert len(found.problems) == told <= MAX_PROBLEMS
    last = str(found.problems[-1])
    assert last == (f"f: n{count - 1}" if count <= 20 else f"f: and {count - 19} more problems")


def test_what_is_not_written_out_counts_too() -> None:
    twenty = [Problem("f", f"n{n}") for n in range(20)]
    assert str(FileProblems(twenty[:19], more=3).problems[-1]) == "f: and 3 more problems"
    assert str(FileProblems(twenty, more=3).problems[-1]) == "f: and 4 more problems"


class Numbers(Frozen):
    a: Many[int]


@pytest.mark.parametrize("count", [20, 21])
def test_faults_of_a_file_up_to_twenty(count: int) -> None:
    with pytest.raises(FileProblems) as caught:
        parse_model("a: [" + ", ".join("x" for _ in range(count)) + "]", Numbers, name="f")
    assert len(caught.value.problems) == 20
    last = str(caught.value.problems[-1])
    assert ("more problems" in last) is (count > 20)
    if count > 20:
        assert "and 2 more" in last


def test_names_are_listed_up_to_twelve() -> None:
    names = [f"{n:03d}" for n in range(13)]
    assert did_you_mean("zzz", names[:12]) == f"; allowed: {', '.join(names[:12])}"
    assert did_you_mean("zzz", names) == f"; allowed: {', '.join(names[:12])} and 1 more"
    assert did_you_mean("zzz", []) == ""
    # Three of five letters alike: a ratio of 0.6.
    assert did_you_mean("abcxy", ["abcde"]) == "; did you mean 'abcde'?"
    assert did_you_mean("abxyz", ["abcde"]) == "; allowed: abcde"


@pytest.mark.parametrize(
    ("rows", "told"), [(6, "1, 2, 3, 4, 5, 6"), (7, "1, 2, 3, 4, 5, 6 and 1 more")]
)
def test_rows_with_control_characters(rows: int, told: str) -> None:
    text, notes = without_controls("a\x07b\n" * rows)
    assert text == "ab\n" * rows
    assert notes == (f"control characters left out in row {told}",)


# --- one's own files


@pytest.fixture
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.delenv(settings.OFF, raising=False)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    return settings.folder()


def test_a_file_that_a_person_changed_is_passed_by(own: Path) -> None:
    first = settings.keep("bench", "name: a\n")
    assert first == own / "bench.yaml" == settings.keep("bench", "name: b\n")
    first.write_text("name: mine\n")
    assert settings.keep("bench", "name: c\n") == own / "bench-2.yaml"
    assert settings.keep("bench", "name: d\n") == own / "bench-3.yaml"
    assert first.read_text() == "name: mine\n"


def test_what_was_last_open_is_kept_unless_a_newer_program_wrote_it(own: Path) -> None:
    settings.remember({"kit": "a"})
    place = own / "last.json"
    assert json.loads(place.read_text()) == {"format": settings.FORMAT, "kit": "a"}
    settings.remember({"kit": "b"})
    assert json.loads(place.read_text())["kit"] == "b"
    place.write_text(json.dumps({"format": settings.FORMAT + 1, "kit": "newer"}))
    settings.remember({"kit": "c"})
    assert json.loads(place.read_text())["kit"] == "newer"


def test_new_files_are_for_the_mask_to_close(tmp_path: Path) -> None:
    write_new(tmp_path / "f", "x\n")
    assert stat.S_IMODE((tmp_path / "f").stat().st_mode) & ~0o666 == 0


def test_a_bare_set_of_tools_has_the_iron_of_a_first_tool_box(own: Path) -> None:
    found = settings.own_bench((), "SAC305")
    assert [iron.drive for iron in found.irons] == ["plain"]
    assert [tip.width_mm for tip in found.irons[0].tips] == [1.0, 2.0]
    kept = settings.keep("bench", settings.as_yaml(found))
    assert load_bench(kept) == found


# --- the reference data

FILES = """
physics handwork alloys materials heat_tables acceptance remedies risk techniques faults
levels reported_kits rescue families tools plan costs practice safety journal
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    shutil.copytree(reference.DATA, tmp_path / "data")
    return tmp_path / "data"


@pytest.fixture
def fresh(monkeypatch: pytest.MonkeyPatch) -> None:
    """Reading that keeps nothing."""
    for name in ("physics_data", "risk_data", "families", "plan_data"):
        monkeypatch.setattr(reference, name, getattr(reference, name).__wrapped__)


@pytest.mark.usefixtures("fresh")
@pytest.mark.parametrize("name", FILES.split())
def test_every_data_file_is_asked_for_by_its_name(folder: Path, name: str) -> None:
    (folder / f"{name}.yaml").unlink()
    with pytest.raises(FileProblems) as caught:
        reference.read_reference(folder)
    assert str(caught.value).endswith(f"{name}.yaml: no such file; check the path")


@pytest.mark.usefixtures("fresh")
@pytest.mark.parametrize(
    ("file", "old", "new", "told"),
    [
        ("techniques", "met_by: [regulated_iron", "met_by: [regulated_irom", "unknown tool"),
        ("practice", "skill: iron_through", "skill: iron_throug", "unknown skill"),
    ],
)
def test_a_name_that_nothing_knows_is_told_with_its_place(
    folder: Path, file: str, old: str, new: str, told: str
) -> None:
    path = folder / f"{file}.yaml"
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), "utf-8")
    with pytest.raises(FileProblems) as caught:
        reference.read_reference(folder)
    (problem,) = caught.value.problems
    assert problem.file == str(path)
    line = text[: text.index(old)].count("\n") + 1
    assert problem.line == line
    assert told in problem.message
    assert "did you mean" in problem.message


def test_demo_files_have_names() -> None:
    assert "decent" in demo_names("bench")

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from solderrisk.files import loading as files_library
from solderrisk.files.loading import load_library, packaged_footprints
from solderrisk.files.text import FileProblems

CHIP = """
footprints:
  - name: {name}
    aliases: [{alias}]
    family: chip
    title: {title}
    pads:
      - {{kind: chip_end, count: 2, layout: ends, row_span_mm: 1.4, land_w_mm: 0.8, land_l_mm: 0.8}}
    body: {{length_mm: 1.6, width_mm: 0.8, height_mm: 0.45}}
    source: assumed
"""


def write(folder: Path, name: str, alias: str, title: str = "t", file: str = "own.yaml") -> Path:
    folder.mkdir(exist_ok=True)
    (folder / file).write_text(CHIP.format(name=name, alias=alias, title=title))
    return folder


def told(*extra: Path) -> list[str]:
    with pytest.raises(FileProblems) as caught:
        load_library(extra)
    return [str(problem) for problem in caught.value.problems]


def test_the_packaged_library_is_found_from_any_folder(tmp_path: Path) -> None:
    script = "from solderrisk.files.loading import load_library; print(len(load_library()))"
    result = subprocess.run(
        [sys.executable, "-c", script],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(files_library.PACKAGE.parent)},
        capture_output=True,
        text=True,
        check=True,
    )
    assert int(result.stdout) == len(load_library()) >= 120


def test_a_wheel_has_the_definitions_inside_the_package(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    inside = write(tmp_path / "footprints", "ONLY", "one")
    monkeypatch.setattr(files_library, "PLACES", (inside, packaged_footprints()))
    assert [footprint.name for footprint in load_library()] == ["ONLY"]


def test_own_folders_go_in_front_in_their_order(tmp_path: Path) -> None:
    first = write(tmp_path / "a", "CHIP-0603", "mine", "first")
    second = write(tmp_path / "b", "chip_0603", "other", "second")
    library = load_library([first, second])
    for name, title in (("CHIP-0603", "first"), ("mine", "first"), ("other", "second")):
        found = library.get(name)
        assert found is not None
        assert found.title == title
    assert load_library().get("mine") is None


def test_a_single_file_will_do(tmp_path: Path) -> None:
    folder = write(tmp_path / "a", "MINE", "0402x")
    assert load_library([folder / "own.yaml"]).get("0402X") is not None


def test_a_name_twice_in_one_folder_is_told_at_its_place(tmp_path: Path) -> None:
    folder = write(tmp_path / "a", "ONE", "uno", file="1.yaml")
    write(folder, "TWO", "One", file="2.yaml")
    (line,) = told(folder)
    assert line == (
        f"{folder}/2.yaml:4:5: footprints[0].aliases: 'One' is taken by 'ONE' in "
        f"{folder}/1.yaml; rename one"
    )


def test_faults_of_all_files_come_at_once(tmp_path: Path) -> None:
    folder = write(tmp_path / "a", "ONE", "uno", file="1.yaml")
    (folder / "2.yaml").write_text("footprints: []")
    (folder / "3.yaml").write_text("footprint: []")
    lines = told(folder)
    assert lines[0].startswith(f"{folder}/2.yaml:1:1: footprints: found a list of 0, needs")
    assert lines[1].startswith(f"{folder}/3.yaml:1:1: footprint")
    assert "did you mean 'footprints'?" in "".join(lines)


def test_folders_that_are_none(tmp_path: Path) -> None:
    assert told(tmp_path) == [f"{tmp_path}: no footprint files (.yaml) here"]
    missing = tmp_path / "none"
    assert told(missing) == [f"{missing}: no such folder of footprints; check the path"]
    text = tmp_path / "notes.txt"
    text.write_text("x")
    assert told(text) == [f"{text}: no footprint files (.yaml) here"]


def test_a_changed_file_is_read_again(tmp_path: Path) -> None:
    folder = write(tmp_path / "a", "ONE", "uno")
    assert load_library([folder]) is load_library([folder])
    write(folder, "THREE", "tres")
    assert load_library([folder]).get("tres") is not None
    assert load_library([folder]).get("uno") is None

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from solderrisk.files.loading import (
    demo_names,
    demo_path,
    load_bench,
    load_builder,
    load_kit,
    load_library,
    open_inputs,
)
from solderrisk.files.text import FileProblems

KIT = """\
name: lamp
boards:
  - {name: main}
donors:
  - {name: old, board: {name: old-board}}
placements:
  - {refs: R1-R4, footprint: 0603, board: main}
  - {refs: U1, footprint: SOIC-8, board: main, donor: old}
wires:
  - {ref: W1, board: main, connections: 2}
gates:
  - {ref: power, title: Power, after: [R1-R4]}
  - {ref: works, title: Works, after: [power]}
"""


def told(load: Any, *given: Any) -> list[str]:
    with pytest.raises(FileProblems) as caught:
        load(*given)
    return [str(problem) for problem in caught.value.problems]


@pytest.mark.parametrize("name", demo_names("kit"))
def test_demo_kits_open_by_name(name: str) -> None:
    kit = load_kit(name, load_library())
    assert kit.name == name
    assert kit.invented


def test_demo_benches_and_builders_open_by_name() -> None:
    assert all(load_bench(name).invented for name in demo_names("bench"))
    assert all(load_builder(name).invented for name in demo_names("builder"))
    assert len(demo_names("bench")) == len(demo_names("builder")) == 3


def test_open_inputs_gives_all_three(tmp_path: Path) -> None:
    (tmp_path / "kit.yaml").write_text(KIT)
    inputs = open_inputs(tmp_path / "kit.yaml", demo_names("bench")[0], demo_names("builder")[0])
    assert inputs.kit.name == "lamp"
    assert inputs.kit.placements[0].footprint == "0603"
    assert inputs.library.get("0603") is not None


def test_faults_of_all_three_come_together(tmp_path: Path) -> None:
    lines = told(open_inputs, tmp_path / "k.yaml", "no-bench", tmp_path)
    assert [line.split(": ")[0] for line in lines] == [
        str(tmp_path / "k.yaml"), "no-bench", str(tmp_path)
    ]  # fmt: skip


def test_unknown_demo_names_are_answered_with_those_there_are() -> None:
    (line,) = told(load_bench, "zzz")
    assert line == (
        "zzz: no such file, and no demo bench of this name; allowed: "
        + ", ".join(demo_names("bench"))
    )
    (line,) = told(load_bench, "decnt")
    assert line.endswith("; did you mean 'decent'?")
    (line,) = told(demo_path, "river-recoder")
    assert line.endswith("; did you mean 'river-recorder'?")
    assert demo_path("river-recorder").is_file()


def test_a_local_file_goes_before_a_demo_of_its_name_and_a_folder_does_not(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("decent").mkdir()
    assert load_bench("decent").invented
    Path("bare").write_text("name: mine")
    assert load_bench("bare").name == "mine"


# Every case asks for one line with file, place and remedy.
BAD: list[tuple[str, str, str, str]] = [
    ("negative pitch", "boards:\n  - {name: main}", "boards:\n  - {name: main, thickness_mm: -1}",
     ":3:18: boards[0].thickness_mm: found -1, must be greater than 0"),
    ("unknown unit", "{name: main}", "{name: main, thickness_mm: 3 ell}",
     ":3:18: boards[0].thickness_mm: unknown unit 'ell'; allowed: mm, um, mil, in"),
    ("wrong type", "connections: 2", "connections: two",
     ":10:28: wires[0].connections: found 'two', must be a whole number"),
    ("unknown key", "connections: 2", "connections: 2, conectors: 3",
     ":10:44: wires[0].conectors: unknown key 'conectors'; did you mean 'conductors'?"),
    ("unknown footprint", "SOIC-8", "SOIC8-W7",
     ":8:16: placements[1].footprint: unknown footprint 'SOIC8-W7'; did you mean "),
    ("missing board", "footprint: 0603, board: main", "footprint: 0603, board: mein",
     ":7:36: placements[0].board: unknown board 'mein'; did you mean 'main'?"),
    ("no donor", "donor: old}", "donor: attic}",
     ":8:48: placements[1].donor: unknown donor 'attic'; allowed: old"),
    ("quantity 0", "refs: U1,", "refs: U1, quantity: 0,",
     ":8:16: placements[1].quantity: found 0, must be at least 1"),
    ("quantity against references", "refs: R1-R4,", "refs: R1-R4, quantity: 5,",
     ":7:6: placements[0].refs: quantity 5 does not match 4 references"),
    ("cyclic gates", "after: [R1-R4]", "after: [works]",
     ":12:32: gates[0].after: the order runs in a circle: gate:works before gate:power "
     "(gates[0].after), gate:power before gate:works (gates[1].after); drop one of these"),
    ("gate after nothing", "after: [power]", "after: [pwoer]",
     ":13:40: gates[1].after[0]: 'pwoer' names nothing to do; did you mean 'power'?"),
    ("taken reference", "ref: W1", "ref: R2",
     ":10:6: wires[0].ref: reference 'R2' is taken by placements[0]; rename one"),
    ("key twice", "name: lamp", "name: lamp\nname: lamp",
     ":2:1: key 'name' is written twice (first in line 1); keep one"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "line"), [b[1:] for b in BAD], ids=[b[0] for b in BAD])
def test_bad_kits_are_told_in_one_line(tmp_path: Path, old: str, new: str, line: str) -> None:
    assert old in KIT
    path = tmp_path / "kit.yaml"
    path.write_text(KIT.replace(old, new, 1))
    (found,) = told(load_kit, path, load_library())
    assert found.startswith(f"{path}{line}")
    assert path.read_text() == KIT.replace(old, new, 1)


def test_negative_pitch_of_a_kits_own_footprint(tmp_path: Path) -> None:
    own = """
footprints:
  - name: MINE
    family: soic
    pads:
      - kind: gull_wing
        count: 8
        pitch_mm: -1.27
        land_w_mm: 0.6
        land_l_mm: 1.5
    body: {length_mm: 5, width_mm: 4, height_mm: 1.5}
    source: assumed
"""
    path = tmp_path / "kit.yaml"
    path.write_text(KIT + own)
    (line,) = told(load_kit, path, load_library())
    assert line == (
        f"{path}:21:9: footprints[0].pads[0].pitch_mm: found -1.27, must be greater than 0"
    )


def test_a_cable_short_of_conductors_opens(tmp_path: Path) -> None:
    path = tmp_path / "kit.yaml"
    path.write_text(KIT.replace("connections: 2", "connections: 5, conductors: 4, reused: true"))
    assert load_kit(path, load_library()).wires[0].conductors == 4


def test_faults_between_parts_come_at_once_in_the_files_order(tmp_path: Path) -> None:
    path = tmp_path / "kit.yaml"
    path.write_text(
        KIT.replace("SOIC-8", "SOIC-8x").replace("ref: W1, board: main", "ref: W1, board: m")
    )
    assert [line.split(": ")[1] for line in told(load_kit, path, load_library())] == [
        "placements[1].footprint",
        "wires[0].board",
    ]

"""A list and a board of the same parts that say different things: each is told, with both places.

The pairs are of our own making."""

from __future__ import annotations

from pathlib import Path

import pytest

from solderrisk.draft.drafting import draft, draft_command
from solderrisk.files.loading import load_kit, load_library
from solderrisk.files.reference import load_reference
from solderrisk.model.draft import Draft
from solderrisk.model.jobs import Job, jobs_of
from solderrisk.model.lands import smallest_gap_mm
from solderrisk.plan.heating import may_drop

LIBRARY = load_library()
CHIP = (
    '(footprint "{package}" (layer "{side}.Cu") (at {x} 20) (fp_text reference "{ref}" (at 0 0)) '
    '(fp_text value "{value}" (at 0 0)) (pad "1" smd rect (at -0.95 0) (size 1 1.4) (layers '
    '"{side}.Cu")) (pad "2" smd rect (at 0.95 0) (size 1 1.4) (layers "{side}.Cu")))'
)


def pair(tmp_path: Path, table: str, name: str = "list.csv") -> Draft:
    parts = [
        CHIP.format(package="R_0805_2012Metric", side="B" if n == 3 else "F", x=10 * n,
                    ref=f"R{n}", value=f"{n}k")
        for n in range(1, 6)
    ]  # fmt: skip
    board = tmp_path / "board.kicad_pcb"
    board.write_text("(kicad_pcb " + "\n".join(parts) + ")")
    (tmp_path / name).write_text(table)
    return draft([board, tmp_path / name], LIBRARY)


def note(made: Draft, about: str) -> str:
    return next((text for text in made.notes if text.startswith(f"{about} differs")), "")


def test_packages(tmp_path: Path) -> None:
    made = pair(tmp_path, "Ref,Value,Package\nR1,1k,R_0603_1608Metric\nR2,2k,0805\n")
    told = note(made, "package")
    assert "R1" in told
    assert "R2" not in told
    assert "board.kicad_pcb:1" in told
    assert "list.csv:2" in told
    assert "taken from the board" in told
    placed = {p.refs: p.footprint for p in made.placements}
    assert all("0805" in footprint for footprint in placed.values())


def test_pins(tmp_path: Path) -> None:
    made = pair(tmp_path, "Ref,Value,Package\nR4,4k,SOIC-8\n")
    assert "R4" in note(made, "package")


@pytest.mark.parametrize(
    ("value", "differs"),
    [("2.2k", True), ("2k", False), ("2K", False), ("2000", False), ("2k0", False), ("20R", True),
     ("film", False)],
)  # fmt: skip
def test_values(tmp_path: Path, value: str, differs: bool) -> None:
    made = pair(tmp_path, f"Ref,Value,Package\nR2,{value},0805\n")
    assert ("R2" in note(made, "value")) is differs
    if differs:
        assert "taken from the parts list" in note(made, "value")
        assert made.placements[0].value == value


def test_sides_and_positions(tmp_path: Path) -> None:
    rows = [f"R{n},{10 * n + 100 + (3 if n == 4 else 0)},77,0,top" for n in range(1, 6)]
    made = pair(tmp_path, "Designator,Mid X,Mid Y,Rotation,Layer\n" + "\n".join(rows) + "\n")
    assert "R3" in note(made, "side")
    told = note(made, "position")  # the corner from which the files count may differ
    assert "R4" in told
    assert "3.0 mm" in told
    assert "R1" not in told
    placed = {ref: p for p in made.placements for ref in p.refs.split(", ")}
    assert placed["R3"].side == "bottom"


def test_sources_that_agree_say_nothing(tmp_path: Path) -> None:
    rows = "\n".join(f"R{n},{n}k,R_0805_2012Metric" for n in range(1, 6))
    made = pair(tmp_path, f"Ref,Value,Package\n{rows}\n")
    assert not [text for text in made.notes if "differs" in text]


def test_the_quantity_column_that_was_used_is_named(tmp_path: Path) -> None:
    path = tmp_path / "b.csv"
    path.write_text("Reference,Qty,Quantity per 10,Footprint\nR1,1,10,R_0805_2012Metric\n")
    assert any("'Qty'" in text for text in draft([path], LIBRARY).notes)


def test_nothing_placed_is_written_as_remarks(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    source, out = tmp_path / "b.csv", tmp_path / "kit.yaml"
    source.write_text("Ref,Value,Package\nU1,core,ZORK-1\nU2,other,ZORK-2\n")
    assert draft_command([source], out) == 2
    text = out.read_text()
    assert '# - refs: "U1"' in text
    assert '# - refs: "U2"' in text
    assert "remarks" in capsys.readouterr().err
    with pytest.raises(Exception, match="nothing to solder"):
        load_kit(out, LIBRARY)


def test_a_list_says_the_side(tmp_path: Path) -> None:
    path = tmp_path / "b.csv"
    path.write_text("Reference,Footprint,Side\nR1,R_0805_2012Metric,Bottom\nR2,SOIC-8,T\n")
    sides = {p.refs: p.side for p in draft([path], LIBRARY).placements}
    assert sides == {"R1": "bottom", "R2": "top"}


PAIRS = Path(__file__).parents[1] / "readers" / "fixtures" / "pairs"
BOARD = PAIRS / "agree.kicad_pcb"


def jobs_of_pair(name: str) -> dict[str, Job]:
    return {job.ref: job for job in jobs_of(draft([PAIRS / name], LIBRARY).kit(), LIBRARY)}


def test_list_and_board_of_one_part_agree_in_every_hazard() -> None:
    """Nineteen common parts, once by package names, once as drawn."""
    listed, drawn = jobs_of_pair("agree.csv"), jobs_of_pair("agree.kicad_pcb")
    assert listed.keys() == drawn.keys()
    assert len(listed) == 19
    physics = load_reference().physics
    drops = [may_drop(jobs.values(), physics).keys() for jobs in (listed, drawn)]
    assert drops[0] == drops[1]
    for ref, one in listed.items():
        other = drawn[ref]
        assert one.footprint is not None
        assert other.footprint is not None
        shapes = (one.footprint, other.footprint)
        gaps = [smallest_gap_mm(shape) for shape in shapes]
        if min(gap or 9.0 for gap in gaps) < 3.0:  # solder does not reach over wider gaps
            assert gaps[0] == pytest.approx(gaps[1], abs=0.05), ref
        assert one.polarised == other.polarised, ref
        heat = [(s.family, s.joint_count, s.hand_iron, s.moisture_level) for s in shapes]
        heat_limits = [shape.heat.model_copy(update={"source": ""}) for shape in shapes]
        assert heat[0] == heat[1], ref
        assert heat_limits[0] == heat_limits[1], ref


@pytest.mark.parametrize(
    ("other", "about", "refs", "unsaid"),
    [
        ("differ.csv", "package", ("C3", "U1"), "Q1"),
        ("differ.csv", "value", ("R2",), "R1"),
        ("differ.csv", "side", ("U2",), "Q1"),
        ("moved.csv", "position", ("U1",), "C2"),
    ],
)
def test_a_pair_that_differs_is_told_with_both_files(
    other: str, about: str, refs: tuple[str, ...], unsaid: str
) -> None:
    told = note(draft([BOARD, PAIRS / other], LIBRARY), about)
    assert all(ref in told for ref in refs)
    assert f"{unsaid} (" not in told
    assert BOARD.name in told
    assert other in told


def test_a_quantity_that_differs_is_asked_about_with_its_place() -> None:
    made = draft([BOARD, PAIRS / "differ.csv"], LIBRARY)
    asked = next(q for q in made.questions if q.refs == ("D1", "D2"))
    assert "differ.csv:8: 2 references but quantity 3" in asked.text
    assert not [text for text in draft([BOARD, PAIRS / "agree.csv"], LIBRARY).notes
                if "differs" in text]  # fmt: skip

"""Parts of a draft that come off a donor board."""

from __future__ import annotations

from pathlib import Path

import pytest

from solderrisk.draft.answers import lift, new, refs_of
from solderrisk.draft.drafting import answer, draft
from solderrisk.draft.write import kit_yaml, round_trip
from solderrisk.files.loading import load_library
from solderrisk.model.draft import Draft
from solderrisk.model.jobs import jobs_of
from solderrisk.model.kit import Board, Donor
from solderrisk.model.problems import UserProblem

LIBRARY = load_library()
OLD = Donor(name="old", board=Board(name="old", copper_layers=4, plane_layers=2))


@pytest.fixture
def made(tmp_path: Path) -> Draft:
    path = tmp_path / "list.csv"
    path.write_text(
        "Designator,Package,Value\nR1-R4,0805,10k\nU1,SOIC-8,memory\nC9,weird,cell\n",
        encoding="utf-8",
    )
    return draft([path], LIBRARY)


def test_some_of_a_line_come_off_and_the_written_kit_lifts_them(made: Draft) -> None:
    off = lift(made, refs_of(made, "r2, U1"), OLD, irreplaceable=True)
    kit = round_trip(kit_yaml(off))
    assert kit.model_copy(update={"title": ""}) == off.kit()
    lifted = {job.ref: job for job in jobs_of(kit, LIBRARY) if job.kind == "lift"}
    assert set(lifted) == {"R2", "U1"}
    fitted = {job.ref: job for job in jobs_of(kit, LIBRARY) if job.kind == "fit"}
    assert set(fitted) == {"R1", "R2", "R3", "R4", "U1"}
    assert {ref for ref, job in fitted.items() if job.irreplaceable} == {"R2", "U1"}
    assert "# donors:" not in kit_yaml(off)
    assert "# donors:" in kit_yaml(made)


def test_the_last_word_holds_and_an_unused_donor_goes(made: Draft) -> None:
    other = OLD.model_copy(update={"name": "other"})
    off = lift(made, ("U1", "R1"), OLD, irreplaceable=True)
    off = lift(off, ("U1",), other, irreplaceable=False)
    assert {part.ref: (part.donor, part.irreplaceable) for part in off.lifted} == {
        "R1": ("old", True), "U1": ("other", False),
    }  # fmt: skip
    assert [donor.name for donor in new(off, ("R1",)).donors] == ["other"]
    assert new(off, ("R1", "U1")).kit() == made.kit()


def test_an_answer_keeps_what_was_said_of_donors(made: Draft) -> None:
    off = lift(made, refs_of(made, "C9"), OLD, irreplaceable=True)
    assert "C9" in off.kit().not_counted
    asked = next(question for question in off.questions if "C9" in question.refs)
    (part,) = (p for p in answer(off, asked.id, "0805").kit().placements if p.refs == "C9")
    assert (part.donor, part.irreplaceable) == ("old", True)


@pytest.mark.parametrize(
    ("text", "told"), [("U7", "no U7"), ("R1-R9", "no R5"), ("", "empty"), ("R4-R1", "backwards")]
)
def test_a_list_that_names_no_part_is_told(made: Draft, text: str, told: str) -> None:
    with pytest.raises(UserProblem, match=told):
        refs_of(made, text)


def test_the_board_to_be_populated_is_no_donor(made: Draft) -> None:
    here = OLD.model_copy(update={"name": made.boards[0].name})
    with pytest.raises(UserProblem, match="to be populated"):
        lift(made, ("U1",), here, irreplaceable=True)


def test_a_part_that_is_left_out_is_told_so(made: Draft) -> None:
    asked = next(question for question in made.questions if "C9" in question.refs)
    with pytest.raises(UserProblem, match="leaves out C9"):
        refs_of(answer(made, asked.id, "leave it out"), "U1, C9")


def test_the_written_kit_holds_price_solder_and_spares(made: Draft) -> None:
    board = Board(name="old", copper_layers=2, alloy="SAC305")
    donor = Donor(name="old", board=board, condition="leaked_cell", price=12.5)
    kit = round_trip(kit_yaml(lift(made, ("U1",), donor, irreplaceable=False, spares=2)))
    assert kit.donors == (donor,)
    (job,) = (job for job in jobs_of(kit, LIBRARY) if job.kind == "lift")
    told = (job.ref, job.spares, job.irreplaceable, job.alloy, job.donor_condition)
    assert told == ("U1", 2, False, "SAC305", "leaked_cell")


def test_a_part_without_footprint_keeps_its_donor_in_the_remark(made: Draft) -> None:
    off = lift(made, ("C9",), OLD, irreplaceable=True, spares=1)
    text = kit_yaml(off).replace("placements:\n", "placements:\n  # here\n")
    start = text.index('  # - refs: "C9"')
    entry = text[start:].replace("  # ", "  ").replace("footprint: ?", "footprint: SOIC-8")
    kept = "\n".join(line for line in text.splitlines() if "C9" not in line and "not_c" not in line)
    kit = round_trip(kept.replace("  # here", entry.rstrip()))
    (part,) = (p for p in kit.placements if p.refs == "C9")
    assert (part.donor, part.irreplaceable, part.spares) == ("old", True, 1)

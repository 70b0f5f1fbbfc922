"""A definition of one's own: what is asked stands in the file, faults come with a remedy."""

from __future__ import annotations

from pathlib import Path

import pytest

from solderrisk.draft.answers import QUESTIONS, answered, part_from_answers, part_from_drawing
from solderrisk.files.loading import load_library
from solderrisk.files.text import FileProblems
from solderrisk.model.lands import smallest_gap_mm
from solderrisk.model.problems import UserProblem

LIBRARY = load_library()
ROW = {
    "like": "HEADER-1X4-2.54", "pins": "4", "pitch": "2", "rows": "1", "row-span": "",
    "land": "1.3x1.6", "hole": "1.0", "body": "8 x 4 x 6",
}  # fmt: skip


def test_answers_make_a_file_that_loads(tmp_path: Path) -> None:
    assert set(ROW) == set(QUESTIONS)
    file = tmp_path / "mine.yaml"
    text, made = part_from_answers("MY-CONN", ROW, LIBRARY, file)
    file.write_text(text)
    read = load_library([file]).get("my-conn")
    assert read is not None
    assert read.model_copy(update={"words": ()}) == made
    assert (made.pin_count, made.pitch_mm, made.body.height_mm) == (4, 2.0, 6.0)
    assert smallest_gap_mm(made) == pytest.approx(0.7)
    assert made.heat.softens_c == 230.0  # of pin headers
    assert "HEADER-1X4-2.54" in made.source


@pytest.mark.parametrize(
    ("answers", "gap_mm", "layout"),
    [
        ({"pins": "2", "pitch": "5", "land": "1.6x1.6"}, 3.4, "ends"),
        ({"pins": "8", "rows": "2", "row-span": "2", "body": "8x6x6"}, 0.4, "single"),
        ({"like": "SOIC-8", "pins": "8", "pitch": "1.27", "rows": "2", "row-span": "5",
          "land": "0.6x2", "hole": "", "body": "5x4x1.7"}, 0.67, "dual"),
    ],
)  # fmt: skip
def test_two_wires_and_two_rows(answers: dict[str, str], gap_mm: float, layout: str) -> None:
    _, made = part_from_answers("X", {**ROW, **answers}, LIBRARY, Path("x.yaml"))
    assert made.pads[0].layout == layout
    assert smallest_gap_mm(made) == pytest.approx(gap_mm)


@pytest.mark.parametrize(
    ("answers", "place", "remedy"),
    [
        ({"land": "1.3x1.6", "hole": "1.4"}, "pads[0].hole_mm", "ring of 0.2 mm"),
        ({"hole": "0.8"}, "pads[0].hole_mm", "make the hole 0.2 mm larger"),
        ({"pins": "8", "rows": "2", "row-span": "1"}, "pads[0]", "row distance larger"),
        ({"land": "2.2x1.6"}, "pads[0]", "leaves no gap"),
        ({"body": "8x4x0.3"}, "body", "check length, width, height"),
        ({"body": "8x4"}, "body", "3 numbers"),
        ({"pins": "four"}, "pins", "a number"),
        ({"pitch": "0"}, "pitch", "above 0"),
        ({"like": "header"}, "like", "HEADER-1X"),
    ],
)
def test_what_no_part_can_have_is_told_with_place_and_remedy(
    answers: dict[str, str], place: str, remedy: str
) -> None:
    with pytest.raises(FileProblems) as told:
        part_from_answers("X", {**ROW, **answers}, LIBRARY, Path("x.yaml"))
    text = str(told.value)
    assert "x.yaml" in text
    assert place in text
    assert remedy in text


def test_what_is_not_given_is_asked_for_or_named() -> None:
    given = {**dict.fromkeys(QUESTIONS), "pins": "4"}
    asked: list[str] = []
    answers = answered(given, lambda question: asked.append(question) or "7")
    assert answers["pins"] == "4"
    assert answers["body"] == "7"
    assert len(asked) == len(QUESTIONS) - 1
    with pytest.raises(UserProblem, match="--like, --pitch, --land, --body"):
        answered(given, None)


def test_a_drawing_makes_a_definition(tmp_path: Path) -> None:
    drawing = tmp_path / "part.kicad_mod"
    pads = "".join(
        f'(pad "{n}" thru_hole circle (at {2.5 * n} 0) (size 1.7 1.7) (drill 1) (layers "*.Cu"))'
        for n in (1, 2, 3)
    )
    drawing.write_text(f'(footprint "thing" (layer "F.Cu") {pads})')
    text, made = part_from_drawing("THING-3", drawing, LIBRARY, tmp_path / "out.yaml")
    assert made.name == "THING-3"
    assert made.pin_count == 3
    assert smallest_gap_mm(made) == pytest.approx(0.8)
    assert text.startswith("footprints:")


def test_faulty_files_of_ones_own_are_refused_line_by_line(tmp_path: Path) -> None:
    file = tmp_path / "mine.yaml"
    file.write_text(
        "footprints:\n"
        "  - name: A\n"
        "    family: header\n"
        "    pads:\n"
        "      - {kind: through_hole, count: 2, layout: ends, row_span_mm: 1, land_w_mm: 1.5,\n"
        "         land_l_mm: 1.5, hole_mm: 1.6}\n"
        "    body: {length_mm: 5, width_mm: 5, height_mm: 5}\n"
        "    source: assumed\n"
    )
    with pytest.raises(FileProblems) as told:
        load_library([file])
    lines = str(told.value).splitlines()
    assert any("mine.yaml:6:" in line and "hole_mm" in line and "ring" in line for line in lines)
    assert any("overlap" in line for line in lines)

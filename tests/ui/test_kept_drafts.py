"""A half-answered draft is kept over a restart, and offered when the same list is drafted again."""

from __future__ import annotations

import json
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import pytest
from textual.pilot import Pilot

from solderrisk.draft import answers
from solderrisk.files import settings
from solderrisk.files.loading import load_kit, load_library
from solderrisk.model.draft import Draft
from solderrisk.tui.app import SolderriskApp
from solderrisk.tui.screens.draft import DraftScreen, TakeUp
from solderrisk.tui.setup import Inputs
from tests.ui.conftest import HEAD
from tests.ui.driving import SMALL, flat, press, rest, screen_text, type_text


@asynccontextmanager
async def drafting(path: Path) -> AsyncIterator[Pilot[int]]:
    """A run of the program on a list, as the command line starts it."""
    app = SolderriskApp(Inputs(str(path), "bare", "newcomer"))
    app.recall()
    app.tells_faults = False
    async with app.run_test(size=SMALL) as pilot:
        await rest(pilot)
        yield pilot


async def answer(pilot: Pilot[int], *names: str) -> None:
    for name in names:
        await press(pilot, "t")
        await type_text(pilot, name)
        await press(pilot, "enter")


def draft_of(pilot: Pilot[int]) -> Draft:
    screens = [s for s in pilot.app.screen_stack if isinstance(s, DraftScreen)]
    assert screens[0].draft is not None
    return screens[0].draft


def answered(pilot: Pilot[int]) -> list[str]:
    return sorted(choice for _, choice in draft_of(pilot).answers)


async def test_answers_are_taken_up_after_a_restart(bill: Path) -> None:
    async with drafting(bill) as pilot:
        assert isinstance(pilot.app.screen, DraftScreen)
        await answer(pilot, "SOIC-8")
        await press(pilot, "escape")
        assert "(1 answer, kept for next time)" in flat(screen_text(pilot))
        await press(pilot, "l")
        assert not isinstance(pilot.app.screen, DraftScreen)
    async with drafting(bill) as pilot:
        assert isinstance(pilot.app.screen, TakeUp)
        assert "kept from before for this draft: 1 answer" in flat(screen_text(pilot))
        await press(pilot, "enter")
        assert answered(pilot) == ["SOIC-8"]
        assert "1 open question" in flat(screen_text(pilot))


async def test_begun_anew_nothing_is_taken_up(bill: Path) -> None:
    async with drafting(bill) as pilot:
        await answer(pilot, "SOIC-8")
    async with drafting(bill) as pilot:
        await press(pilot, "n")
        assert isinstance(pilot.app.screen, DraftScreen)
        assert answered(pilot) == []
        # Until something else is answered, the old answers are still there.
        assert answers.kept_of([bill]) is not None
        await answer(pilot, "SOIC-14")
    async with drafting(bill) as pilot:
        await press(pilot, "enter")
        assert answered(pilot) == ["SOIC-14"]


async def test_an_answer_taken_back_is_not_kept(bill: Path) -> None:
    async with drafting(bill) as pilot:
        await answer(pilot, "SOIC-8")
        assert answers.place_of([bill]).exists()
        listing = pilot.app.screen.query_one("#questions")
        pilot.app.screen.set_focus(listing)
        await press(pilot, "up", "u")
        assert answered(pilot) == []
    assert not answers.place_of([bill]).exists()


async def test_a_written_kit_drops_what_was_kept(bill: Path, tmp_path: Path) -> None:
    async with drafting(bill) as pilot:
        await answer(pilot, "SOIC-8", "SOIC-14")
        assert answers.place_of([bill]).exists()
        await press(pilot, "w")
        pilot.app.screen.query_one("#kit-path").value = ""  # type: ignore[attr-defined]
        await type_text(pilot, str(tmp_path / "made.yaml"))
        await press(pilot, "enter")
    made = load_kit(tmp_path / "made.yaml", load_library())
    assert {p.footprint for p in made.placements} == {"SOIC-8", "SOIC-14"}
    assert not answers.place_of([bill]).exists()


async def test_a_changed_list_keeps_what_still_fits(bill: Path) -> None:
    async with drafting(bill) as pilot:
        await answer(pilot, "SOIC-8", "SOIC-14")
        assert answered(pilot) == ["SOIC-14", "SOIC-8"]
        first = {q.refs: dict(draft_of(pilot).answers)[q.id] for q in draft_of(pilot).questions}
    # The other reference now says something else.
    stays = first[("U7",)]
    bill.write_text(f"{HEAD}U7,mystery,\nJ8,enigma,\n", encoding="utf-8")
    async with drafting(bill) as pilot:
        await press(pilot, "enter")
        assert answered(pilot) == [stays]
        assert "1 answer of before does not fit any more" in flat(screen_text(pilot))


async def test_an_answer_is_not_taken_for_references_it_was_not_given_for(bill: Path) -> None:
    async with drafting(bill) as pilot:
        await answer(pilot, "SOIC-8", "SOIC-14")
    bill.write_text(f"{HEAD}U7,mystery,\nU9,mystery,\n", encoding="utf-8")
    async with drafting(bill) as pilot:
        await press(pilot, "enter")
        assert answered(pilot) == []
        assert "2 answers of before do not fit any more" in flat(screen_text(pilot))


@pytest.mark.parametrize("text", ["", "{", "[]", '{"format": 1, "answers": 3}', "\0", '{"x": 1}'])
async def test_a_damaged_file_is_told_and_passed_over(bill: Path, text: str) -> None:
    place = answers.place_of([bill])
    place.parent.mkdir(parents=True)
    place.write_text(text, encoding="utf-8")
    async with drafting(bill) as pilot:
        assert isinstance(pilot.app.screen, DraftScreen)
        assert "kept answers are passed over" in flat(screen_text(pilot))
        await answer(pilot, "SOIC-8")
    assert json.loads(place.read_text(encoding="utf-8"))["answers"][0]["choice"] == "SOIC-8"


async def test_a_newer_file_stays(bill: Path) -> None:
    place = answers.place_of([bill])
    place.parent.mkdir(parents=True)
    place.write_text('{"format": 99}', encoding="utf-8")
    async with drafting(bill) as pilot:
        assert "newer version" in flat(screen_text(pilot))
        await answer(pilot, "SOIC-8")
        assert answered(pilot) == ["SOIC-8"]
        assert "answers cannot be kept" in flat(screen_text(pilot))
    assert place.read_text(encoding="utf-8") == '{"format": 99}'


async def test_nothing_is_kept_where_settings_are_off(
    bill: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(settings.OFF, "1")
    async with drafting(bill) as pilot:
        await answer(pilot, "SOIC-8")
        assert answered(pilot) == ["SOIC-8"]
    assert not answers.folder().exists()


def test_sources_are_the_same_in_any_order(tmp_path: Path) -> None:
    one, two = tmp_path / "a.csv", tmp_path / "b.csv"
    assert answers.place_of([one, two]) == answers.place_of([two, one])
    assert answers.place_of([one]) != answers.place_of([two])

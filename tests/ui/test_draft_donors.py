"""Parts that come off a dead board, said by key while a list is drafted."""

from __future__ import annotations

from pathlib import Path

import pytest
from textual import events
from textual.pilot import Pilot
from textual.widgets import Input

from solderrisk.draft.answers import lift
from solderrisk.files import settings
from solderrisk.files.loading import load_kit, load_library
from solderrisk.model.jobs import jobs_of
from solderrisk.model.kit import Board, Donor
from solderrisk.tui.screens.draft import DraftScreen
from solderrisk.tui.screens.draft_parts import USUAL, DonorScreen
from tests.ui.conftest import HEAD
from tests.ui.driving import flat, press, rest, screen_text, type_text
from tests.ui.test_free_text import HOSTILE, actions
from tests.ui.test_kept_drafts import answer, draft_of, drafting

NARROW = (60, 24)


@pytest.fixture
def clear(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A bill that asks nothing: all references are shown at once."""
    monkeypatch.delenv(settings.OFF)
    path = tmp_path / "clear.csv"
    rows = ("R1,10k,0805", "R2,10k,0805", "C1,100n,0805", "U1,sound chip,LQFP-100")
    path.write_text(HEAD + "\n".join(rows) + "\n", encoding="utf-8")
    return path


def screen_of(pilot: Pilot[int]) -> DraftScreen:
    return next(s for s in pilot.app.screen_stack if isinstance(s, DraftScreen))


def lifted(pilot: Pilot[int]) -> dict[str, str]:
    return {part.ref: part.donor for part in draft_of(pilot).lifted}


async def test_parts_off_a_donor_are_said_by_key_and_kept(bill: Path) -> None:
    async with drafting(bill) as pilot:
        await answer(pilot, "SOIC-8", "HEADER-1X4-2.54")
        await press(pilot, "d")
        await type_text(pilot, "u7,x9")
        assert "the draft has no X9" in await press(pilot, "enter")
        await press(pilot, *["backspace"] * 3, "tab")
        await type_text(pilot, "old [red]")
        # Nobody sells them stays ticked; one spare, a clean board, one more step of layers.
        await press(pilot, "tab", "down", "right", "down", "right", "down", "right", "enter")
        assert "1 part off a donor" in flat(screen_text(pilot))
        assert "off old [red]" in await press(pilot, "r")
    async with drafting(bill) as pilot:
        assert "kept from before for this draft: 2 answers, 1 part off a donor" in flat(
            screen_text(pilot)
        )
        await press(pilot, "enter", "w", "ctrl+u")
        await type_text(pilot, str(bill.with_name("kit.yaml")))
        await press(pilot, "enter")
    kit = load_kit(bill.with_name("kit.yaml"), load_library())
    assert [(p.refs, p.donor, p.irreplaceable, p.spares) for p in kit.placements if p.donor] == [
        ("U7", "old [red]", True, 1)
    ]
    (donor,) = kit.donors
    assert (donor.condition, donor.board.copper_layers) == ("clean", 6)
    assert {job.ref for job in jobs_of(kit, load_library()) if job.kind == "lift"} == {"U7"}


async def test_a_part_is_new_again_without_a_donors_name(bill: Path) -> None:
    async with drafting(bill) as pilot:
        await press(pilot, "d")
        await type_text(pilot, "U7")
        await press(pilot, "enter")
        assert lifted(pilot) == {"U7": "old-board"}
        assert "1 part off a donor" in screen_of(pilot).unsaved
        assert "1 part off a donor" in flat(await press(pilot, "escape"))
        await press(pilot, "escape", "d")
        await type_text(pilot, "U7")
        await press(pilot, "tab", "ctrl+u", "enter")
        assert lifted(pilot) == {}
        assert draft_of(pilot).donors == ()


async def test_marked_parts_come_off_together_and_are_new_again_by_key(clear: Path) -> None:
    async with drafting(clear) as pilot:
        assert "space Mark" in screen_text(pilot)
        await press(pilot, "down", "space", "down", "space")
        assert "R2, U1" in await press(pilot, "d")
        text = await press(pilot, "enter")
        assert lifted(pilot) == {"R2": "old-board", "U1": "old-board"}
        assert text.count("off old-board") == 2
        # The cursor stands where it was: on the last row.
        await press(pilot, "u")
        assert lifted(pilot) == {"R2": "old-board"}


async def test_a_board_named_again_stays_as_it_was_told(clear: Path) -> None:
    async with drafting(clear) as pilot:
        await press(pilot, "d", "tab")
        await type_text(pilot, "radio")
        # A corroded board with lead-free solder, bought for 4.50.
        await press(pilot, "tab", "down", "down", "right", "right", "right")
        await press(pilot, "down", "down", "right", "tab")
        await type_text(pilot, "4,5")
        await press(pilot, "enter", "down", "d", "tab")
        radio = draft_of(pilot).donors[0]
        assert (radio.condition, radio.board.alloy, radio.price) == ("corroded", "SAC305", 4.5)
        await type_text(pilot, "meter")
        await press(pilot, "tab", "down", "down", "right")
        await press(pilot, "tab", "ctrl+u", "enter")
        assert [donor.name for donor in draft_of(pilot).donors] == ["radio", "meter"]
        # The part at hand next takes the board used last; up goes to the one before.
        text = await press(pilot, "down", "d", "tab", "up")
        assert "known: radio, meter" in flat(text)
        assert "corroded" in text
        assert "SAC305" in text
        await press(pilot, "enter")
        assert lifted(pilot) == {"R1": "radio", "R2": "meter", "C1": "radio"}
        assert {d.name: d for d in draft_of(pilot).donors}["radio"] == radio


async def test_what_a_part_has_been_told_is_shown_again(clear: Path) -> None:
    async with drafting(clear) as pilot:
        await press(pilot, "d", "tab")
        await type_text(pilot, "radio")
        await press(pilot, "tab", "space", "enter", "down", "d", "tab")
        await type_text(pilot, "meter")
        await press(pilot, "enter", "up")
        text = await press(pilot, "d")
        assert "[ ] nobody sells them" in text
        field = pilot.app.screen.query_one("#donor-name", Input)
        assert field.value == "radio"


@pytest.mark.parametrize("price", ["much", "-1", "nan", "1e9"])
async def test_a_price_that_is_none_is_told(clear: Path, price: str) -> None:
    async with drafting(clear) as pilot:
        await press(pilot, "d", "tab", "tab", "tab")
        await type_text(pilot, price)
        assert "price is a number from 0 to 1,000,000" in flat(await press(pilot, "enter"))
        assert isinstance(pilot.app.screen, DonorScreen)
        assert lifted(pilot) == {}


async def test_an_answer_that_comes_while_donors_are_told_stays(bill: Path) -> None:
    async with drafting(bill) as pilot:
        before = draft_of(pilot)
        await answer(pilot, "SOIC-8")
        donor = Donor(name="old", board=Board(name="old"))
        screen_of(pilot)._lifted(lift(before, ("J8",), donor, irreplaceable=True))
        assert [choice for _, choice in draft_of(pilot).answers] == ["SOIC-8"]
        assert lifted(pilot) == {"J8": "old"}


@pytest.mark.parametrize("text", HOSTILE)
async def test_a_boards_name_is_text(clear: Path, text: str) -> None:
    async with drafting(clear) as pilot:
        await press(pilot, "d", "tab")
        pilot.app.screen.query_one("#donor-name", Input).value = text
        await press(pilot, "enter")
        assert lifted(pilot) == {"R1": text}
        # In the table, as one known, and in what is wrong.
        for keys in (("r", "r"), ("d",), ("ctrl+u", *"x9", "enter")):
            await press(pilot, *keys)
            assert actions(pilot) == []
        assert text[:20] in flat(screen_text(pilot))


async def test_sixty_columns_are_enough(clear: Path) -> None:
    async with drafting(clear) as pilot:
        await pilot.resize_terminal(*NARROW)
        await rest(pilot)
        text = await press(pilot, "d")
        for words in (
            "parts, like U1",
            "board's name",
            "[x] nobody",
            "copper",
            "cost",
            "enter takes it over",
        ):
            assert words in text, words
        text = await press(pilot, "enter")
        assert "off old-boa" in text
        assert max(map(len, text.splitlines())) <= NARROW[0]


async def test_what_is_typed_right_before_enter_counts(clear: Path) -> None:
    """Keys sent in one go: enter may not be taken before the letters in front of it."""
    async with drafting(clear) as pilot:
        await press(pilot, "d", "ctrl+u")
        for character in "u1":
            pilot.app.post_message(events.Key(character, character))
        pilot.app.post_message(events.Key("enter", "\r"))
        await rest(pilot)
        assert lifted(pilot) == {"U1": USUAL}

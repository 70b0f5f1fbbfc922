"""The what-if's dials and the table's rows without a screen."""

from __future__ import annotations

from dataclasses import replace

from solderrisk.files.loading import load_library
from solderrisk.model.bench import LEVELS
from solderrisk.tui.dials import dials, turn, without
from solderrisk.tui.rows import SORTS, Shown, best_match, filtered, natural, ordered
from solderrisk.tui.setup import Key, Setup
from tests.ui.sample import BENCH, BUILDER, QUESTION, sample

LOADED = QUESTION
SAVED = Setup(BENCH, BUILDER)


def turned(setup: Setup, dial: Key, step: int = 1) -> Setup:
    return turn(LOADED, SAVED, setup, dial, step)


def test_every_dial_moves_something_and_is_marked_then() -> None:
    for dial in dials(LOADED, SAVED, SAVED):
        assert not dial.changed
        tried = turned(SAVED, dial.key)
        assert tried != SAVED, dial
        moved = {d.key: d for d in dials(LOADED, SAVED, tried)}[dial.key]
        assert moved.changed, dial
        assert moved.was == dial.value


def test_switches_and_levels_come_back_to_where_they_were() -> None:
    for dial in dials(LOADED, SAVED, SAVED):
        if dial.on is not None:
            assert turned(turned(SAVED, dial.key), dial.key) == SAVED
    tried = SAVED
    for _ in LEVELS:
        tried = turned(tried, ("hands", "level"))
    assert tried == SAVED


def test_the_target_stays_a_chance() -> None:
    tried = SAVED
    for _ in range(40):
        tried = turned(tried, ("target",))
    assert tried.target == 0.95
    for _ in range(40):
        tried = turned(tried, ("target",), -1)
    assert tried.target == 0.05


def test_a_tool_switched_off_is_gone_and_an_added_one_there() -> None:
    off = turned(SAVED, ("item", "irons", 0))
    assert off.bench.irons == ()
    assert without(BENCH, frozenset({("aids", 0)})).aids == BENCH.aids[1:]
    assert not BENCH.preheaters
    assert turned(off, ("tool", "preheater")).bench.preheaters


def test_filters_hold_every_word_and_leave_words_out() -> None:
    rows = Shown.of(sample(40)).rows
    assert {r.kind for r in filtered(rows, "lift")} == {"lift"}
    assert not [r for r in filtered(rows, "main -r0603") if "r0603" in r.text]
    assert [r.name for r in filtered(rows, "DC jack")] == ["J1"]
    assert filtered(rows, "nothing of this name") == []


def test_everyday_words_find_jobs_in_the_palette() -> None:
    shown, jack = Shown.of(sample(40)), load_library().get("DC-JACK-2.1")
    jobs = {
        key: replace(job, footprint=jack) if job.ref == "J1" else job
        for key, job in shown.jobs.items()
    }
    shown = replace(shown, jobs=jobs)
    assert [row.name for row in shown.about("barrel jack")] == ["J1"]
    assert [row.name for row in shown.about("power sockets")] == ["J1"]
    assert shown.about("J1")[0].name == "J1"
    assert shown.about("frobnicator") == []


def test_finding_prefers_the_very_reference() -> None:
    rows = list(Shown.of(sample(40)).rows)
    assert best_match(rows, "r1") == "fit:R1"
    assert best_match(rows, "R3") == "fit:R3"
    assert best_match(rows, "u1") in ("fit:U1", "lift:U1")
    assert best_match([], "r1") is None


def test_sorting_by_everything() -> None:
    rows = list(Shown.of(sample(40)).rows)
    for by in SORTS:
        down = ordered(rows, by)
        assert len(down) == len(rows)
        assert ordered(rows, by, backwards=True)[0] in (down[-1], *down)
    works = [row.works for row in ordered(rows, "chance")]
    assert works == sorted(works)
    assert natural("C2") < natural("C10") < natural("D1")

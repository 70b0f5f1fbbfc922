"""What can be recorded, what is refused, and what follows from it."""

from __future__ import annotations

import contextlib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from solderrisk.journal.events import SHAPES, checked
from solderrisk.journal.place import JournalProblem
from solderrisk.journal.recording import CHOICES, FOUND, LOST, Recorder
from solderrisk.journal.state import BuildState, live
from tests.journal.bench import begun

DATA = settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)


@pytest.fixture
def bench(tmp_path: Path) -> Recorder:
    return begun(tmp_path / "j.sqlite")


def test_a_range_is_one_go_with_one_event_a_job(bench: Recorder) -> None:
    stored = bench.done("R1-R12", minutes=14)
    assert [event.kind for event in stored] == ["done"] * 12 + ["worked"]
    assert len({event.batch for event in stored}) == 1
    assert bench.state.minutes == 14
    assert bench.state.done == tuple(f"fit:R{n}" for n in range(1, 13))
    assert all(event.who == event.writer == "ada" for event in stored)


def test_done_is_not_looked_over(bench: Recorder) -> None:
    bench.done("R1-R12")
    bench.looked("R1-R3")
    looked = [key for key, job in bench.state.jobs.items() if job.looked]
    assert looked == ["fit:R1", "fit:R2", "fit:R3"]


def test_a_reference_with_two_open_jobs_is_asked(bench: Recorder) -> None:
    with pytest.raises(JournalProblem, match=r"U1 could be .*lift:U1.*name one of them"):
        bench.done("U1")
    bench.done("lift:U1")
    # Only the fitting is open now.
    assert bench.done("U1")[0].body["key"] == "fit:U1"
    with pytest.raises(JournalProblem, match="could be"):
        bench.fault("U1", "bridge")


def test_faults_are_open_until_a_mending_works(bench: Recorder) -> None:
    bench.done("U2")
    bench.fault("U2", "bridge", "meter", count=2)
    bench.mended("U2", "bridge", worked=False)
    assert bench.state.jobs["fit:U2"].open == {"bridge": 2}
    bench.mended("U2", "bridge")
    assert bench.state.jobs["fit:U2"].open == {}
    assert bench.state.jobs["fit:U2"].tries == 2
    assert [fault.times for fault in bench.state.jobs["fit:U2"].faults] == [2]


def test_a_gate_waits_for_its_jobs_and_opens_again_after_later_work(bench: Recorder) -> None:
    with pytest.raises(JournalProblem, match="gate:shorts waits for fit:R1"):
        bench.gate("shorts", True)
    bench.done("R1-R12")
    bench.gate("shorts", True, 4.98)
    assert bench.state.jobs["gate:shorts"].reading == 4.98
    bench.lost("R5", then="buy")
    assert bench.state.jobs["gate:shorts"].passed is None
    assert "fit:R5" in bench.state.left
    bench.done("R5")
    assert "gate:shorts" in bench.state.left
    bench.gate("shorts", True)
    assert "gate:shorts" in bench.state.done


def test_a_lost_part_asks_before_the_job_goes_on(bench: Recorder) -> None:
    bench.done("U2")
    bench.lost("U2")
    assert bench.state.unsettled == ("fit:U2",)
    with pytest.raises(JournalProblem, match="done already"):
        bench.done("U2")
    bench.lost("U2", then="spare")
    assert bench.state.unsettled == ()
    bench.done("U2")
    assert bench.state.jobs["fit:U2"].lost == ["part"]


def test_undo_takes_the_last_go_back_and_its_undo_restores(bench: Recorder) -> None:
    bench.done("U2")
    bench.done("R1-R3", minutes=4)
    undo = bench.undo()
    assert bench.state.done == ("fit:U2",)
    assert bench.state.minutes == 0
    bench.undo(undo[0].number)
    assert len(bench.state.done) == 4
    assert bench.state.minutes == 4
    bench.undo()
    bench.redo()
    assert len(bench.state.done) == 4
    assert len([e for e in bench.all_events if e.kind == "undo"]) == 4


def test_undo_asks_once_for_what_rests_on_it(bench: Recorder) -> None:
    done = bench.done("U2")[0].number
    bench.fault("U2", "bridge")
    bench.mended("U2", "bridge")
    with pytest.raises(JournalProblem, match=r"2 later events rest on it.*--with-rest"):
        bench.undo(done)
    assert bench.state.done == ("fit:U2",)
    bench.undo(done, with_rest=True)
    assert bench.state.events[1:] == ()
    bench.redo()
    assert bench.state.done == ("fit:U2",)
    assert bench.state.jobs["fit:U2"].tries == 1


def test_undo_takes_only_ones_own(tmp_path: Path) -> None:
    ada = begun(tmp_path / "j.sqlite")
    ben = Recorder(ada.journal, ada.start, who="ben")
    ada.done("R1")
    ben.done("R2")
    ada.refresh()
    ada.undo()
    assert ada.state.done == ("fit:R2",)
    assert ada.state.by_who == {"ben": 1}
    ben.refresh()
    ben.undo()
    with pytest.raises(JournalProblem, match="ben has recorded nothing"):
        ben.undo()


BAD = [
    (lambda b: b.done("R99"), "no job 'R99' in this build; did you mean 'R9'"),
    (lambda b: b.done("fit:R1,,R2"), "an empty reference"),
    (lambda b: b.done("R9-R1"), "backwards"),
    (lambda b: b.done("gate:rail"), "is a gate"),
    (lambda b: b.done("R1", minutes=-1), "--minutes -1"),
    (lambda b: b.done("R1", minutes=float("nan")), "--minutes nan"),
    (lambda b: b.looked("R1"), "not done yet"),
    (lambda b: b.fault("R1", "brigde"), "no fault 'brigde'; did you mean 'bridge'"),
    (lambda b: b.fault("R1", "bridge", count=0), "--count 0"),
    (lambda b: b.mended("R1", "bridge"), "no open fault 'bridge'"),
    (lambda b: b.gate("power", True), "no gate 'power'"),
    (lambda b: b.gate("shorts", False, float("inf")), "is no number"),
    (lambda b: b.note("a\x1b[31mred"), "cannot be printed"),
    (lambda b: b.note("turn \u202e round"), "cannot be printed"),
    (lambda b: b.note("x" * 401), "401 characters"),
    (lambda b: b.note("   "), "is empty"),
    (lambda b: b.undo(77), "no event 77"),
    (lambda b: b.undo(1), "is a start"),
    (lambda b: b.redo(), "nothing was taken back"),
]


@pytest.mark.parametrize(("what", "told"), BAD, ids=[told for _, told in BAD])
def test_what_makes_no_sense_is_one_line_and_nothing_is_written(
    bench: Recorder, what: object, told: str
) -> None:
    before = bench.journal.events()
    with pytest.raises(JournalProblem) as refused:
        what(bench)  # type: ignore[operator]
    assert told in str(refused.value)
    assert "\n" not in str(refused.value)
    assert bench.journal.events() == before


def test_an_ended_build_goes_on_only_after_undo(bench: Recorder) -> None:
    bench.end(True)
    with pytest.raises(JournalProblem, match="has ended"):
        bench.done("R1")
    bench.undo()
    bench.done("R1")


def test_the_light_words_are_those_of_the_shapes() -> None:
    def words(kind: str, field: str) -> set[str]:
        return set(SHAPES[kind].model_json_schema()["properties"][field]["enum"])

    assert words("fault", "found") == set(FOUND)
    assert words("lost", "what") == set(LOST)
    assert words("settled", "choice") == set(CHOICES)


refs = st.sampled_from(["R1", "R2-R4", "U2", "lift:U1", "fit:U1", "W1", "U3,R9", "R1-R12"])
modes = st.sampled_from(["bridge", "open", "dead"])
steps = st.one_of(
    st.tuples(st.just("done"), refs, st.none() | st.floats(0, 60)),
    st.tuples(st.just("looked"), refs),
    st.tuples(st.just("fault"), refs, modes, st.sampled_from(FOUND), st.integers(1, 3)),
    st.tuples(st.just("mended"), refs, modes),
    st.tuples(st.just("lost"), refs, st.sampled_from(LOST), st.none() | st.sampled_from(CHOICES)),
    st.tuples(st.just("gate"), st.sampled_from(["shorts", "rail"]), st.booleans(), st.none()),
    st.tuples(st.just("note"), st.text(min_size=1, max_size=9)),
    st.tuples(st.just("undo")),
    st.tuples(st.just("redo")),
    st.tuples(st.just("end"), st.booleans()),
)


def _do(bench: Recorder, step: tuple[object, ...]) -> None:
    with contextlib.suppress(JournalProblem):
        getattr(bench, str(step[0]))(*step[1:])


@DATA
@given(st.lists(steps, max_size=25))
def test_whatever_is_recorded_has_its_shape_and_is_derived_the_same_again(
    tmp_path_factory: pytest.TempPathFactory, many: list[tuple[object, ...]]
) -> None:
    bench = begun(tmp_path_factory.mktemp("build") / "j.sqlite")
    for step in many:
        _do(bench, step)
    for event in bench.all_events:
        assert checked(event._asdict()) == event
    again = BuildState(bench.sheet, bench.journal.events(bench.build))
    assert (again.done, again.left, again.minutes) == (
        bench.state.done, bench.state.left, bench.state.minutes,
    )  # fmt: skip
    assert set(again.done) | set(again.left) == set(bench.state.jobs)
    # Each undo can be taken back, and then all stands as before.
    before = live(bench.all_events)
    try:
        undo = bench.undo(with_rest=True)
    except JournalProblem:
        return
    bench.undo(undo[0].number)
    assert live(bench.all_events) == before

"""One sitting at the bench: which job is in hand, what is being asked, what a key records.

Every record is on the disk before anything is shown of it; questions come afterwards.
"""

from __future__ import annotations

import os
import time
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Literal

from solderrisk.journal.exchange import opened
from solderrisk.journal.place import JournalProblem, default_path, doubts
from solderrisk.journal.recording import GAP_S, Recorder, told_event
from solderrisk.journal.store import Stored, kept_text

if TYPE_CHECKING:
    from solderrisk.journal.forecast import Told
    from solderrisk.journal.standing import Fates, Standing
    from solderrisk.model.kit import Kit
    from solderrisk.model.question import Question
    from solderrisk.plan.results import Assessment
    from solderrisk.tui.setup import Inputs

MOST_TYPED = 12


@dataclass(frozen=True)
class Asked:
    """A question that waits: mend a fault, what becomes of a part, count a pause, take more
    back than was named, begin a build, plan anew for a kit that changed."""

    what: Literal["begin", "changed", "mend", "lost", "pause", "undo"]
    key: str = ""
    mode: str = ""
    minutes: float = 0.0
    told: tuple[str, ...] = ()


class Sitting:
    """A build in hand. ``says`` is the last thing done or refused.

    Raises:
        JournalProblem: the journal cannot be opened.
    """

    def __init__(self, inputs: Inputs, clock: Any = time) -> None:
        self.path = inputs.journal or default_path()
        self.source, self.stamp = _place(str(inputs.kit))
        self.journal, rescued = opened(self.path)
        self.journal.clock = clock
        self.recorder: Recorder | None = None
        self.asked: Asked | None = None
        self.key: str | None = None
        self.typed = ""
        self.says = doubts(self.path) or ""
        if rescued is not None:
            self.says = (
                f"the journal was damaged: kept as {rescued.aside}, {rescued.events} events go on"
            )
        self._fates: tuple[Assessment, Fates] | None = None
        self._hash_of: tuple[Kit, str] | None = None
        self._opened_s = self.journal.clock.monotonic()
        self._find()

    def close(self) -> None:
        self.journal.close()

    def _find(self) -> None:
        for build in self.journal.builds():
            if build.body["source"] == self.source and build.journal == self.journal.id:
                self.recorder = Recorder(self.journal, build)
                self.go_on()
                return
        self.asked = Asked("begin")

    # --- what is shown ---

    @property
    def open(self) -> Recorder:
        if self.recorder is None:
            raise JournalProblem("no build has begun; space begins one")
        return self.recorder

    def look_out(self) -> bool:
        """Read what another program wrote meanwhile; tells whether there was something."""
        if self.recorder is None:
            return False
        before = len(self.recorder.all_events)
        self.recorder.refresh()
        return len(self.recorder.all_events) != before

    def clock(self) -> tuple[float, float]:
        """Seconds of work that no record holds yet, and of pauses too long to be work."""
        now = self.journal.clock.monotonic()
        events = self.recorder.all_events if self.recorder is not None else []
        here = [e for e in events if e.boot == self.journal.boot and e.mono_s >= self._opened_s]
        booked = [e.mono_s for e in here if e.kind == "worked"]
        start = max([self._opened_s, *booked])
        times = [start, *(e.mono_s for e in here if e.mono_s > start), now]
        gaps = [after - before for before, after in pairwise(times)]
        pauses = sum(gap for gap in gaps if gap > GAP_S)
        return sum(gaps) - pauses, pauses

    def standing(self, assessment: Assessment, question: Question) -> Standing | None:
        """The chance from here on."""
        if self.recorder is None:
            return None
        from solderrisk.journal.standing import fates_of, standing

        if self._fates is None or self._fates[0] is not assessment:
            self._fates = (assessment, fates_of(assessment, question.reference))
        return standing(assessment, question.reference, self.recorder.state, self._fates[1])

    def differs(self, assessment: Assessment) -> bool:
        """Whether the kit is another one than the build was planned for."""
        if self.recorder is None:
            return False
        if self._hash_of is None or self._hash_of[0] is not assessment.kit:
            now = kept_text("kit", assessment.kit.model_dump(mode="json"))
            self._hash_of = (assessment.kit, now.hash)
        return self._hash_of[1] != str(self.recorder.base.body["kept"]["kit"])

    # --- going about ---

    def go_on(self) -> None:
        """Take the next open job in hand; a lost part is asked about first."""
        state = self.open.state
        self.typed = ""
        self.key = state.left[0] if state.left else None
        if state.unsettled:
            self.key = state.unsettled[0]
            self.asked = Asked("lost", self.key)

    def step(self, by: int) -> None:
        """Another job in hand, in the planned order, done or not."""
        keys = [job.key for job in self.open.sheet.jobs]
        at = keys.index(self.key) if self.key in keys else len(keys)
        self.key = keys[min(max(at + by, 0), len(keys) - 1)]
        self.asked, self.typed = None, ""

    def write_reading(self, character: str) -> None:
        self.typed = self.typed[:-1] if character == "" else (self.typed + character)[:MOST_TYPED]

    # --- recording ---

    def begin(self, told: Told) -> None:
        from solderrisk.journal.forecast import start

        self.recorder = start(self.journal, told, source=self.source, stamp=self.stamp)
        self.asked, self.says = None, f"begun; kept in {self.path}"
        self.go_on()

    def replan(self, told: Told, why: str) -> None:
        from solderrisk.journal.forecast import replanned

        replanned(self.open, told, why, source=self.source, stamp=self.stamp)
        self.asked, self.says = None, "what is left is planned anew"
        self.go_on()

    def done(self) -> None:
        """The job in hand is done; its time is counted unless there was a long pause."""
        key = self._in_hand()
        worked_s, paused_s = self.clock()
        self._say(self.open.done(key, round(worked_s / 60, 1)))
        self.go_on()
        if paused_s and self.asked is None:
            self.asked = Asked("pause", key, minutes=round(paused_s / 60, 1))

    def gate(self, passed: bool) -> None:
        reading = None
        if self.typed:
            try:
                reading = float(self.typed)
            except ValueError:
                raise JournalProblem(f"{self.typed!r} is no number, like 4.98") from None
        self._say(self.open.gate(self._in_hand(), passed, reading))
        self.typed = ""
        if passed:
            self.go_on()

    def looked(self) -> None:
        """Everything done and not yet looked over, up to now."""
        state = self.open.state
        waiting = (key for key in state.done if not state.jobs[key].looked)
        keys = [key for key in waiting if state.planned(key).soldered]
        if not keys:
            raise JournalProblem("nothing is waiting to be looked over")
        self.open.looked(",".join(keys))
        self.says = f"looked over, nothing more found: {len(keys)} jobs"

    def fault(self, mode: str) -> None:
        key = self._in_hand()
        self._say(self.open.fault(key, mode))
        self.asked = Asked("mend", key, mode)

    def mended(self, worked: bool) -> None:
        asked = self._question("mend")
        self._say(self.open.mended(asked.key, asked.mode, worked=worked))
        if worked:
            self.asked = None

    def lost(self, what: str) -> None:
        key = self._in_hand()
        self._say(self.open.lost(key, what))
        if what == "part":
            self.asked = Asked("lost", key)

    def settle(self, choice: str) -> None:
        asked = self._question("lost")
        self._say(self.open.lost(asked.key, "part", choice))
        self.asked = None
        self.go_on()

    def count_pause(self, counts: bool) -> None:
        asked = self._question("pause")
        self.asked = None
        if counts:
            self._say(self.open.worked(asked.key, asked.minutes))
        else:
            self.says = "the pause is not counted"

    def note(self, text: str) -> None:
        self._say(self.open.note(text, self.key))

    def undo(self) -> None:
        """Take the last go back; what rests on it is named first."""
        recorder = self.open
        rest = [] if self.asked and self.asked.what == "undo" else self._resting(recorder)
        if rest:
            self.asked = Asked("undo", told=tuple(map(told_event, rest[:4])))
            return
        gone = recorder.last()
        recorder.undo(with_rest=True)
        self.asked = None
        self.says = f"taken back: {', '.join(map(told_event, gone[:3]))}"
        self.go_on()
        self.key = next((e.body["key"] for e in gone if e.body.get("key")), self.key)

    def redo(self) -> None:
        self.open.redo()
        self.asked, self.says = None, "restored"
        self.go_on()

    def end(self, works: bool) -> None:
        self._say(self.open.end(works))

    def leave_question(self) -> None:
        """Go on; what was asked stays open."""
        self.asked = None
        self.says = ""

    def hand(self, name: str) -> None:
        """Another pair of hands works from now on."""
        self.recorder = Recorder(self.journal, self.open.start, who=name)
        self.says = f"{name} works now"

    def _resting(self, recorder: Recorder) -> list[Stored]:
        return recorder.resting([event.number for event in recorder.last()])

    @property
    def at_gate(self) -> bool:
        """Whether a test is in hand."""
        return self.key is not None and self.open.state.planned(self.key).kind == "gate"

    def _in_hand(self) -> str:
        if self.key is None:
            raise JournalProblem("nothing is left to do; left and right show what was done")
        return self.key

    def _question(self, what: str) -> Asked:
        if self.asked is None or self.asked.what != what:
            raise JournalProblem("nothing is asked just now")
        return self.asked

    def _say(self, stored: list[Stored]) -> None:
        shown = [event for event in stored if event.kind != "worked"] or stored
        self.says = told_event(shown[0])


def _place(kit: str) -> tuple[str, list[int]]:
    from solderrisk.journal.forecast import stamp_of

    source = os.path.abspath(kit) if os.path.isfile(kit) else kit
    return source, stamp_of(source) if os.path.isfile(source) else []

"""What stands on the bench, derived from the events of one build.

Light on purpose: ``record`` works with it without loading the kit.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from solderrisk.journal.store import Stored


SOLDERED = ("lift", "fit", "wire")


class PlannedJob(NamedTuple):
    """A job as it was planned: the order of these is the fitting order. ``covers``: keys
    that a gate has to wait for."""

    key: str
    ref: str
    kind: str
    title: str
    footprint: str
    technique: str
    joints: int
    feeds: str
    covers: tuple[str, ...]

    @property
    def soldered(self) -> bool:
        return self.kind in SOLDERED


class Sheet(NamedTuple):
    """The kept jobs of a start or replan: all that recording has to know of a kit."""

    jobs: tuple[PlannedJob, ...]
    modes: dict[str, str]  # fault mode to its title
    builder: str

    @classmethod
    def of(cls, data: dict[str, Any]) -> Sheet:
        jobs = tuple(PlannedJob(**{**job, "covers": tuple(job["covers"])}) for job in data["jobs"])
        return cls(jobs, data["modes"], data["builder"])


class Seen(NamedTuple):
    """A fault: ``found`` by eye, meter, gate or power; ``number`` of its event."""

    mode: str
    times: int
    found: str
    number: int
    who: str


class JobState:
    """Where one job stands. ``done``, ``looked`` and ``gone`` are event numbers, 0 where it
    is not so; ``open`` counts faults not mended by mode."""

    __slots__ = (
        "done", "faults", "gone", "key", "looked", "lost", "open", "passed", "reading",
        "settled", "technique", "tries", "who",
    )  # fmt: skip

    def __init__(self, key: str) -> None:
        self.key = key
        self.done = 0
        self.looked = 0
        self.gone = 0  # when its part was lost and not yet settled
        self.lost: list[str] = []
        self.settled = ""
        self.faults: list[Seen] = []
        self.open: dict[str, int] = {}
        self.tries = 0
        self.technique = ""
        self.who = ""
        self.passed: bool | None = None  # of a gate
        self.reading: float | None = None


class BuildState:
    """A build as it stands. ``minutes`` adds up what was recorded; ``ended`` is None while
    the build goes on."""

    def __init__(self, sheet: Sheet, events: Sequence[Stored]) -> None:
        self.sheet = sheet
        self.events = tuple(live(events))
        self.jobs = {job.key: JobState(job.key) for job in sheet.jobs}
        self.minutes = 0.0
        self.by_who: dict[str, int] = {}
        self.notes: list[tuple[str | None, str]] = []
        self.ended: bool | None = None
        self._moves = [
            (event.number, event.body["matched"])
            for event in self.events
            if event.kind == "replanned" and event.body["matched"]
        ]
        for event in self.events:
            self._take(event)
        self._reopen_gates()

    def _take(self, event: Stored) -> None:
        body = event.body
        job = self.jobs.get(self._now(event.number, body.get("key") or ""))
        match event.kind:
            case "worked":
                self.minutes += body["minutes"]
            case "note":
                self.notes.append((body.get("key"), body["text"]))
            case "ended":
                self.ended = body["works"]
            case _ if job is None:
                return
            case "done":
                job.done, job.who = event.number, event.who
                job.technique = body.get("technique") or self.planned(job.key).technique
                self.by_who[event.who] = self.by_who.get(event.who, 0) + 1
            case "looked":
                job.looked = event.number
            case "fault":
                count = body.get("count", 1)
                job.faults.append(Seen(body["mode"], count, body["found"], event.number, event.who))
                job.open[body["mode"]] = job.open.get(body["mode"], 0) + count
            case "mending":
                job.tries += 1
                if body["worked"]:
                    job.open.pop(body["mode"], None)
            case "lost":
                job.lost.append(body["what"])
                if body["what"] == "part":
                    job.gone, job.settled = event.number, ""
            case "settled":
                job.settled = body["choice"]
                if job.settled != "end":
                    # The new part is another one: it is fitted anew, without the old faults.
                    job.gone, job.done, job.looked, job.open = 0, 0, 0, {}
            case "gate":
                job.passed, job.reading = body["passed"], body.get("reading")
                job.done = event.number if job.passed else 0

    def _now(self, number: int, key: str) -> str:
        """The key of today for one of an event's time."""
        for moved, matched in self._moves:
            key = matched.get(key, key) if number < moved else key
        return key

    def _reopen_gates(self) -> None:
        """A gate says nothing of work done after it."""
        for planned in self.sheet.jobs:
            gate = self.jobs[planned.key]
            if planned.covers and gate.passed:
                covered = [self.jobs[key] for key in planned.covers if key in self.jobs]
                if any(job.done > gate.done or not job.done for job in covered):
                    gate.done, gate.passed = 0, None

    def planned(self, key: str) -> PlannedJob:
        return next(job for job in self.sheet.jobs if job.key == key)

    @property
    def done(self) -> tuple[str, ...]:
        """Keys of what is done, in the order it was done."""
        found = [job for job in self.jobs.values() if job.done]
        return tuple(job.key for job in sorted(found, key=lambda job: job.done))

    @property
    def left(self) -> tuple[str, ...]:
        """Keys of what is not done, in the planned order."""
        return tuple(job.key for job in self.sheet.jobs if not self.jobs[job.key].done)

    @property
    def unsettled(self) -> tuple[str, ...]:
        """Jobs whose part is lost and nothing was said of it yet."""
        return tuple(key for key, job in self.jobs.items() if job.gone and not job.settled)

    @property
    def hopeless(self) -> bool:
        """A part is lost and the builder said that this ends the build."""
        return any(job.settled == "end" for job in self.jobs.values())


def live(events: Iterable[Stored]) -> list[Stored]:
    """Events that count: those that no undo which itself counts has taken back."""
    events = list(events)
    taken: set[int] = set()
    for event in reversed(events):
        if event.kind == "undo" and event.number not in taken:
            taken.update(event.body["targets"])
    return [e for e in events if e.kind != "undo" and e.number not in taken]


def standing_undos(events: Iterable[Stored]) -> list[Stored]:
    """Undo events that are in force, in their order."""
    taken: set[int] = set()
    found = []
    for event in reversed(list(events)):
        if event.kind == "undo" and event.number not in taken:
            taken.update(event.body["targets"])
            found.append(event)
    return found[::-1]


def dependents(events: Sequence[Stored], targets: Iterable[int]) -> list[Stored]:
    """Live events that rest on ``targets`` and make no sense without them, in their order."""
    alive = live(events)
    gone = set(targets)
    found = []
    for event in alive:
        if event.number in gone:
            continue
        if any(_rests_on(event, base) for base in alive if base.number in gone):
            gone.add(event.number)
            found.append(event)
    return found


def _rests_on(event: Stored, base: Stored) -> bool:
    if event.number < base.number:
        return False
    key, other = event.body.get("key"), base.body.get("key")
    match base.kind:
        case "started":
            return True
        case "done":
            only = event.kind == "worked" and event.body["keys"] == [other]
            return only or (key == other and event.kind != "note")
        case "fault":
            same = key == other and event.body.get("mode") == base.body["mode"]
            return same and event.kind == "mending"
        case "lost" | "settled":
            return key == other and event.kind in ("settled", "done", "looked", "mending")
    return False

"""Recording at the bench: from words to events, refused in one line where they make no sense.

Light on purpose: a cold ``record`` costs little more than ``--version``. Nothing here loads
the kit; the plan kept at the build's start says which jobs there are.
"""

from __future__ import annotations

import json
import math
import re
from typing import TYPE_CHECKING, Any

from solderrisk.journal.place import JournalProblem
from solderrisk.journal.state import BuildState, PlannedJob, Sheet, dependents, live, standing_undos
from solderrisk.journal.store import Entry
from solderrisk.model.refs import ref_range
from solderrisk.words import folded

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from solderrisk.journal.store import Journal, Stored

FOUND = ("eye", "meter", "gate", "power")
LOST = ("part", "land")
CHOICES = ("spare", "buy", "end")
MAX_COUNT = 100_000
MAX_MINUTES = 10_000
MAX_NOTE = 400
GAP_S = 600.0  # longer pauses between two events are no work unless the builder says so
NAMED = 6  # references written out in a message


class Recorder:
    """Writes the events of one build.

    ``who`` did the work, ``writer`` wrote it down.

    Raises:
        JournalProblem: the kept plan of the build is missing.
    """

    def __init__(self, journal: Journal, start: Stored, who: str = "", writer: str = "") -> None:
        self.journal, self.start = journal, start
        self.build = start.build
        self.refresh()
        self.who = plain(who or self.state.sheet.builder, "--by", 200)
        self.writer = plain(writer, "--writer", 200) if writer else self.who

    def refresh(self) -> None:
        """Read the build anew."""
        self.all_events = self.journal.events(self.build)
        self.base = next(
            (e for e in reversed(live(self.all_events)) if e.kind in ("replanned", "started")),
            self.start,
        )
        self.sheet = Sheet.of(json.loads(self.journal.kept(self.base.body["kept"]["jobs"])))
        self.state = BuildState(self.sheet, self.all_events)

    def _write(self, bodies: Sequence[tuple[str, dict[str, Any]]]) -> list[Stored]:
        entries = [Entry(self.build, kind, body, self.who, self.writer) for kind, body in bodies]
        stored = self.journal.append(entries)
        # Another program may have written meanwhile.
        self.all_events = self.journal.events(self.build)
        self.state = BuildState(self.sheet, self.all_events)
        return stored

    # --- what can be recorded ---

    def done(
        self, selector: str, minutes: float | None = None, technique: str | None = None
    ) -> list[Stored]:
        """Jobs done in one go; the minutes are those of all of them together."""
        keys = self.keys(selector, want_done=False)
        gates = [key for key in keys if self.state.planned(key).kind == "gate"]
        if gates:
            raise JournalProblem(f"{gates[0]} is a gate: record it with 'gate REF passed'")
        again = [key for key in keys if self.state.jobs[key].done]
        if again:
            number = self.state.jobs[again[0]].done
            raise JournalProblem(
                f"{_list(again)} done already (event {number}); 'undo {number}' takes it back"
            )
        self._goes_on()
        for key in keys:
            if self.state.jobs[key].gone:
                raise JournalProblem(
                    f"{key}: its part is lost; say what becomes of it first: "
                    f"'lost {key} --then spare', 'buy' or 'end'"
                )
        bodies: list[tuple[str, dict[str, Any]]] = [
            ("done", {"key": key, "technique": technique or self._technique(key)}) for key in keys
        ]
        if minutes is not None:
            bodies.append(("worked", {"keys": list(keys), "minutes": _minutes(minutes)}))
        return self._write(bodies)

    def worked(self, selector: str, minutes: float) -> list[Stored]:
        """Minutes of work that were left out when the jobs were recorded."""
        keys = self.keys(selector, want_done=True)
        return self._write([("worked", {"keys": list(keys), "minutes": _minutes(minutes)})])

    def looked(self, selector: str) -> list[Stored]:
        """Jobs that were looked over: what is not recorded by now was not seen."""
        keys = self.keys(selector, want_done=True)
        missing = [key for key in keys if not self.state.jobs[key].done]
        if missing:
            raise JournalProblem(f"{_list(missing)} not done yet; record it with 'done' first")
        return self._write([("looked", {"key": key}) for key in keys])

    def fault(self, selector: str, mode: str, found: str = "eye", count: int = 1) -> list[Stored]:
        keys = self.keys(selector, want_done=True)
        bare = [key for key in keys if not self.state.planned(key).joints]
        if bare:
            raise JournalProblem(f"{_list(bare)} no soldering; a fault belongs to a joint or part")
        body = {"mode": self.mode(mode), "found": found, "count": _count(count)}
        return self._write([("fault", {"key": key, **body}) for key in keys])

    def mended(
        self, selector: str, mode: str, *, worked: bool = True, how: str | None = None
    ) -> list[Stored]:
        keys, mode = self.keys(selector, want_done=True), self.mode(mode)
        none = [key for key in keys if mode not in self.state.jobs[key].open]
        if none:
            raise JournalProblem(
                f"{_list(none)} no open fault {mode!r}; record it with 'fault' first, or see 'log'"
            )
        body = {"mode": mode, "worked": worked, "how": how and plain(how, "--how", 200)}
        return self._write([("mending", {"key": key, **body}) for key in keys])

    def lost(self, selector: str, what: str = "part", then: str | None = None) -> list[Stored]:
        """A part or land that is gone; ``then``: what becomes of the part."""
        keys = self.keys(selector, want_done=True)
        bodies: list[tuple[str, dict[str, Any]]] = []
        for key in keys:
            if what == "land" or not self.state.jobs[key].gone:
                bodies.append(("lost", {"key": key, "what": what}))
            if then is not None and what == "part":
                bodies.append(("settled", {"key": key, "choice": then}))
        if not bodies:
            raise JournalProblem(
                f"{_list(keys)} lost already; add --then spare, --then buy or --then end"
            )
        return self._write(bodies)

    def gate(self, selector: str, passed: bool, reading: float | None = None) -> list[Stored]:
        keys = self.keys(selector, want_done=False, kinds=("gate",))
        if len(keys) != 1:
            raise JournalProblem(f"{_list(keys)} several gates; name one")
        self._goes_on()
        if passed:
            waits = [k for k in self.state.planned(keys[0]).covers if not self.state.jobs[k].done]
            if waits:
                raise JournalProblem(
                    f"{keys[0]} waits for {_list(waits)} not done yet; record them first"
                )
        if reading is not None and not math.isfinite(reading):
            raise JournalProblem(f"--reading {reading}: is no number, like 4.98")
        return self._write([("gate", {"key": keys[0], "passed": passed, "reading": reading})])

    def note(self, text: str, selector: str | None = None) -> list[Stored]:
        key = None if selector is None else self._one(selector)
        return self._write([("note", {"text": plain(text, "note", MAX_NOTE), "key": key})])

    def end(self, works: bool) -> list[Stored]:
        self._goes_on()
        return self._write([("ended", {"works": works})])

    # --- taking back ---

    def last(self) -> list[Stored]:
        """What this person recorded last and in one go, as far as it counts."""
        mine = [
            e for e in live(self.all_events)
            if e.writer == self.writer and e.kind not in ("started", "replanned")
        ]  # fmt: skip
        return [event for event in mine if event.batch == mine[-1].batch] if mine else []

    def resting(self, targets: Iterable[int]) -> list[Stored]:
        """Later events that would go with ``targets``."""
        return dependents(self.all_events, targets)

    def undo(self, number: int | None = None, *, with_rest: bool = False) -> list[Stored]:
        """Take back an event, or the last go of this person. The undo of an undo restores.

        Raises:
            JournalProblem: there is nothing, or more hangs on it and ``with_rest`` is not
                set.
        """
        if number is None:
            targets = [event.number for event in self.last()]
            if not targets:
                raise JournalProblem(f"{self.writer} has recorded nothing here to take back")
        else:
            targets = [self._to_undo(number)]
        rest = self.resting(targets)
        if rest and not with_rest:
            raise JournalProblem(
                f"{len(rest)} later events rest on it ({', '.join(map(told_event, rest[:3]))}); "
                "add --with-rest to take them back too"
            )
        return self._write([("undo", {"targets": [*targets, *(e.number for e in rest)]})])

    def redo(self) -> list[Stored]:
        """Take the last undo of this person back."""
        mine = [e for e in standing_undos(self.all_events) if e.writer == self.writer]
        undos = [e for e in mine if not self._is_redo(e)]
        if not undos:
            raise JournalProblem("nothing was taken back that could be restored")
        return self._write([("undo", {"targets": [undos[-1].number]})])

    def _is_redo(self, event: Stored) -> bool:
        kinds = {e.number: e.kind for e in self.all_events}
        return all(kinds.get(target) == "undo" for target in event.body["targets"])

    def _to_undo(self, number: int) -> int:
        counting = [*live(self.all_events), *standing_undos(self.all_events)]
        event = next((e for e in counting if e.number == number), None)
        if event is None:
            raise JournalProblem(
                f"no event {number} of this build counts; see 'log' for their numbers"
            )
        if event.kind in ("started", "replanned"):
            raise JournalProblem(
                f"event {number} is a start or a new plan; end the build with 'end gave-up' instead"
            )
        return number

    # --- reading what people write ---

    def keys(
        self, selector: str, *, want_done: bool, kinds: tuple[str, ...] = ()
    ) -> tuple[str, ...]:
        """Job keys of 'R1-R12, U3' or 'lift:U1', in the order written.

        Where a reference has several jobs, the one that fits is taken: an open one for what
        is to be done, a done one for what is looked at.

        Raises:
            JournalProblem: a name is unknown or could mean two jobs.
        """
        found: dict[str, None] = {}
        for item in selector.split(","):
            for name in self._names(item.strip()):
                found.update(dict.fromkeys(self._meant(name, want_done, kinds)))
        return tuple(found)

    def _one(self, selector: str) -> str:
        keys = self.keys(selector, want_done=True)
        if len(keys) != 1:
            raise JournalProblem(f"{selector!r} names {len(keys)} jobs; name one")
        return keys[0]

    def _names(self, item: str) -> list[str]:
        if not item:
            raise JournalProblem("an empty reference; write like R1-R12,U3")
        try:
            span = ref_range(item)
        except ValueError as error:
            raise JournalProblem(str(error)) from None
        if span is None or any(job.ref == item for job in self.sheet.jobs):
            return [item]
        head, first, last = span
        known = {job.ref for job in self.sheet.jobs}
        names = [f"{head}{n}" for n in range(first, last + 1) if f"{head}{n}" in known]
        if not names:
            raise JournalProblem(f"no job of {item} in this build")
        return names

    def _meant(self, name: str, want_done: bool, kinds: tuple[str, ...]) -> list[str]:
        exact = [job for job in self.sheet.jobs if name in (job.key, job.ref)]
        jobs = exact or [job for job in self.sheet.jobs if _numbered(job.ref, name)]
        jobs = [job for job in jobs if not kinds or job.kind in kinds]
        if not jobs:
            raise JournalProblem(self._unknown(name, kinds))
        if not exact:
            return [job.key for job in jobs]
        fitting = [job for job in jobs if bool(self.state.jobs[job.key].done) == want_done]
        meant = fitting or jobs
        if len(meant) > 1:
            raise JournalProblem(
                f"{name} could be {' or '.join(job.key for job in meant)}; name one of them"
            )
        return [meant[0].key]

    def _unknown(self, name: str, kinds: tuple[str, ...]) -> str:
        known = [job for job in self.sheet.jobs if not kinds or job.kind in kinds]
        what = f"{kinds[0]} " if kinds else "job "
        return f"no {what}{name[:40]!a} in this build{_near(name, _all_names(known))}"

    def mode(self, text: str) -> str:
        """A fault mode by its id."""
        name = text.strip().lower().replace(" ", "_").replace("-", "_")
        if name not in self.sheet.modes:
            raise JournalProblem(
                f"no fault {text[:40]!a}{_near(name, list(self.sheet.modes), most=99)}"
            )
        return name

    def _technique(self, key: str) -> str | None:
        return self.state.planned(key).technique or None

    def _goes_on(self) -> None:
        if self.state.ended is not None:
            raise JournalProblem("this build has ended; 'undo' takes that back if it goes on")


def plain(text: str, what: str, most: int) -> str:
    """A text that a journal may hold.

    Raises:
        JournalProblem: it is empty, too long, or holds what cannot be printed.
    """
    text = text.strip()
    if not text:
        raise JournalProblem(f"{what}: is empty; write something or leave it out")
    if len(text) > most:
        raise JournalProblem(f"{what}: {len(text)} characters; keep it to {most}")
    if not text.isprintable():
        raise JournalProblem(f"{what}: holds characters that cannot be printed; take them out")
    return text


def told_event(event: Stored) -> str:
    """'12 fault fit:U1 bridge', for a message."""
    body = event.body
    more = " ".join(str(body[name]) for name in ("key", "mode", "choice") if body.get(name))
    return f"{event.number} {event.kind} {more}".strip()


def _numbered(ref: str, name: str) -> bool:
    """A placement of quantity n with one reference makes REF.1 .. REF.n; REF names all."""
    return re.fullmatch(re.escape(name) + r"\.\d+", ref) is not None


def _all_names(jobs: Iterable[PlannedJob]) -> list[str]:
    return list(dict.fromkeys(name for job in jobs for name in (job.ref, job.key)))


def _near(name: str, known: list[str], most: int = NAMED) -> str:
    from difflib import get_close_matches

    near = get_close_matches(name[:60], known[:2000], n=1, cutoff=0.6)
    rest = " ..." if len(known) > most else ""
    return (
        f"; did you mean {near[0]!r}?" if near else f"; there are {', '.join(known[:most])}{rest}"
    )


def _list(keys: Sequence[str]) -> str:
    more = f" and {len(keys) - NAMED} more" if len(keys) > NAMED else ""
    verb = "is" if len(keys) == 1 else "are"
    return f"{', '.join(keys[:NAMED])}{more} {verb}"


def _minutes(value: float) -> float:
    if not 0 <= value <= MAX_MINUTES:
        raise JournalProblem(f"--minutes {value:g}: write a number from 0 to {MAX_MINUTES}")
    return float(value)


def _count(value: int) -> int:
    if not 1 <= value <= MAX_COUNT:
        raise JournalProblem(f"--count {value}: write a number from 1 to {MAX_COUNT}")
    return value


def line_of(event: Stored) -> str:
    """An event as a log shows it."""
    body = event.body
    match event.kind:
        case "started" | "replanned":
            anew = event.kind == "replanned"
            return f"planned anew: {body['why']}" if anew else f"started {body['kit']}"
        case "worked":
            return f"{body['minutes']:g} min on {folded(body['keys'])}"
        case "fault":
            times = f"{body['count']} times, " if body.get("count", 1) > 1 else ""
            return f"fault {body['key']} {body['mode']} ({times}found by {body['found']})"
        case "mending":
            return f"{'mended' if body['worked'] else 'not mended'} {body['key']} {body['mode']}"
        case "gate":
            reading = "" if body.get("reading") is None else f", reading {body['reading']:g}"
            return f"{body['key']} {'passed' if body['passed'] else 'failed'}{reading}"
        case "settled":
            return f"{body['key']}: {body['choice']}"
        case "undo":
            return f"undo {', '.join(map(str, body['targets'][:12]))}"
        case "ended":
            return "the build works" if body["works"] else "given up"
        case "note":
            return f"note {body['key'] or ''} {body['text']}".replace("  ", " ")
    return f"{event.kind} {body.get('key', '')} {body.get('what', '')}".strip()

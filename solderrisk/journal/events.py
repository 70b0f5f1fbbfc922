"""What a journal can hold: one frozen model a kind of event, strict at the border.

``SHAPES`` maps each kind to the model of its body; ``Line`` is an event of an exported
journal. Inside the program events are the light ``store.Stored``; what is written there is
checked against these shapes by tests, what comes from outside always.
"""

from __future__ import annotations

import json
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, Strict, TypeAdapter, ValidationError

from solderrisk.journal.place import JournalProblem
from solderrisk.journal.recording import MAX_COUNT, MAX_MINUTES, MAX_NOTE
from solderrisk.journal.store import Stored
from solderrisk.model.base import Frozen, Many


def _printable(text: object) -> object:
    if isinstance(text, str) and not text.isprintable():
        raise ValueError("holds characters that cannot be printed; take them out")
    return text


Plain = Annotated[str, Field(min_length=1, max_length=200), BeforeValidator(_printable)]
Key = Annotated[
    str,
    Field(pattern=r"^(lift|fit|wire|task|gate):.+$", max_length=120),
    BeforeValidator(_printable),
]
Hash = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
Id = Annotated[str, Field(pattern=r"^[0-9a-f]{16}$")]
Number = Annotated[int, Field(ge=1, le=2**53)]
Count = Annotated[int, Field(ge=1, le=MAX_COUNT)]
Minutes = Annotated[float, Field(ge=0, le=MAX_MINUTES)]


class KeptInputs(Frozen):
    """Hashes of the canonical texts: what was assessed, and what was then told."""

    kit: Hash
    footprints: Hash
    bench: Hash
    builder: Hash
    rates: Hash
    jobs: Hash = Field(description="the kit's jobs in their order")
    forecast: Hash = Field(description="chances told before the work")


class Started(Frozen):
    """A build begins."""

    kit: Plain
    source: str = Field(max_length=4096, description="the file, or the name of a demo kit")
    stamp: Many[int] = Field((), description="its time of change and size")
    kept: KeptInputs


class Replanned(Frozen):
    """The kit, the bench or the builder changed; what is left was told anew. ``matched``
    maps keys of before to keys of now where they differ."""

    why: Plain
    source: str = Field(max_length=4096)
    stamp: Many[int] = ()
    kept: KeptInputs
    matched: dict[str, str] = Field(default_factory=dict)


class Done(Frozen):
    """A job was done; that says nothing of how well."""

    key: Key
    technique: Plain | None = None


class Worked(Frozen):
    """Minutes that one go of work took, for all of its jobs together."""

    keys: Many[Key] = Field(min_length=1)
    minutes: Minutes


class Looked(Frozen):
    """A job was looked over: faults not recorded by now were not seen."""

    key: Key


class FaultSeen(Frozen):
    """A fault of a mode, ``count`` times on this job."""

    key: Key
    mode: Plain
    found: Literal["eye", "meter", "gate", "power"]
    count: Count = 1


class Mending(Frozen):
    """A try at mending; ``worked`` says how it ended."""

    key: Key
    mode: Plain
    worked: bool
    how: Plain | None = None


class Lost(Frozen):
    """A part or a land is gone for good."""

    key: Key
    what: Literal["part", "land"]


class Settled(Frozen):
    """What becomes of a lost part: a spare is taken, one is bought, or the build ends."""

    key: Key
    choice: Literal["spare", "buy", "end"]


class GateResult(Frozen):
    """A gate was passed or not, with what the meter showed."""

    key: Key
    passed: bool
    reading: float | None = None


class Note(Frozen):
    text: Annotated[str, Field(min_length=1, max_length=MAX_NOTE), BeforeValidator(_printable)]
    key: Key | None = None


class ModeCount(Frozen):
    mode: Plain
    count: Count


class Practice(Frozen):
    """A practice run: joints made, faults by mode, parts spoiled as a whole."""

    exercise: Plain
    skill: Plain
    joints: Annotated[int, Field(ge=1, le=MAX_COUNT)]
    parts: Annotated[int, Field(ge=0, le=MAX_COUNT)] = 0
    faults: Many[ModeCount] = ()
    spoiled: Annotated[int, Field(ge=0, le=MAX_COUNT)] = 0


class SafetyRead(Frozen):
    """A safety note was read; ``version`` tells its wording."""

    note: Plain
    version: Plain


class Ended(Frozen):
    """The build is over: the boards work, or it was given up."""

    works: bool


class Undo(Frozen):
    """Events of the same journal that do not count, as if they had not been written."""

    targets: Many[Number] = Field(min_length=1)


SHAPES: dict[str, type[Frozen]] = {
    "started": Started,
    "replanned": Replanned,
    "done": Done,
    "worked": Worked,
    "looked": Looked,
    "fault": FaultSeen,
    "mending": Mending,
    "lost": Lost,
    "settled": Settled,
    "gate": GateResult,
    "note": Note,
    "practice": Practice,
    "read": SafetyRead,
    "ended": Ended,
    "undo": Undo,
}
Kind = Literal[
    "started", "replanned", "done", "worked", "looked", "fault", "mending", "lost", "settled",
    "gate", "note", "practice", "read", "ended", "undo",
]  # fmt: skip


class Line(Frozen):
    """One event of an exported journal."""

    journal: Id = Field(description="random id of the journal that it was written in")
    number: Number = Field(description="gives the order within its journal")
    batch: Number = Field(description="number of the first event written in the same go")
    build: Annotated[str, Field(pattern=r"^([0-9a-f]{16})?$")] = Field(
        description="random id of the build; empty for practice and safety notes"
    )
    kind: Kind
    who: Plain = Field(description="whose hands did it")
    writer: Plain = Field(description="who wrote it down")
    program: Plain = Field(description="version of the program")
    at: Annotated[str, Field(pattern=r"^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}Z$")] = Field(
        description="wall clock, for people to read; never used for the order"
    )
    boot: Plain = Field(description="run of the machine that mono_s belongs to")
    mono_s: Annotated[float, Field(ge=0)]
    body: dict[str, Any]


class KeptLine(Frozen):
    """Inputs or a forecast that events of the same export refer to."""

    hash: Hash
    what: Plain
    text: str


class KeptJob(Frozen):
    """A planned job; as ``state.PlannedJob``."""

    key: Key
    ref: Plain
    kind: Literal["lift", "fit", "wire", "task", "gate"]
    title: str
    footprint: str
    technique: str
    joints: Annotated[int, Field(ge=0)]
    feeds: str
    covers: Many[str]


class KeptJobs(Frozen):
    jobs: Many[KeptJob]
    modes: dict[str, str]
    builder: Plain


Three = Annotated[tuple[float, float, float], Strict(False)]
# Opportunities, and the chance of each: low, mid, high.
Foretold = Annotated[tuple[Annotated[int, Field(ge=0)], float, float, float], Strict(False)]


class KeptJobForecast(Frozen):
    technique: str
    skill: str = ""
    level: str = ""
    pitch: str = ""
    pitch_mm: Annotated[float, Field(gt=0)] | None = None
    joints: Annotated[int, Field(ge=0)] = 0
    tools: str = ""
    works: Three = (0.0, 0.0, 0.0)
    modes: dict[str, Foretold]


class KeptForecast(Frozen):
    working: Three
    first_time: Three
    faults: Three
    hours: Three
    loss: Three
    beliefs: dict[str, Annotated[float, Field(ge=0, le=1)]]
    jobs: dict[str, KeptJobForecast]


# Inputs are read by their own models when they are needed; these are read all the time.
KEPT: dict[str, TypeAdapter[Any]] = {
    "jobs": TypeAdapter(KeptJobs),
    "forecast": TypeAdapter(KeptForecast),
    "rates": TypeAdapter(dict[str, float]),
}
_LINE: TypeAdapter[Line] = TypeAdapter(Line)


def check_kept(what: str, text: str) -> None:
    """Refuse a kept text that is not of its shape.

    Raises:
        JournalProblem: what is wrong, without the place.
    """
    try:
        if what in KEPT:
            KEPT[what].validate_json(text)
        else:
            json.loads(text)
    except ValidationError as error:
        raise JournalProblem(f"kept {what}: {_first(error)}") from None
    except (ValueError, RecursionError):
        raise JournalProblem(f"kept {what[:40]!a}: is no JSON") from None


def checked(data: dict[str, Any]) -> Stored:
    """An event from outside, whole and of a known shape.

    Raises:
        JournalProblem: what is wrong, without the place.
    """
    try:
        line = _LINE.validate_python(data)
        body = SHAPES[line.kind].model_validate(line.body)
    except ValidationError as error:
        raise JournalProblem(_first(error)) from None
    if line.batch > line.number:
        raise JournalProblem(f"batch: {line.batch} is after the event's own number {line.number}")
    if isinstance(body, Undo) and max(body.targets) >= line.number:
        raise JournalProblem("body.targets: an event can only undo events before it")
    return Stored(
        line.journal, line.number, line.batch, line.build, line.kind, line.who, line.writer,
        line.program, line.at, line.boot, line.mono_s, body.model_dump(mode="json"),
    )  # fmt: skip


def _first(error: ValidationError) -> str:
    found = error.errors(include_url=False)[0]
    place = ".".join(str(part)[:40] for part in found["loc"])
    value = ascii(found.get("input"))
    shown = value if len(value) <= 60 else f"{value[:57]}..."
    return f"{place or 'event'}: {found['msg']}, found {shown}"


def json_schema() -> dict[str, Any]:
    """The JSON Schema of one line of an exported journal."""
    line = Line.model_json_schema()
    definitions = dict(line.pop("$defs", {}))
    rules = []
    for kind, shape in SHAPES.items():
        made = shape.model_json_schema()
        definitions |= made.pop("$defs", {})
        definitions[shape.__name__] = made
        rules.append(
            {
                "if": {"properties": {"kind": {"const": kind}}},
                "then": {"properties": {"body": {"$ref": f"#/$defs/{shape.__name__}"}}},
            }
        )
    kept = KeptLine.model_json_schema()
    definitions |= {"Event": {**line, "allOf": rules}, "Kept": kept}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "A line of an exported journal",
        "oneOf": [{"$ref": "#/$defs/Event"}, {"$ref": "#/$defs/Kept"}],
        "$defs": definitions,
    }

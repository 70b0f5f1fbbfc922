"""The shape of the JSON report, format 1.

Chances and shares are 0..1, money is in the kit's currency, times are minutes or hours as
the name says, masses g. A ``RangeData`` is a mean between the 5 % and 95 % quantiles of its
doubt. Job keys are 'fit:R1', 'lift:U1', 'wire:W1', 'task:clean', 'gate:power'. A new
``format`` number is given when a field goes or changes its meaning; fields may be added.
"""

from __future__ import annotations

from typing import Any, Literal

from typing_extensions import TypedDict

FORMAT = 1


class RangeData(TypedDict):
    low: float
    mid: float
    high: float


class VerdictData(TypedDict):
    """``answer`` is open where less than four fifths of what is not known agree; ``odds``: the
    share of it under which the chance reaches the target. ``possible``: false where the bench
    cannot do all of the work. ``not_counted``: parts that no figure counts; the chance of the
    rest says little where they are many. ``top``: job keys that carry the failure, worst
    first."""

    answer: Literal["yes", "no", "open"]
    odds: float
    possible: bool
    not_counted: int

    manageable: bool
    decided: bool
    headline: str
    chance: RangeData
    first_time: RangeData
    first_power: RangeData
    by_hands: RangeData
    by_numbers: RangeData
    target: float
    reasons: list[str]
    top: list[str]


class CostLineData(TypedDict):
    what: str
    amount: float
    kind: Literal["part", "donor", "tool", "consumable", "extra"]
    note: str


class CostsData(TypedDict):
    currency: str
    to_buy: float
    bad_case: float
    bad_money: float
    bad_worth: float
    bad_hours: float
    expected_loss: RangeData
    solder_g: float
    solder_wire_m: float
    flux_g: float
    removal_alloy_g: float
    unpriced: list[str]
    lines: list[CostLineData]


class ModeData(TypedDict):
    """A way to go wrong: its chance at each of ``opportunities``, and of at least one."""

    mode: str
    opportunities: int
    each: RangeData
    total: RangeData
    severity: str
    why: str


class OptionData(TypedDict):
    technique: str
    feasible: bool
    missing: list[str]
    why: str
    loss: RangeData
    chance: RangeData


class CardData(TypedDict):
    settings: list[str]
    steps: list[str]
    look_for: list[str]
    orientation: str
    cautions: list[str]
    safety: list[str]


class JobData(TypedDict):
    """A soldered job. ``chance``: it works in the end; ``first_time``: without a fault;
    ``lost``: part or board is lost for good. ``technique`` is null where none is possible,
    ``skill_needed`` where no level is enough."""

    key: str
    title: str
    footprint: str | None
    place: str
    side: Literal["top", "bottom"]
    blocked: bool
    technique: str | None
    chance: RangeData
    first_time: RangeData
    lost: RangeData
    loss: RangeData
    minutes: RangeData
    decided: bool
    share_of_failure: float
    skill_needed: str | None
    skill_why: str
    tooling_needed: list[str]
    why: str
    why_not_next: str
    modes: list[ModeData]
    options: list[OptionData]
    card: CardData


class StageData(TypedDict):
    number: int
    title: str
    prepare: list[str]
    keys: list[str]
    inspect: list[str]
    gate: str | None
    minutes: float
    wait_hours: float
    why_here: str


class OrderData(TypedDict):
    """``gap``: share of the expected loss that another order could save at most."""

    keys: list[str]
    optimal: bool
    gap: float
    expected_loss: float
    note: str
    notes: list[str]
    stages: list[StageData]


class FindingData(TypedDict):
    level: Literal["note", "caution", "blocker"]
    text: str
    remedy: str
    keys: list[str]


class SecondLookData(TypedDict):
    """A check and the chance of a working result that it adds."""

    key: str
    kind: Literal["second_person", "continuity", "gate"]
    gain: float
    minutes: float
    text: str


class SafetyData(TypedDict):
    id: str
    title: str
    acknowledge: bool
    text: list[str]
    applies_to: list[str]
    source: str


class RescueData(TypedDict):
    """What to do about some faults with this bench; ``lacks``: what it would take, where nothing
    here does it. ``keys``: jobs in which they may well happen."""

    modes: list[str]
    faults: list[str]
    way: str
    lacks: list[str]
    steps: list[str]
    risks: str
    tries: int
    stop: str
    lost: str
    source: str
    keys: list[str]


class ReportData(TypedDict):
    format: int
    kit: str
    bench: str
    builder: str
    invented: bool
    verdict: VerdictData
    hours: RangeData
    faults: RangeData
    faults_per_million: RangeData
    costs: CostsData
    jobs: list[JobData]
    order: OrderData
    findings: list[FindingData]
    rescues: list[RescueData]
    second_looks: list[SecondLookData]
    safety: list[SafetyData]
    assumptions: list[str]


def json_schema() -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of the report."""
    from pydantic import TypeAdapter

    schema = TypeAdapter(ReportData).json_schema()
    schema["title"] = f"solderrisk: report, format {FORMAT}"
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}

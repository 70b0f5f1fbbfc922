"""What the plan layer answers: order, stages, cards, advice, practice, the verdict."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from solderrisk.model.bench import Bench, Solder
from solderrisk.model.builder import Builder, Level
from solderrisk.model.jobs import Job
from solderrisk.model.kit import Kit
from solderrisk.physics.results import SolderNeed
from solderrisk.risk.results import KitRisk, Lines, Range, Settings

if TYPE_CHECKING:
    from solderrisk.plan.edges import Edges


@dataclass(frozen=True)
class Stage:
    """A block a person can follow: prepare, work, inspect, and the gate that closes it."""

    number: int
    title: str
    prepare: tuple[str, ...]
    settings: Settings
    keys: tuple[str, ...]  # job keys in order
    inspect: tuple[str, ...]
    gate: str | None  # key of the gate that closes the block
    minutes: float  # hands on
    why_here: str
    wait_hours: float = 0.0  # besides, without a hand on it


@dataclass(frozen=True)
class FittingOrder:
    """The order of all jobs. ``gap`` is 0 where ``optimal``: else the share of its expected
    loss that another order could save at most, proved. ``notes``: inferred rules that gave
    way to stated ones."""

    keys: tuple[str, ...]
    stages: tuple[Stage, ...]
    edges: Edges
    expected_loss: float
    optimal: bool
    gap: float
    swaps: int
    note: str
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class SolderUse:
    """What one solder fills of a part: ``groups`` of its joints; None: no solder is at hand."""

    solder: Solder | None
    groups: tuple[str, ...]
    need: SolderNeed


@dataclass(frozen=True)
class Card:
    """A technique card for one job, ready to show."""

    key: str
    work: str  # 'Lift U1'
    what: str  # the part's title
    technique: str
    settings: Lines  # tool, tip or nozzle, temperature, time, flux, solder: label and value
    steps: tuple[str, ...] = ()
    look_for: tuple[str, ...] = ()
    orientation: str = ""
    cautions: tuple[str, ...] = ()
    safety: tuple[str, ...] = ()  # ids of safety notes

    @property
    def title(self) -> str:
        return f"{self.work}: {self.what}"


@dataclass(frozen=True)
class SafetyNote:
    id: str
    title: str
    text: tuple[str, ...]
    acknowledge: bool  # must be read before the work
    applies_to: tuple[str, ...]  # job keys
    source: str


@dataclass(frozen=True)
class Finding:
    """Something a person must know: told, never an error."""

    level: Literal["note", "caution", "blocker"]
    text: str
    remedy: str
    keys: tuple[str, ...] = ()


@dataclass(frozen=True)
class CostLine:
    what: str
    amount: float
    kind: Literal["part", "donor", "tool", "consumable", "extra"]
    note: str = ""


@dataclass(frozen=True)
class Costs:
    """What trying costs this builder, and what is gone in the bad case: money, the worth of
    what nobody sells, and the hours at their value."""

    lines: tuple[CostLine, ...]
    to_buy: float
    bad_case: float
    expected_loss: Range
    currency: str
    solder_g: float
    solder_wire_m: float
    flux_g: float
    removal_alloy_g: float
    bad_money: float = 0.0
    bad_worth: float = 0.0
    bad_hours: float = 0.0


@dataclass(frozen=True)
class Verdict:
    """``manageable`` compares the working chance with the target; 'undecided' where the
    range spans it and heat or skill is inside its doubt."""

    manageable: bool
    decided: bool
    chance: Range
    first_time: Range
    target: float
    headline: str
    reasons: tuple[str, ...]
    top: tuple[str, ...]  # job keys that carry the risk, worst first


@dataclass(frozen=True)
class Advice:
    """The cheapest set of purchases and practice that lifts the chance above the target."""

    reached: bool
    buys: tuple[str, ...]
    practice: tuple[str, ...]
    price: float
    hours: float
    chance: Range
    text: str
    tried: int  # sets looked at by the search
    proved: bool = True  # no cheaper set exists; false where the search was cut short


@dataclass(frozen=True)
class StatementCell:
    level: Level
    bench: str
    chance: Range
    decisive: tuple[str, ...]  # three job keys that decide it


@dataclass(frozen=True)
class SecondLook:
    """What a check is worth."""

    key: str
    kind: Literal["second_person", "continuity", "gate"]
    gain: float  # chance of a working board gained
    minutes: float
    text: str


@dataclass(frozen=True)
class Assessment:
    """Everything every face shows."""

    kit: Kit
    bench: Bench
    builder: Builder
    jobs: tuple[Job, ...]
    risk: KitRisk
    verdict: Verdict
    costs: Costs
    order: FittingOrder
    cards: dict[str, Card]
    safety: tuple[SafetyNote, ...]
    findings: tuple[Finding, ...]
    assumptions: tuple[str, ...]  # assumed values that matter, in words
    second_looks: tuple[SecondLook, ...] = ()  # best first; empty in a quick what-if
    tool_names: dict[str, str] = field(default_factory=dict)  # what tools are called

    def tools(self, ids: Iterable[str]) -> str:
        """Tools in a sentence: 'a hot-air station, gel flux'."""
        return ", ".join(self.tool_names.get(each, each.replace("_", " ")) for each in ids)


@dataclass(frozen=True)
class PassMark:
    """``joints`` with at most ``allowed`` faults show a fault rate of at most ``rate`` with
    ``confidence``. ``parts``: the same in whole parts, 0 where joints alone are counted; with
    ``whole_part`` faults and rate are those of parts, each good or spoiled."""

    joints: int
    allowed: int
    rate: float
    confidence: float
    parts: int = 0
    whole_part: bool = False

    @property
    def told(self) -> str:
        """'39 joints with no faults', '5 parts (40 joints) with 1 of them spoiled'."""
        if self.whole_part:
            bad = "none of them spoiled" if not self.allowed else f"{self.allowed} of them spoiled"
            return f"{self.parts} parts ({self.joints} joints) with {bad}"
        faults = f"{self.allowed or 'no'} fault{'s' if self.allowed != 1 else ''}"
        many = (
            f"{self.parts} parts ({self.joints} joints)" if self.parts else f"{self.joints} joints"
        )
        return f"{many} with {faults}"

    @property
    def claim(self) -> str:
        """'80 % confidence of at most 4.1 % faults'."""
        what = "of parts spoiled" if self.whole_part else "faults"
        sure = f"{100 * self.confidence:.0f} % confidence"
        return f"{sure} of at most {100 * self.rate:.{0 if self.whole_part else 1}f} % {what}"


@dataclass(frozen=True)
class PracticeStep:
    """One rung of the ladder with its pass marks, for one builder."""

    id: str
    title: str
    skill: str
    shows: Level
    after: tuple[str, ...]
    material: str
    steps: tuple[str, ...]
    marks: tuple[PassMark, ...]  # no fault, one fault, two faults allowed
    sequential: tuple[int, ...]  # joints at which a sequential test passes with 0, 1, 2 faults
    hours: float
    price: float
    unlocks: tuple[str, ...]
    notes: tuple[str, ...]  # safety notes to acknowledge first
    missing_notes: tuple[str, ...]  # of these, not yet acknowledged by the builder
    state: Literal["claimed", "believed", "open"]  # by records, by self-description, or not
    record: str  # what the builder's records show, in words
    skill_title: str = ""
    joints_per_part: int = 1
    counting: str = ""  # what counts as one fault
    needed: int = 0  # clean joints still needed until records show it

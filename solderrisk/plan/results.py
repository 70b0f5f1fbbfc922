"""What the plan layer answers: order, stages, cards, advice, practice, the verdict."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Literal

from solderrisk.model.bench import Bench, Builder, Level, Solder
from solderrisk.model.jobs import Job
from solderrisk.model.kit import Kit
from solderrisk.model.plan_data import PricedTool
from solderrisk.model.question import Named
from solderrisk.physics.results import Fume, Remedy, SolderNeed, ToolFit
from solderrisk.risk.results import KitRisk, Lines, Option, Range

if TYPE_CHECKING:
    from solderrisk.plan.order.edges import Edges, Waived, Why


@dataclass(frozen=True)
class Reason:
    """Jobs of a block that a rule puts after others (``waits``) or before them, by their
    references; ``why``: of all of them, None where each has its own."""

    rule: str
    waits: bool
    refs: tuple[str, ...]
    others: tuple[str, ...]
    why: Why | None


@dataclass(frozen=True)
class Stage:
    """A block a person can follow: prepare, work, inspect, and the gate that closes it."""

    number: int
    work: tuple[Job, ...]  # in order
    options: tuple[Option, ...]  # how each of its jobs is done that this bench can do
    turned: tuple[str, str] | None  # board or donor, and its side, that comes up for it
    faults: tuple[str, ...]  # what goes wrong most, to look for
    test: Job | None  # the gate that closes the block
    minutes: float  # hands on
    share: float  # of the fatal risk
    reasons: tuple[Reason, ...]  # why it stands here, the most telling first
    wait_hours: float = 0.0  # besides, without a hand on it

    @cached_property
    def keys(self) -> tuple[str, ...]:
        return tuple(job.key for job in self.work)

    @property
    def gate(self) -> str | None:
        return None if self.test is None else self.test.key


@dataclass(frozen=True)
class Search:
    """How an order was found. ``proved``: the least loss is known; ``saved``: changes of the
    bench that it spares against that one; ``cheapest``: with their time counted none is cheaper;
    ``stopped``: cut short; ``warm_up``: money that easy parts first adds, where they go first."""

    proved: bool
    saved: int = 0
    cheapest: bool = False
    stopped: bool = False
    warm_up: float | None = None


@dataclass(frozen=True)
class Move:
    """A step moved by hand, to just before another or to the end, and the loss that it adds."""

    key: str
    before: str | None
    added: float


@dataclass(frozen=True)
class FittingOrder:
    """The order of all jobs. ``expected_loss``: money for what is ruined on the way, and
    ``sunk``: what has gone in by the time a build turns out not to work, of ``fails`` of all
    builds. ``gap`` is 0 where ``optimal``: else the share of the loss that another order could
    save at most, proved. ``waived``: inferred rules that gave way to stated ones."""

    keys: tuple[str, ...]
    stages: tuple[Stage, ...]
    edges: Edges
    expected_loss: float
    optimal: bool
    gap: float
    swaps: int
    made: Search | Move
    waived: tuple[Waived, ...] = ()
    sunk: float = 0.0
    fails: float = 0.0


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
class RescueCard:
    """What to do about a fault with this bench. ``lacks``: what the bench has not; the way is
    then the one that would be taken with it."""

    mode: str
    fault: str
    way: str
    steps: tuple[str, ...]
    risks: str
    tries: int
    stop: str
    lost: str
    source: str
    lacks: tuple[str, ...] = ()


@dataclass(frozen=True)
class SafetyNote:
    id: str
    title: str
    text: tuple[str, ...]
    acknowledge: bool  # must be read before the work
    applies_to: tuple[str, ...]  # job keys
    source: str
    air: Fume | None = None  # the estimate that is told with it


@dataclass(frozen=True)
class Baking:
    """Ovens in C with hours by the table of J-STD-033, the hottest first; ``mild``: those that
    the board bears which the part is still on."""

    thickness_mm: float
    times: tuple[tuple[float, float], ...]
    mild: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True)
class Damp:
    """Parts that take up moisture. ``floor_h``: what J-STD-020 gives out of the dry bag;
    ``dry_when_new``: fresh out of it they need no baking."""

    level: str
    floor_h: float | None
    baking: Baking | None
    dry_when_new: bool
    oven: bool


FindingKind = Literal[
    "not_counted", "cannot", "cannot_surely", "short_cable", "chip_code", "unwashed_donor",
    "no_gate", "untested_case", "no_meter", "no_extraction", "gave_way", "damp", "hole",
    "small_land", "heat_in_doubt", "other_solder", "flux_to_wash", "flux_left_out", "leads_to_cut",
    "wires_to_strip", "board_material", "falls_off", "ties_unknown",
]  # fmt: skip


@dataclass(frozen=True)
class Finding:
    """Something a person must know: told, never an error. ``refs``, ``names`` and ``figures``
    are what the sentence of its kind speaks of, ``of`` what it was found from; ``about``: the
    one reference that it is about where the sentence does not name it."""

    level: Literal["note", "caution", "blocker"]
    kind: FindingKind
    refs: tuple[str, ...] = ()
    keys: tuple[str, ...] = ()
    names: tuple[str, ...] = ()
    figures: tuple[float, ...] = ()
    about: str = ""
    of: Damp | Option | ToolFit | Waived | tuple[Remedy, ...] | None = None


@dataclass(frozen=True)
class CostLine:
    """Something to buy; ``amount`` is None where nobody has said its price."""

    what: str
    amount: float | None
    kind: Literal["part", "donor", "tool", "consumable", "extra"]
    count: int = 0  # of parts, where the price is each
    grams: float = 0.0
    invented: bool = False  # a round figure of ours


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
    unpriced: tuple[str, ...] = ()  # references whose price nobody has said


Answer = Literal["yes", "no", "open"]


@dataclass(frozen=True)
class Judgement:
    """Whether a chance is enough: the one rule of verdict and difficulty statement.
    ``odds``: the share of what is not known under which the chance reaches what is wanted."""

    answer: Answer
    odds: float
    possible: bool = True  # False where these tools cannot do all of the work
    missing: int = 0  # references that no figure counts
    counted: int = 0
    burnt: tuple[str, ...] = ()  # references of parts that would come off a burnt board

    @property
    def leaning(self) -> bool:
        """Whether it is more likely enough than not."""
        return self.answer == "yes" or (self.answer == "open" and self.odds >= 0.5)

    @property
    def has_figure(self) -> bool:
        """Whether so much is counted that a percentage says something."""
        return self.missing <= MOST_MISSING * (self.missing + self.counted)


MOST_MISSING = 0.1


@dataclass(frozen=True)
class Verdict:
    """The judgement with its figures; ``top``: job keys that carry the risk, worst first."""

    judgement: Judgement
    chance: Range
    first_time: Range
    target: float
    top: tuple[str, ...]

    @property
    def manageable(self) -> bool:
        doubt = self.judgement.missing or self.judgement.burnt
        return self.judgement.leaning and not doubt

    @property
    def decided(self) -> bool:
        return self.judgement.answer != "open"


@dataclass(frozen=True)
class Training:
    """Practice in one skill: so many joints, on the material of its last rung."""

    skill: str
    title: str
    joints: int
    hours: float
    price: float


@dataclass(frozen=True)
class Advice:
    """The cheapest set of purchases and practice with which the verdict is yes, or what comes
    nearest. ``judgement`` and ``chance`` are with all of it."""

    reached: bool
    buys: tuple[PricedTool, ...]
    practice: tuple[Training, ...]  # one for each skill
    chance: Range
    judgement: Judgement
    wanted: float
    tried: int  # combinations
    proved: bool = True  # no cheaper set exists; false where the search was cut short

    @property
    def items(self) -> tuple[PricedTool | Training, ...]:
        return (*self.buys, *self.practice)

    @property
    def price(self) -> float:
        return sum(item.price for item in self.items)

    @property
    def hours(self) -> float:
        return sum(training.hours for training in self.practice)


@dataclass(frozen=True)
class Gain:
    """What one purchase or one practice does: how far the chance moves with it alone, and
    beside what is ticked. ``helps``: job keys that it helps most, those that it makes possible
    first; ``enables`` counts these."""

    item: PricedTool | Training
    alone: float
    together: float
    cost: float  # price, and the hours at their value
    helps: tuple[str, ...] = ()
    enables: int = 0

    @property
    def price(self) -> float:
        return self.item.price

    @property
    def hours(self) -> float:
        return self.item.hours if isinstance(self.item, Training) else 0.0


@dataclass(frozen=True)
class StatementCell:
    level: Level
    bench: str
    chance: Range
    judgement: Judgement
    decisive: tuple[str, ...]  # three job keys that decide it


@dataclass(frozen=True)
class SecondLook:
    """What a check is worth: of alike jobs by their references, or a gate by its title."""

    key: str
    kind: Literal["second_person", "continuity", "gate"]
    gain: float  # chance of a working board gained
    minutes: float
    refs: tuple[str, ...] = ()
    title: str = ""


@dataclass(frozen=True)
class Assumed:
    """What the answer rests on: numbers sized by judgement, of how many; and the user's own."""

    judged: int
    of: int
    own: tuple[Named, ...] = ()


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
    assumed: Assumed
    second_looks: tuple[SecondLook, ...] = ()  # best first; empty in a quick what-if
    tool_names: dict[str, str] = field(default_factory=dict)  # what tools are called
    rescues: dict[str, tuple[RescueCard, ...]] = field(default_factory=dict)  # by job key

    def rescue(self, key: str, mode: str) -> RescueCard | None:
        """What to do about a fault of a job; None where nothing is known."""
        return next((card for card in self.rescues.get(key, ()) if card.mode == mode), None)

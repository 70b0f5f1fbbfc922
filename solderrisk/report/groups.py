"""Jobs put together for reading: one card per sort of part, one heading per technique, one
row of tick boxes per sort of part in a block of work."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from solderrisk.model.jobs import Job
from solderrisk.plan.results import Assessment, Card, Stage
from solderrisk.risk.results import JobRisk

LOOK_FOR = "look for: "


@dataclass(frozen=True)
class PartCard:
    """A card that holds for ``keys`` alike; ``risk`` is that of the first."""

    card: Card
    keys: tuple[str, ...]
    risk: JobRisk


@dataclass(frozen=True)
class TechniqueCards:
    """Cards of one technique. What all of them say stands here and no more on the cards."""

    title: str
    steps: tuple[str, ...]
    look_for: tuple[str, ...]
    cautions: tuple[str, ...]
    parts: tuple[PartCard, ...]


def technique_cards(a: Assessment) -> tuple[TechniqueCards, ...]:
    """All cards by technique, in the order of the work; what is blocked comes last."""
    by_technique: dict[tuple[str, tuple[str, ...]], list[PartCard]] = {}
    for part in sorted(part_cards(a), key=lambda part: part.risk.blocked):
        technique = "" if part.risk.blocked else part.card.technique
        by_technique.setdefault((technique, part.card.steps), []).append(part)
    return tuple(_shared(parts) for parts in by_technique.values())


def part_cards(a: Assessment) -> tuple[PartCard, ...]:
    """One card for all jobs that are alike and told alike, in the order of the work."""
    risks = {risk.job.key: risk for risk in a.risk.jobs}
    order = {key: n for n, key in enumerate(a.order.keys)}
    alike: dict[tuple[object, ...], list[str]] = {}
    for key in sorted(risks, key=lambda key: order.get(key, len(order))):
        card = a.cards[key]
        said = replace(card, key="", title=_what(card))
        alike.setdefault((risks[key].job.alike, said), []).append(key)
    return tuple(PartCard(a.cards[keys[0]], tuple(keys), risks[keys[0]]) for keys in alike.values())


def _what(card: Card) -> str:
    """The card's title without its reference."""
    return card.title.partition(":")[2]


def _shared(parts: Sequence[PartCard]) -> TechniqueCards:
    cards = [part.card for part in parts]
    look_for = _common([card.look_for for card in cards])
    cautions = _common([card.cautions for card in cards]) if len(cards) > 1 else ()
    own = tuple(
        replace(
            part,
            card=replace(
                part.card,
                look_for=tuple(line for line in part.card.look_for if line not in look_for),
                cautions=tuple(line for line in part.card.cautions if line not in cautions),
            ),
        )
        for part in parts
    )
    blocked = parts[0].risk.blocked
    title = "Not possible on this bench" if blocked else cards[0].technique
    return TechniqueCards(title, cards[0].steps, look_for, cautions, own)


def _common(lists: Sequence[tuple[str, ...]]) -> tuple[str, ...]:
    return tuple(line for line in lists[0] if all(line in other for other in lists[1:]))


@dataclass(frozen=True)
class TickRow:
    """Alike work of a block: what it is, its notes, and the references to tick off."""

    what: str
    footprint: str
    notes: tuple[str, ...]
    keys: tuple[str, ...]


def tick_rows(stage: Stage, jobs: Mapping[str, Job]) -> tuple[TickRow, ...]:
    """A row per sort of part, in the order in which they come up first."""
    rows: dict[tuple[str, str, tuple[str, ...]], list[str]] = {}
    for key in stage.keys:
        job = jobs[key]
        name = job.footprint.name if job.footprint is not None else ""
        rows.setdefault((job.title, name, tuple(_notes(job))), []).append(key)
    return tuple(
        TickRow(what, name, notes, tuple(keys)) for (what, name, notes), keys in rows.items()
    )


def _notes(job: Job) -> Iterable[str]:
    if job.polarised and job.kind == "fit":
        mark = job.footprint.mark if job.footprint is not None else ""
        yield f"way round: {mark}" if mark else "mind the way round"
    if job.irreplaceable:
        yield "cannot be bought again"
    if job.note:
        yield job.note


def checks(stage: Stage) -> tuple[str, ...]:
    """What to inspect after a block, faults in one line."""
    faults = [line.removeprefix(LOOK_FOR) for line in stage.inspect if line.startswith(LOOK_FOR)]
    others = [line for line in stage.inspect if not line.startswith(LOOK_FOR)]
    return (*([LOOK_FOR + ", ".join(faults)] if faults else []), *others)

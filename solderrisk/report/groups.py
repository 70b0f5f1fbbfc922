"""Alike parts as groups, their rates, and rows for spreadsheets."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from solderrisk.plan.results import Assessment, Card, RescueCard, SafetyNote
from solderrisk.report.findings import note_lines
from solderrisk.risk.results import JobRisk, KitRisk, Range
from solderrisk.risk.skill import dpmo_of
from solderrisk.words import LEVEL_WORDS, as_text, named


def faults_per_million(risk: KitRisk) -> Range:
    """Expected faults per million opportunities (DPMO) of the chosen techniques."""
    chances = sum(mode.opportunities for job in risk.jobs for mode in job.chosen.modes)
    if not chances:
        return Range(0.0, 0.0, 0.0)
    faults = risk.faults
    return Range(*(dpmo_of(each, chances) for each in (faults.low, faults.mid, faults.high)))


def faults_line(risk: KitRisk) -> str:
    """'7 (1..17), about 2 900 per million opportunities'."""
    faults = risk.faults
    rate = f"{float(f'{faults_per_million(risk).mid:.2g}'):,.0f}".replace(",", " ")
    return (
        f"{faults.mid:.0f} ({faults.low:.0f}..{faults.high:.0f}), about {rate} per million "
        "opportunities"
    )


WORTH_A_WORD = 0.01  # rarer faults have no rescue card in print


@dataclass(frozen=True)
class PartCard:
    """A card that holds for ``keys`` alike; ``risk`` is that of the first, ``tools`` what it
    needs, in words."""

    card: Card
    keys: tuple[str, ...]
    risk: JobRisk
    tools: str = ""


@dataclass(frozen=True)
class TechniqueCards:
    """Cards of one technique. What all of them say stands here and no more on the cards."""

    title: str
    steps: tuple[str, ...]
    look_for: tuple[str, ...]
    cautions: tuple[str, ...]
    safety: tuple[str, ...]
    parts: tuple[PartCard, ...]


@dataclass(frozen=True)
class Trouble:
    """One way out for faults of several kinds, and the jobs in which they may well happen."""

    card: RescueCard
    faults: tuple[str, ...]
    modes: tuple[str, ...]
    keys: tuple[str, ...]


def troubles(a: Assessment) -> tuple[Trouble, ...]:
    """Each way out once; what is likeliest to be wanted comes first."""
    found: dict[RescueCard, list[tuple[str, RescueCard, float]]] = {}
    for risk in a.risk.jobs:
        for mode in () if risk.blocked else risk.chosen.modes:
            card = a.rescue(risk.job.key, mode.mode)
            if card is not None and mode.total.mid >= WORTH_A_WORD:
                way = replace(card, mode="", fault="")
                found.setdefault(way, []).append((risk.job.key, card, mode.total.mid))
    order = sorted(found, key=lambda way: (-round(sum(c for *_, c in found[way]), 9), way.way))
    return tuple(
        Trouble(
            way,
            tuple(dict.fromkeys(card.fault for _, card, _ in found[way])),
            tuple(dict.fromkeys(card.mode for _, card, _ in found[way])),
            tuple(dict.fromkeys(key for key, *_ in found[way])),
        )
        for way in order
    )


def rescue_lines(card: RescueCard) -> Iterable[tuple[str, str]]:
    """A rescue card as labels and values, its steps numbered."""
    if card.lacks:
        yield "lacks", ", ".join(card.lacks)
    yield from ((f"{number}.", step) for number, step in enumerate(card.steps, start=1))
    yield "risks", card.risks
    yield "stop", stop_text(card)
    yield "lost then", card.lost


def stop_text(card: RescueCard) -> str:
    """What ends the tries, and how many there are."""
    return f"{card.stop}; else after {card.tries} tries at one place"


def hindrances(risk: JobRisk) -> list[str]:
    """Why a blocked job cannot be done, each reason once with the ways that it stops."""
    found: dict[str, list[str]] = {}
    for option in risk.options:
        found.setdefault(option.why or ", ".join(option.missing), []).append(option.title)
    return [f"{'; '.join(titles)}: {why}" for why, titles in found.items()]


def technique_cards(a: Assessment) -> tuple[TechniqueCards, ...]:
    """All cards by technique, in the order of the work; what is blocked comes last."""
    by_technique: dict[tuple[str, tuple[str, ...]], list[PartCard]] = {}
    for part in sorted(part_cards(a), key=lambda part: part.risk.blocked):
        technique = "" if part.risk.blocked else part.card.technique
        by_technique.setdefault((technique, part.card.steps), []).append(part)
    return tuple(_shared(parts) for parts in by_technique.values())


def part_cards(a: Assessment) -> tuple[PartCard, ...]:
    """One card for all jobs that are alike and told alike, in the order of the work."""
    order = {key: n for n, key in enumerate(a.order.keys)}
    alike: dict[tuple[object, ...], list[JobRisk]] = {}
    for risk in a.risk.jobs:
        card = a.cards[risk.job.key]
        said = replace(card, key="", work="")
        alike.setdefault((risk.job.alike, said), []).append(risk)
    parts = sorted(
        alike.values(), key=lambda found: min(order.get(r.job.key, len(order)) for r in found)
    )
    return tuple(
        PartCard(
            a.cards[found[0].job.key],
            tuple(r.job.key for r in found),
            found[0],
            named(found[0].tooling_needed, a.tool_names),
        )
        for found in parts
    )


def _shared(parts: Sequence[PartCard]) -> TechniqueCards:
    cards = [part.card for part in parts]
    look_for = _common([card.look_for for card in cards])
    cautions = _common([card.cautions for card in cards]) if len(cards) > 1 else ()
    safety = _common([card.safety for card in cards])
    own = tuple(
        replace(
            part,
            card=replace(
                part.card,
                look_for=tuple(line for line in part.card.look_for if line not in look_for),
                cautions=tuple(line for line in part.card.cautions if line not in cautions),
                safety=tuple(note for note in part.card.safety if note not in safety),
            ),
        )
        for part in parts
    )
    blocked = parts[0].risk.blocked
    title = "Not possible on this bench" if blocked else cards[0].technique
    return TechniqueCards(title, cards[0].steps, look_for, cautions, safety, own)


def _common(lists: Sequence[tuple[str, ...]]) -> tuple[str, ...]:
    return tuple(line for line in lists[0] if all(line in other for other in lists[1:]))


def safety_notes(a: Assessment) -> tuple[tuple[str, ...], tuple[SafetyNote, ...]]:
    """What all notes say, and the notes without it."""
    told = [note_lines(note) for note in a.safety]
    shared = _common(told) if len(told) > 1 else ()
    return shared, tuple(
        replace(note, text=tuple(line for line in lines if line not in shared), air=None)
        for note, lines in zip(a.safety, told, strict=True)
    )


COLUMNS = (
    "position_in_order",
    "kind",
    "ref",
    "value",
    "footprint",
    "board_or_donor",
    "technique",
    "chance",
    "chance_low",
    "chance_high",
    "first_time",
    "expected_loss",
    "expected_loss_low",
    "expected_loss_high",
    "currency",
    "minutes",
    "minutes_low",
    "minutes_high",
    "share_of_failure",
    "skill_needed",
    "tooling_needed",
)


def as_csv(a: Assessment) -> str:
    """A heading and one row per soldered job, in the kit's order; chances 0..1."""
    order = {key: n for n, key in enumerate(a.order.keys, start=1)}
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for risk in a.risk.jobs:
        writer.writerow(_row(risk, order.get(risk.job.key), a))
    return out.getvalue()


def _row(risk: JobRisk, place: int | None, a: Assessment) -> list[str | int]:
    job, option = risk.job, risk.chosen
    return [
        "" if place is None else place,
        job.kind,
        as_text(job.ref),
        as_text(job.title),
        as_text(job.footprint.name if job.footprint is not None else ""),
        as_text(job.place),
        "" if risk.blocked else as_text(option.title),
        f"{option.after_mending.mid:.4f}",
        f"{option.after_mending.low:.4f}",
        f"{option.after_mending.high:.4f}",
        f"{option.first_time.mid:.4f}",
        *(f"{end:.2f}" for end in (option.loss.mid, option.loss.low, option.loss.high)),
        as_text(a.kit.currency),
        *(f"{end:.1f}" for end in (option.minutes.mid, option.minutes.low, option.minutes.high)),
        f"{a.risk.fail_share.get(job.key, 0.0):.4f}",
        LEVEL_WORDS[risk.skill_needed] if risk.skill_needed else "no level is enough",
        as_text(named(risk.tooling_needed, a.tool_names)),
    ]

"""Rows of the tables, and one job in words."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

from textual.content import Content

from solderrisk.model.jobs import Job
from solderrisk.model.library import Library
from solderrisk.report.words import (
    LEVEL_WORDS,
    Band,
    asked_of,
    band_of,
    job_name,
    mode_why,
    why_chosen,
    why_not_next,
)
from solderrisk.risk.results import JobRisk
from solderrisk.words import chance, likely, minutes, note_words, one_line, percent, plain, seconds

if TYPE_CHECKING:
    from collections.abc import Sequence

    from solderrisk.physics.results import AirHeat, IronHeat, LowMeltLift
    from solderrisk.plan.results import Assessment, Card, RescueCard
    from solderrisk.risk.results import JobRisk, Option


SEVERITY_WORDS = {
    "cosmetic": "looks only",
    "mendable": "can be mended",
    "kills_part": "costs the part",
    "kills_board": "costs the board",
}
SORTS = ("risk", "reference", "chance", "loss", "time", "pitch")


@dataclass(frozen=True)
class JobRow:
    """One soldered job as the tables show it."""

    key: str
    name: str
    part: str
    technique: str
    place: str
    kind: str
    band: Band
    works: float
    first_time: float
    loss: float
    minutes: float
    pitch_mm: float
    share: float
    text: str  # everything a filter may find, folded


@dataclass(frozen=True, eq=False)
class Shown:
    """An assessment with what every screen looks up in it; built off the screen's thread."""

    assessment: Assessment
    rows: tuple[JobRow, ...]
    jobs: dict[str, Job]
    risks: dict[str, JobRisk]
    stage_of: dict[str, int]  # job key -> index into the order's stages

    @classmethod
    def of(cls, assessment: Assessment) -> Shown:
        risk = assessment.risk
        return cls(
            assessment,
            tuple(_row(job, risk.fail_share.get(job.job.key, 0.0)) for job in risk.jobs),
            {job.key: job for job in assessment.jobs},
            {job.job.key: job for job in risk.jobs},
            {key: i for i, s in enumerate(assessment.order.stages) for key in s.keys},
        )

    @cached_property
    def _parts(self) -> Library:
        return Library.of(job.footprint for job in self.jobs.values() if job.footprint)

    def about(self, query: str) -> list[JobRow]:
        """Rows whose name or text holds the query, or whose part everyday words find."""
        want = query.casefold().strip()
        search = self._parts.search(query)
        parts = {f.name for f in search.found if not search.left_out}
        found = [
            row
            for row in self.rows
            if want in row.text or want in row.name.casefold() or self._part_of(row) in parts
        ]
        return sorted(found, key=lambda row: (row.name.casefold() != want, natural(row.name)))

    def _part_of(self, row: JobRow) -> str:
        footprint = self.jobs[row.key].footprint
        return footprint.name if footprint else ""


def _row(risk: JobRisk, share: float) -> JobRow:
    job, footprint = risk.job, risk.job.footprint
    assert footprint is not None
    chosen = risk.chosen if risk.options else None
    technique = "none possible" if risk.blocked or chosen is None else plain(chosen.title)
    band = band_of(risk)
    part = one_line(f"{job.title}", 60)
    text = (
        " ".join((job.ref, job.kind, job.title, footprint.name, footprint.family, technique))
        + f" {job.place} {band.word} {'hot air' if chosen and chosen.air_heat else ''}"
    )
    return JobRow(
        key=job.key,
        name=job_name(job),
        part=part,
        technique=technique,
        place=job.place,
        kind=job.kind,
        band=band,
        works=0.0 if chosen is None or risk.blocked else chosen.after_mending.mid,
        first_time=0.0 if chosen is None or risk.blocked else chosen.first_time.mid,
        loss=chosen.loss.mid if chosen else 0.0,
        minutes=chosen.minutes.mid if chosen else 0.0,
        pitch_mm=footprint.pitch_mm or 99.0,
        share=share,
        text=text.casefold(),
    )


def filtered(rows: tuple[JobRow, ...], words: str) -> list[JobRow]:
    """Rows that hold every word; '-word' leaves rows out that hold it."""
    wanted = words.casefold().split()
    keep = [w for w in wanted if not (w.startswith("-") and len(w) > 1)]
    drop = [w[1:] for w in wanted if w.startswith("-") and len(w) > 1]
    return [
        row
        for row in rows
        if all(w in row.text for w in keep) and not any(w in row.text for w in drop)
    ]


_KEYS: dict[str, Callable[[JobRow], Any]] = {
    "risk": lambda r: (-r.band.rank, r.works, -r.loss),
    "reference": lambda r: natural(r.name),
    "chance": lambda r: (r.works,),
    "loss": lambda r: (-r.loss,),
    "time": lambda r: (-r.minutes,),
    "pitch": lambda r: (r.pitch_mm,),
}


def ordered(rows: list[JobRow], by: str, *, backwards: bool = False) -> list[JobRow]:
    return sorted(rows, key=_KEYS[by], reverse=backwards)


def natural(name: str) -> tuple[object, ...]:
    """Sort key in which C2 comes before C10."""
    parts: list[object] = []
    digits = ""
    for character in name.casefold() + " ":
        if character.isdecimal():
            digits += character
            continue
        if digits:
            parts.append((1, int(digits[:15]), ""))
            digits = ""
        parts.append((0, 0, character))
    return tuple(parts)


def best_match(rows: list[JobRow], words: str) -> str | None:
    """The row a person means by a reference: equal first, then beginning, then any."""
    want = words.casefold().strip()
    if not want:
        return rows[0].key if rows else None
    names = [(row.name.casefold(), row.key) for row in rows]
    equal = (key for name, key in names if name == want or key.casefold().endswith(":" + want))
    begins = (key for name, key in names if name.startswith(want))
    return next(equal, None) or next(begins, None) or (rows[0].key if rows else None)


Parts = list[tuple[str, str]]

DECISIONS = {
    "wets": "gets hot enough",
    "fails": "does not get hot enough",
    "undecided": "cannot be told: inside the doubt of the figures",
}


def title(risk: JobRisk) -> Content:
    job, band = risk.job, band_of(risk)
    assert job.footprint is not None
    name = one_line(job.footprint.title or job.footprint.name, 40)
    flags = [
        word
        for word, holds in (
            ("cannot be bought again", job.irreplaceable),
            ("pinned", job.technique is not None),
        )
        if holds
    ]
    return Content.assemble(
        (f"{band.mark} {band.word}  ", f"${band.style}"),
        (job_name(job), "bold"),
        f"  {one_line(job.title, 30)}  {name}",
        (f"  {job.place}", "$quiet"),
        (f"  {', '.join(flags)}" if flags else "", "$warning"),
    )


def card(value: Card | None, risk: JobRisk, unread: Sequence[str] = ()) -> Content:
    """The technique card, or why there is none. ``unread``: safety notes to read first."""
    parts: Parts = []
    if unread:
        parts.append((f"▲ read first under 7 Safety: {', '.join(unread)}\n", "bold $warning"))
    if value is None or risk.blocked:
        parts.append(("No technique works on this bench.\n", "bold $error"))
        for option in risk.options[:6]:
            parts.append((f"{option.title}: {_missing(option)}\n", ""))
    if value is not None:
        parts.append((f"{one_line(value.title, 120)}\n", "bold"))
        parts += [
            (f"  {one_line(f'{label}: {text}', 200)}\n", "$accent")
            for label, text in value.settings
        ]
        parts += [
            (f"{number}. {one_line(step, 300)}\n", "")
            for number, step in enumerate(value.steps, start=1)
        ]
        if value.orientation:
            parts.append((f"Orientation: {one_line(value.orientation, 200)}\n", "bold"))
        parts += [(f"look: {one_line(line, 200)}\n", "$success") for line in value.look_for]
        parts += [(f"▲ {one_line(line, 300)}\n", "$warning") for line in value.cautions]
    parts += _reasons(risk)
    if risk.job.footprint is not None:
        parts.append(
            (f"Figures of the part: {one_line(risk.job.footprint.source, 200)}\n", "$quiet")
        )
    return Content.assemble(*parts)


def _reasons(risk: JobRisk) -> Parts:
    needed = risk.skill_needed
    level = LEVEL_WORDS[needed] if needed else "no level reaches it on this bench"
    why = f" ({asked_of(risk)})" if risk.skill_asked else ""
    parts: Parts = [
        (f"Chosen: {one_line(why_chosen(risk), 300)}\n", "$quiet"),
        (f"Skill needed: {level}{why}\n", "$quiet"),
    ]
    if risk.tooling_needed:
        tools = ", ".join(plain(tool) for tool in risk.tooling_needed)
        parts.append((f"Tools needed: {tools}\n", "$quiet"))
    parts += [(f"▲ {one_line(line, 300)}\n", "$warning") for line in risk.findings]
    return parts


def heat(risk: JobRisk) -> Content:
    """The heating in one or two lines."""
    if not risk.options:
        return Content("")
    option = risk.chosen
    if option.iron_heat is not None:
        return _iron(option.iron_heat)
    if option.air_heat is not None:
        return _air(option.air_heat)
    if option.low_melt is not None:
        return _low_melt(option.low_melt, option.why)
    return Content.styled("no heating in this technique", "$quiet")


def _iron(value: IronHeat) -> Content:
    hold = (
        f"hold {seconds(value.dwell_s)}, harm from {value.safe_s:.1f} s"
        if value.dwell_s is not None
        else "never wets"
    )
    return Content.assemble(
        (f"{DECISIONS[value.decision]}: ", "bold"),
        f"reaches {value.reached_c:.0f} °C, wetting asks {value.needed_c:.0f} °C, "
        f"margin {value.margin_k:+.0f} ± {value.band_k:.0f} K; wets in {seconds(value.wet_s)}; "
        f"{hold}",
        *((f"\n▲ {one_line(note_words(n), 160)}", "$warning") for n in value.notes[:1]),
    )


def _air(value: AirHeat) -> Content:
    over = value.top_c - value.limit_c
    hot = f"too hot for the part by {over:.0f} K: less heat for longer, or a preheated board; "
    return Content.assemble(
        (hot if over >= 1 else "", "bold $error"),
        (f"{DECISIONS[value.decision]}: ", "bold"),
        f"solder liquid in {seconds(value.molten_s)}, part's top {value.top_c:.0f} °C of "
        f"{value.limit_c:.0f} °C; neighbours melt within {value.reflow_radius_mm:.0f} mm, "
        f"plastics soften within {value.plastic_radius_mm:.0f} mm",
        *((f"\n▲ {one_line(note_words(n), 160)}", "$warning") for n in value.notes[:1]),
    )


def _low_melt(value: LowMeltLift, why: str) -> Content:
    return Content.assemble(
        f"mix melts at {value.mix_liquidus_c - value.mix_doubt_down_k:.0f} to "
        f"{value.mix_liquidus_c + value.mix_doubt_k:.0f} °C, "
        f"{value.alloy_g:.1f} g of alloy, stays liquid {value.molten_s:.0f} s, "
        f"{value.cleanings} cleanings leave {value.residue_percent:.1f} %; ",
        (one_line(why, 200), "$quiet"),
    )


def faults(risk: JobRisk, a: Assessment | None = None) -> Content:
    if risk.blocked or not risk.options:
        return Content.styled("No technique works here; see Ways.", "$quiet")
    option = risk.chosen
    parts: Parts = [
        ("No fault at the first try ", "$quiet"),
        (chance(option.first_time), "bold"),
        ("\nWorks in the end ", "$quiet"),
        (chance(option.after_mending), "bold"),
        ("  lost for good ", "$quiet"),
        (chance(option.lost) + "\n\n", "bold"),
    ]
    for mode in sorted(option.modes, key=lambda m: -m.total.mid):
        parts += [
            (f"{one_line(mode.title, 40)}: ", "bold"),
            (chance(mode.total), ""),
            (
                f"  {mode.opportunities} × {percent(mode.each.mid)}, "
                f"{SEVERITY_WORDS.get(mode.severity, mode.severity)}\n",
                "$quiet",
            ),
            (f"  why: {one_line(mode_why(mode), 300)}\n", ""),
        ]
        rescue = None if a is None else a.rescue(risk.job.key, mode.mode)
        if rescue is not None:
            parts.append((f"  then: {rescue_line(rescue)}\n", "$success"))
    if not option.modes:
        parts.append(("no fault worth naming", "$quiet"))
    return Content.assemble(*parts)


def rescue_line(card: RescueCard) -> str:
    """What to do about a fault in one line: the way, what it lacks, when to stop."""
    lacks = f" (lacks {', '.join(card.lacks)})" if card.lacks else ""
    return one_line(f"{card.way}{lacks}; stop: {card.stop}; lost then: {card.lost}", 300)


def way(risk: JobRisk, option: Option, pinned: str | None) -> Content:
    """One option for the list of ways; the chosen one and a pinned one are marked."""
    is_chosen = option is risk.chosen and not risk.blocked
    mark = "▶" if is_chosen else "·" if option.feasible else "✖"
    name = one_line(option.title, 40) + (" (pinned)" if option.technique == pinned else "")
    if not option.feasible:
        return Content.assemble(
            (f"{mark} {name}  ", "bold $quiet"), (f"missing: {_missing(option)}", "$quiet")
        )
    note = why_chosen(risk) if is_chosen else option.why
    if not is_chosen and len(risk.options) > 1 and option is risk.options[1]:
        note = why_not_next(risk) or note
    return Content.assemble(
        (f"{mark} {name}  ", "bold"),
        f"works {likely(option.after_mending.mid)}  clean {likely(option.first_time.mid)}  "
        f"loss {option.loss.mid:.2f}  {minutes(option.minutes.mid)}",
        ("" if option.decided else "  heat inside its doubt", "$warning"),
        (f"\n    {one_line(note, 300)}" if note else "", "$quiet"),
    )


def _missing(option: Option) -> str:
    told = ", ".join(plain(tool) for tool in option.missing) or option.why or "does not suit"
    return one_line(told, 200)

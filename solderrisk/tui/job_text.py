"""One job in words: title, card, heat, faults, ways."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.content import Content

from solderrisk.report.words import LEVEL_WORDS, SEVERITY_WORDS, band_of, job_name
from solderrisk.words import chance, likely, minutes, note_words, one_line, percent, plain, seconds

if TYPE_CHECKING:
    from collections.abc import Sequence

    from solderrisk.physics.results import AirHeat, IronHeat, LowMeltLift
    from solderrisk.plan.results import Assessment, Card, RescueCard
    from solderrisk.risk.results import JobRisk, Option

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
    return Content.assemble(*parts)


def _reasons(risk: JobRisk) -> Parts:
    needed = risk.skill_needed
    level = LEVEL_WORDS[needed] if needed else "no level reaches it on this bench"
    why = f" ({one_line(risk.skill_why, 160)})" if risk.skill_why else ""
    parts: Parts = [
        (f"Chosen: {one_line(risk.why_chosen, 300)}\n", "$quiet") if risk.why_chosen else ("", ""),
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
            (f"  why: {one_line(mode.why, 300)}\n", ""),
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
    note = risk.why_chosen if is_chosen else option.why
    if not is_chosen and len(risk.options) > 1 and option is risk.options[1]:
        note = risk.why_not_next or note
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

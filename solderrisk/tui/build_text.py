"""The job in hand at the bench in words: what is asked, its card, its faults."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from textual.content import Content

from solderrisk.report.words import key_name
from solderrisk.tui.sitting import Asked, Sitting
from solderrisk.words import chance, counted, likely, money, one_line, span

if TYPE_CHECKING:
    from solderrisk.journal.standing import Standing
    from solderrisk.journal.state import JobState
    from solderrisk.plan.results import RescueCard
    from solderrisk.tui.rows import Shown

Parts = list[tuple[str, str]]

LIKELY = 6  # fault modes spelt out with the job


def top_line(sitting: Sitting, stands: Standing | None, currency: str) -> Content:
    """How far it is, for how long, and what is to be expected from here on; what matters
    most comes first, as a phone cuts the rest. ``currency``: '' leaves money out."""
    state = sitting.open.state
    worked_s, _ = sitting.clock()
    clock = f"{int(worked_s) // 60}:{int(worked_s) % 60:02d}"
    parts: Parts = [
        (f"{len(state.done)}/{len(state.jobs)} ", "bold"),
        (f"◷ {clock} ", "$accent"),
    ]
    if stands is not None:
        parts += [
            (" works ", "$quiet"),
            (likely(stands.chance.mid), "bold"),
            (f"  {stands.hours.mid:.1f} h left", "$quiet"),
        ]
        # Where prices are missing no sum is told: it would look small.
        loss = f"  loss {money(stands.loss.mid, currency)}" if currency else ""
        parts.append((loss, "$quiet"))
    if state.ended is not None:
        parts.append(("  ended: it works" if state.ended else "  ended", "bold"))
    return Content.assemble(*parts)


def job_text(
    sitting: Sitting,
    shown: Shown | None,
    stands: Standing | None,
    letters: dict[str, str],
    read: Iterable[str],
) -> Content:
    """The job in hand, or what is asked."""
    parts: Parts = []
    if sitting.asked is not None:
        parts += asked_parts(sitting.asked, shown)
    if sitting.recorder is None:
        return Content.assemble(*parts)
    if sitting.key is None:
        parts += _all_done(sitting)
        return Content.assemble(*parts)
    planned = sitting.open.state.planned(sitting.key)
    job = sitting.open.state.jobs[sitting.key]
    parts += [
        (f"{key_name(planned.key)}  ", "bold $accent"),
        (f"{one_line(planned.title, 80)}\n", "bold"),
        (f"{planned.footprint}\n" if planned.footprint else "", "$quiet"),
    ]
    asked = sitting.asked
    about = (asked.key, asked.mode) if asked is not None and asked.what == "mend" else None
    parts += _job_state(job, planned.key, shown, about)
    if planned.kind == "gate":
        parts += _gate_parts(sitting, stands)
    elif shown is not None and planned.key in shown.risks:
        parts += _card_parts(shown, planned.key, letters, set(read))
    return Content.assemble(*parts)


def asked_parts(asked: Asked, shown: Shown | None) -> Parts:
    name = key_name(asked.key) if asked.key else ""
    match asked.what:
        case "begin":
            text = "No build of this kit has begun.\nSpace begins one"
            text += "." if shown else ", once the kit is assessed."
        case "changed":
            text = "The kit has changed since this build was planned.\nSpace plans what is left."
        case "mend":
            text = (
                f"{asked.mode.replace('_', ' ')} on {name}\n"
                "space mended · z tried, did not work · esc later"
            )
        case "lost":
            text = f"{name}: the part is lost\n1 a spare · 2 buy another · 3 the build ends"
        case "pause":
            text = (
                f"{asked.minutes:.0f} minutes passed without a record\n"
                "space counts them as work · z they were a pause"
            )
        case "undo":
            text = f"With it go: {', '.join(asked.told)}\nspace takes all back · esc leaves it"
    parts: Parts = [(f"▲ {text}\n", "bold $warning")]
    if asked.what == "mend" and shown is not None:
        parts += rescue_parts(shown.assessment.rescue(asked.key, asked.mode))
    return [*parts, ("\n", "")]


def rescue_parts(card: RescueCard | None) -> Parts:
    """What to do about the fault in hand, when to stop, and what is lost then."""
    if card is None:
        return []
    parts: Parts = [(f"{one_line(card.way, 80)}\n", "bold")]
    if card.lacks:
        parts.append((f"this bench lacks {one_line(', '.join(card.lacks), 160)}\n", "$warning"))
    parts += [
        (f"{number}. {one_line(step, 300)}\n", "") for number, step in enumerate(card.steps, 1)
    ]
    parts.append((f"▲ {one_line(card.risks, 200)}\n", "$warning"))
    parts.append((f"stop: {one_line(card.stop, 120)}; {card.tries} tries at most\n", "bold"))
    parts.append((f"lost then: {one_line(card.lost, 120)}\n", "$quiet"))
    return parts


def _all_done(sitting: Sitting) -> Parts:
    state = sitting.open.state
    soldered = [job.key for job in sitting.open.sheet.jobs if job.soldered]
    waiting = sum(not state.jobs[key].looked for key in soldered)
    parts: Parts = [("Everything is done.\n", "bold $success")]
    if waiting:
        parts.append((f"{counted(waiting, 'job')} not looked over yet: enter\n", ""))
    if state.ended is None:
        parts.append(("W says that it works.\n", ""))
    return parts


def _job_state(
    job: JobState, key: str, shown: Shown | None, asked: tuple[str, str] | None
) -> Parts:
    """What is on record; the rescue of what is ``asked`` about stands there already."""
    parts: Parts = []
    if job.done:
        looked = ", looked over" if job.looked else ""
        parts.append((f"✔ done by {one_line(job.who, 20)}{looked}\n", "$success"))
    parts += [
        (f"✖ open: {counted(times, mode.replace('_', ' '))}\n", "bold $warning")
        for mode, times in job.open.items()
    ]
    for mode in job.open:
        if shown is not None and (key, mode) != asked:
            parts += rescue_parts(shown.assessment.rescue(key, mode))
    return parts


def _gate_parts(sitting: Sitting, stands: Standing | None) -> Parts:
    job = sitting.open.state.jobs[sitting.key or ""]
    parts: Parts = [
        ("Reading: ", "$quiet"),
        (f"{sitting.typed or '…'}\n", "bold"),
        ("space passed · z failed\n", ""),
    ]
    if job.passed is False:
        parts.append(("failed; find what it shows, record it, test again\n", "bold $warning"))
    if stands is not None and stands.suspects:
        parts.append(("Suspects: ", "$quiet"))
        told = (f"{key_name(key)} {likely(share)}" for key, share in stands.suspects[:LIKELY])
        parts.append((", ".join(told) + "\n", "bold"))
    return parts


def likely_modes(shown: Shown, key: str, letters: dict[str, str]) -> dict[str, str]:
    """The fault modes of a job that come first, with their titles."""
    risk = shown.risks.get(key)
    if risk is None or risk.blocked:
        return {}
    known = set(letters.values())
    modes = sorted(risk.chosen.modes, key=lambda mode: -mode.total.mid)
    return {mode.mode: mode.title for mode in [m for m in modes if m.mode in known][:LIKELY]}


def letters_line(sitting: Sitting, shown: Shown | None, letters: dict[str, str]) -> Content:
    """Letters of the likely faults of the job in hand, always in sight."""
    if shown is None or sitting.key is None or sitting.asked is not None:
        return Content("")
    by_mode = {mode: letter for letter, mode in letters.items()}
    parts: Parts = []
    for mode in likely_modes(shown, sitting.key, letters):
        parts += [(by_mode[mode], "bold $accent"), (f" {mode.replace('_', ' ')}  ", "")]
    return Content.assemble(*parts)


def _card_parts(shown: Shown, key: str, letters: dict[str, str], read: set[str]) -> Parts:
    card, risk = shown.assessment.cards.get(key), shown.risks[key]
    parts: Parts = []
    notes = {note.id: note.title for note in shown.assessment.safety if note.acknowledge}
    unread = [notes[n] for n in (card.safety if card else ()) if n in notes and n not in read]
    if unread:
        parts.append((f"▲ read first under 7 Safety: {', '.join(unread)}\n", "bold $warning"))
    if card is not None and not risk.blocked:
        parts.append((f"{one_line(card.technique, 60)}\n", "bold"))
        parts += [(f"{label}: {one_line(text, 200)}\n", "") for label, text in card.settings]
        if card.orientation:
            parts.append((f"Orientation: {one_line(card.orientation, 200)}\n", "bold"))
        parts += [(f"look: {one_line(line, 160)}\n", "$success") for line in card.look_for[:4]]
        parts += [(f"▲ {one_line(line, 200)}\n", "$warning") for line in card.cautions[:3]]
    by_mode = {mode: letter for letter, mode in letters.items()}
    first = likely_modes(shown, key, letters)
    parts.append(("\n", ""))
    for mode, letter in by_mode.items():
        if mode not in first:
            parts.append((f"{letter} {mode.replace('_', ' ')}  ", "$quiet"))
    parts.append((f"\n\nthis job works {chance(risk.chosen.after_mending)}", "$quiet"))
    parts.append((f", {span(risk.chosen.minutes, 'min', 0)}\n", "$quiet"))
    return parts

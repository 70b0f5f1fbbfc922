"""The recognition report of a draft, as plain text."""

from __future__ import annotations

from collections.abc import Iterable

from solderrisk.model.draft import Draft, DraftLine, LineState

TITLES: dict[LineState, str] = {
    "recognised": "Recognised",
    "guessed": "Guessed, please check",
    "unknown": "Unknown, not in the kit yet",
    "ignored": "Ignored, nothing to solder",
}


def report_text(draft: Draft) -> str:
    """What was recognised, guessed (and from what), unknown and ignored; open questions."""
    total = len(draft.lines)
    counts = ", ".join(f"{draft.count(state)} {state}" for state in TITLES)
    lines = [f"Draft of {draft.name}: {total} references: {counts}.", ""]
    lines += [f"note: {note}" for note in draft.notes]
    if draft.notes:
        lines.append("")
    for state, title in TITLES.items():
        group = [line for line in draft.lines if line.state == state]
        if group:
            lines += [f"{title} ({len(group)}):", *_grouped(group), ""]
    lines += _questions(draft)
    return "\n".join(lines).rstrip() + "\n"


def _grouped(lines: Iterable[DraftLine]) -> list[str]:
    groups: dict[tuple[str | None, str, str], list[DraftLine]] = {}
    for line in lines:
        groups.setdefault((line.footprint, line.from_what, line.what), []).append(line)
    out = []
    for (footprint, why, what), group in groups.items():
        refs = ", ".join(line.ref or "(no reference)" for line in group[:12])
        more = f" and {len(group) - 12} more" if len(group) > 12 else ""
        arrow = f" -> {footprint}" if footprint else ""
        label = f" {what}" if what else ""
        out.append(f"  {refs}{more}:{label}{arrow}  [{why}; {group[0].source}]")
    return out


def _questions(draft: Draft) -> list[str]:
    answered = dict(draft.answers)
    lines = []
    for question in draft.questions:
        if question.id in answered:
            continue
        refs = ", ".join(question.refs[:8]) + (" ..." if len(question.refs) > 8 else "")
        held = question.default or "nothing is assumed"
        lines.append(f"  {refs}: {question.text}")
        lines.append(f"      choices: {'; '.join(question.choices)} (now: {held})")
    return [f"Open questions ({len(lines) // 2}):", *lines] if lines else []

"""Advice, difficulty statement and practice ladder as plain text."""

from __future__ import annotations

from collections.abc import Sequence

from solderrisk.model.kit import Kit
from solderrisk.plan.results import Advice, PracticeStep, StatementCell
from solderrisk.report.text import compact, percent, wrapped


def advice_text(advice: Advice, currency: str) -> str:
    """The advice in words."""
    lines = wrapped(advice.text + ".", 0)
    for label, items in (("buy", advice.buys), ("practise", advice.practice)):
        lines += [row for item in items for row in wrapped(f"{label}: {item}")]
    if advice.buys or advice.practice:
        lines.append(
            f"  together {advice.price:.2f} {currency} and {advice.hours:.1f} h of practice"
        )
    lines.append(f"  chance then {percent(advice.chance)}; {advice.tried} sets looked at")
    lines += wrapped("prices are invented and can be edited in data/tools.yaml")
    return "\n".join(lines) + "\n"


def statement_text(kit: Kit, cells: Sequence[StatementCell]) -> str:
    """The difficulty statement as a table, with the work that decides each cell."""
    benches = list(dict.fromkeys(cell.bench for cell in cells))
    lines = [f"{kit.title or kit.name}: chance of a working result", ""]
    lines.append(f"{'':10s}" + "".join(f"{bench:>22s}" for bench in benches))
    for level in dict.fromkeys(cell.level for cell in cells):
        row = {cell.bench: cell for cell in cells if cell.level == level}
        lines.append(f"{level:10s}" + "".join(f"{percent(row[b].chance):>22s}" for b in benches))
    lines += ["", "What decides it"]
    for cell in cells:
        lines += wrapped(f"{cell.level}, {cell.bench}: {compact(cell.decisive) or 'nothing'}")
    return "\n".join(lines) + "\n"


def ladder_text(steps: Sequence[PracticeStep]) -> str:
    """The practice ladder in words."""
    lines: list[str] = []
    for number, step in enumerate(steps, 1):
        lines += [f"{number:2d}. {step.title}  [{step.state}]"]
        lines += wrapped(f"shows '{step.shows}' in {step.skill.replace('_', ' ')}", 4)
        lines += wrapped(f"on {step.material}; about {step.hours:.1f} h", 4)
        marks = ", ".join(
            f"{m.joints} joints with {m.allowed or 'no'} fault{'s' if m.allowed != 1 else ''}"
            for m in step.marks
        )
        mark = step.marks[0]
        claim = f"{mark.confidence:.0%} confidence of at most {mark.rate:.1%} faults"
        lines += wrapped(f"pass mark: {marks} ({claim})", 4)
        lines += wrapped(f"record: {step.record}", 4)
        if step.missing_notes:
            lines += wrapped(f"read first: safety notes {', '.join(step.missing_notes)}", 4)
        for item in step.steps:
            lines += wrapped(f"- {item}", 4)
    return "\n".join(lines) + "\n"

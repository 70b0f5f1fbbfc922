"""The kit file of a draft, readable, with remarks where a person must decide; its report."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

from pydantic import BaseModel

from solderrisk.model.draft import Draft, DraftLine, Lifted, LineState
from solderrisk.model.kit import Kit, Placement

WIDTH = 96


# How a part that comes off an old board is said; the names are for the reader to change.
DONOR_LINES = """
# A part that comes off an old board: give its placement above `donor: old-set`, and
# `irreplaceable: true` where nobody sells it, and take the marks off these lines:
# donors:
#   - name: old-set
#     board: {name: old-set, copper_layers: 4, plane_layers: 2, alloy: Sn63Pb37}""".splitlines()


DECIDE_BOARD = (
    "    # decide: size, layers, thickness are assumed, tied pins not known; look at the board"
)


def kit_yaml(draft: Draft, currency: str = "") -> str:
    """YAML of the kit as it stands, its prices to be in ``currency``. Loads as a kit; open
    questions stand as remarks."""
    lines = [
        "# Drafted from: " + _plain(", ".join(draft.found.sources if draft.found else ())),
        "# Read it through: lines marked 'assumed', 'taken as' or 'decide' were not certain.",
        "# Add prices, wires, tasks and gates where they matter.",
    ]
    lines += [f"# note: {_plain(note)}" for note in draft.notes[:40]]
    lines += ["", f"name: {_text(draft.name)}", f"title: {_text(_title(draft))}"]
    lines += [f"currency: {currency}", ""] if currency else [""]
    lines += _questions(draft)
    lines += ["boards:"]
    for board in draft.boards:
        lines += yaml_item(_dump(board), "  ")
        if draft.found is not None and not draft.found.boards:
            lines.append(DECIDE_BOARD)
    if draft.footprints:
        lines += ["", "footprints:  # the kit's own; drawn from the files or built from names"]
        for footprint in draft.footprints:
            lines += yaml_item(_dump(footprint), "  ")
    if draft.donors:
        lines += ["", "donors:  # decide: layers, solder and size are assumed; look at the board"]
        for donor in draft.donors:
            lines += yaml_item(_dump(donor), "  ")
    lines += ["", "placements:"] if draft.placements else ["", "placements: []"]
    for placement, remark in draft.placed():
        lines += _placement(placement, remark)
    lines += _not_counted(draft)
    lines += _unknown(draft)
    lines += _ignored(draft)
    lines += () if draft.donors else DONOR_LINES
    return "\n".join(lines) + "\n"


def _questions(draft: Draft) -> list[str]:
    answered = dict(draft.answers)
    open_ones = [q for q in draft.questions if q.id not in answered]
    if not open_ones:
        return []
    lines = ["# Open questions:"]
    for question in open_ones[:200]:
        refs = _shorten(question.refs)
        held = f" Until then: {question.default}." if question.default else ""
        lines += _wrapped(f"decide ({refs}): {question.text}{held}", "# - ", "#   ")
    return [*lines, ""]


def _placement(placement: Placement, remark: str) -> list[str]:
    data = _dump(placement)
    positions = data.pop("positions", [])
    lines = yaml_item(data, "  ")
    if remark:
        lines.insert(0, f"  # decide: {_plain(remark)}")
    if positions:
        lines.append("    positions:")
        lines += [f"      - {_flow(position)}" for position in positions]
    return lines


def _title(draft: Draft) -> str:
    sources = [Path(source).name for source in draft.found.sources] if draft.found else []
    return "kit drafted from " + (", ".join(sources[:4]) or draft.name)


def _not_counted(draft: Draft) -> list[str]:
    missing = draft.not_counted()
    if not missing:
        return []
    remark = "# take a reference out of here once it has its placement"
    return ["", f"not_counted:  {remark}", *(f"  - {_text(ref)}" for ref in missing)]


def _unknown(draft: Draft) -> list[str]:
    missing = [line for line in draft.lines if line.state == "unknown"]
    if not missing:
        return []
    board = draft.boards[0].name
    lines = ["", "# Not recognised: give a footprint and take the '# ' away, or delete the lines."]
    lifted = {part.ref: replace(part, ref="") for part in draft.lifted}
    groups: dict[tuple[str, str, Lifted | None], list[DraftLine]] = {}
    for line in missing:
        groups.setdefault((line.what, line.from_what, lifted.get(line.ref)), []).append(line)
    for (what, why, part), group in groups.items():
        refs = ", ".join(line.ref for line in group)
        lines += _wrapped(f"decide: {what or refs}: {why} ({group[0].source})", "  # ", "  # ")
        lines += [
            f"  # - refs: {_text(refs)}",
            "  #   footprint: ?",
            f"  #   board: {_text(board)}",
        ]
        if what:
            lines.append(f"  #   value: {_text(what)}")
        if part:
            lines.append(f"  #   donor: {_text(part.donor)}")
            lines += ["  #   irreplaceable: true"] if part.irreplaceable else []
            lines += [f"  #   spares: {part.spares}"] if part.spares else []
    return lines


def _ignored(draft: Draft) -> list[str]:
    ignored = [line for line in draft.lines if line.state == "ignored"]
    if not ignored:
        return []
    lines = ["", "# Left out:"]
    groups: dict[str, list[str]] = {}
    for line in ignored:
        groups.setdefault(line.from_what, []).append(line.ref or line.what or line.source)
    for why, refs in groups.items():
        lines += _wrapped(f"{why}: {', '.join(refs)}", "# - ", "#   ")
    return lines


def _dump(model: BaseModel) -> dict[str, Any]:
    """Fields that differ from their defaults, in the model's order."""
    return model.model_dump(mode="json", exclude_defaults=True)


def yaml_item(data: dict[str, Any], indent: str) -> list[str]:
    """One entry of a YAML list, wrapped."""
    lines: list[str] = []
    for key, value in data.items():
        lead = f"{indent}- " if not lines else f"{indent}  "
        lines += _pair(key, value, lead, indent + "  ")
    return lines


def _pair(key: str, value: Any, lead: str, indent: str) -> list[str]:
    flow = f"{lead}{key}: {_flow(value)}"
    nested = isinstance(value, list) and value and isinstance(value[0], dict)
    if not nested and len(flow) <= WIDTH:
        return [flow]
    if isinstance(value, dict) or not isinstance(value, list):
        return [flow]
    if nested:
        lines = [f"{lead}{key}:"]
        for item in value:
            text = f"{indent}  - {_flow(item)}"
            lines += [text] if len(text) <= WIDTH else yaml_item(item, indent + "  ")
        return lines
    return [f"{lead}{key}:", *_filled(value, indent + "    ", indent)]


def _filled(values: list[Any], indent: str, close: str) -> list[str]:
    """A long list as a bracketed block."""
    lines = [f"{indent}["]
    row = indent + "  "
    for value in values:
        piece = _flow(value) + ", "
        if len(row) + len(piece) > WIDTH and row.strip():
            lines.append(row.rstrip())
            row = indent + "  "
        row += piece
    lines.append(row.rstrip().rstrip(","))
    return [*lines, f"{indent}]"]


def _flow(value: Any) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{k}: {_flow(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(_flow(v) for v in value) + "]"
    if isinstance(value, bool) or value is None:
        return {True: "true", False: "false", None: "null"}[value]
    if isinstance(value, int | float):
        return f"{value:.10g}" if isinstance(value, float) else str(value)
    return _text(str(value))


def _text(text: str) -> str:
    """A double-quoted scalar that any YAML reader takes as text."""
    quoted = json.dumps(text, ensure_ascii=False)
    return "".join(
        c if c.isprintable() else f"\\u{ord(c):04x}" if ord(c) < 0x10000 else "?" for c in quoted
    )


def _plain(text: str) -> str:
    return "".join(c if c.isprintable() else " " for c in text)


def _shorten(refs: Iterable[str], limit: int = 6) -> str:
    names = list(refs)
    more = f" and {len(names) - limit} more" if len(names) > limit else ""
    return ", ".join(names[:limit]) + more


def _wrapped(text: str, first: str, rest: str) -> list[str]:
    words, lines, row = _plain(text).split(" "), [], first
    for word in words:
        if len(row) + len(word) > WIDTH and row not in (first, rest):
            lines.append(row.rstrip())
            row = rest
        row += word[:400] + " "
    return [*lines, row.rstrip()]


def round_trip(text: str, name: str = "kit.yaml") -> Kit:
    """Read the written text back as a kit: what is written must load."""
    from solderrisk.files.yaml_source import parse_model

    return parse_model(text, Kit, name=name).value


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
    lines += _open_questions(draft)
    return "\n".join(lines).rstrip() + "\n"


def draft_json(draft: Draft) -> str:
    """The same as data, with the kit as it stands."""
    answers = dict(draft.answers)
    questions = [asdict(q) | {"answer": answers.get(q.id)} for q in draft.questions]
    told = {
        "format": 1,
        "counts": {state: draft.count(state) for state in TITLES},
        "notes": draft.notes,
        "lines": [asdict(line) for line in draft.lines],
        "questions": questions,
        "kit": _dump(draft.kit()),
    }
    return json.dumps(told, indent=2, ensure_ascii=False) + "\n"


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


def _open_questions(draft: Draft) -> list[str]:
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

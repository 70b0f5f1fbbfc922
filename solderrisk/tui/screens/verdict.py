"""Verdict: is it manageable, what it costs, what carries the risk, what would change it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding, BindingType
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.widget import Widget
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from solderrisk.report import words
from solderrisk.report.words import grouped
from solderrisk.tui.screens.base import PlaceScreen, told
from solderrisk.tui.theme import styles_of
from solderrisk.tui.widgets.lines import ChanceBar, Lines, share_bar
from solderrisk.words import kind_and_ref, money, one_line, percent, span

if TYPE_CHECKING:
    from solderrisk.plan.results import Advice, Assessment, Finding, SecondLook
    from solderrisk.tui.rows import Shown

FINDING_MARKS = {"blocker": "✖ stops you", "caution": "▲ take care", "note": "· note"}
FINDING_RANK = {"blocker": 0, "caution": 1, "note": 2}
FINDING_STYLES = {"blocker": "bold $error", "caution": "$warning", "note": "$quiet"}
MOST_FINDINGS, MOST_LOOKS, MOST_REASONS = 12, 5, 8


class VerdictScreen(PlaceScreen):
    PLACE = "verdict"
    DEFAULT_CSS = styles_of(__file__)
    HELP = """\
The first line answers the question. Every chance comes with its range: ━ is what the
doubt in the figures spans, ● its middle, ┃ the chance you ask for. A chance is a figure
to plan with, never a permission.

The list names the jobs that carry the risk: how likely each is to be the one the kit
fails at. Enter on one of them shows its technique, its heat and what can go wrong.

"What would change it" is the cheapest set of tools and practice that lifts the chance
above the one you ask for, worked out while you look. w writes a report to a file."""
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "see", "See the job", show=True),
        Binding("tab", "app.focus_next", "More"),
        Binding("w", "report", "Write a report"),
    ]

    def build(self) -> Iterable[Widget]:
        yield VerticalScroll(
            Static(id="says", markup=False),
            ChanceBar("Works in the end", id="working"),
            ChanceBar("No fault at all", id="first-time"),
            Static(id="figures", markup=False),
            Static("Jobs that carry the risk (enter shows one)", classes="title", markup=False),
            Lines(id="top", markup=False),
            Static("Why", classes="title", markup=False),
            Static(id="reasons", markup=False),
            id="verdict-main",
            can_focus=False,
        )
        yield VerticalScroll(
            Static("What would change it", classes="title", markup=False),
            Static(id="advice", markup=False),
            Static("What a check is worth", classes="title", markup=False),
            Static(id="looks", markup=False),
            Static("Good to know", classes="title", markup=False),
            Static(id="findings", markup=False),
            Vertical(id="verdict-filler"),
            id="verdict-side",
        )

    def first_focus(self) -> None:
        self.query_one("#top").focus(scroll_visible=False)

    def fill(self, shown: Shown) -> None:
        assessment = shown.assessment
        verdict, risk = assessment.verdict, assessment.risk
        base = self.app.baseline
        before = base.assessment.verdict if base and base is not shown else None
        self.query_one("#says", Static).update(says(assessment))
        self.query_one("#reasons", Static).update(reasons(assessment))
        self.query_one("#working", ChanceBar).show(
            verdict.chance,
            before=before.chance.mid if before else None,
            target=verdict.target,
        )
        self.query_one("#first-time", ChanceBar).show(risk.first_time)
        self.query_one("#figures", Static).update(figures(assessment))
        top = self.query_one("#top", OptionList)
        at = top.highlighted or 0
        top.clear_options()
        top.add_options([Option(line, id=key) for key, line in top_lines(shown)])
        if top.option_count:
            top.highlighted = min(at, top.option_count - 1)
        self.query_one("#findings", Static).update(findings(assessment))
        self.answered()

    def answered(self) -> None:
        currency = self.app.loaded.kit.currency if self.app.loaded else ""
        for name, show in (("advice", lambda value: advice(value, currency)), ("looks", looks)):
            self.query_one(f"#{name}", Static).update(told(self.app.answer(name), show))

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        if event.option_id:
            self.app.look_at(event.option_id)

    def action_see(self) -> None:
        self.query_one("#top", OptionList).action_select()


def says(assessment: Assessment) -> Content:
    verdict = assessment.verdict
    if not verdict.decided:
        mark, style = "?", "bold $warning"
    elif verdict.manageable:
        mark, style = "✔", "bold $success"
    else:
        mark, style = "✖", "bold $error"
    told = Content.styled(f"{mark} {one_line(words.headline(verdict.judgement), 300)}", style)
    if not assessment.kit.invented:
        return told
    return told + Content.styled(
        "\nAn invented kit to look round in; press o to open yours.", "$quiet"
    )


def reasons(assessment: Assessment) -> Content:
    lines = words.reasons(assessment)[:MOST_REASONS]
    return Content("\n".join(f"– {one_line(line, 240)}" for line in lines))


def figures(assessment: Assessment) -> Content:
    costs, risk = assessment.costs, assessment.risk
    return Content.assemble(
        ("To buy ", "$quiet"),
        (words.to_buy(costs), "bold"),
        ("  lost if it fails ", "$quiet"),
        (money(costs.bad_case, costs.currency), "bold"),
        ("\nExpected loss ", "$quiet"),
        span(costs.expected_loss, costs.currency),
        ("\nHours ", "$quiet"),
        (span(risk.hours, "h"), "bold"),
        ("  faults to expect ", "$quiet"),
        span(risk.faults, ""),
        ("\nSolder ", "$quiet"),
        f"{costs.solder_g:.1f} g, {costs.solder_wire_m:.1f} m of wire",
        ("  flux ", "$quiet"),
        f"{costs.flux_g:.1f} g",
        (
            f"  removal alloy {costs.removal_alloy_g:.1f} g" if costs.removal_alloy_g else "",
            "",
        ),
    )


def top_lines(shown: Shown) -> list[tuple[str, Content]]:
    """(key, line) of the jobs that carry the risk, with their share of failure."""
    by_key = {row.key: row for row in shown.rows}
    lines = []
    for key in shown.assessment.verdict.top:
        row = by_key.get(key)
        if row is None:
            continue
        line = Content.assemble(
            (f"{row.band.mark} ", f"${row.band.style}"),
            (one_line(row.name, 12).ljust(12), "bold"),
            (share_bar(row.share, 8), f"${row.band.style}"),
            f" {percent(row.share):>6}  ",
            one_line(row.part, 22).ljust(22),
            (f" {one_line(row.technique, 30)}", "$quiet"),
        )
        lines.append((key, line))
    return lines


def advice(value: Advice, currency: str) -> Content:
    parts: list[tuple[str, str]] = [(one_line(words.advice_line(value), 400), "bold")]
    parts += [(f"\n+ {one_line(words.item_name(item), 160)}", "") for item in value.items]
    if value.items:
        price = money(value.price, currency)
        parts.append((f"\n= {price} and {value.hours:.0f} h of practice", "$quiet"))
    return Content.assemble(*parts)


def looks(value: Sequence[SecondLook]) -> Content:
    """Checks by what they add to the chance of a working kit."""
    parts = [(f"+ {one_line(words.look_text(look), 200)}\n", "") for look in value[:MOST_LOOKS]]
    return Content.assemble(*parts) if parts else Content.styled("Nothing worth a line.", "$quiet")


def findings(assessment: Assessment) -> Content:
    """Findings, worst first; the same one about several jobs is told once."""
    listed = sorted(joined(assessment.findings), key=lambda f: FINDING_RANK[f.level])
    parts: list[tuple[str, str]] = []
    for finding in listed[:MOST_FINDINGS]:
        parts += _finding(finding)
    if len(listed) > MOST_FINDINGS:
        parts.append((f"and {len(listed) - MOST_FINDINGS} more in the report\n", "$quiet"))
    if not listed:
        parts.append(("Nothing stands out.\n", "$quiet"))
    for line in words.assumption_lines(assessment)[:8]:
        parts.append((f"assumed: {one_line(line, 200)}\n", "$quiet"))
    return Content.assemble(*parts)


def joined(listed: Sequence[Finding]) -> list[Finding]:
    """Findings that differ only in the job that they begin with, as one."""
    groups: dict[tuple[str, str, str], Finding] = {}
    for finding in listed:
        head, colon, body = finding.text.partition(": ")
        named = colon and any(head.startswith(kind_and_ref(key)[1]) for key in finding.keys)
        text = body if named else finding.text
        at = (finding.level, text, finding.remedy)
        before = groups.get(at)
        keys = (*(before.keys if before else ()), *finding.keys)
        groups[at] = replace(finding, text=text, keys=tuple(dict.fromkeys(keys)))
    return list(groups.values())


def _finding(finding: Finding) -> list[tuple[str, str]]:
    who = f"{grouped(finding.keys)}: " if finding.keys else ""
    parts = [
        (f"{FINDING_MARKS[finding.level]}  ", FINDING_STYLES[finding.level]),
        (one_line(who, 120) + " " if who else "", "bold"),
        (one_line(finding.text, 240), ""),
    ]
    if finding.remedy:
        parts.append((f" → {one_line(finding.remedy, 200)}", "$quiet"))
    return [*parts, ("\n", "")]

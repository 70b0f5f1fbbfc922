"""Verdict: is it manageable, what it costs, what carries the risk, what would change it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding, BindingType
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.widget import Widget
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from solderrisk.report.words import (
    money,
    money_range,
    one_line,
    percent,
    plain,
    refs_line,
    span,
)
from solderrisk.tui.screens.base import WORKING, PlaceScreen
from solderrisk.tui.styles import styles_of
from solderrisk.tui.widgets.chance_bar import ChanceBar, share_bar
from solderrisk.tui.widgets.lines import Lines

if TYPE_CHECKING:
    from solderrisk.plan.results import Advice, Assessment, Finding
    from solderrisk.tui.rows import Shown

FINDING_MARKS = {"blocker": "✖ stops you", "caution": "▲ take care", "note": "· note"}
FINDING_STYLES = {"blocker": "bold $error", "caution": "$warning", "note": "$quiet"}
MOST_FINDINGS = 12


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
above the one you ask for, worked out while you look."""
    BINDINGS: ClassVar[list[BindingType]] = [Binding("enter", "see", "See the job", show=True)]

    def build(self) -> Iterable[Widget]:
        yield VerticalScroll(
            Static(id="says", markup=False),
            ChanceBar("Works in the end", id="working"),
            ChanceBar("No fault at all", id="first-time"),
            Static(id="figures", markup=False),
            Static("Jobs that carry the risk (enter shows one)", classes="title", markup=False),
            Lines(id="top", markup=False),
            id="verdict-main",
            can_focus=False,
        )
        yield VerticalScroll(
            Static("What would change it", classes="title", markup=False),
            Static(id="advice", markup=False),
            Static("Good to know", classes="title", markup=False),
            Static(id="findings", markup=False),
            Vertical(id="verdict-filler"),
            id="verdict-side",
        )

    def first_focus(self) -> None:
        self.query_one("#top").focus()

    def fill(self, shown: Shown) -> None:
        assessment = shown.assessment
        verdict, risk = assessment.verdict, assessment.risk
        base = self.app.baseline
        before = base.assessment.verdict if base and base is not shown else None
        self.query_one("#says", Static).update(says(assessment))
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
        answer = self.app.answer("advice")
        if answer is None:
            text = Content.styled(WORKING, "$quiet")
        elif answer.error:
            text = Content.styled(one_line(answer.error, 200), "$quiet")
        else:
            text = advice(answer.value, self.app.loaded.kit.currency if self.app.loaded else "")
        self.query_one("#advice", Static).update(text)

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        if event.option_id:
            self.app.look_at(event.option_id)

    def action_see(self) -> None:
        self.query_one("#top", OptionList).action_select()


def says(assessment: Assessment) -> Content:
    verdict = assessment.verdict
    if not verdict.decided:
        word, style = "Cannot be told yet", "bold $warning"
    elif verdict.manageable:
        word, style = "Manageable", "bold $success"
    else:
        word, style = "Not manageable as it stands", "bold $error"
    lines = [(f"{word}. ", style), (one_line(verdict.headline, 300), "bold")]
    for reason in verdict.reasons[:4]:
        lines.append((f"\n– {one_line(reason, 240)}", ""))
    return Content.assemble(*lines)


def figures(assessment: Assessment) -> Content:
    costs, risk = assessment.costs, assessment.risk
    return Content.assemble(
        ("To buy ", "$quiet"),
        (money(costs.to_buy, costs.currency), "bold"),
        ("  gone in the bad case ", "$quiet"),
        (money(costs.bad_case, costs.currency), "bold"),
        ("  lost on average ", "$quiet"),
        money_range(costs.expected_loss, costs.currency),
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
    parts: list[tuple[str, str]] = [(one_line(value.text, 400), "bold")]
    parts += [(f"\n+ buy: {one_line(buy, 160)}", "") for buy in value.buys]
    parts += [(f"\n+ practise: {one_line(what, 160)}", "") for what in value.practice]
    if value.buys or value.practice:
        price = money(value.price, currency)
        parts.append((f"\n= {price} and {value.hours:.0f} h of practice", "$quiet"))
    return Content.assemble(*parts)


def findings(assessment: Assessment) -> Content:
    rank = {"blocker": 0, "caution": 1, "note": 2}
    listed = sorted(assessment.findings, key=lambda f: rank[f.level])
    parts: list[tuple[str, str]] = []
    for finding in listed[:MOST_FINDINGS]:
        parts += _finding(finding)
    if len(listed) > MOST_FINDINGS:
        parts.append((f"and {len(listed) - MOST_FINDINGS} more in the report\n", "$quiet"))
    if not listed:
        parts.append(("Nothing stands out.\n", "$quiet"))
    for line in assessment.assumptions[:8]:
        parts.append((f"assumed: {one_line(plain(line), 200)}\n", "$quiet"))
    return Content.assemble(*parts)


def _finding(finding: Finding) -> list[tuple[str, str]]:
    where = f" ({refs_line(finding.keys, 6)})" if finding.keys else ""
    parts = [
        (f"{FINDING_MARKS[finding.level]}: ", FINDING_STYLES[finding.level]),
        (one_line(finding.text, 240) + where, ""),
    ]
    if finding.remedy:
        parts.append((f" → {one_line(finding.remedy, 200)}", "$quiet"))
    return [*parts, ("\n", "")]

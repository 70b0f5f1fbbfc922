"""Verdict: is it manageable, what it costs, what carries the risk, what would change it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding, BindingType
from textual.containers import Container, Vertical, VerticalScroll
from textual.content import Content
from textual.widget import Widget
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from solderrisk.report import words
from solderrisk.report.words import grouped, worst_mode
from solderrisk.tui.places import styles_of
from solderrisk.tui.screens.base import PlaceScreen, told
from solderrisk.tui.widgets.lines import ChanceBar, Lines
from solderrisk.words import WIDTH, chance, money, one_line, span

if TYPE_CHECKING:
    from solderrisk.plan.results import Advice, Assessment, Finding, SecondLook
    from solderrisk.tui.messages import Answered
    from solderrisk.tui.rows import Shown

MARGINS = 4  # columns that the place keeps at its sides
FINDING_MARKS = {"blocker": "✖ stops you", "caution": "▲ take care", "note": "· note"}
FINDING_RANK = {"blocker": 0, "caution": 1, "note": 2}
FINDING_STYLES = {"blocker": "bold $error", "caution": "$warning", "note": "$quiet"}
MOST_FINDINGS, MOST_LOOKS, MOST_REASONS, MOST_TOP = 12, 5, 8, 3


class VerdictScreen(PlaceScreen):
    PLACE = "verdict"
    DEFAULT_CSS = styles_of(__file__)
    HELP = """\
The first line answers the question: yes or no where at least 4 in 5 of what is not known
agrees, else it leans. The bar: ━ is what is not known about the hand and about numbers
that nobody has measured, ● the middle, ┃ the chance you ask for. A chance is a figure to
plan with, never a permission.

"What would change it" tries every single purchase and practice; place 5 has them all.
"What decides it" names the jobs that the kit most likely fails at: Enter shows one. Page
down goes on to the reasons, the cheapest set that makes it a yes, and checks that pay."""
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("pagedown", "page(1)", "More below", key_display="pgdn"),
        Binding("pageup", "page(-1)", "Above", show=False),
        Binding("home", "end(-1)", "Top", show=False),
        Binding("end", "end(1)", "End", show=False),
        Binding("w", "report", "Write a report"),
    ]

    def build(self) -> Iterable[Widget]:
        yield VerticalScroll(
            Container(
                Vertical(
                    Static(id="says", markup=False),
                    ChanceBar("Works", id="working", label_width=6),
                    Static(id="change", markup=False),
                    Static("What decides it (enter shows it)", classes="title", markup=False),
                    TopJobs(id="top", markup=False),
                    Static(id="ends", markup=False),
                    id="verdict-main",
                ),
                Vertical(
                    ChanceBar("No fault at the first try", id="first-time", label_width=26),
                    Static(id="figures", markup=False),
                    Static("Why", classes="title", markup=False),
                    Static(id="reasons", markup=False),
                    Static("The cheapest that makes it a yes", classes="title", markup=False),
                    Static(id="advice", markup=False),
                    Static("Checks that pay", classes="title", markup=False),
                    Static(id="looks", markup=False),
                    Static("Good to know", classes="title", markup=False),
                    Static(id="findings", markup=False),
                    id="verdict-more",
                ),
                id="verdict-columns",
            ),
            id="verdict-scroll",
            can_focus=False,
        )

    def first_focus(self) -> None:
        self.set_focus(self.query_one("#top"), scroll_visible=False)

    def fill(self, shown: Shown) -> None:
        assessment = shown.assessment
        verdict = assessment.verdict
        base = self.app.baseline
        before = base.assessment.verdict if base and base is not shown else None
        width = min(self.size.width, WIDTH) - MARGINS
        self.query_one("#says", Static).update(says(assessment, width))
        self.query_one("#ends", Static).update(ends(assessment, width))
        self.query_one("#reasons", Static).update(reasons(assessment))
        self.query_one("#working", ChanceBar).show(
            verdict.chance,
            before=before.chance.mid if before else None,
            target=verdict.target,
        )
        self.query_one("#first-time", ChanceBar).show(verdict.first_time)
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
        app = self.app
        currency = app.loaded.kit.currency if app.loaded else ""
        for name, show in (("advice", lambda value: advice(value, currency)), ("looks", looks)):
            self.query_one(f"#{name}", Static).update(told(app.answer(name), show))
        if app.shown is not None:
            found = app.shown.assessment
            # A yes tells no purchases, and does not have them worked out either.
            yes = found.verdict.judgement.answer == "yes"
            shown = Content("") if yes else change(found, app.answer("gains"))
            self.query_one("#change", Static).update(shown)

    def action_page(self, step: int) -> None:
        scroll = self.query_one("#verdict-scroll", VerticalScroll)
        (scroll.scroll_page_down if step > 0 else scroll.scroll_page_up)(animate=False)

    def action_end(self, step: int) -> None:
        scroll = self.query_one("#verdict-scroll", VerticalScroll)
        (scroll.scroll_end if step > 0 else scroll.scroll_home)(animate=False)

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        if event.option_id:
            self.app.look_at(event.option_id)


class TopJobs(Lines, inherit_bindings=False):
    """The jobs that decide; beyond the first and the last one the page goes on."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "select", "See the job"),
        Binding("down", "step(1)", "Next", show=False),
        Binding("up", "step(-1)", "Before", show=False),
    ]

    def action_step(self, step: int) -> None:
        at = self.highlighted
        if at is not None and 0 <= at + step < self.option_count:
            self.highlighted = at + step
            return
        scroll = self.screen.query_one("#verdict-scroll", VerticalScroll)
        scroll.scroll_relative(y=step, animate=False)


def says(assessment: Assessment, width: int) -> Content:
    from solderrisk.report.text import says_rows

    verdict = assessment.verdict
    mark, style = {
        "yes": ("✔", "bold $success"),
        "no": ("✖", "bold $error"),
        "open": ("?", "bold $warning"),
    }[verdict.judgement.answer]
    first, *rest = says_rows(assessment, width - 2)
    told = Content.assemble((f"{mark} {first}", style), *(f"\n{row}" for row in rest))
    if not assessment.kit.invented:
        return told
    return told + Content.styled(
        "\n  invented data, to look round in; o opens yours, y says who you are", "$quiet"
    )


def change(assessment: Assessment, found: Answered | None) -> Content:
    """The best single purchases and practices, once they are worked out."""
    if found is None or found.error:
        rest = told(found, lambda _: Content(""))
        return Content.styled("\nWHAT WOULD CHANGE IT\n  ", "bold") + rest
    from solderrisk.report.planning import change_rows

    return Content("\n".join(change_rows(assessment, found.value)))


def ends(assessment: Assessment, width: int) -> Content:
    """What is lost if it fails, what comes first, what is not known."""
    from solderrisk.report.text import ends_rows

    return Content("\n".join(ends_rows(assessment, width)))


def reasons(assessment: Assessment) -> Content:
    lines = words.reasons(assessment)[:MOST_REASONS]
    return Content("\n".join(f"– {one_line(line, 240)}" for line in lines))


def figures(assessment: Assessment) -> Content:
    costs, risk = assessment.costs, assessment.risk
    rest = "besides them " if costs.unpriced else ""
    return Content.assemble(
        ("To buy ", "$quiet"),
        (words.to_buy(costs), "bold"),
        (f"\nLost if it fails {rest}", "$quiet"),
        (money(costs.bad_case, costs.currency), "bold"),
        (f"  expected loss {rest}", "$quiet"),
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
    """(key, line) of the jobs that carry the risk, and what goes wrong there."""
    by_key = {row.key: row for row in shown.rows}
    lines = []
    for key in shown.assessment.verdict.top[:MOST_TOP]:
        row, risk = by_key.get(key), shown.risks.get(key)
        if row is None or risk is None:
            continue
        worst = None if risk.blocked else worst_mode(risk)
        line = Content.assemble(
            (f"{row.band.mark} ", f"${row.band.style}"),
            (one_line(row.name, 10).ljust(11), "bold"),
            one_line(row.part, 20).ljust(21),
            (f"{chance(risk.chosen.after_mending) if not risk.blocked else 'no way':>18}", ""),
            (f"  {one_line(worst.title, 24) if worst else ''}", "$quiet"),
        )
        lines.append((key, line))
    return lines


def advice(value: Advice, currency: str) -> Content:
    from solderrisk.report.planning import advice_line

    parts: list[tuple[str, str]] = [(one_line(advice_line(value), 400), "bold")]
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
    """Findings that differ only in the job that they speak of, as one."""
    from solderrisk.report.findings import sentences

    groups: dict[tuple[str, str, str], Finding] = {}
    for finding in listed:
        at = (finding.level, *sentences(finding))
        before = groups.get(at)
        keys = (*(before.keys if before else ()), *finding.keys)
        groups[at] = replace(finding, keys=tuple(dict.fromkeys(keys)))
    return list(groups.values())


def _finding(finding: Finding) -> list[tuple[str, str]]:
    from solderrisk.report.findings import sentences

    text, remedy = sentences(finding)
    who = f"{grouped(finding.keys)}: " if finding.keys else ""
    return [
        (f"{FINDING_MARKS[finding.level]}  ", FINDING_STYLES[finding.level]),
        (one_line(who, 120) + " " if who else "", "bold"),
        (one_line(text, 240), ""),
        (f" → {one_line(remedy, 200)}", "$quiet"),
        ("\n", ""),
    ]

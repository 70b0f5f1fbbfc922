"""What if: other tools, other hands, another target; the figures follow at once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding, BindingType
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from solderrisk.report.words import job_name, unpriced
from solderrisk.tui import setup as assumed
from solderrisk.tui.dials import BENCH, BUY, HANDS, buy_head, buys, dials, to_pay, turn
from solderrisk.tui.places import styles_of
from solderrisk.tui.screens.base import PlaceScreen
from solderrisk.tui.setup import Dial, Key
from solderrisk.tui.widgets.lines import ChanceBar, Lines, TabStrip
from solderrisk.words import likely, money, one_line, percent, span

if TYPE_CHECKING:
    from solderrisk.plan.results import Gain
    from solderrisk.tui.rows import Shown

GROUPS = (
    ("buy", "Buy", "b"),
    ("hands", "My hands", "h"),
    ("tools", "My tools", "m"),
    ("guessed", "Guessed numbers", "g"),
)
MOST_MOVED = 10
# Smaller moves of a job's chance are not worth a line.
WORTH_TELLING = 0.001


class WhatIfScreen(PlaceScreen):
    PLACE = "what_if"
    DEFAULT_CSS = styles_of(__file__)
    HELP = """\
What would change the chance? Buy or practise: every single thing on the list with its
price, the hours it takes, the points that it adds alone and beside what is ticked, and the
jobs that it helps; most for its cost first. Space ticks it, and the figures follow.

h what the builder has done, how steady the hand is, and the chance you ask for; m the
tools at hand, to be switched off one by one; g numbers that nobody has measured, with their
source: left and right go between low end, stated value and high end, t types a value of
your own, a searches which of them the chance rests on most (a again stops it).

Nothing is written: a star marks every difference from your files, r takes all of them
back. w writes the tried bench or builder to new files, never over one of yours."""
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("space", "turn(1)", "Tick"),
        Binding("right,plus", "turn(1)", "Turn", key_display="← →"),
        Binding("left,minus", "turn(-1)", "Turn back", show=False),
        *(Binding(key, f"group('{name}')", label, show=False) for name, label, key in GROUPS),
        Binding("r", "reset", "Take back"),
        Binding("w", "save", "Save as"),
        Binding("a", "rank", "Rank", show=False),
        Binding("t", "type", "Type", show=False),
        Binding("escape", "untype", "Back", show=False),
    ]

    def __init__(self) -> None:
        super().__init__()
        self._dials: tuple[Dial, ...] = ()
        self._group = "buy"
        self._gains: Sequence[Gain] = ()
        self._anew = False

    def build(self) -> Iterable[Widget]:
        yield Vertical(
            TabStrip(GROUPS, self._group, id="dial-groups"),
            Static(buy_head(), id="buy-head", markup=False),
            Lines(id="dials", markup=False),
            Static(id="dial-note", markup=False),
            Input(id="dial-value", compact=True),
            id="dial-side",
        )
        yield VerticalScroll(
            Static("Before ○ and now ●", classes="title", markup=False),
            ChanceBar("Works", id="tried-works", label_width=6),
            ChanceBar("Clean", id="tried-clean", label_width=6),
            Static(id="tried-figures", markup=False),
            Static(id="tried-differences", markup=False),
            Static(id="tried-moved", markup=False),
            id="tried",
        )

    def built(self) -> None:
        field = self.query_one("#dial-value", Input)
        field.cursor_blink, field.display = False, False

    def first_focus(self) -> None:
        self.set_focus(self.query_one("#dials"))

    def on_screen_resume(self) -> None:
        super().on_screen_resume()
        if self._filled is not None:
            self._show_dials()

    def fill(self, shown: Shown) -> None:
        self._show_dials()
        base = self.app.baseline or shown
        now, was = shown.assessment, base.assessment
        self.query_one("#tried-works", ChanceBar).show(
            now.verdict.chance, before=was.verdict.chance.mid, target=now.verdict.target
        )
        self.query_one("#tried-clean", ChanceBar).show(
            now.risk.first_time, before=was.risk.first_time.mid
        )
        self.query_one("#tried-figures", Static).update(figures(shown, base))
        self.query_one("#tried-moved", Static).update(moved(shown, base))

    def _found(self) -> tuple[tuple[Dial, ...], tuple[Dial, ...]]:
        """The dials of the group at hand, and all that there are."""
        app = self.app
        assert app.loaded is not None
        assert app.saved is not None
        assert app.tried is not None
        answer = app.answer(self._wants()) if self._group == "buy" else None
        gains = answer.value if answer is not None and not answer.error else self._gains
        # What was under the cursor before there was an order says nothing.
        self._anew = bool(gains) and not self._gains
        self._gains = gains or ()
        bought = tuple(buys(app.loaded, app.tried, self._gains))
        every = (*bought, *dials(app.loaded, app.saved, app.tried, app.ranking.effects))
        wanted = {"buy": BUY, "hands": HANDS, "tools": BENCH, "guessed": assumed.GROUP}
        return tuple(d for d in every if d.group == wanted[self._group]), every

    def _wants(self) -> str:
        """Beside nothing that is ticked, the first place has worked it out already."""
        return "buys" if self.app.tried and self.app.tried.added else "gains"

    def _show_dials(self) -> None:
        app = self.app
        if app.loaded is None or app.saved is None or app.tried is None or app.shown is None:
            return
        self.query_one("#buy-head").display = self._group == "buy"
        found, every = self._found()
        if found == self._dials:
            self._show_note()
            return
        listing = self.query_one("#dials", OptionList)
        current = self._current()
        kept = current.key if current and not self._anew else None
        self._dials = found
        listing.clear_options()
        listing.add_options([Option(dial_line(dial), id=str(n)) for n, dial in enumerate(found)])
        cost = money(to_pay(app.loaded, app.tried), app.loaded.kit.currency)
        paid = cost if app.tried.added else ""
        changed = [dial for dial in every if dial.changed]
        self.query_one("#tried-differences", Static).update(differences(changed, paid))
        if found:
            at = nearest(found, kept)
            listing.highlighted = listing.get_option_index(str(at))
            gone = kept is not None and found[at].key != kept
            self.call_after_refresh(listing.scroll_to_highlight, top=gone)
        self._show_note()

    def action_group(self, name: str) -> None:
        self._group = name
        self.query_one("#dial-groups", TabStrip).choose(name)
        self.set_focus(self.query_one("#dials"))
        self._show_dials()

    def on_tab_strip_chosen(self, event: TabStrip.Chosen) -> None:
        if event.name in {name for name, _, _ in GROUPS}:
            self.action_group(event.name)
        else:
            super().on_tab_strip_chosen(event)

    def answered(self) -> None:
        """The ranking has moved on."""
        self._show_dials()

    def _assumed(self) -> str | None:
        """The name of the assumed number under the cursor."""
        match self._current():
            case Dial(key=("assumed", str(name))):
                return name
        return None

    def _show_note(self) -> None:
        """What is assumed, and how far the search for what matters is."""
        app, name = self.app, self._assumed()
        note = self.query_one("#dial-note", Static)
        lines: list[tuple[str, str]] = []
        if app.ranking.running:
            share = percent(app.ranking.share)
            lines.append((f"searching what matters most: {share}; a stops it", "$accent"))
        elif app.ranking.error:
            lines.append((one_line(app.ranking.error, 160), "$error"))
        if self._group == "buy" and app.answer(self._wants()) is None:
            lines.append(("trying each thing on the list …", "$accent"))
        if name is not None and app.loaded is not None:
            if not app.ranking.running:
                lines.append((rank_hint(app.ranking.done, app.ranking.of == app.tried), "$quiet"))
            lines.append((assumed.told(app.loaded, name, app.ranking.effects), "$quiet"))
        parts = [Content.styled(text, style) for text, style in lines if text]
        note.update(Content("\n").join(parts))
        note.display = bool(parts)

    def on_option_list_option_highlighted(self) -> None:
        self._show_note()

    def action_rank(self) -> None:
        """Search the assumed numbers that matter most, or stop the search."""
        if self.app.ranking.running:
            self.app.ranking.cancel()
        elif not self.app.ranking.done or self.app.ranking.of != self.app.tried:
            self.app.ranking.start()
        self.action_group("guessed")
        self._show_dials()

    def action_type(self) -> None:
        """Type a value for the assumed number under the cursor."""
        name = self._assumed()
        if name is None:
            self.action_group("guessed")
            name = self._assumed()
        if name is not None:
            field = self.query_one("#dial-value", Input)
            field.value, field.placeholder = "", f"value of {name}; empty: as stated"
            field.display = True
            self.set_focus(field)

    def action_untype(self) -> None:
        field = self.query_one("#dial-value", Input)
        field.display = False
        self.set_focus(self.query_one("#dials"))

    def on_input_submitted(self, event: Input.Submitted) -> None:
        app, name = self.app, self._assumed()
        if name is None or app.loaded is None or app.tried is None:
            return
        try:
            setup = assumed.typed(app.loaded, app.tried, name, event.value)
        except Exception as problem:
            refusal = Content.styled(one_line(str(problem), 200), "bold $error")
            note = self.query_one("#dial-note", Static)
            note.update(refusal)
            note.display = True
            return
        app.try_setup(setup)
        self.action_untype()
        self._show_dials()

    def _current(self) -> Dial | None:
        option = self.query_one("#dials", OptionList).highlighted_option
        return self._dials[int(option.id)] if option and option.id else None

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        self.action_turn(1)

    def action_turn(self, step: int) -> None:
        app, dial = self.app, self._current()
        if dial is None or app.loaded is None or app.saved is None or app.tried is None:
            return
        app.try_setup(turn(app.loaded, app.saved, app.tried, dial.key, step))
        self._show_dials()

    def action_reset(self) -> None:
        if self.app.saved is not None:
            self.app.try_setup(self.app.saved)
            self._show_dials()

    def action_save(self) -> None:
        from solderrisk.tui.screens.file_dialogs import SaveSetup

        self.app.push_screen(SaveSetup())


def dial_line(dial: Dial) -> Content:
    """One dial: a star where it differs from the files."""
    star = "*" if dial.changed else " "
    if dial.on is not None:
        text = f"{star}[{'x' if dial.on else ' '}] {dial.label}"
    else:
        text = f"{star} ◂ {dial.value:<14} ▸ {dial.label}"
    was = f"  was {dial.was}" if dial.changed and dial.on is None else ""
    return Content.assemble((text, "bold" if dial.changed else ""), (was, "$quiet"))


def nearest(found: Sequence[Dial], key: Key | None) -> int:
    """Where a dial stands; if it is not there any more the first of its kind, or of all."""
    same = (n for n, dial in enumerate(found) if dial.key == key)
    alike = (n for n, dial in enumerate(found) if key and dial.key[0] == key[0])
    return next(same, next(alike, 0))


def rank_hint(done: bool, same: bool) -> str:
    if done:
        return "ranked for this kit" if same else "ranked for another set-up; a ranks again"
    return "t types a value; a ranks what matters most for this kit"


def differences(changed: list[Dial], buys: str) -> Content:
    """What differs from the files, in words, and what the added tools cost."""
    if not changed:
        return Content.styled("Nothing differs from your files.\n", "$quiet")
    parts: list[tuple[str, str]] = [("Differs from your files\n", "bold $primary")]
    for dial in changed:
        parts += [
            (f"* {one_line(dial.label, 40).strip()}: ", ""),
            (f"{dial.was} → {dial.value}\n", "bold"),
        ]
    if buys:
        parts.append((f"= {buys} to pay for tools\n", "bold $accent"))
    return Content.assemble(*parts)


def figures(shown: Shown, base: Shown) -> Content:
    """Figures now, and how far they moved."""
    now, was = shown.assessment, base.assessment
    points = 100 * (now.verdict.chance.mid - was.verdict.chance.mid)
    word = "manageable" if now.verdict.manageable else "not manageable"
    word = word if now.verdict.decided else "too close to call"
    return Content.assemble(
        (f"{word} at {percent(now.verdict.target)}", "bold"),
        f"  {points:+.1f} points\n" if shown is not base else "\n",
        ("hours ", "$quiet"),
        span(now.risk.hours, "h"),
        _moved(now.risk.hours.mid - was.risk.hours.mid, 1),
        ("\nfaults ", "$quiet"),
        span(now.risk.faults, ""),
        _moved(now.risk.faults.mid - was.risk.faults.mid, 1),
        ("\nexpected loss ", "$quiet"),
        (f"{unpriced(now.costs)}; besides them " if now.costs.unpriced else "", ""),
        money(now.costs.expected_loss.mid, now.costs.currency),
        _moved(now.costs.expected_loss.mid - was.costs.expected_loss.mid, 2),
    )


def _moved(by: float, digits: int) -> str:
    return f"  {by:+.{digits}f}" if abs(by) >= 0.5 * 10**-digits else ""


def moved(shown: Shown, base: Shown) -> Content:
    """The jobs whose chance or technique moved most."""
    parts: list[tuple[str, str]] = [("Jobs that moved\n", "bold $primary")]
    before = {row.key: row for row in base.rows}
    pairs = [(row, before[row.key]) for row in shown.rows if row.key in before]
    changed = [
        (now, was)
        for now, was in pairs
        if abs(now.works - was.works) >= WORTH_TELLING or now.technique != was.technique
    ]
    changed.sort(key=lambda pair: -abs(pair[0].works - pair[1].works))
    for now, was in changed[:MOST_MOVED]:
        risk = shown.risks[now.key]
        parts.append((f"{now.band.mark} {job_name(risk.job):<10} ", f"${now.band.style}"))
        parts.append((f"{likely(was.works)} → {likely(now.works)}", ""))
        if now.technique != was.technique:
            parts.append((f"  now {one_line(now.technique, 30)}", "$quiet"))
        parts.append(("\n", ""))
    if len(changed) > MOST_MOVED:
        parts.append((f"and {len(changed) - MOST_MOVED} more", "$quiet"))
    if not changed:
        parts.append(("none" if shown is not base else "as your files say", "$quiet"))
    return Content.assemble(*parts)

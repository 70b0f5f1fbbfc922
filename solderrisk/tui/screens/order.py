"""Order: stages to follow, what closes each, and why a job stands where it does."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widget import Widget
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from solderrisk.report.words import band_of, grouped, key_name
from solderrisk.tui.places import styles_of
from solderrisk.tui.rows import rescue_line
from solderrisk.tui.screens.base import PlaceScreen
from solderrisk.tui.setup import Supposed
from solderrisk.tui.widgets.lines import Lines
from solderrisk.words import counted, kind_and_ref, minutes, one_line, percent

if TYPE_CHECKING:
    from solderrisk.plan.order.edges import Why
    from solderrisk.plan.results import Stage
    from solderrisk.tui.rows import Shown

MOST_KEYS = 200  # jobs listed of one stage
MOST_EDGES = 10
MOST_FAULTS = 3


class OrderScreen(PlaceScreen):
    PLACE = "order"
    DEFAULT_CSS = styles_of(__file__)
    EMPTY = "There is nothing to put in order."
    HELP = """\
The work in stages: each uses one tool set-up, ends with a look at the joints and, where
the kit has one, a test that must pass before more value is put on the board.

On the left the stages, on the right the stage's preparation, jobs and checks. Tab goes
from one to the other. Under the jobs it says what has to come before and after the one
chosen, and why, and what to do if it goes wrong. m shows the stage on the board, enter the
job's technique.

Shift with up or down moves the chosen job, as far as the rules allow; x locks it in its
place (‡), p plans the rest anew round the locks, r goes back to the computed order.

d supposes that everything up to the chosen job is done (✓), u that the chosen job turned
out faulty and has to be done again (↻): the rest is planned anew. Both hold for this
sitting only, nothing is recorded; the same key on the same job, or r, takes it back."""
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("tab", "app.focus_next", "Jobs"),
        Binding("m", "on_map", "Map"),
        Binding("shift+up", "move(-1)", "Move", key_display="⇧↑↓"),
        Binding("shift+down", "move(1)", "Move down", show=False),
        Binding("x", "lock", "Lock"),
        Binding("d", "done", "Done"),
        Binding("u", "fault", "Fault"),
        Binding("p", "plan", "Plan anew", show=False),
        Binding("r", "take_back", "Take back", show=False),
        Binding("enter", "see", "Job", show=True),
    ]

    def build(self) -> Iterable[Widget]:
        yield Lines(id="stages", markup=False)
        yield VerticalScroll(
            Static(id="stage-text", markup=False),
            Lines(id="stage-keys", markup=False),
            Static(id="order-note", markup=False),
            Static(id="stage-why", markup=False),
            id="stage-side",
            can_focus=False,
        )

    def on_mount(self) -> None:
        super().on_mount()
        self.watch(self.app, "stage", self._follow, init=False)
        self.watch(self.app, "refused", self._follow, init=False)

    def first_focus(self) -> None:
        self.set_focus(self.query_one("#stages"))

    def fill(self, shown: Shown) -> None:
        # A job that was moved takes the eye with it into its new stage.
        if self.app.own_order is not None and self.app.chosen in shown.stage_of:
            self.app.stage = shown.stage_of[self.app.chosen]
        stages = self.query_one("#stages", OptionList)
        stages.clear_options()
        stages.add_options(
            [
                Option(stage_line(shown, stage, self.app.supposed))
                for stage in shown.assessment.order.stages
            ]
        )
        if stages.option_count:
            stages.highlighted = min(self.app.stage, stages.option_count - 1)
        self._fill_stage(shown)

    def _follow(self) -> None:
        shown = self.app.shown
        if self.app.current_mode != self.PLACE or shown is None or self._filled is None:
            return
        stages = self.query_one("#stages", OptionList)
        if stages.option_count and stages.highlighted != self.app.stage:
            stages.highlighted = self.app.stage
        self._fill_stage(shown)

    def on_screen_resume(self) -> None:
        super().on_screen_resume()
        self._follow()

    def _fill_stage(self, shown: Shown) -> None:
        order = shown.assessment.order
        if self.app.stage >= len(order.stages):
            return
        stage = order.stages[self.app.stage]
        own = own_text(self.app.supposed, self.app.locked, self.app.own_order is not None)
        if self.app.refused:
            own = Content.styled(f"✖ {one_line(self.app.refused, 300)}\n", "bold $warning") + own
            self.query_one("#stage-side").scroll_home(animate=False)
        self.query_one("#stage-text", Static).update(own + stage_text(stage))
        keys = self.query_one("#stage-keys", OptionList)
        keys.clear_options()
        keys.add_options(
            [
                Option(key_line(shown, key, n, key in self.app.locked, self.app.supposed), id=key)
                for n, key in enumerate(stage.keys[:MOST_KEYS], 1)
            ]
        )
        if keys.option_count:
            at = stage.keys.index(self.app.chosen) if self.app.chosen in stage.keys else 0
            keys.highlighted = min(at, keys.option_count - 1)
        self._say_why(shown)
        self.query_one("#order-note", Static).update(closing(shown, stage))

    def _say_why(self, shown: Shown) -> None:
        keys = self.query_one("#stage-keys", OptionList)
        option = keys.highlighted_option
        key = option.id if option else None
        text = why_here(shown, key) + if_wrong(shown, key) if key else Content("")
        self.query_one("#stage-why", Static).update(text)

    def on_option_list_option_highlighted(self, event: OptionList.OptionHighlighted) -> None:
        shown = self.app.shown
        if shown is None:
            return
        if event.option_list.id == "stages":
            self.app.stage = event.option_index
        else:
            self._say_why(shown)

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        shown = self.app.shown
        if event.option_list.id == "stages":
            self.set_focus(self.query_one("#stage-keys"))
        elif shown is not None and event.option_id in shown.risks:
            self.app.look_at(event.option_id)

    def action_see(self) -> None:
        focused = self.focused
        if isinstance(focused, OptionList):
            focused.action_select()

    def _key(self) -> str | None:
        option = self.query_one("#stage-keys", OptionList).highlighted_option
        return option.id if option else None

    def action_move(self, step: int) -> None:
        """One place up or down in the whole order, over the stages' borders."""
        shown, key = self.app.shown, self._key()
        if shown is None or key is None:
            return
        if key in self.app.locked:
            self.app.refused = f"{key_name(key)} is locked in its place; x unlocks it"
            return
        keys = shown.assessment.order.keys
        at = keys.index(key) + step
        if 0 <= at < len(keys):
            before = keys[at] if step < 0 else keys[at + 1] if at + 1 < len(keys) else None
            self.app.chosen = key
            self.app.move_job(key, before)

    def action_lock(self) -> None:
        key = self._key()
        if key is not None and self.app.shown is not None:
            self.app.locked ^= {key}
            self.app.refused = ""
            self.app.chosen = key
            self._fill_stage(self.app.shown)

    def action_done(self) -> None:
        self._suppose(Supposed.through)

    def action_fault(self) -> None:
        self._suppose(Supposed.faulty)

    def _suppose(self, change: Callable[[Supposed, Sequence[str], str], Supposed]) -> None:
        """Plan the rest after what is supposed of the job; the eye stays on it."""
        shown, key = self.app.shown, self._key()
        if shown is not None and key is not None:
            self.app.chosen = key
            self.app.plan_anew(change(self.app.supposed, shown.assessment.order.keys, key))

    def action_plan(self) -> None:
        self.app.plan_anew()

    def action_take_back(self) -> None:
        self.app.drop_own_order()

    def action_on_map(self) -> None:
        option = self.query_one("#stage-keys", OptionList).highlighted_option
        if option and option.id and self.app.shown and option.id in self.app.shown.risks:
            self.app.chosen = option.id
        self.app.action_go("board")


def own_text(supposed: Supposed, locked: set[str], own: bool) -> Content:
    """What the person has changed of the order, said before anything else."""
    parts: list[tuple[str, str]] = []
    if supposed:
        parts.append((f"Supposed, not recorded: {one_line(supposed.told(), 120)}", "bold $warning"))
    if locked:
        again = "" if own else "; p plans the rest anew"
        parts.append((f"{counted(len(locked), 'lock')} ‡{again}", "bold $accent"))
    if own and not supposed and not locked:
        parts.append(("Your own order", "bold $accent"))
    if not parts:
        return Content("")
    lines = [Content.styled(text, style) for text, style in parts]
    return Content("\n").join(lines) + Content.styled("; r takes it back\n", "$quiet")


def stage_line(shown: Shown, stage: Stage, supposed: Supposed) -> Content:
    from solderrisk.report.order import title

    worst = max(
        (band_of(shown.risks[k]) for k in stage.keys if k in shown.risks),
        default=None,
        key=lambda band: band.rank,
    )
    mark = worst.mark if worst else " "
    if all(key in supposed.done for key in stage.keys):
        mark = "✓"
    gate = " ⊣" if stage.gate else ""
    return Content.assemble(
        (f"{mark} ", f"${worst.style}" if worst else ""),
        (f"{stage.number:>2} ", "bold"),
        one_line(title(stage), 60) + gate,
        (f"\n     {counted(len(stage.keys), 'job')}, {minutes(stage.minutes)}", "$quiet"),
    )


def stage_text(stage: Stage) -> Content:
    from solderrisk.report.order import prepare, title, why_here

    parts: list[tuple[str, str]] = [
        (f"{stage.number}. {one_line(title(stage), 80)}\n", "bold"),
        (f"{one_line(why_here(stage), 200)}\n", "$quiet"),
    ]
    parts += [(f"prepare: {one_line(line, 200)}\n", "") for line in prepare(stage)]
    return Content.assemble(*parts)


def key_line(shown: Shown, key: str, number: int, locked: bool, supposed: Supposed) -> Content:
    risk, job = shown.risks.get(key), shown.jobs.get(key)
    title = one_line(job.title, 30) if job else ""
    lock = (" ‡" if locked else "") + supposed.mark(key)
    if risk is None:
        kind = "test" if kind_and_ref(key)[0] == "gate" else "task"
        return Content.assemble(
            f"  {number:>3} ", (key_name(key), "bold"), f"{lock} {title}", (f"  {kind}", "$quiet")
        )
    band = band_of(risk)
    how = risk.chosen.title if risk.options and not risk.blocked else "no technique"
    return Content.assemble(
        (f"{band.mark} ", f"${band.style}"),
        f"{number:>3} ",
        (one_line(key_name(key), 12), "bold"),
        f"{lock} {title}",
        (f"  {one_line(how, 30)}", "$quiet"),
    )


def why_here(shown: Shown, key: str) -> Content:
    """What has to come before and after a job, each with its reason."""
    order = shown.assessment.order
    before, after = list(order.edges.into(key)), list(order.edges.out(key))
    parts: list[tuple[str, str]] = [
        ("Why ", "$quiet"),
        (key_name(key), "bold"),
        (" stands here\n", "$quiet"),
    ]
    for word, edges in (("after", before), ("before", after)):
        by_why: dict[Why, list[str]] = {}
        for edge in edges:
            by_why.setdefault(edge.why, []).append(edge.first if word == "after" else edge.then)
        for why, keys in list(by_why.items())[:MOST_EDGES]:
            parts.append((f"  {word} {one_line(grouped(keys), 60)}", "bold"))
            parts.append((f": {one_line(why.told, 160)}\n", ""))
        if len(by_why) > MOST_EDGES:
            parts.append((f"  {word} others, for {len(by_why) - MOST_EDGES} reasons\n", "$quiet"))
    if not before and not after:
        parts.append(("  nothing forces it; least value is at stake this way\n", ""))
    return Content.assemble(*parts)


def if_wrong(shown: Shown, key: str) -> Content:
    """The likeliest faults of a job, each with what this bench can do about it."""
    risk = shown.risks.get(key)
    if risk is None or not risk.options or risk.blocked:
        return Content("")
    parts: list[tuple[str, str]] = []
    for mode in sorted(risk.chosen.modes, key=lambda mode: (-mode.total.mid, mode.mode)):
        card = shown.assessment.rescue(key, mode.mode)
        if card is not None and len(parts) < 2 * MOST_FAULTS:
            parts += [(f"  {one_line(mode.title, 40)}: ", "bold"), (f"{rescue_line(card)}\n", "")]
    return Content.assemble(("\nIf it goes wrong\n", "$quiet"), *parts) if parts else Content("")


def closing(shown: Shown, stage: Stage) -> Content:
    from solderrisk.report.order import checks, note, waived_text

    order = shown.assessment.order
    parts: list[tuple[str, str]] = [
        (f"· {one_line(line, 200)}\n", "$success") for line in checks(stage)
    ]
    if stage.gate:
        gate = shown.jobs.get(stage.gate)
        title = one_line(gate.title, 80) if gate else ""
        parts.append((f"⊣ then {key_name(stage.gate)}: {title}\n", "bold $accent"))
    waived = order.waived[:MOST_EDGES]
    parts += [(f"· {one_line(waived_text(each), 240)}\n", "$quiet") for each in waived]
    quality = "proved best" if order.optimal else f"within {percent(order.gap)} of the best"
    parts.append((f"This order: {quality}; {counted(order.swaps, 'tool change')}. ", "$quiet"))
    parts.append((one_line(note(order), 200) + "\n\n", "$quiet"))
    return Content.assemble(*parts)

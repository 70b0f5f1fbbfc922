"""A class: several builders, each with a bench and a journal, before several kits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.message import Message
from textual.screen import Screen
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option
from textual.worker import get_current_worker

from solderrisk.files import settings
from solderrisk.files.loading import load_kit, load_library, load_person
from solderrisk.files.reference import load_reference
from solderrisk.model.problems import UserProblem
from solderrisk.model.question import Question, Run, Stopped
from solderrisk.report.people import class_csv, class_text, place_line, purchase_lines, unread
from solderrisk.report.words import MARK_WORDS, mark
from solderrisk.tui.faults import Steady
from solderrisk.tui.messages import now_and_then, told
from solderrisk.tui.places import styles_of
from solderrisk.tui.widgets.lines import KeyLine, Lines
from solderrisk.words import counted, one_line

if TYPE_CHECKING:
    from solderrisk.journal.classroom import ClassPlan
    from solderrisk.tui.program import Program

KEPT_AS = "class"
NAME_W, BENCH_W, MARK_W = 16, 14, 3
ASKS = {
    "add": "builder file, bench file, journal (the last two may be left out); ; between people",
    "kits": "kits, ; between them",
    "write": "file to write: .txt the list, .csv a row per person and kit",
}


@dataclass(frozen=True)
class Roster:
    """Who and what is in the class, as typed: "builder,bench,journal", and kits."""

    people: tuple[str, ...]
    kits: tuple[str, ...]

    @classmethod
    def kept(cls) -> Roster | None:
        """The class of before, if there is one."""
        found = settings.remembered().get(KEPT_AS)
        if not isinstance(found, dict):
            return None
        people, kits = _texts(found.get("people")), _texts(found.get("kits"))
        return cls(people, kits) if people and kits else None

    def keep(self) -> None:
        values = {"people": list(self.people), "kits": list(self.kits)}
        settings.remember({KEPT_AS: values})


def _texts(found: Any) -> tuple[str, ...]:
    return tuple(t for t in found if isinstance(t, str)) if isinstance(found, list) else ()


class Planned(Message):
    """How far it is; at its end the plan, or why there is none."""

    def __init__(
        self,
        of: Roster,
        share: float,
        *,
        plan: ClassPlan | None = None,
        asked: Question | None = None,
        error: str = "",
    ) -> None:
        super().__init__()
        self.of, self.share = of, share
        self.plan, self.asked, self.error = plan, asked, error


class ClassScreen(Steady, Screen[None]):
    """A row for each person, a mark for each kit; the row in hand is told below."""

    DEFAULT_CSS = styles_of(__file__)
    HELP = """\
Each row is a person with their bench, each column a kit, each mark the verdict that assess
gives: yes, too close to call, no, not with these tools. Below stands the row in hand, with
the practice that would be enough, then what to buy once for all.

a adds people, each as builder file, bench file, journal with commas between; d takes the
one in hand out; k says which kits; w writes a list to print or rows for a spreadsheet."""
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("a", "ask('add')", "Add people"),
        Binding("d", "drop", "Take out"),
        Binding("k", "ask('kits')", "Kits"),
        Binding("w", "ask('write')", "Write"),
        Binding("question_mark", "app.help", "Help", key_display="?"),
        Binding("escape", "leave", "Back"),
    ]
    app: Program

    def __init__(self) -> None:
        super().__init__()
        self._roster = Roster((), ())
        self._plan: ClassPlan | None = None
        self._of: Question | None = None
        self._share = 0.0
        self._says, self._asks = "", ""

    def compose(self) -> ComposeResult:
        yield Static(id="class-top", markup=False)
        yield Static(id="class-head", markup=False)
        yield Lines(id="class-rows", markup=False)
        yield VerticalScroll(Static(id="class-text", markup=False), id="class-more")
        yield Static(id="class-says", markup=False)
        yield Input(id="class-input", max_length=4000, select_on_focus=False)
        yield KeyLine()

    def on_mount(self) -> None:
        self.query_one("#class-input").display = False
        inputs = self.app.inputs
        me = f"{_fixed(inputs.builder)},{_fixed(inputs.bench)},{inputs.journal or ''}"
        kept = Roster.kept() if self.app.remembers else None
        self._begin(kept or Roster((me.rstrip(","),), (_fixed(inputs.kit),)))
        self.set_focus(self.query_one("#class-rows"))

    # Working it out

    def _begin(self, roster: Roster) -> None:
        if self.app.remembers and self._roster.people and roster != self._roster:
            roster.keep()
        self._roster, self._plan, self._share, self._says = roster, None, 0.0, ""
        self.run_worker(lambda: self._work(roster), thread=True, exclusive=True, group="class")
        self._tell()

    def _work(self, roster: Roster) -> None:
        worker = get_current_worker()

        def stopped() -> bool:
            return worker.is_cancelled or self.app.leaving

        def tell(share: float, _: str) -> None:
            self.post_message(Planned(roster, share))

        try:
            message = self._planned(roster, Run(now_and_then(tell, stopped), stopped))
        except Stopped:
            return
        except Exception as problem:
            message = Planned(roster, 1.0, error="; ".join(told(problem)))
        if not stopped():
            self.post_message(message)

    def _planned(self, roster: Roster, run: Run) -> Planned:
        from solderrisk.journal.classroom import person_of

        inputs, reference = self.app.inputs, load_reference()
        library = load_library(inputs.libraries)
        kits = [load_kit(kit, library) for kit in roster.kits]
        people = [person_of(*load_person(each, inputs.bench), reference) for each in roster.people]
        first = people[0]
        asked = Question(
            kits[0], first.bench, first.builder, library, reference, target=inputs.target
        )
        plan = self.app.session.class_plan(people, kits, asked, run)
        return Planned(roster, 1.0, plan=plan, asked=asked)

    def on_planned(self, message: Planned) -> None:
        if message.of is not self._roster:
            return
        self._share, self._says = message.share, message.error
        if message.plan is not None:
            self._plan, self._of = message.plan, message.asked
        self._tell()

    # What is shown

    def _tell(self) -> None:
        roster = self._roster
        what = f"{counted(len(roster.people), 'builder')}, {counted(len(roster.kits), 'kit')}"
        busy = "" if self._plan or self._says else f"  working it out, {self._share:.0%} …"
        self.query_one("#class-top", Static).update(
            Content.assemble(("Class: ", "bold"), (what, "bold"), (busy, "$accent"))
        )
        head = f"  {'builder':{NAME_W}}{'bench':{BENCH_W}}"
        head += "".join(f"{n:>{MARK_W}}" for n in range(1, len(roster.kits) + 1))
        self.query_one("#class-head", Static).update(Content.styled(head, "$quiet"))
        rows = self.query_one("#class-rows", OptionList)
        at = rows.highlighted
        rows.clear_options()
        rows.add_options([Option(line) for line in self._rows()])
        rows.highlighted = min(at or 0, len(roster.people) - 1)
        self._detail()
        self.query_one("#class-says", Static).update(
            Content.styled(f"✖ {one_line(self._says, 300)}" if self._says else "", "$error")
        )

    def _rows(self) -> Sequence[Content]:
        if self._plan is None:
            return [Content(f"  {_short(each)}") for each in self._roster.people]
        by_person: dict[str, list[Any]] = {}
        for place in self._plan.places:
            by_person.setdefault(place.person, []).append(place)
        return [
            Content(
                f"  {one_line(name, NAME_W - 1):{NAME_W}}"
                f"{one_line(places[0].bench, BENCH_W - 1):{BENCH_W}}"
                + "".join(f"{mark(place.judgement):>{MARK_W}}" for place in places)
            )
            for name, places in by_person.items()
        ]

    def on_option_list_option_highlighted(self) -> None:
        self._detail()

    def _detail(self) -> None:
        plan, asked = self._plan, self._of
        text = Content("")
        if plan is not None and asked is not None:
            names = list(dict.fromkeys(place.person for place in plan.places))
            person = names[min(self._at, len(names) - 1)]
            mine = [place for place in plan.places if place.person == person]
            lines = [
                f"{n} {one_line(place_line(place, asked.reference), 300)}"
                for n, place in enumerate(mine, 1)
            ]
            if plan.unread[person]:
                lines.append(f"to read first where it applies: {unread(plan, person)}")
            bought = [one_line(line, 300) for line in purchase_lines(plan, asked.kit.currency)]
            text = Content.assemble(
                (f"{one_line(person, 60)}\n", "bold"), "\n".join(lines) + "\n\n",
                (f"{bought[0]}\n", "bold"), "\n".join(bought[1:]) + "\n\n", (MARK_WORDS, "$quiet"),
            )  # fmt: skip
        self.query_one("#class-text", Static).update(text)

    @property
    def _at(self) -> int:
        return self.query_one("#class-rows", OptionList).highlighted or 0

    # Keys

    def action_drop(self) -> None:
        people = list(self._roster.people)
        if len(people) < 2:
            self._says = "somebody has to stay; add another first"
            self._tell()
            return
        del people[self._at]
        self._begin(Roster(tuple(people), self._roster.kits))

    def action_ask(self, what: str) -> None:
        first = {"add": "", "kits": "; ".join(self._roster.kits), "write": "class.txt"}
        self._asks = what
        field = self.query_one("#class-input", Input)
        field.placeholder, field.value = ASKS[what], first[what]
        field.display = True
        field.action_end()
        self.set_focus(field)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        parts = [part.strip() for part in event.value.split(";") if part.strip()]
        if parts:
            try:
                self._take(parts)
            except UserProblem as problem:
                # What was typed stays, to be put right.
                self._says = "; ".join(told(problem))
                self._tell()
                return
        self._close_input()

    def _take(self, parts: Sequence[str]) -> None:
        roster, inputs = self._roster, self.app.inputs
        if self._asks == "add":
            for part in parts:
                load_person(part, inputs.bench)
            new = [",".join(map(_fixed, part.split(","))) for part in parts]
            self._begin(Roster((*roster.people, *new), roster.kits))
        elif self._asks == "kits":
            library = load_library(inputs.libraries)
            for part in parts:
                load_kit(part, library)
            self._begin(Roster(roster.people, tuple(map(_fixed, parts))))
        else:
            self._write(Path(parts[0]).expanduser())

    def _write(self, path: Path) -> None:
        from solderrisk.files.text import write_new

        if self._plan is None or self._of is None:
            raise UserProblem("it is still being worked out")
        match path.suffix.lower():
            case ".csv":
                write_new(path, class_csv(self._plan))
            case ".txt":
                write_new(path, class_text(self._plan, self._of) + "\n")
            case _:
                raise UserProblem("the name has to end in .txt or .csv")
        self.app.notify(f"wrote {path}", markup=False)

    def _close_input(self) -> None:
        self.query_one("#class-input").display = False
        self.set_focus(self.query_one("#class-rows"))

    def action_leave(self) -> None:
        if self.query_one("#class-input").display:
            self._says = "" if self._plan else self._says
            self._close_input()
            self._tell()
        else:
            self.dismiss()


def _fixed(given: str | Path) -> str:
    """A file's whole path, so that the class is found again from any folder; else as typed."""
    text = str(given).strip()
    path = Path(text).expanduser()
    return str(path.resolve()) if text and path.is_file() else text


def _short(person: str) -> str:
    return one_line(Path(person.split(",")[0]).name, 60)

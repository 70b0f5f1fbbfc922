"""Commands about files: drafting a kit, schemas, footprints, completion, and setup, which asks
in a minute who one is and what is on the bench, and keeps it."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from solderrisk.arguments import parser
from solderrisk.console import fail, flush, note, put
from solderrisk.files import settings
from solderrisk.files.reference import load_reference
from solderrisk.files.settings import (
    GUIDED_QUESTION,
    LENS_QUESTION,
    as_yaml,
    own_bench,
    own_builder,
)
from solderrisk.folders import settings_off
from solderrisk.model.bench import LEVELS, Bench, Builder
from solderrisk.model.question import Reference
from solderrisk.words import LEVEL_WORDS, beside

if TYPE_CHECKING:
    from solderrisk.model.library import Library
    from solderrisk.model.risk_data import Skill

OK = 0
Ask = Callable[[str], str]
SOLDERS = dict(zip("12", settings.ALLOYS, strict=True))


def setup(args: argparse.Namespace) -> int:
    """Asks, and keeps two files; without a terminal it tells where they would lie."""
    if settings_off():
        return fail(f"settings are turned off by {settings.OFF}")
    if not all(stream is not None and stream.isatty() for stream in (sys.stdin, sys.stderr)):
        return fail(
            f"setup asks questions and needs a terminal; the files lie in {settings.folder()}"
        )
    reference = load_reference()
    builder = ask_builder(_ask, reference)
    bench = ask_bench(_ask, reference)
    for name, value in (("builder", builder), ("bench", bench)):
        path = settings.keep(name, as_yaml(value))
        note(f"wrote {path}")
        if path.stem != name:
            note(
                f"your {name}.yaml was changed by hand and stays; move the new one there to use it"
            )
    return 0


def _ask(question: str) -> str:
    print(question, end=" ", file=sys.stderr, flush=True)
    line = sys.stdin.readline()
    if not line:
        raise KeyboardInterrupt
    return line.strip()


def ask_builder(ask: Ask, reference: Reference) -> Builder:
    """What has been done, skill by skill, how the eyes are, and who is near. An empty answer
    says never, or no."""
    choices = ", ".join(f"{n} {LEVEL_WORDS[level]}" for n, level in enumerate(LEVELS))
    ask(f"What have you done so far? Answer with a number: {choices}. Enter goes on.")
    done = {
        skill.id: LEVELS[_number(ask, _pictured(skill), len(LEVELS) - 1)]
        for skill in reference.risk.levels.skills
    }
    needs_lens = _yes(ask, f"{LENS_QUESTION} (y/n)")
    guided = _yes(ask, f"{GUIDED_QUESTION} (y/n)")
    return own_builder(done, needs_lens, guided, _currency(ask))


def _pictured(skill: Skill) -> str:
    rows = beside(skill.picture, (f"  {skill.title}", f"  {skill.means}"))
    return "\n".join((*rows, "  (0-4):"))


def _currency(ask: Ask) -> str:
    while True:
        answer = ask("Your currency, three letters (Enter for EUR):").upper() or "EUR"
        if len(answer) == 3 and answer.isascii() and answer.isalpha():
            return answer


def ask_bench(ask: Ask, reference: Reference) -> Bench:
    """What is at hand, ticked in a common list."""
    tools = reference.plan.tools
    listed = "\n".join(f"  {n:2d} {tool.title}" for n, tool in enumerate(tools, 1))
    while True:
        answer = ask(f"What is on your bench?\n{listed}\nNumbers, like 1 4 7-9; Enter for none:")
        ticked = _ticked(answer, len(tools))
        if ticked is not None:
            break
    alloy = ""
    while alloy not in SOLDERS:
        alloy = ask("Solder wire: 1 with lead (Sn63Pb37), 2 without (SAC305):") or "1"
    return own_bench([tools[n - 1] for n in ticked], SOLDERS[alloy])


def _number(ask: Ask, question: str, most: int) -> int:
    while True:
        answer = ask(question) or "0"
        if answer.isascii() and answer.isdecimal() and int(answer) <= most:
            return int(answer)


def _yes(ask: Ask, question: str) -> bool:
    while True:
        answer = ask(question).casefold()
        if answer[:1] in ("y", "n", ""):
            return answer[:1] == "y"


def _ticked(answer: str, most: int) -> Sequence[int] | None:
    """Numbers of a list; None where it is none."""
    found: list[int] = []
    for item in answer.replace(",", " ").split():
        first, dash, last = item.partition("-")
        if not (first.isdecimal() and (not dash or last.isdecimal())):
            return None
        found += range(int(first), int(last or first) + 1)
    return sorted(set(found)) if all(1 <= n <= most for n in found) else None


def draft(args: argparse.Namespace) -> int:
    from solderrisk.draft.drafting import draft_command

    status = draft_command(
        args.sources, args.out, args.library, as_data=args.json, force=args.force
    )
    flush()
    return status


def schema(args: argparse.Namespace) -> int:
    import json

    if args.kind == "report":
        from solderrisk.report.shape import json_schema as of_report

        made = of_report()
    elif args.kind == "journal":
        from solderrisk.journal.events import json_schema as of_journal

        made = of_journal()
    else:
        from solderrisk.files.loading import json_schema as of_file

        made = of_file(args.kind)
    put(json.dumps(made, indent=2))
    return OK


def footprints(args: argparse.Namespace) -> int:
    from solderrisk.files.loading import load_library
    from solderrisk.report.to_scale import footprint_card, footprint_svg, found_text

    library = load_library(args.library)
    if args.new is not None:
        return _new_footprint(args, library)
    words = " ".join(args.find)
    named, search = library.get(words), library.search(words)
    if named is None and not search.found:
        near = f"; near: {', '.join(search.near)}" if search.near else ""
        return fail(f"no footprint is found by {words!r}{near}; solderrisk footprints --new NAME")
    only = named or (search.found[0] if len(search.found) == 1 and not search.left_out else None)
    if args.json:
        import json

        found = [only] if only else search.found
        parts = [part.model_dump(mode="json", exclude_defaults=True) for part in found]
        put(json.dumps({"format": 1, "footprints": parts}, indent=2))
    else:
        put(footprint_card(only, search.found) if only else found_text(search))
    if args.svg is not None:
        if only is None:
            return fail("--svg needs the name of one footprint")
        from solderrisk.files.text import write_new

        write_new(args.svg, footprint_svg(only))
        note(f"wrote {args.svg}")
    return OK


def _new_footprint(args: argparse.Namespace, library: Library) -> int:
    from solderrisk.draft import answers as asked
    from solderrisk.files.text import write_new
    from solderrisk.report.to_scale import footprint_card

    if args.out is None:
        return fail("--new needs -o FILE.yaml, the file to write")
    if args.drawing is not None:
        text, made = asked.part_from_drawing(args.new, args.drawing, library, args.out)
    else:
        given = {key: getattr(args, key.replace("-", "_")) for key in asked.QUESTIONS}
        answers = asked.answered(given, asked.ask if sys.stdin.isatty() else None)
        text, made = asked.part_from_answers(args.new, answers, library, args.out)
    write_new(args.out, text)
    put(footprint_card(made))
    note(f"wrote {args.out}; use it with --library {args.out}")
    return OK


def completion(args: argparse.Namespace) -> int:
    import shtab

    put(shtab.complete(parser(), shell=args.shell))
    return OK


COMMANDS: dict[str, Callable[[argparse.Namespace], int]] = {
    "draft": draft,
    "schema": schema,
    "footprints": footprints,
    "setup": setup,
    "completion": completion,
}

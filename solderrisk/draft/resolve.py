"""From what was found to placements, lines and open questions."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from solderrisk.draft.lookup import (
    ASK_EACH,
    Looked,
    choice_text,
    look_up,
    settled,
    what_of,
)
from solderrisk.draft.placements import (
    Result,
    boards_of,
    not_soldered,
    own_footprints,
    placements_of,
)
from solderrisk.model.draft import LEAVE_OUT, Draft, DraftLine, Found, OpenCount, Part, Question
from solderrisk.model.library import Library
from solderrisk.packages.kinds import guess_package, said_mount
from solderrisk.packages.match import by_name, match
from solderrisk.packages.names import read_package
from solderrisk.packages.reading import Hint, tidy

UNLISTED = "on the board, not in the parts list"
FIT_UNLISTED = "fit them too"
AS_REFERENCES = "as the references say"
FEWEST_NAMED = 3
MOST_FOUND = 12
MOST_SEARCHED = 60
MOSTLY = 0.8
MAX_NEAR = 60  # letters of a line that are looked up


def resolve(found: Found, library: Library, answers: Mapping[str, str] | None = None) -> Draft:
    """Look every package up and give the draft; ``answers`` are question id to choice."""
    base, library = library, library.with_front(found.footprints)
    asked = _Asked(dict(answers or {}), library)
    results = _results(found, asked)
    results = _with_counts(found.counts, results, asked)
    boards = boards_of(found, results)
    placements, comments = placements_of(results, boards, library)
    return Draft(
        name=found.name,
        boards=boards,
        footprints=own_footprints(results, found),
        placements=placements,
        lines=tuple(
            DraftLine(
                r.part.ref,
                what_of(r.part),
                r.state,
                r.from_what,
                r.footprint.name if r.footprint else None,
                r.part.source,
            )
            for r in results
        ),
        questions=asked.questions(),
        notes=found.notes,
        answers=tuple(asked.answers.items()),
        comments=comments,
        found=found,
        library=base,
    )


@dataclass
class _Asked:
    """Answers given, and questions asked so far with the references that each is about."""

    answers: dict[str, str]
    library: Library
    open: dict[str, Question] = field(default_factory=dict)
    refs: dict[str, list[str]] = field(default_factory=lambda: defaultdict(list))

    def ask(self, question: Question, *refs: str) -> str:
        """Note the question; give its answer, '' where there is none."""
        self.open.setdefault(question.id, question)
        self.refs[question.id].extend(refs)
        return self.answers.get(question.id, "")

    def offer(self, question: Question, text: str) -> None:
        """Put what the library has under words of a person before the choices."""
        found = self.library.search(text[:200]).found[:MOST_FOUND]
        held = self.open[question.id]
        choices = tuple(dict.fromkeys((*(f.name for f in found), *held.choices)))
        self.open[question.id] = replace(held, choices=choices)

    def questions(self) -> tuple[Question, ...]:
        return tuple(replace(q, refs=tuple(self.refs[q.id])) for q in self.open.values())


def _results(found: Found, asked: _Asked) -> list[Result]:
    through = _mount_of(found.parts)
    looked: list[Looked] = []
    for part in found.parts:
        why = part.ignored or not_soldered(part)
        looked.append(
            Looked(Result(part, "ignored", why))
            if why
            else look_up(replace(part, unlisted=False), asked.library, through)
        )
    grouped = _groups([each for each, part in zip(looked, found.parts, strict=True)], asked)
    return [
        _unlisted(part, each, asked)
        if part.unlisted and each.result.state != "ignored"
        else _settled(each, asked, grouped)
        for each, part in zip(looked, found.parts, strict=True)
    ]


def near_names(part: Part, library: Library) -> tuple[str, ...]:
    """Definitions that the line's words find, else names that look like the package; at most
    three."""
    for said in (part.package, part.device, part.description, part.value):
        if 2 < len(said) <= MAX_NEAR:
            search = library.search(tidy(said))
            if search.found and not search.left_out:
                return tuple(footprint.name for footprint in search.found[:3])
    return library.close_to(tidy(part.package)) if 2 < len(part.package) <= MAX_NEAR else ()


def answered(part: Part, library: Library, choice: str, before: Result) -> Result | None:
    """The part as a person says; None where the answer is no footprint."""
    if choice == LEAVE_OUT:
        return Result(part, "ignored", "left out by your answer")
    named = by_name(choice, library)
    told = f"your answer: {choice}"
    if named is not None:
        return Result(part, "recognised", told, named)
    reading = read_package(choice, Hint(part.prefix))
    for option in read_package(part.package, Hint(part.prefix)).choices:
        if choice_text(option) == choice:
            reading = option
    found = match(reading, library)
    return Result(part, "recognised", told, found.footprint, found.own) if found else None


def _mount_of(parts: Iterable[Part]) -> bool | None:
    """True where nearly all packages that a list names go through the board, False where
    nearly all lie on it, None where both are common or too few are named. Words say the same of
    holes; a list that writes SMD beside some of its parts says nothing of the others."""
    open_parts = [part for part in parts if part.drawn is None]
    named = Counter(
        reading.through_hole
        for part in open_parts
        if part.package
        and (reading := read_package(part.package, part.prefix)).through_hole is not None
    )
    if not named:
        guesses = {
            part.source: _said(part) is not False and guess_package(part, Hint(part.prefix))
            for part in open_parts
        }
        told = [g.reading.through_hole for g in guesses.values() if g]
        named.update(through for through in told if through is not None)
        if 2 * named.total() < len(guesses):
            named.clear()
    found = _mostly(named)
    if found is not None or named[False]:
        return found
    said = Counter(mount for part in open_parts if (mount := _said(part)) is not None)
    return True if _mostly(named + said) else None


def _mostly(known: Counter[bool]) -> bool | None:
    total = known.total()
    if total < FEWEST_NAMED:
        return None
    share = known[True] / total
    return True if share >= MOSTLY else False if share <= 1 - MOSTLY else None


def _said(part: Part) -> bool | None:
    fields = (part.package, part.value, part.description, part.number, part.heading)
    return said_mount(tidy(" ".join(fields)))


def _groups(looked: Iterable[Looked], asked: _Asked) -> dict[str, Question]:
    """Questions that settle several lines of their own, by their id."""
    members: dict[str, set[str]] = defaultdict(set)
    groups: dict[str, Question] = {}
    for each in looked:
        if (
            each.group is not None
            and each.question is not None
            and not settled(each, asked.answers)
        ):
            members[each.group.id].add(each.question.id)
            groups.setdefault(each.group.id, each.group)
    return {
        key: question
        for key, question in groups.items()
        if key in asked.answers or len(members[key]) > 1
    }


def _settled(looked: Looked, asked: _Asked, grouped: Mapping[str, Question]) -> Result:
    result, question = looked.result, looked.question
    if question is None:
        return result
    group = grouped.get(looked.group.id) if looked.group is not None else None
    if group is not None and not settled(looked, asked.answers):
        choice = asked.ask(group, result.part.ref)
        if not choice:
            return replace(result, question=group.id)
        if choice != ASK_EACH:
            return _for_all(result, group, choice, asked)
    if question.id not in asked.open and question.default is None:
        question = _with_near(question, result.part, asked)
    choice = asked.ask(question, result.part.ref)
    if not choice:
        return replace(result, question=question.id)
    given = answered(result.part, asked.library, choice, result)
    if given is None:
        asked.offer(question, choice)
        why = f"{result.from_what}; the answer {choice!r} is not known"
        return replace(result, from_what=why, question=question.id)
    return given


def _with_near(question: Question, part: Part, asked: _Asked) -> Question:
    """The question with what the library has under the line's words before its choices. That
    takes a while each: the first questions alone have it."""
    if len(asked.open) > MOST_SEARCHED:
        return question
    near = near_names(part, asked.library)
    return replace(question, choices=tuple(dict.fromkeys((*near, *question.choices))))


def _for_all(result: Result, group: Question, choice: str, asked: _Asked) -> Result:
    """One answer for many: taken, and shown as taken."""
    given = answered(result.part, asked.library, choice, result)
    if given is None:
        asked.offer(group, choice)
        return replace(result, question=group.id)
    if given.footprint is None:
        return given
    told = f"taken as {given.footprint.name}, your answer for all of them"
    return replace(given, state="guessed", from_what=told, remark=told)


def _unlisted(part: Part, looked: Looked, asked: _Asked) -> Result:
    question = Question(
        "unlisted",
        (),
        "These stand on the board but not in the parts list. Are they fitted?",
        (FIT_UNLISTED, LEAVE_OUT),
        LEAVE_OUT,
    )
    if asked.ask(question, part.ref) != FIT_UNLISTED:
        return Result(part, "ignored", UNLISTED, question=question.id)
    return looked.result


def _with_counts(counts: Iterable[OpenCount], results: list[Result], asked: _Asked) -> list[Result]:
    """Ask where a quantity contradicts the references."""
    open_: dict[str, int] = {}
    fitted = {r.part.ref for r in results if r.footprint is not None}
    for count in counts:
        if fitted.isdisjoint(count.refs):
            continue
        by_quantity = f"as the quantity says ({count.quantity})"
        by_refs = f"{AS_REFERENCES} ({len(count.refs)})"
        text = (
            f"{count.source}: {len(count.refs)} references but quantity {count.quantity}. "
            "How many are fitted?"
        )
        question = Question(f"count:{count.source}", (), text, (by_refs, by_quantity), by_refs)
        choice = asked.ask(question, *count.refs)
        if choice == by_quantity:
            results = _by_quantity(results, count)
        elif not choice:
            open_ |= dict.fromkeys(count.refs, count.quantity)
    return [_count_open(r, open_[r.part.ref]) if r.part.ref in open_ else r for r in results]


def _count_open(r: Result, quantity: int) -> Result:
    if r.state != "recognised":
        return r
    return replace(
        r,
        state="guessed",
        from_what=f"{r.from_what}; quantity {quantity} does not match the references",
        remark="; ".join(filter(None, (r.remark, f"the list's quantity is {quantity}"))),
    )


def _by_quantity(results: list[Result], count: OpenCount) -> list[Result]:
    kept = set(count.refs[: count.quantity])
    out = []
    for r in results:
        if r.part.ref in count.refs and r.part.ref not in kept:
            out.append(
                replace(r, state="ignored", from_what="left out by your answer", footprint=None)
            )
        else:
            out.append(r)
        if r.part.ref == count.refs[-1] and count.quantity > len(count.refs):
            extra = count.quantity - len(count.refs)
            out.extend(
                replace(r, part=replace(r.part, ref=f"{r.part.ref}_{i + 2}")) for i in range(extra)
            )
    return out

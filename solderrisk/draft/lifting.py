"""Parts of a draft that come off a donor board: a person says which."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from solderrisk.model.draft import Draft, Lifted
from solderrisk.model.kit import Donor
from solderrisk.model.problems import UserProblem
from solderrisk.model.refs import expand_refs

MOST_TOLD = 5


def refs_of(draft: Draft, text: str) -> tuple[str, ...]:
    """The references that a list like 'U1, R1-R4' names, in any case.

    Raises:
        UserProblem: it is no list, or the draft has no such part.
    """
    known = {line.ref.upper(): line for line in draft.lines if line.ref}
    try:
        asked = expand_refs(text.strip().upper())
    except ValueError as error:
        raise UserProblem(str(error)) from None
    missing = [ref for ref in asked if ref not in known]
    if missing:
        raise UserProblem(f"the draft has no {_some(missing)}")
    left_out = [ref for ref in asked if known[ref].state == "ignored"]
    if left_out:
        raise UserProblem(f"the draft leaves out {_some(left_out)}")
    return tuple(known[ref].ref for ref in asked)


def _some(refs: Sequence[str]) -> str:
    return ", ".join(refs[:MOST_TOLD]) + (" ..." if len(refs) > MOST_TOLD else "")


def lift(
    draft: Draft, refs: Sequence[str], donor: Donor, *, irreplaceable: bool, spares: int = 0
) -> Draft:
    """The draft with these parts coming off the donor, in whatever way they came before.

    Raises:
        UserProblem: a board that is populated is called like the donor.
    """
    if donor.name in {board.name for board in draft.boards}:
        raise UserProblem(f"{donor.name} is the board to be populated; call the old one otherwise")
    rest = new(draft, refs)
    lifted = (*rest.lifted, *(Lifted(ref, donor.name, irreplaceable, spares) for ref in refs))
    donors = (*(d for d in rest.donors if d.name != donor.name), donor)
    return replace(rest, lifted=lifted, donors=donors)


def new(draft: Draft, refs: Sequence[str]) -> Draft:
    """The draft with these parts new again; a donor that nothing comes off is forgotten."""
    lifted = tuple(part for part in draft.lifted if part.ref not in refs)
    used = {part.donor for part in lifted}
    return replace(draft, lifted=lifted, donors=tuple(d for d in draft.donors if d.name in used))


def carried(made: Draft, before: Draft) -> Draft:
    """A draft resolved anew, with what was said of donors; parts that are gone are left out."""
    there = {line.ref for line in made.lines}
    whole = replace(made, donors=before.donors, lifted=before.lifted)
    return new(whole, [part.ref for part in before.lifted if part.ref not in there])

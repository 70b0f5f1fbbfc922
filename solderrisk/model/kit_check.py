"""Checks of a kit as a whole: names, places, rules."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from difflib import get_close_matches

from solderrisk.model.base import KitProblem
from solderrisk.model.bench import Bench, Builder
from solderrisk.model.footprint import Footprint
from solderrisk.model.jobs import lift_refs, placement_refs
from solderrisk.model.kit import ONE_SIDED, Board, Kit, Lift, Placement, PlaneLink
from solderrisk.model.lands import definition_faults
from solderrisk.model.library import Library, name_key
from solderrisk.model.problems import Loc
from solderrisk.model.selectors import KIND_WORDS, JobHead, order_problems


@dataclass(frozen=True)
class KnownNames:
    """Names that files may use. An empty collection leaves its kind unchecked."""

    alloys: Collection[str] = ()
    techniques: Collection[str] = ()
    skills: Collection[str] = ()
    notes: Collection[str] = ()
    aids: Collection[str] = ()
    modes: Collection[str] = ()
    today: str = ""  # records of a later day are refused


def alloy_key(name: str) -> str:
    """Alloys compare without case, spaces and hyphens."""
    return name.casefold().replace(" ", "").replace("-", "")


def bench_problems(bench: Bench, known: KnownNames) -> list[KitProblem]:
    """Alloys of solders and removal alloys, and aids, that nobody knows."""
    named: list[tuple[Loc, str]] = [
        (("solders", index, "alloy"), solder.alloy) for index, solder in enumerate(bench.solders)
    ]
    named += [(("removal_alloys", i), name) for i, name in enumerate(bench.removal_alloys)]
    keys = {alloy_key(name) for name in known.alloys}
    problems = [
        unknown(loc, "alloy", name, known.alloys)
        for loc, name in named
        if keys and alloy_key(name) not in keys
    ]
    return problems + [
        unknown(("aids", index), "aid", name, known.aids)
        for index, name in enumerate(bench.aids)
        if known.aids and name not in known.aids
    ]


def builder_problems(
    builder: Builder, known: KnownNames, as_of: str | None = None
) -> list[KitProblem]:
    """Skills and notes that nobody knows, a skill with two levels, impossible records."""
    problems: list[KitProblem] = []
    seen: set[str] = set()
    for index, entry in enumerate(builder.skills):
        loc: Loc = ("skills", index, "skill")
        if known.skills and entry.skill not in known.skills:
            problems.append(unknown(loc, "skill", entry.skill, known.skills))
        elif entry.skill in seen:
            problems.append(KitProblem(loc, f"skill {entry.skill!r} has two levels; keep one"))
        seen.add(entry.skill)
    for index, record in enumerate(builder.records):
        loc = ("records", index, "skill")
        if known.skills and record.skill not in known.skills:
            problems.append(unknown(loc, "skill", record.skill, known.skills))
        if record.faults > record.joints:
            message = f"{record.faults} faults in {record.joints} joints; at most one a joint"
            problems.append(KitProblem(("records", index, "faults"), message))
        if known.today and record.date is not None and record.date > known.today:
            message = f"{record.date} is still to come; records tell what was done"
            problems.append(KitProblem(("records", index, "date"), message))
        elif as_of is not None and record.date is not None and record.date > as_of:
            message = f"{record.date} is after --as-of {as_of}; give {record.date} or a later day"
            problems.append(KitProblem(("records", index, "date"), message))
        loc = ("records", index, "technique")
        if known.techniques and record.technique not in (None, *known.techniques):
            problems.append(unknown(loc, "technique", str(record.technique), known.techniques))
        for place, each in enumerate(record.modes):
            loc = ("records", index, "modes", place, "mode")
            if known.modes and each.mode not in known.modes:
                problems.append(unknown(loc, "kind of fault", each.mode, known.modes))
    for index, note in enumerate(builder.acknowledged):
        if known.notes and note not in known.notes:
            problems.append(unknown(("acknowledged", index), "safety note", note, known.notes))
    return problems


def unknown(loc: Loc, what: str, name: str, known: Collection[str]) -> KitProblem:
    """An unknown name with the nearest known one, or some of those there are."""
    near = get_close_matches(name[:60], list(known), n=1, cutoff=0.6)
    names = list(known)
    some = f"allowed: {', '.join(names[:12])}{', ...' if len(names) > 12 else ''}"
    hint = f"did you mean {near[0]!r}?" if near else some
    return KitProblem(loc, f"unknown {what} {name!r}; {hint}")


MAX_JOBS = 20_000
MAX_HINTS = 40


def kit_problems(
    kit: Kit,
    library: Library,
    *,
    alloys: Collection[str] | None = None,
    techniques: Collection[str] | None = None,
) -> list[KitProblem]:
    """Every fault between the parts of a kit, in no special order.

    ``alloys`` and ``techniques`` are the known names; None leaves them unchecked.
    """
    check = _Check(kit, library.with_front(kit.footprints), alloys, techniques)
    check.names()
    check.placements()
    check.lifts()
    check.rest()
    if not check.refs_fail:
        check.found.extend(order_problems(kit, check.heads))
    return check.found


@dataclass
class _Check:
    kit: Kit
    library: Library
    alloys: Collection[str] | None
    techniques: Collection[str] | None
    found: list[KitProblem] = field(default_factory=list)
    heads: list[JobHead] = field(default_factory=list)
    hints: int = 0
    too_many: bool = False
    refs_fail: bool = False  # references are missing, so the order would be told amiss

    def __post_init__(self) -> None:
        self.boards = {board.name: board for board in self.kit.boards}
        self.donors = {donor.name: donor for donor in self.kit.donors}
        self.fitted: dict[str, Placement] = {}
        self.refs_of: list[tuple[str, ...]] = []
        self.alloy_keys = {alloy_key(name) for name in self.alloys or ()}

    def add(self, loc: Loc, message: str) -> None:
        self.found.append(KitProblem(loc, message))

    def names(self) -> None:
        kit = self.kit
        self._once("boards", [board.name for board in kit.boards], "board")
        self._once("donors", [donor.name for donor in kit.donors], "donor")
        keys = [name_key(footprint.name) for footprint in kit.footprints]
        self._once("footprints", keys, "footprint")
        for index, footprint in enumerate(kit.footprints):
            # Single centres come from drawings: boards are made with such lands all the same.
            if not any(group.layout == "explicit" for group in footprint.pads):
                for loc, message in definition_faults(footprint):
                    self.add(("footprints", index, *loc), f"{footprint.name}: {message}")
        self._alloy(("alloy",), kit.alloy)
        for index, board in enumerate(kit.boards):
            self._alloy(("boards", index, "alloy"), board.alloy)
        for index, donor in enumerate(kit.donors):
            self._alloy(("donors", index, "board", "alloy"), donor.board.alloy)
        if not (kit.placements or kit.lifts or kit.wires):
            self.add((), "nothing to solder; add placements, lifts or wires")

    def placements(self) -> None:
        for index, placement in enumerate(self.kit.placements):
            loc: Loc = ("placements", index)
            refs = self._refs(loc, placement)
            self.refs_of.append(refs)
            board = self._board((*loc, "board"), placement.board)
            if placement.donor is not None:
                self._donor((*loc, "donor"), placement.donor)
            footprint = self._footprint((*loc, "footprint"), placement.footprint)
            self._technique((*loc, "technique"), placement.technique)
            self._links(loc, placement.links, footprint, board)
            self._joined(loc, placement, footprint)
            self._positions(loc, placement, refs)

    def _joined(self, loc: Loc, placement: Placement, footprint: Footprint | None) -> None:
        lands = footprint.joint_count if footprint is not None else 0
        for index, numbers in enumerate(placement.joined):
            for number in numbers if lands else ():
                if not 1 <= number <= lands:
                    place = (*loc, "joined", index)
                    self.add(place, f"no land {number}; {placement.footprint} has {lands}")

    def lifts(self) -> None:
        fed: set[str] = set()
        for index, lift in enumerate(self.kit.lifts):
            loc: Loc = ("lifts", index)
            board = self._donor((*loc, "donor"), lift.donor)
            footprint = self._footprint((*loc, "footprint"), lift.footprint)
            self._technique((*loc, "technique"), lift.technique)
            self._links(loc, lift.links, footprint, board)
            self._becomes(loc, lift, footprint)
            if lift.becomes:
                fed.add(lift.becomes)
            feeds = f"fit:{lift.becomes}" if lift.becomes else None
            for ref in self._lift_refs(loc, lift):
                name = "refs" if lift.ref is None else "ref"
                self._job("lift", ref, (*loc, name), f"donor:{lift.donor}", feeds)
        for index, placement in enumerate(self.kit.placements):
            for ref in self.refs_of[index] if placement.donor else ():
                if ref not in fed:
                    place = f"donor:{placement.donor}"
                    self._job("lift", ref, ("placements", index, "donor"), place, f"fit:{ref}")

    def rest(self) -> None:
        kit = self.kit
        for index, wire in enumerate(kit.wires):
            loc: Loc = ("wires", index)
            self._board((*loc, "board"), wire.board)
            self._footprint((*loc, "footprint"), wire.footprint)
            self._job("wire", wire.ref, (*loc, "ref"), wire.board)
        for index, task in enumerate(kit.tasks):
            self._job("task", task.ref, ("tasks", index, "ref"))
        for index, gate in enumerate(kit.gates):
            self._job("gate", gate.ref, ("gates", index, "ref"))
        self._twice()
        steps = [step.ref for _, each in kit.steps() for step in each]
        for index, extra in enumerate(kit.extras):
            if extra.committed_by is not None and extra.committed_by not in steps:
                self._unknown(
                    ("extras", index, "committed_by"), "task or gate", extra.committed_by, steps
                )
        places = [*self.boards, *self.donors, *(d.board.name for d in kit.donors)]
        for index, plastic in enumerate(kit.plastics):
            if plastic.board.removeprefix("donor:") not in places:
                self._unknown(("plastics", index, "board"), "board or donor", plastic.board, places)

    def _lift_refs(self, loc: Loc, lift: Lift) -> tuple[str, ...]:
        try:
            return lift_refs(lift)
        except ValueError as error:
            self.add((*loc, "refs"), str(error))
            self.refs_fail = True
            return ()

    def _refs(self, loc: Loc, placement: Placement) -> tuple[str, ...]:
        try:
            refs = placement_refs(placement)
        except ValueError as error:
            self.add((*loc, "refs"), str(error))
            self.refs_fail = True
            return ()
        if len(self.heads) + len(refs) > MAX_JOBS:
            if not self.too_many:
                self.add((*loc, "refs"), f"more than {MAX_JOBS} placements; split the kit")
            self.too_many = self.refs_fail = True
            return ()
        for ref in refs:
            self.fitted.setdefault(ref, placement)
            self._job("fit", ref, (*loc, "refs"), placement.board)
        return refs

    def _job(
        self, kind: str, ref: str, loc: Loc, place: str = "", feeds: str | None = None
    ) -> None:
        self.heads.append(JobHead(f"{kind}:{ref}", ref, kind, place, loc, feeds))
        if ref in KIND_WORDS or any(mark in ref for mark in ",;:"):
            self.add(loc, f"reference {ref!r} means something in selectors; choose another")

    def _twice(self) -> None:
        """References are unique over the kit; a lift may share its donor's one with a fit."""
        first: dict[str, JobHead] = {}
        lifted: dict[str, JobHead] = {}
        for head in self.heads:
            table = lifted if head.kind == "lift" else first
            other = table.setdefault(head.ref, head)
            if other is head and head.kind in ("lift", "task", "gate", "wire"):
                across = (first if head.kind == "lift" else lifted).get(head.ref, head)
                other = head if "fit" in (head.kind, across.kind) else across
            if other is not head:
                where = f"{other.loc[0]}[{other.loc[1]}]"
                self.add(head.loc, f"reference {head.ref!r} is taken by {where}; rename one")

    def _positions(self, loc: Loc, placement: Placement, refs: tuple[str, ...]) -> None:
        seen: set[str] = set()
        for index, position in enumerate(placement.positions):
            place = (*loc, "positions", index, "ref")
            if position.ref in seen:
                self.add(place, f"{position.ref} has two positions; keep one")
            elif refs and position.ref not in refs:
                message = f"{position.ref!r} is not among the references {placement.refs[:60]!r}"
                self.add(place, f"{message}{self._near(position.ref, refs)}")
            seen.add(position.ref)

    def _becomes(self, loc: Loc, lift: Lift, footprint: Footprint | None) -> None:
        if lift.becomes is None:
            return
        placement = self.fitted.get(lift.becomes)
        if placement is None:
            self._unknown((*loc, "becomes"), "placement", lift.becomes, self.fitted)
            return
        if placement.donor is not None and placement.donor != lift.donor:
            message = f"{lift.becomes} is lifted from {placement.donor!r}, not {lift.donor!r}"
            self.add((*loc, "donor"), f"{message}; name one donor")
        wanted = self.library.get(placement.footprint)
        if footprint is not None and wanted is not None and wanted.name != footprint.name:
            message = f"{footprint.name} cannot become {lift.becomes}, which is {wanted.name}"
            self.add((*loc, "footprint"), f"{message}; use one footprint")

    def _links(
        self,
        loc: Loc,
        links: Iterable[PlaneLink],
        footprint: Footprint | None,
        board: Board | None,
    ) -> None:
        for index, link in enumerate(links):
            place = (*loc, "links", index)
            groups = [group.name for group in footprint.pads] if footprint is not None else []
            if footprint is not None and link.group not in ("*", *groups):
                self._unknown(
                    (*place, "group"), f"pad group of {footprint.name}", link.group, groups
                )
            if board is not None and board.material in ONE_SIDED and link.planes:
                message = f"{board.material} boards have no plane layers"
                self.add((*place, "planes"), f"{message}; write planes: 0")
            elif board is not None and link.planes > board.copper_layers:
                message = f"{link.planes} planes, but {board.name} has {board.copper_layers}"
                self.add((*place, "planes"), f"{message} copper layers; at most that many")
            elif footprint is not None and link.group == "*" and link.planes:
                self._star(place, footprint)

    def _star(self, loc: Loc, footprint: Footprint) -> None:
        """A link for every tied group has to find one, or the footprint's only pad."""
        if footprint.joint_count > 1 and not any(group.tied for group in footprint.pads):
            names = " or ".join(f"group: {group.name}" for group in footprint.pads[:4])
            message = f"no pad group of {footprint.name} is tied to planes, so the link is lost"
            self.add(loc, f"{message}; write {names}")

    def _footprint(self, loc: Loc, name: str) -> Footprint | None:
        found = self.library.get(name)
        if found is None:
            near = self.library.close_to(name[:60]) if self._hint() else ()
            hint = f"did you mean {' or '.join(near)}?" if near else "define it under footprints"
            self.add(loc, f"unknown footprint {name!r}; {hint}")
        return found

    def _board(self, loc: Loc, name: str) -> Board | None:
        if name not in self.boards:
            self._unknown(loc, "board", name, self.boards)
        return self.boards.get(name)

    def _donor(self, loc: Loc, name: str) -> Board | None:
        donor = self.donors.get(name)
        if donor is None:
            self._unknown(loc, "donor", name, self.donors)
        return donor.board if donor is not None else None

    def _technique(self, loc: Loc, name: str | None) -> None:
        if name is not None and self.techniques is not None and name not in self.techniques:
            self._unknown(loc, "technique", name, self.techniques)

    def _alloy(self, loc: Loc, name: str) -> None:
        if self.alloys is not None and alloy_key(name) not in self.alloy_keys:
            self._unknown(loc, "alloy", name, self.alloys)

    def _once(self, key: str, names: list[str], what: str) -> None:
        first: dict[str, int] = {}
        for index, name in enumerate(names):
            if first.setdefault(name, index) != index:
                message = f"{what} {name!r} is named twice (see {key}[{first[name]}]); rename one"
                self.add((key, index, "name"), message)

    def _unknown(self, loc: Loc, what: str, name: str, known: Iterable[str]) -> None:
        names = list(known)
        hint = self._near(name, names)
        if not names:
            hint = f"; there is no {what} in this kit"
        self.add(loc, f"unknown {what} {name!r}{hint}")

    def _near(self, name: str, known: Iterable[str]) -> str:
        names = list(known)
        near = get_close_matches(name[:60], names[:2000], n=1, cutoff=0.6) if self._hint() else []
        if near:
            return f"; did you mean {near[0]!r}?"
        return f"; allowed: {', '.join(names[:8])}{', ...' if len(names) > 8 else ''}"

    def _hint(self) -> bool:
        # Looking for near names is slow; a file with that many faults has told enough.
        self.hints += 1
        return self.hints <= MAX_HINTS

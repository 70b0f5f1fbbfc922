"""Jobs: a kit taken apart into single pieces of work, the unit of risk and of order."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

from solderrisk.model.footprint import Footprint, Material
from solderrisk.model.kit import (
    Board,
    Fixing,
    Gate,
    Insulation,
    Kit,
    Lift,
    Placement,
    PlaneLink,
    Position,
    Side,
    Task,
    Wire,
)
from solderrisk.model.library import Library
from solderrisk.model.problems import UserProblem
from solderrisk.model.refs import expand_refs

JobKind = Literal["lift", "fit", "wire", "task", "gate"]


class UnknownName(UserProblem):
    """A kit names a footprint, board or donor that does not exist."""


@dataclass(frozen=True)
class Job:
    """One piece of work. ``key`` is unique: 'fit:R1', 'lift:U1', 'wire:W1', 'task:clean',
    'gate:power'. ``place`` is the board's name, or 'donor:NAME' for lifts; tasks and gates
    have none. Soldered jobs (lift, fit, wire) have a footprint and a board."""

    key: str
    ref: str
    kind: JobKind
    title: str
    place: str = ""
    footprint: Footprint | None = None
    board: Board | None = None
    alloy: str = "Sn63Pb37"
    side: Side = "top"
    position: Position | None = None
    links: tuple[PlaneLink, ...] = ()
    joined: tuple[tuple[int, ...], ...] = ()
    price_each: float = 0.0
    owned: bool = False
    spares: int = 0
    entry: str = ""  # of the kit's list, whose spares these are
    irreplaceable: bool = False
    polarised: bool = False
    technique: str | None = None
    donor: str | None = None
    donor_condition: str = "clean"
    glued: bool = False
    fixing: Fixing | None = None
    mask_between: bool | None = None
    feeds: str | None = None
    bends: int = 0
    connections: int = 1  # of a wire job; its footprint is one land
    minutes: float = 0.0
    spoils: float = 0.0
    task: Task | None = None
    gate: Gate | None = None
    note: str = ""

    @property
    def soldered(self) -> bool:
        return self.footprint is not None

    @cached_property
    def alike(self) -> Job:
        """The job without what tells it from its twins: equal for identical placements."""
        return replace(self, key="", ref="", title="", entry="", position=None, feeds=None, note="")


def jobs_of(kit: Kit, library: Library) -> tuple[Job, ...]:
    """Every piece of work in the kit: lifts, fits, wires, tasks, gates, in file order.

    Raises:
        UnknownName: a footprint, board or donor that does not exist.
    """
    library = library.with_front(kit.footprints)
    fits = [job for placement in kit.placements for job in _fits(kit, placement, library)]
    lifts = [
        _written_lift(kit, lift, ref, library) for lift in kit.lifts for ref in lift_refs(lift)
    ]
    written = {lift.feeds for lift in lifts}
    auto = [_lift_for(kit, fit) for fit in fits if fit.donor and fit.key not in written]
    wires = [
        Job(
            key=f"wire:{wire.ref}",
            ref=wire.ref,
            kind="wire",
            title=f"{wire.connections} connections",
            place=wire.board,
            footprint=_with_wire(_footprint(library, wire.footprint, wire.ref), wire),
            board=_board(kit, wire.board, wire.ref),
            alloy=kit.alloy,
            price_each=wire.price,
            owned=wire.owned,
            connections=wire.connections,
            note=wire.note,
        )
        for wire in kit.wires
    ]
    tasks = [
        Job(f"task:{t.ref}", t.ref, "task", t.title, minutes=t.minutes, spoils=t.spoils, task=t)
        for t in kit.tasks
    ]
    gates = [
        Job(f"gate:{g.ref}", g.ref, "gate", g.title, minutes=g.minutes, gate=g) for g in kit.gates
    ]
    return (*lifts, *auto, *fits, *wires, *tasks, *gates)


def _fits(kit: Kit, placement: Placement, library: Library) -> list[Job]:
    refs = placement_refs(placement)
    board = _board(kit, placement.board, refs[0])
    footprint = _rated(_footprint(library, placement.footprint, refs[0]), placement.rated_c)
    on_board = _on_sink(footprint, placement)
    at = {position.ref: position for position in placement.positions}
    polarised = (
        footprint.orientation != "none" if placement.polarised is None else placement.polarised
    )
    return [
        Job(
            key=f"fit:{ref}",
            ref=ref,
            kind="fit",
            title=placement.value or footprint.title or footprint.name,
            place=placement.board,
            footprint=_by_ref(on_board, ref),
            board=board,
            alloy=kit.alloy,
            side=at[ref].side if ref in at else placement.side,
            position=at.get(ref),
            links=placement.links,
            joined=placement.joined,
            price_each=placement.price_each,
            owned=placement.owned,
            spares=placement.spares,
            entry=refs[0],
            irreplaceable=placement.irreplaceable,
            polarised=polarised,
            technique=placement.technique,
            fixing=placement.fixing,
            mask_between=placement.mask_between,
            donor=placement.donor,
            note=placement.note,
        )
        for ref in refs
    ]


def placement_refs(placement: Placement) -> tuple[str, ...]:
    """The references of a placement; one name with a quantity n makes NAME.1 .. NAME.n.

    Raises:
        ValueError: refs are malformed, or the quantity contradicts them.
    """
    refs = expand_refs(placement.refs)
    quantity = placement.quantity
    if quantity is None or quantity == len(refs):
        return refs
    if len(refs) == 1:
        return tuple(f"{refs[0]}.{number}" for number in range(1, quantity + 1))
    raise ValueError(f"quantity {quantity} does not match {len(refs)} references")


def lift_refs(lift: Lift) -> tuple[str, ...]:
    """The references of a lift.

    Raises:
        ValueError: refs are malformed, or several are told what only one can be.
    """
    refs = (lift.ref,) if lift.ref is not None else expand_refs(lift.named)
    if len(refs) > 1 and not (lift.becomes is None and lift.x_mm is None and lift.y_mm is None):
        raise ValueError(f"{lift.named[:60]} are several; becomes and places are for one ref")
    return refs


def _written_lift(kit: Kit, lift: Lift, ref: str, library: Library) -> Job:
    footprint = _rated(_footprint(library, lift.footprint, ref), lift.rated_c)
    return replace(
        _lift(kit, ref, lift.donor, footprint),
        links=lift.links,
        price_each=lift.price_each,
        spares=lift.spares,
        entry=f"lift:{lift.named}",
        irreplaceable=lift.irreplaceable,
        glued=lift.glued,
        technique=lift.technique,
        feeds=f"fit:{lift.becomes}" if lift.becomes else None,
        bends=lift.bends,
        position=_on_donor(lift),
    )


def _by_ref(footprint: Footprint, ref: str) -> Footprint:
    """A chip of a bare size is a ceramic capacitor under a capacitor's letter (IEEE 315)."""
    return footprint.as_capacitor if footprint.capacitor_names and ref[:1] == "C" else footprint


def _rated(footprint: Footprint, rated_c: float | None) -> Footprint:
    """A footprint with what the part at hand is rated for."""
    if rated_c is None:
        return footprint
    heat = footprint.heat.model_copy(update={"rated_c": rated_c})
    return footprint.model_copy(update={"heat": heat})


def _on_sink(footprint: Footprint, placement: Placement) -> Footprint:
    """A part with leads on the heat sink that it is screwed to before it is soldered; one
    that lies flat on the board gets its own afterwards."""
    if placement.fixing != "heat_sink" or not footprint.through_hole:
        return footprint
    sink = {"on_sink": True, "sink_g": placement.sink_g or footprint.body.sink_g}
    return footprint.model_copy(update={"body": footprint.body.model_copy(update=sink)})


def _lift_for(kit: Kit, fit: Job) -> Job:
    """The lift that a placement with a donor asks for: without its new heat sink."""
    footprint = fit.footprint
    if footprint is not None and fit.fixing == "heat_sink":
        bare = footprint.body.model_copy(update={"on_sink": False, "sink_g": None})
        footprint = footprint.model_copy(update={"body": bare})
    return replace(
        _lift(kit, fit.ref, fit.donor, footprint),
        price_each=fit.price_each,
        spares=fit.spares,
        entry=fit.entry,
        irreplaceable=fit.irreplaceable,
        feeds=fit.key,
    )


def _lift(kit: Kit, ref: str, donor_name: str | None, footprint: Footprint | None) -> Job:
    donor = next((d for d in kit.donors if d.name == donor_name), None)
    if donor is None:
        raise UnknownName(f"{ref}: no donor {donor_name!r}")
    return Job(
        key=f"lift:{ref}",
        ref=ref,
        kind="lift",
        title=f"from {donor.name}",
        place=f"donor:{donor.name}",
        footprint=footprint,
        board=donor.board,
        alloy=donor.board.alloy,
        owned=True,
        donor=donor.name,
        donor_condition=donor.condition,
    )


# The body behind a wire's land is its insulation; a film of enamel weighs nothing for heat.
_INSULATION: dict[Insulation, Material] = {
    "silicone": "silicone",
    "ptfe": "ptfe",
    "polyethylene": "polyethylene",
    "coax": "polyethylene",
    "enamel": "enamel",
    "bare": "enamel",
}
_BY_MATERIAL_C = 400.0  # no limit of its own: the insulation's material says what it bears


def _with_wire(footprint: Footprint, wire: Wire) -> Footprint:
    """The land with this wire on it: its conductor decides the heat that it draws, its
    insulation what is hurt. PVC is what the lands themselves are written for."""
    across_mm = 2 * math.sqrt(wire.area_mm2 / math.pi)
    section = {"width_mm": across_mm, "thickness_mm": across_mm, "round": True}
    conductor = {**section, "wire_mm": wire.length_mm}
    pads = tuple(
        group.model_copy(update={"lead": group.lead.model_copy(update=conductor)})
        if group.lead is not None
        else group
        for group in footprint.pads
    )
    changes: dict[str, object] = {"pads": pads}
    insulation = _INSULATION.get(wire.insulation)
    if insulation is not None:
        limit = {"body_c": _BY_MATERIAL_C, "softens_c": None}
        changes["body"] = footprint.body.model_copy(update={"material": insulation})
        changes["heat"] = footprint.heat.model_copy(update=limit)
    return footprint.model_copy(update=changes)


def _on_donor(lift: Lift) -> Position | None:
    if lift.x_mm is None or lift.y_mm is None:
        return None
    return Position(ref=lift.named, x_mm=lift.x_mm, y_mm=lift.y_mm)


def _footprint(library: Library, name: str, ref: str) -> Footprint:
    found = library.get(name)
    if found is None:
        raise UnknownName(f"{ref}: no footprint {name!r}")
    return found


def _board(kit: Kit, name: str, ref: str) -> Board:
    found = next((board for board in kit.boards if board.name == name), None)
    if found is None:
        raise UnknownName(f"{ref}: no board {name!r}")
    return found


HIDDEN = ("exposed", "ball")


def flat_sides(jobs: Sequence[Job]) -> dict[str, Side]:
    """By board, the one side that a plate may do, as it lies on the other: that with the more
    parts whose pads no iron reaches, the top where they are even and it has any part."""
    flat: dict[str, dict[Side, list[int]]] = {}
    for job in jobs:
        if job.kind == "fit" and job.footprint is not None and not job.footprint.through_hole:
            hidden = any(group.kind in HIDDEN for group in job.footprint.pads)
            flat.setdefault(job.place, {}).setdefault(job.side, []).append(hidden)
    # "top" comes last of the two names, so that it wins where they are even.
    return {
        place: max(sides, key=lambda side: (sum(sides[side]), side))
        for place, sides in flat.items()
    }


def mates(jobs: Sequence[Job]) -> dict[tuple[str, Side], int]:
    """Parts that one pass on a plate could do, rounded down to a power of two."""
    found = Counter(
        (job.place, job.side)
        for job in jobs
        if job.kind == "fit"
        and job.footprint
        and not any(g.through_board for g in job.footprint.pads)
    )
    return {spot: 1 << (count.bit_length() - 1) for spot, count in found.items()}

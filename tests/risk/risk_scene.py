"""Benches, boards and kits that several tests of the risk layer share. Invented data."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from typing import Any

from solderrisk.files.loading import load_library
from solderrisk.files.reference import load_reference
from solderrisk.model.bench import (
    Bench,
    Builder,
    Flux,
    HotAir,
    Iron,
    Magnifier,
    Preheater,
    Solder,
    Tip,
    VacuumDesolderer,
    VacuumNozzle,
)
from solderrisk.model.jobs import Job, jobs_of
from solderrisk.model.kit import Board, Kit, Placement
from solderrisk.model.library import Library
from solderrisk.model.question import Question
from solderrisk.risk.engine import RiskEngine
from solderrisk.risk.results import JobRisk, KitRisk

REFERENCE = load_reference()


@lru_cache(maxsize=1)
def library() -> Library:
    return load_library()


@lru_cache(maxsize=1)
def engine() -> RiskEngine:
    """One engine for all tests: tables are made once."""
    return RiskEngine(REFERENCE)


BARE = Bench(
    name="bare",
    irons=(
        Iron(
            name="plain iron",
            drive="plain",
            power_w=25,
            tips=(Tip(width_mm=1.0, shape="conical"), Tip(width_mm=2.4)),
        ),
    ),
    solders=(Solder(alloy="Sn63Pb37", wire_mm=0.8),),
    aids=("flush_cutters", "wick", "multimeter"),
)
DECENT = Bench(
    name="decent",
    irons=(
        Iron(
            name="station",
            drive="station",
            power_w=60,
            tips=(Tip(width_mm=0.5, shape="conical"), Tip(width_mm=1.2), Tip(width_mm=2.4)),
        ),
    ),
    solders=(Solder(alloy="Sn63Pb37", wire_mm=0.5),),
    fluxes=(Flux(kind="rosin"),),
    magnifiers=(Magnifier(name="loupe", power_x=3.5, distance_mm=200),),
    removal_alloys=("Sn42Bi58",),
    aids=("flush_cutters", "tweezers", "wick", "solder_pump", "multimeter", "board_holder"),
)
FULL = DECENT.model_copy(
    update={
        "name": "full",
        "irons": (
            *DECENT.irons,
            Iron(
                name="cartridge",
                drive="cartridge",
                power_w=120,
                tips=(Tip(width_mm=1.0, shape="bevel"), Tip(width_mm=3.0)),
            ),
        ),
        "hot_air": (HotAir(name="hot air", nozzles_mm=(5.0, 8.0, 10.0)),),
        "preheaters": (Preheater(name="preheater"),),
        "desolderers": (
            VacuumDesolderer(
                name="vacuum",
                nozzles=(
                    VacuumNozzle(bore_mm=0.8, outer_mm=1.8),
                    VacuumNozzle(bore_mm=1.0, outer_mm=2.3),
                    VacuumNozzle(bore_mm=1.5, outer_mm=2.9),
                ),
            ),
        ),
        "solders": (*DECENT.solders, Solder(alloy="Sn63Pb37", wire_mm=None, paste=True)),
        "magnifiers": (Magnifier(name="microscope", power_x=10, distance_mm=100),),
        "aids": (*DECENT.aids, "polyimide_tape", "hot_plate", "cleaning_solvent"),
    }
)
REGULAR = Builder(name="regular", level="regular")
FEW = Builder(name="few", level="few")

PLAIN_BOARD = Board(name="b", copper_layers=1, plane_layers=0, price=5)
PLANE_BOARD = Board(name="b", copper_layers=4, plane_layers=2, price=20)


def kit_of(placements: Iterable[Placement], board: Board = PLAIN_BOARD, **more: object) -> Kit:
    return Kit.model_validate(
        {"name": "k", "boards": (board,), "placements": tuple(placements), **more}
    )


def lift_kit(
    footprint: str, *, donor: Board = PLANE_BOARD, condition: str = "clean", **placement: object
) -> Kit:
    """One part that is lifted from a donor and fitted on a plain board."""
    part = {"refs": "U1", "footprint": footprint, "board": "b", "donor": "d", **placement}
    return Kit.model_validate(
        {
            "name": "k",
            "boards": (PLAIN_BOARD,),
            "donors": ({"name": "d", "board": donor, "condition": condition},),
            "placements": (part,),
        }
    )


def jobs(kit: Kit) -> tuple[Job, ...]:
    return jobs_of(kit, library())


def asked(kit: Kit, bench: Bench, builder: Builder = REGULAR, **more: Any) -> Question:
    return Question(kit, bench, builder, library(), REFERENCE, **more)


def assessed(kit: Kit, bench: Bench, builder: Builder = REGULAR, **more: Any) -> KitRisk:
    return engine().assess(asked(kit, bench, builder, **more))


def job_of(kit: Kit, bench: Bench, key: str, builder: Builder = REGULAR) -> JobRisk:
    return assessed(kit, bench, builder).by_key[key]


def without(bench: Bench, **empty: object) -> Bench:
    """The bench with some fields replaced, e.g. ``hot_air=()``."""
    return bench.model_copy(update=empty)

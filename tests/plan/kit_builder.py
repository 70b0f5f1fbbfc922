"""Hand-made kits and chances for the tests of precedence and order."""

from __future__ import annotations

import random
from collections.abc import Mapping
from math import exp, log, prod
from typing import Any

from solderrisk.files.reference import plan_data
from solderrisk.model.bench import Solder
from solderrisk.model.footprint import Body, Footprint, HeatLimit, PadGroup
from solderrisk.model.jobs import Job, jobs_of
from solderrisk.model.kit import Board, Donor, Kit
from solderrisk.model.library import Library
from solderrisk.model.technique import Heat
from solderrisk.physics.results import AirHeat
from solderrisk.risk.heat.sources import SOURCES
from solderrisk.risk.results import JobRisk, KitRisk, ModeChance, Option, Range, Settings

PARAMETERS = plan_data().parameters
GATES = {"visual": 0.8, "shorts": 0.35, "rail": 0.45, "power_up": 0.6, "function": 0.9}
RULES: dict[str, Any] = {"parameters": PARAMETERS, "families": plan_data().families}
IRON = Settings(
    iron="station",
    tip_width_mm=1.6,
    tip_shape="chisel",
    tip_c=330.0,
    solders=(Solder(alloy="Sn63Pb37"),),
)
WIDE = Settings(iron="station", tip_width_mm=4.0, tip_shape="chisel", tip_c=380.0)
AIR = Settings(air="blower", nozzle_mm=8.0, air_c=350.0, flow_l_min=40.0)
VACUUM = Settings(desolderer="gun", bore_mm=1.0)


def footprint(
    name: str, family: str, height: float, *, hole: bool = False, body: float = 4.0, **more: Any
) -> Footprint:
    material = more.pop("material", "epoxy")
    softens = more.pop("softens_c", None)
    pad = PadGroup(
        kind="through_hole" if hole else "chip_end",
        count=2,
        layout="ends",
        row_span_mm=body,
        land_w_mm=1.0,
        land_l_mm=1.0,
        hole_mm=0.9 if hole else None,
    )
    return Footprint(
        name=name,
        family=family,  # type: ignore[arg-type]
        pads=(pad,),
        body=Body(length_mm=body, width_mm=body, height_mm=height, material=material),
        heat=HeatLimit(softens_c=softens),
        source="assumed: made for a test",
        **more,
    )


LIBRARY = Library.of(
    [
        footprint("R", "chip", 0.5, body=1.6),
        footprint("SO", "soic", 1.7, body=5.0, orientation="pin_one"),
        footprint("QFP", "qfp", 1.6, body=14.0, orientation="pin_one"),
        footprint("QFN", "qfn", 0.9, body=5.0, orientation="pin_one"),
        footprint("COIL", "inductor_smd", 3.5, body=6.0, material="ferrite"),
        footprint("CAN", "can_cap", 6.0, body=6.6),
        footprint("DIP", "dip", 4.0, hole=True, body=8.0),
        footprint("AXIAL", "axial", 2.5, hole=True, body=6.0),
        footprint("HEADER", "header", 8.5, hole=True, body=12.0, material="polyamide"),
        footprint("JACK", "dc_jack", 11.0, hole=True, body=9.0, softens_c=200.0),
        footprint("SHIELD", "shielded_connector", 7.5, hole=True, body=16.0, softens_c=200.0),
        footprint("CELL", "battery_contact", 4.0, hole=True, body=10.0, material="metal"),
        footprint("SLOT", "card_slot", 2.0, body=14.0, softens_c=240.0),
        footprint("WIRE-LAND-1.5", "wire_pad", 0.1, body=1.5),
    ]
)


def kit(*, board: str = "main", second: str | None = None, **parts: Any) -> Kit:
    boards = [Board(name=board)] + ([Board(name=second)] if second else [])
    parts.setdefault("hour_value", 10.0)
    parts.setdefault("donors", [Donor(name="old", board=Board(name="old-board"))])
    # Tests write plain dicts; lax enough for the nested models only.
    return Kit.model_validate({"name": "test", "boards": boards, **parts})


def jobs(of: Kit) -> tuple[Job, ...]:
    return jobs_of(of, LIBRARY)


def part(refs: str, footprint_name: str, **more: Any) -> dict[str, Any]:
    """A placement; ``at={ref: (x, y)}`` gives positions."""
    at = more.pop("at", None)
    side = more.get("side", "top")
    if at:
        more["positions"] = [
            {"ref": ref, "x_mm": float(x), "y_mm": float(y), "side": side}
            for ref, (x, y) in at.items()
        ]
    return {"refs": refs, "footprint": footprint_name, "board": "main", **more}


def air_heat(reflow_mm: float = 8.0, plastic_mm: float = 15.0) -> AirHeat:
    return AirHeat(30, 25, 35, 40, 10, "wets", 240, 260, 3, reflow_mm, plastic_mm, 200)


def option(
    technique: str,
    lost: float = 0.001,
    minutes: float = 2.0,
    settings: Settings = IRON,
    heat: AirHeat | None = None,
    first_time: float = 0.98,
    source: Heat | None = None,
) -> Option:
    bridge = ModeChance("bridge", "bridge", 2, Range(0, 0.01, 0), Range(0, 0.02, 0), "mendable", "")
    source = source or ("air" if settings.air else "vacuum" if settings.desolderer else "iron")
    return Option(
        technique=technique,
        title=technique.replace("_", " "),
        feasible=True,
        settings=settings,
        air_heat=heat,
        first_time=Range(first_time, first_time, first_time),
        after_mending=Range(1 - lost, 1 - lost, 1 - lost),
        lost=Range(lost, lost, lost),
        minutes=Range(minutes, minutes, minutes),
        modes=(bridge,),
        heat=source,
        warms=SOURCES[source].warms,
    )


def risk(work: tuple[Job, ...], options: Mapping[str, Option] | None = None) -> KitRisk:
    """Chances by job key, else by footprint name and kind, else a plain iron job."""
    table = options or {}

    def pick(job: Job) -> Option:
        name = job.footprint.name if job.footprint else ""
        for key in (job.key, f"{job.kind}:{name}", job.kind):
            if key in table:
                return table[key]
        return option("point_iron")

    items = tuple(JobRisk(job, (pick(job),), False, None, ()) for job in work if job.soldered)
    unit, nothing = Range(1, 1, 1), Range(0, 0, 0)
    by_key = {item.job.key: item for item in items}
    hazards = {item.job.key: -log(max(item.chosen.after_mending.mid, 0.01)) for item in items}
    total = sum(hazards.values())
    shares = {key: hazard / total for key, hazard in hazards.items() if total > 0}
    works = exp(-total) * prod(1 - job.spoils for job in work)
    working = Range(works, works, works)
    return KitRisk(
        items, unit, working, unit, nothing, unit, by_key, fail_share=shares, gate_finds=GATES
    )


def random_kit(seed: int) -> Kit:
    """Parts of every kind, some with positions, with random gates, tasks and rules."""
    rng = random.Random(seed)
    names = ["R", "R", "R", "SO", "QFN", "CAN", "DIP", "HEADER", "JACK", "SLOT"]
    placements = []
    for i in range(rng.randrange(3, 22)):
        at = {f"X{i}": (rng.uniform(0, 60), rng.uniform(0, 60))} if rng.random() < 0.6 else None
        more: dict[str, Any] = {"side": rng.choice(["top", "top", "bottom"])}
        if rng.random() < 0.15:
            more["donor"] = "old"
        placements.append(part(f"X{i}", rng.choice(names), at=at, **more))
    refs = [p["refs"] for p in placements]

    def some(most: int) -> list[str]:
        return rng.sample(refs, rng.randrange(1, min(most, len(refs)) + 1))

    gates = [
        {
            "ref": f"g{k}",
            "title": f"g{k}",
            "kind": rng.choice(["rail", "function"]),
            "after": some(3),
            "before": some(2),
        }
        for k in range(rng.randrange(3))
    ]
    tasks = [
        {
            "ref": f"t{k}",
            "title": f"t{k}",
            "kind": kind,
            "after": some(2) if rng.random() < 0.5 else [],
        }
        for k, kind in enumerate(rng.sample(["clean", "fit_case", "bake", "cut"], 2))
    ]
    rules = [{"first": rng.choice(refs), "then": rng.choice(refs)} for _ in range(rng.randrange(3))]
    wires = [{"ref": "W1", "board": "main", "connections": 2}]
    return kit(placements=placements, gates=gates, tasks=tasks, rules=rules, wires=wires)

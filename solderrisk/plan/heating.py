"""The heating behind a technique: temperatures against time, and what would help."""

from __future__ import annotations

from collections.abc import Iterable

from solderrisk.model.bench import Bench, Iron, Tip
from solderrisk.model.jobs import Job
from solderrisk.model.physics_data import PhysicsData
from solderrisk.physics.hot_air import air_curve
from solderrisk.physics.iron import iron_curve, iron_heat
from solderrisk.physics.remedies import air_remedies, remedies
from solderrisk.physics.results import AirCase, Curve, IronCase, JointCase, Remedy
from solderrisk.risk.results import Option, Settings


def heating_curve(job: Job, option: Option, bench: Bench, data: PhysicsData) -> Curve | None:
    """Temperatures against time of an option on a bench; None where no single joint or part
    is heated (whole board on a plate, low-melt alloy) or nothing is known."""
    case = heated(job, option, bench, data)
    if case is None:
        return None
    return air_curve(case, data) if isinstance(case, AirCase) else iron_curve(case, data)


def heat_remedies(job: Job, option: Option, bench: Bench, data: PhysicsData) -> tuple[Remedy, ...]:
    """What would take an option's heat out of doubt or failure, cheapest first, by the heat
    model itself; empty where it needs nothing or nothing is known."""
    case = heated(job, option, bench, data)
    if case is None:
        return ()
    return air_remedies(case, data) if isinstance(case, AirCase) else remedies(case, data)


def heated(job: Job, option: Option, bench: Bench, data: PhysicsData) -> IronCase | AirCase | None:
    """The joint or part that an option's heat figures are about."""
    if option.air_heat is not None:
        return _air_case(job, option.settings, bench)
    if option.iron_heat is None:
        return None
    cases = list(_iron_cases(job, option.settings, bench))
    if not cases:
        return None
    heats = iron_heat(cases, data)
    # The option's heat is that of its hardest group of joints, whose tip may be another.
    same = (case for case, heat in zip(cases, heats, strict=True) if heat == option.iron_heat)
    return next(same, cases[0])


def _iron_cases(job: Job, settings: Settings, bench: Bench) -> Iterable[IronCase]:
    """Every tip that may be meant on every group of joints; the set tip on the most numerous
    group comes first."""
    if job.footprint is None or job.board is None:
        return
    groups = sorted(job.footprint.pads, key=lambda group: -group.count)
    alloy = settings.alloy or job.alloy
    joints = [JointCase(job.footprint, g, job.board, alloy, job.links) for g in groups]
    for tool, tip_c in _tools(settings, bench):
        for tip in sorted(tool.tips, key=lambda tip: not _is_set(tip, settings)):
            for joint in joints:
                yield IronCase(joint, tool, tip, tip_c, _start_c(settings, bench))


def _tools(settings: Settings, bench: Bench) -> Iterable[tuple[Iron, float]]:
    """The tool with its setting, then the iron for small pins where that is another."""
    tool = _tool(settings, bench)
    if tool is None:
        return
    yield tool, tool.highest_c if settings.tip_c is None else settings.tip_c
    pins = next((iron for iron in bench.irons if iron.name == settings.pin_iron), None)
    if pins is not None and settings.pin_tip_c is not None:
        yield pins, settings.pin_tip_c


def _tool(settings: Settings, bench: Bench) -> Iron | None:
    """The iron, or the vacuum tool as an iron whose tips are its nozzles."""
    if settings.iron is not None:
        return next((iron for iron in bench.irons if iron.name == settings.iron), None)
    tool = next((d for d in bench.desolderers if d.name == settings.desolderer), None)
    if tool is None:
        return None
    nozzles = sorted(tool.nozzles, key=lambda nozzle: nozzle.bore_mm != settings.bore_mm)
    return Iron(
        name=tool.name,
        drive="station",
        power_w=tool.power_w,
        highest_c=tool.highest_c,
        tips=tuple(Tip(width_mm=nozzle.outer_mm, shape="conical") for nozzle in nozzles),
    )


def _is_set(tip: Tip, settings: Settings) -> bool:
    # A vacuum tool's nozzle is set by its bore and sorted first already.
    return settings.iron is None or (tip.width_mm, tip.shape) == (
        settings.tip_width_mm,
        settings.tip_shape,
    )


def _start_c(settings: Settings, bench: Bench) -> float:
    return bench.room.ambient_c if settings.preheat_c is None else settings.preheat_c


def _air_case(job: Job, settings: Settings, bench: Bench) -> AirCase | None:
    if job.footprint is None or job.board is None:
        return None
    if settings.air_c is None or settings.flow_l_min is None or settings.nozzle_mm is None:
        return None
    return AirCase(
        footprint=job.footprint,
        board=job.board,
        alloy=settings.alloy or job.alloy,
        air_c=settings.air_c,
        flow_l_min=settings.flow_l_min,
        nozzle_mm=settings.nozzle_mm,
        start_c=_start_c(settings, bench),
        purpose="lift" if job.kind == "lift" else "fit",
        links=job.links,
    )

"""The heating behind a technique: temperatures against time, and what would help."""

from __future__ import annotations

from collections.abc import Mapping

from solderrisk.model.jobs import Job
from solderrisk.model.physics_data import PhysicsData
from solderrisk.physics.hot_air import air_curve
from solderrisk.physics.iron import iron_curve
from solderrisk.physics.remedies import air_remedies, remedies
from solderrisk.physics.results import AirCase, Curve, Remedy
from solderrisk.risk.results import JobRisk, KitRisk, Option

MOST_SORTS = 8  # sorts of joints that are asked about, in the kit's order
MOST_TOLD = 3

Help = Mapping[str, tuple[Remedy, ...]]


def heating_curve(option: Option, data: PhysicsData) -> Curve | None:
    """Temperatures against time of an option; None where no single joint or part is heated
    (whole board on a plate, low-melt alloy) or nothing is known."""
    case = option.case
    if case is None:
        return None
    return air_curve(case, data) if isinstance(case, AirCase) else iron_curve(case, data)


def heat_remedies(option: Option, data: PhysicsData) -> tuple[Remedy, ...]:
    """What would take an option's heat out of doubt or failure, cheapest first, by the heat
    model itself; empty where it needs nothing or nothing is known."""
    case = option.case
    if case is None:
        return ()
    return air_remedies(case, data) if isinstance(case, AirCase) else remedies(case, data)


def remedy_words(remedy: Remedy) -> str:
    """A remedy as a bench would put it."""
    said = []
    if remedy.tip_width_mm is not None:
        said.append(f"{'the' if remedy.tip_owned else 'a'} {remedy.tip_width_mm:g} mm tip")
    if remedy.power_w is not None:
        kind = "heater in the tip" if remedy.drive == "cartridge" else "regulated"
        said.append(f"an iron of {remedy.power_w:g} W ({kind})")
    if remedy.air_c is not None:
        said.append(f"air of {remedy.air_c:g} C")
    if remedy.preheat_c is not None:
        said.append(f"the board preheated to {remedy.preheat_c:g} C")
    over = f", but its top comes {remedy.over_limit_k:.0f} K over its limit"
    changes = " and ".join(said) if len(said) < 3 else f"{said[0]}, {said[1]} and {said[2]}"
    return changes + (over if remedy.over_limit_k > 0 else "")


def heat_help(risk: KitRisk, data: PhysicsData) -> dict[str, tuple[Remedy, ...]]:
    """Remedies per job whose heat is undecided or that nothing on the bench heats; computed
    by the heat model once per sort of joint. Jobs that nothing tried would help have none."""
    sorts: dict[tuple[Job, Option], list[str]] = {}
    for item in risk.jobs:
        option = _in_need(item)
        if option is not None:
            sorts.setdefault((item.job.alike, option), []).append(item.job.key)
    found = {}
    for (_, option), keys in list(sorts.items())[:MOST_SORTS]:
        told = heat_remedies(option, data)[:MOST_TOLD]
        if told:
            found.update(dict.fromkeys(keys, told))
    return found


def _in_need(item: JobRisk) -> Option | None:
    if item.blocked:
        return next((option for option in item.options if _short(option)), None)
    return None if item.chosen.decided else item.chosen


def _short(option: Option) -> bool:
    heats = (option.iron_heat, option.air_heat)
    return any(heat is not None and heat.decision != "wets" for heat in heats)

"""What would take joints out of the heat model's doubt, or make them possible at all."""

from __future__ import annotations

from collections.abc import Mapping

from solderrisk.model.bench import Bench
from solderrisk.model.jobs import Job
from solderrisk.model.physics_data import PhysicsData
from solderrisk.physics.results import Remedy
from solderrisk.plan.heating import heat_remedies
from solderrisk.risk.results import JobRisk, KitRisk, Option

MOST_SORTS = 8  # sorts of joints that are asked about, in the kit's order
MOST_TOLD = 3

Help = Mapping[str, tuple[Remedy, ...]]


def heat_help(risk: KitRisk, bench: Bench, data: PhysicsData) -> dict[str, tuple[Remedy, ...]]:
    """Remedies per job whose heat is undecided or that nothing on the bench heats; computed
    by the heat model once per sort of joint. Jobs that nothing tried would help have none."""
    sorts: dict[tuple[Job, Option], list[str]] = {}
    for item in risk.jobs:
        option = _in_need(item)
        if option is not None:
            sorts.setdefault((item.job.alike, option), []).append(item.job.key)
    found = {}
    for (job, option), keys in list(sorts.items())[:MOST_SORTS]:
        remedies = heat_remedies(job, option, bench, data)[:MOST_TOLD]
        if remedies:
            found.update(dict.fromkeys(keys, remedies))
    return found


def _in_need(item: JobRisk) -> Option | None:
    if item.blocked:
        return next((option for option in item.options if _short(option)), None)
    return None if item.chosen.decided else item.chosen


def _short(option: Option) -> bool:
    heats = (option.iron_heat, option.air_heat)
    return any(heat is not None and heat.decision != "wets" for heat in heats)

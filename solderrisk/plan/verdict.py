"""The verdict: the chance against the target, and what carries the risk."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence

from solderrisk.model.jobs import Job
from solderrisk.plan.results import Verdict
from solderrisk.risk.results import JobRisk, KitRisk

TOP = 6
VERBS = {"wire": "connect"}


def verdict(
    risk: KitRisk, target: float, missing: int = 0, names: Mapping[str, str] | None = None
) -> Verdict:
    """Compare the chance of a working board with ``target`` (0..1) and say why. ``missing``:
    references without a footprint, about which no figure says anything: a kit with such is
    never called manageable."""
    chance = risk.working
    blocked = [job for job in risk.jobs if job.blocked]
    decided = bool(blocked) or not chance.low < target < chance.high
    manageable = not blocked and chance.mid >= target
    headline = _headline(manageable, decided)
    if missing and manageable:
        are = "reference is" if missing == 1 else "references are"
        headline = f"Not decided: {missing} {are} not counted; the rest reads {headline.lower()}"
        manageable = decided = False
    return Verdict(
        manageable=manageable,
        decided=decided,
        chance=chance,
        first_time=risk.first_time,
        target=target,
        headline=headline,
        reasons=tuple(_reasons(risk, blocked, names or {})),
        top=top_jobs(risk, TOP),
    )


def _headline(manageable: bool, decided: bool) -> str:
    if decided:
        return "Manageable" if manageable else "Not manageable as things stand"
    return "Too close to call, leaning to " + ("manageable" if manageable else "not manageable")


def top_jobs(risk: KitRisk, count: int) -> tuple[str, ...]:
    """Keys of the jobs that carry most of the failure, one of each sort, worst first."""
    ranked = sorted(risk.fail_share.items(), key=lambda item: (-item[1], item[0]))
    worst = one_of_each([risk.by_key[key].job for key, share in ranked if share > 0])
    return tuple(job.key for job in worst[:count])


def one_of_each(jobs: Sequence[Job]) -> list[Job]:
    """The first of every sort of alike jobs, in their order."""
    return list({job.alike: job for job in reversed(jobs)}.values())[::-1]


def _reasons(risk: KitRisk, blocked: list[JobRisk], names: Mapping[str, str]) -> list[str]:
    if blocked:
        return [_blocked_reason(needs, jobs, names) for needs, jobs in by_needs(blocked).items()]
    reasons = [_reason(risk.by_key[key], risk.fail_share[key]) for key in top_jobs(risk, 3)]
    doubtful = [job.job.ref for job in risk.jobs if not job.chosen.decided]
    if doubtful:
        reasons.append("heat is inside its doubt at " + short_list(doubtful))
    return reasons


def by_needs(blocked: Iterable[JobRisk]) -> dict[tuple[str, ...], list[JobRisk]]:
    """Blocked jobs by the kind of work and the tools that would do them."""
    groups: dict[tuple[str, ...], list[JobRisk]] = {}
    for risk in blocked:
        groups.setdefault((risk.job.kind, *risk.tooling_needed), []).append(risk)
    return groups


def _blocked_reason(
    needs: tuple[str, ...], blocked: list[JobRisk], names: Mapping[str, str]
) -> str:
    kind, tools = needs[0], needs[1:]
    remedy = f"it needs {words(tools, names)}" if tools else "no tool in the list helps"
    refs = short_list([risk.job.ref for risk in blocked])
    return f"nothing on this bench can {VERBS.get(kind, kind)} {refs}; {remedy}"


def _reason(job: JobRisk, share: float) -> str:
    worst = max(job.chosen.modes, key=lambda mode: mode.total.mid, default=None)
    why = f"; most likely fault: {worst.title}, {percent(worst.total.mid)}" if worst else ""
    return (
        f"{job.job.key.replace(':', ' ')} ({job.chosen.title}) carries {percent(share)} of the "
        f"failure, ends well {percent(job.chosen.after_mending.mid, 1)}{why}"
    )


def percent(share: float, digits: int = 0) -> str:
    """'27 %'; never 100 %, which no estimate is, nor 0 % of something that may happen."""
    told = f"{100 * share:.{digits}f}"
    if share < 1.0 and float(told) >= 100.0:
        return ">99.9 %" if share > 0.9995 else f"{math.floor(1000 * share) / 10:.1f} %"
    if share > 0.0 and float(told) == 0.0:
        return f"{100 * share:.1f} %" if share >= 0.0005 else "<0.1 %"
    return f"{told} %" if share < 1.0 else ">99.9 %"


def short_list(refs: list[str], most: int = 6) -> str:
    """References in words, cut after ``most``."""
    shown = ", ".join(refs[:most])
    return shown if len(refs) <= most else f"{shown} and {len(refs) - most} more"


def words(ids: Sequence[str], names: Mapping[str, str] | None = None) -> str:
    """Names of tools as they are read: 'a hot-air station, solder paste'."""
    return ", ".join((names or {}).get(name, name.replace("_", " ")) for name in ids)

"""The verdict: the chance against the target, and what carries the risk."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from solderrisk.model.jobs import Job
from solderrisk.plan.results import Verdict
from solderrisk.risk.results import JobRisk, KitRisk
from solderrisk.words import likely, named, percent, short_list

TOP = 6
SPOILT = {
    "burnt": "with burnt spots: leave it alone, take the parts from another",
    "leaked_cell": "that a cell has leaked on: clean and test each part before it is trusted",
}
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
    burnt = [job.job.ref for job in risk.jobs if job.job.donor_condition == "burnt"]
    if burnt and manageable:
        headline = f"Not decided: {short_list(burnt)} would come off a burnt board"
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
    return [*_spoilt(risk), *_carried(risk, blocked, names)]


def _spoilt(risk: KitRisk) -> Iterable[str]:
    """Parts off boards that have suffered: what no figure here knows."""
    for condition, why in SPOILT.items():
        refs = [job.job.ref for job in risk.jobs if job.job.donor_condition == condition]
        if refs:
            yield f"{short_list(refs)} would come off a board {why}"


def _carried(risk: KitRisk, blocked: list[JobRisk], names: Mapping[str, str]) -> list[str]:
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
    remedy = f"it needs {named(tools, names)}" if tools else "no tool in the list helps"
    refs = short_list([risk.job.ref for risk in blocked])
    return f"nothing on this bench can {VERBS.get(kind, kind)} {refs}; {remedy}"


def _reason(job: JobRisk, share: float) -> str:
    worst = max(job.chosen.modes, key=lambda mode: mode.total.mid, default=None)
    why = f"; most likely fault: {worst.title}, {likely(worst.total.mid)}" if worst else ""
    return (
        f"{job.job.key.replace(':', ' ')} ({job.chosen.title}) carries {percent(share)} of the "
        f"failure, ends well {likely(job.chosen.after_mending.mid)}{why}"
    )

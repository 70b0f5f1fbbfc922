"""Which technique: the one with the least expected loss, unless the builder pins another."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from solderrisk.model.technique import Technique
from solderrisk.physics.results import Sight
from solderrisk.risk.burden import DAMAGE, MINUTES, PARTS, WORK, Fate
from solderrisk.risk.psi import Hand
from solderrisk.risk.setups import Setup


@dataclass(frozen=True)
class Worth:
    """What is at stake for a job: money."""

    part_cost: float  # one more part, with its share of postage
    stake: float  # the kit, if it never works
    hour_value: float


@dataclass(frozen=True)
class Candidate:
    """A technique for a job; ``fate`` is None where it is not feasible."""

    setup: Setup
    fate: Fate | None
    sight: Sight | None = None

    @property
    def technique(self) -> Technique:
        return self.setup.technique


def cost_of(candidate: Candidate, hand: Hand, worth: Worth) -> float:
    """Expected loss and the value of the hours, what techniques are compared by."""
    if candidate.fate is None:
        return float("inf")
    mean = candidate.fate.rows @ hand.weights[:, 0]
    money = mean[PARTS] * worth.part_cost + mean[DAMAGE] + worth.stake * (1 - mean[WORK])
    hours = mean[MINUTES] / 60
    return float(money + hours * worth.hour_value + candidate.technique.consumables)


def chance_for(candidate: Candidate, hand: Hand) -> float:
    """Chance that the job works in the end, mean over what is not known of the person."""
    if candidate.fate is None:
        return 0.0
    return float(candidate.fate.rows[WORK] @ hand.weights[:, 0])


def ranked(
    candidates: Sequence[Candidate],
    hands: Mapping[str, Hand],
    worth: Worth,
    by: str = "loss",
) -> list[Candidate]:
    """Best first: by expected cost, or by the chance of working (``by`` 'chance'). What is
    not feasible comes last, that which lacks least first."""

    def key(candidate: Candidate) -> tuple[bool, float, str]:
        hand = hands[candidate.technique.skill]
        if candidate.fate is None:
            return True, float(len(candidate.setup.missing)), candidate.technique.id
        chance = by == "chance"
        value = -chance_for(candidate, hand) if chance else cost_of(candidate, hand, worth)
        return False, value, candidate.technique.id

    return sorted(candidates, key=key)


def pinned_first(order: Sequence[Candidate], pin: str | None) -> tuple[list[Candidate], str, bool]:
    """Put a pinned technique first where it is feasible. Gives the order, a finding for a
    pin that could not be kept, and whether it was kept."""
    if pin is None:
        return list(order), "", False
    wanted = next((c for c in order if c.technique.id == pin), None)
    if wanted is None:
        return list(order), f"pinned technique {pin!r} does not suit this part: not used", False
    if wanted.fate is None:
        why = wanted.setup.why or ", ".join(wanted.setup.missing)
        return (
            list(order),
            f"pinned technique '{wanted.technique.title}' is not possible: {why}",
            False,
        )
    return [wanted, *(c for c in order if c is not wanted)], "", True

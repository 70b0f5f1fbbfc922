"""What a technique does to a piece of work, tabulated over worlds and psi: no person in it."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from solderrisk.model.base import steady
from solderrisk.model.risk_data import FaultMode
from solderrisk.physics.results import Trap
from solderrisk.risk.conditions import Conditions, Means
from solderrisk.risk.detection import Mending, either, found_by_eye
from solderrisk.risk.faults import hazards
from solderrisk.risk.heat.bench import Setup
from solderrisk.risk.reads import KeptByReads
from solderrisk.risk.skill import Hand
from solderrisk.risk.work import Work
from solderrisk.risk.worlds import Worlds

Floats = NDArray[np.float64]

_TINY = 1e-12


@dataclass(frozen=True)
class Told:
    """A hazard without its figures."""

    mode: FaultMode
    count: int
    why: str


@dataclass(frozen=True, eq=False)
class Hurt:
    """Chance per opportunity of every mode (modes x worlds x grid), whoever looks for it, and
    how many opportunities there are."""

    hazards: tuple[Told, ...]
    count: Floats
    chances: Floats

    @property
    def nbytes(self) -> int:
        return self.chances.nbytes

    @classmethod
    def of(cls, conditions: Conditions) -> Hurt:
        found = hazards(conditions)
        each = np.empty((len(found), conditions.data.count + 1, len(conditions.data.grid)))
        for row, hazard in zip(each, found, strict=True):
            row[...] = hazard.each
        count = np.array([hazard.count for hazard in found], dtype=np.float64)
        # In place: these are the largest arrays, made for every technique of every part.
        np.exp(np.negative(each, out=each), out=each)
        told = tuple(Told(hazard.mode, hazard.count, hazard.why) for hazard in found)
        return cls(told, count, np.subtract(1.0, each, out=each))


@dataclass(frozen=True, eq=False)
class Fates:
    """Of one fault of each mode (modes x worlds x 1): ``killed``: chance that it ruins the
    part; ``found`` at all; ``early``: found before power comes on; ``harm`` of one left alone;
    ``at_once``: chance that it ruins the part when it happens."""

    killed: Floats
    found: Floats
    early: Floats
    harm: Floats
    at_once: Floats
    harmful: Floats
    mendable: Floats

    def lost(self, mend: Mending) -> Floats:
        """Chance that it is never put right and keeps the board from working."""
        return self._bad(self.found, mend)

    def left(self, mend: Mending) -> Floats:
        """Chance that what it leaves keeps the board dead when power first comes on."""
        still = self._bad(self.early, mend)
        return self.at_once * (1 - self.early) + (1 - self.at_once) * still

    def _bad(self, found: Floats, mend: Mending) -> Floats:
        """Harmful as it is, unless it is found, can be mended and is; or destroyed by mending."""
        able = found * self.mendable
        bad = (able * self.harmful) * mend.destroyed
        bad -= (able * self.harm) * (mend.fixed + mend.destroyed)
        bad += self.harm
        return bad


@dataclass(frozen=True, eq=False)
class FaultTable:
    """Tables over worlds and psi. Hazards: ``board``: the board is lost in the end; ``part``:
    the part is lost. ``minutes``: work and mending; ``redo_minutes``: work alone; ``damage``:
    money lost on things nearby. What only the chosen technique is asked for is worked out
    then."""

    setup: Setup
    hurt: Hurt
    fates: Fates
    mend: Mending
    board: Floats
    part: Floats
    minutes: Floats
    redo_minutes: Floats
    damage: Floats

    @property
    def nbytes(self) -> int:
        """Of what it holds of its own, and of the hazard of any fault."""
        return self.board.nbytes + self.part.nbytes + 2 * self.minutes.nbytes

    @cached_property
    def first(self) -> Floats:
        """Hazard of any fault but cosmetic ones."""
        matters = self.hurt.count * [h.mode.severity != "cosmetic" for h in self.hurt.hazards]
        return _hazard(matters, self.hurt.chances)

    @cached_property
    def power(self) -> Floats:
        """Hazard of not working when power first comes on."""
        if self.setup.technique.purpose == "lift":
            return np.zeros_like(self.board)
        return _hazard(self.hurt.count, self.hurt.chances * self.fates.left(self.mend))

    @cached_property
    def faults(self) -> Floats:
        """Sum of the fault chances."""
        return np.tensordot(self.hurt.count, self.hurt.chances, 1)

    @cached_property
    def squares(self) -> Floats:
        """Sum of their squares."""
        return np.tensordot(self.hurt.count, self.hurt.chances**2, 1)

    @property
    def lost(self) -> Floats:
        """Chance that part or board is lost."""
        return np.asarray(1 - np.exp(-self.board - self.part))


@dataclass(frozen=True, eq=False)
class Outcome:
    """A fault table for a part with a price and spares. ``fails``: hazard of not working in
    the end, ``board`` without that of using up all parts there are; ``parts``: how many are
    used up beyond the first; ``minutes`` with fitting those."""

    table: FaultTable
    fails: Floats
    board: Floats
    parts: Floats
    minutes: Floats

    last: dict[str, Met] = field(default_factory=dict)
    chances: dict[Hand, float] = field(default_factory=dict)

    @property
    def nbytes(self) -> int:
        own = self.board.nbytes if self.board is not self.fails else 0
        return own + 2 * self.fails.nbytes + self.parts.nbytes + self.minutes.nbytes

    @cached_property
    def works(self) -> Floats:
        return np.exp(-self.fails)

    def chance_in(self, hand: Hand) -> float:
        """Chance that the job works in the end, kept for every hand: those of levels, which all
        who ask share."""
        if hand not in self.chances:
            self.chances[hand] = steady(float(hand.mean(self.works)))
        return self.chances[hand]

    def met(self, hand: Hand) -> Met:
        """The outcome in this hand; kept for the hand that asked last."""
        found = self.last.get("met")
        if found is None or found.hand is not hand:
            found = self.last["met"] = Met(self, hand)
        return found


@dataclass(frozen=True, eq=False)
class Met:
    """An outcome in one hand: means, and hazards by sample. ``told`` keeps what faces show."""

    outcome: Outcome
    hand: Hand
    told: dict[object, Any] = field(default_factory=dict)

    @cached_property
    def chance(self) -> float:
        return steady(float(self.hand.mean(self.outcome.works)))

    @cached_property
    def parts(self) -> float:
        return float(self.hand.mean(self.outcome.parts))

    @cached_property
    def minutes(self) -> float:
        return float(self.hand.mean(self.outcome.minutes))

    @cached_property
    def damage(self) -> float:
        return float(self.hand.mean(self.outcome.table.damage))

    @cached_property
    def fails(self) -> Floats:
        return self.hand.at_samples(self.outcome.fails)


def fault_table(conditions: Conditions, hurt: Hurt) -> FaultTable:
    """Tabulate a set-up that is feasible."""
    work, modes = conditions.work, tuple(hazard.mode for hazard in hurt.hazards)
    count, p = hurt.count, hurt.chances
    fates = _kept_fates(conditions, modes)
    mend = conditions.tables.mend_lifted if work.lifted else conditions.tables.mend_new
    lost = fates.lost(mend)
    killed: Floats = fates.killed
    if work.kind == "lift":
        # An unusable part is a lost part; the donor itself has no value left.
        killed, board = killed + (1 - killed) * lost, np.zeros(p.shape[1:])
    else:
        lost *= 1 - killed
        lost *= p
        board = _hazard(count, lost)
    fatal = np.flatnonzero(killed.max(axis=(1, 2)) > 0)
    minutes = count[:, None] * fates.found[:, :, 0] * _column([m.mend_minutes for m in modes])[:, 0]
    melted = count * [mode.id == "scorched" for mode in modes]
    mending = np.einsum("mw,mwn->wn", minutes, p) * mend.tries
    return FaultTable(
        setup=conditions.setup,
        hurt=hurt,
        fates=fates,
        mend=mend,
        board=board,
        part=_hazard(count[fatal], p[fatal] * killed[fatal]),
        minutes=_work_minutes(conditions) + mending,
        redo_minutes=_work_minutes(conditions, again=True),
        damage=_damage(conditions, melted, p),
    )


def _hazard(count: Floats, chances: Floats) -> Floats:
    """Of at least one among independent chances (modes x worlds x grid)."""
    none = np.subtract(1.0, chances)
    np.log(np.maximum(none, _TINY, out=none), out=none)
    return -(count @ none.reshape(len(count), -1)).reshape(chances.shape[1:])


def _damage(conditions: Conditions, melted: Floats, chances: Floats) -> Floats:
    if not melted.any():
        return conditions.tables.nothing
    return conditions.data["scorched_worth"] * np.tensordot(melted, chances, 1)


def _column(values: list[float]) -> Floats:
    return np.array(values)[:, None, None]


def _kept_fates(conditions: Conditions, modes: tuple[FaultMode, ...]) -> Fates:
    low_melt = conditions.setup.low_melt
    trap = None if low_melt is None else low_melt.trap
    key = (trap, *(mode.id for mode in modes))
    kept = conditions.tables.fates.setdefault(key, KeptByReads())

    def made(work: Work, means: Means) -> Fates:
        setup, data, tables = conditions.setup, conditions.data, conditions.tables
        return _fates(modes, Conditions(setup, work, means, data, tables), trap)

    found = kept.get(made, conditions.work, conditions.means)
    assert isinstance(found, Fates)
    return found


def _fates(modes: tuple[FaultMode, ...], conditions: Conditions, trap: Trap | None) -> Fates:
    looks, data, means = conditions.looks, conditions.data, conditions.means
    worlds = data.count + 1
    harmful = _column([mode.severity != "cosmetic" for mode in modes])

    def rows(values: list[Floats]) -> Floats:
        return np.stack([np.broadcast_to(value, (worlds, 1)) for value in values])

    eye = rows([found_by_eye(mode.id, looks, data) for mode in modes])
    hunted = either(looks.hunt, np.asarray(looks.hunt) * looks.gates)
    harm, at_once, powered = (
        rows([_figure(mode, name, data, trap) for mode in modes]) * harmful
        for name in ("harm", "part_share", "powered_share")
    )
    early = 1 - (1 - eye) * (1 - np.asarray(looks.before_power))
    return Fates(
        killed=at_once + (1 - at_once) * (1 - early) * powered,
        found=1 - (1 - eye) * (1 - hunted),
        early=early,
        harm=harm,
        at_once=at_once,
        harmful=harmful,
        mendable=rows([_mendable(mode, means, data) for mode in modes]),
    )


def _figure(mode: FaultMode, name: str, data: Worlds, trap: Trap | None) -> Floats:
    """A figure of a fault mode; what removal alloy does in a joint hangs on where it melts."""
    found = data.share(mode.id, name)
    if mode.harm_by_alloy and name == "harm" and trap is not None:
        return found * data[f"{mode.harm_by_alloy}_{trap}"]
    return found


def _mendable(mode: FaultMode, means: Means, data: Worlds) -> Floats:
    """Share of a kind of fault, once found, that what the bench has can deal with."""
    known = means.rescued(mode.id)
    share = float(mode.mendable) if known is None else known
    odds = share * data["rescue_odds"]
    return odds / (odds + 1 - share)


def _work_minutes(conditions: Conditions, again: bool = False) -> Floats:
    """A set-up does all equal parts in one go, or all that a board's side has; done
    ``again``, it serves one part."""
    technique, work = conditions.setup.technique, conditions.work
    joints = sum(work.copies(group.count) for group in work.footprint.pads)
    together = work.mates if technique.shared_set_up else work.twins
    set_up = technique.set_up_minutes / (1 if again else together)
    plain = set_up + technique.part_minutes + joints * technique.joint_minutes
    return conditions.tables.slowed(plain)


def outcome(
    table: FaultTable, irreplaceable: bool, spares: int, alike: int, data: Worlds
) -> Outcome:
    """What becomes of one of ``alike`` equal parts that share ``spares``.

    A ruined part is taken off, at a small risk for the board, and another one fitted. Where
    nobody sells it, a part lost beyond the spares ends the kit.
    """
    keep = np.exp(-table.part)
    parts = np.minimum((1 - keep) / np.maximum(keep, _TINY), data["most_parts"])
    at_board = table.setup.technique.purpose != "lift"
    board = table.board + data["redo_fatal"] * parts * at_board
    fails = board + used_up(spares, [(alike, keep)]) / alike if irreplaceable else board
    return Outcome(table, fails, board, parts, table.minutes + parts * table.redo_minutes)


def used_up(spares: int, groups: list[tuple[int, Floats]]) -> Floats:
    """Hazard that parts which share ``spares`` use up more than those. ``groups``: how many
    parts, and the chance that one try keeps a part.

    Losses before a part is kept are geometric; the chance of each number of losses in all
    follows from the logarithm of their generating function.
    """
    moments = [
        np.asarray(sum(count * (1 - keep) ** m for count, keep in groups))
        for m in range(1, spares + 1)
    ]
    chances = [np.exp(sum(count * np.log(np.maximum(keep, _TINY)) for count, keep in groups))]
    for losses in range(1, spares + 1):
        terms = (moments[m - 1] * chances[losses - m] for m in range(1, losses + 1))
        chances.append(np.asarray(sum(terms)) / losses)
    return np.asarray(-np.log(np.clip(sum(chances), _TINY, 1.0)))

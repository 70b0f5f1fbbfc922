"""One person as samples: what their records say, and their hands."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from solderrisk.model.bench import Builder, Iron, Level, Record, Tip
from solderrisk.model.footprint import Body, Footprint, PadGroup, PadKind
from solderrisk.model.kit import Board
from solderrisk.model.question import SEED, Reference
from solderrisk.model.risk_data import RiskData, Skill
from solderrisk.model.technique import Technique
from solderrisk.physics.results import IronCase, IronHeat, JointCase, Sight
from solderrisk.risk.conditions import Conditions, Eyes, Means
from solderrisk.risk.faults import hazards
from solderrisk.risk.heat.bench import Setup
from solderrisk.risk.heat.sources import SOURCES
from solderrisk.risk.results import JointHeat
from solderrisk.risk.skill import (
    Belief,
    Hand,
    Reading,
    SkillTables,
    beliefs_at,
    chance_of,
    hand_of,
    practised,
    prior_of,
    skill_tables,
    updated,
)
from solderrisk.risk.work import Work
from solderrisk.risk.worlds import Worlds

Floats = NDArray[np.float64]

JOINTS = 40  # of the part that a record's work is stood up with
COARSE_MM = 2.54
IRON = Iron(name="iron", drive="station", power_w=60, tips=(Tip(width_mm=1.0),))
BOARD = Board(name="board")
BY_HAND = ("gap", "joint", "barrel", "lead")


def reading_of(record: Record, ordinary: float, newest: str, data: RiskData) -> Reading:
    """A record whose joints count for ``ordinary`` ordinary joints each. Its age counts back
    from the day ``newest``."""
    age = None if record.date is None else float(max(_days(record.date, newest), 0))
    return Reading(record.joints * ordinary, hand_faults(record, data), age)


def _days(earlier: str, later: str) -> int:
    return (date.fromisoformat(later) - date.fromisoformat(earlier)).days


def hand_faults(record: Record, data: RiskData) -> float:
    """Faults that say something of the hand: all of them, or of the kinds that do where the
    record tells kinds."""
    if not record.modes:
        return float(record.faults)
    modes = data.fault_modes
    known = sum(each.faults for each in record.modes)
    other = max(record.faults - known, 0)
    return other + sum(e.faults for e in record.modes if modes[e.mode].per in BY_HAND)


def made_at(record: Record, skill: Skill, data: RiskData) -> tuple[Technique, float | None]:
    """Technique and pitch of a record's work; the skill's usual ones where it tells none."""
    if record.technique is None:
        return data.technique(skill.usual), record.pitch_mm or skill.usual_pitch_mm
    return data.technique(record.technique), record.pitch_mm


def per_joint(
    technique: Technique, pitch_mm: float | None, worlds: Worlds, by_skill: SkillTables
) -> Floats:
    """Faults of the hand per joint at such work, over worlds and psi."""
    found = hazards(stood_up(technique, pitch_mm, JOINTS, worlds, by_skill))
    mine = [h for h in found if h.mode.per in BY_HAND and h.mode.severity != "cosmetic"]
    faults = sum(h.count * chance_of(h.each) for h in mine)
    return np.asarray(faults / JOINTS) + np.zeros_like(by_skill.dwell_spread)


def stood_up(
    technique: Technique,
    pitch_mm: float | None,
    joints: int,
    worlds: Worlds,
    by_skill: SkillTables,
    *,
    by: Eyes | None = None,
    polarised: bool = False,
    suspects: int = 1,
) -> Conditions:
    """A plain part for a technique, with enough heat, light and magnification."""
    part = _part(_kind(technique, pitch_mm), pitch_mm or COARSE_MM, joints)
    (group,) = part.pads
    flow = worlds.reference.physics.parameters
    dwell = 1.0 + flow["barrel_flow_s" if group.through_board else "flow_s"]
    safe = dwell * worlds.reference.risk.parameters["short_fill_window"]
    heat = IronHeat(260, 220, 40, 1, "wets", "none", 1.0, 1.0, 1.0, dwell, safe)
    case = IronCase(JointCase(part, group, BOARD, "Sn63Pb37"), IRON, IRON.tips[0], 330)
    by_iron = JointHeat(group.name, group.count, case, heat)
    # Only tips take too short or too long: everything else is done to the part as a whole.
    timed = SOURCES[technique.heat].warms == "joint" and technique.solder == "wire"
    setup = Setup(technique, joints=(by_iron,) if timed else ())
    seen = Sight(pitch_mm or COARSE_MM, 1.0, 1.0, 1.0, 1.0, True)
    eyes = by or Eyes("braced", 1.0, 250.0)
    means = Means(seen, eyes.hand, "open", True, True, True, False, True, eyes.guided, "no_clean")
    work = Work(technique.purpose, part, BOARD, "Sn63Pb37", connections=joints // 2,
                polarised=polarised, suspects=suspects)  # fmt: skip
    return Conditions(setup, work, means, worlds, by_skill)


def _kind(technique: Technique, pitch_mm: float | None) -> PadKind:
    kinds = technique.suits.main or technique.suits.kinds
    if pitch_mm is not None and "gull_wing" in kinds:
        return "gull_wing"
    return "through_hole" if "through_hole" in kinds else kinds[0]


@lru_cache(maxsize=256)
def _part(kind: PadKind, pitch_mm: float, joints: int) -> Footprint:
    holes = kind in ("through_hole", "lug")
    if joints == 2 and not holes:
        return _chip(kind)
    group = PadGroup(
        kind=kind,
        count=joints,
        layout="dual" if joints > 2 else "ends",
        pitch_mm=pitch_mm,
        row_span_mm=4 * pitch_mm,
        land_w_mm=0.55 * pitch_mm,
        land_l_mm=pitch_mm,
        hole_mm=0.35 * pitch_mm if holes else None,
    )
    size = max(joints // 2, 2) * pitch_mm
    body = Body(length_mm=size, width_mm=2 * pitch_mm, height_mm=1.0)
    return Footprint(
        name=f"{kind} {pitch_mm:g}", family="dip" if holes else "soic", pads=(group,), body=body,
        orientation="pin_one", mark="a dot",
        source="assumed: a plain part to read records by",
    )  # fmt: skip


def _chip(kind: PadKind) -> Footprint:
    """Of metric size 1608."""
    group = PadGroup(
        kind=kind, count=2, layout="ends", row_span_mm=1.65, land_w_mm=0.95, land_l_mm=0.8
    )
    body = Body(length_mm=1.6, width_mm=0.8, height_mm=0.8, material="ceramic")
    return Footprint(
        name="chip", family="chip", pads=(group,), body=body,
        source="assumed: a plain chip to read records by",
    )  # fmt: skip


MAX_HANDS = 600
FEW_WORLDS = 50
FIFTHS = (0.1, 0.3, 0.5, 0.7, 0.9)
READ_WITH = 2_000  # samples by which records are read, whatever is drawn else


@dataclass(frozen=True)
class Person:
    """A builder as the engine sees them: beliefs, samples and eyes."""

    beliefs: Mapping[str, Belief]
    hands: Mapping[str, Hand]
    notes: Mapping[str, str]
    eyes: Eyes
    samples: int


class Rates:
    """Faults per joint that are predicted of somebody at a level, at a skill's usual work."""

    def __init__(self, reference: Reference) -> None:
        self.risk = reference.risk
        self.worlds = Worlds(reference, SEED, FEW_WORLDS)
        self.by_skill = skill_tables(self.worlds)

    def at(self, level: Level, skill_id: str) -> float:
        """The mean over all that is not known of such a hand."""
        index = [skill.id for skill in self.risk.levels.skills].index(skill_id)
        skill = self.risk.levels.skills[index]
        technique = self.risk.technique(skill.usual)
        table = per_joint(technique, skill.usual_pitch_mm, self.worlds, self.by_skill)
        belief = prior_of(self.risk.levels.prior(level))
        return float(hand_of(belief, index, READ_WITH, self.worlds).mean(table))


class People:
    """Samples of persons, kept: many share a belief about a skill."""

    def __init__(self, data: RiskData) -> None:
        self.data = data
        self._hands: dict[tuple[float, float, int, int, int], Hand] = {}
        self._rates: dict[tuple[str, float | None, int], Floats] = {}
        self._levels: dict[tuple[Level, int, int], Mapping[str, Hand]] = {}

    def person(
        self,
        builder: Builder,
        worlds: Worlds,
        by_skill: SkillTables,
        *,
        samples: int = 2000,
        practice: Mapping[str, float] | None = None,
        as_of: str | None = None,
    ) -> Person:
        """A builder, after ``practice`` joints by skill if any are planned.

        Raises:
            KeyError: a record, level or plan names a skill that does not exist.
        """
        beliefs = self._beliefs(builder, worlds, by_skill, practice or {}, as_of)
        own = builder.hand or self.data.levels.prior(builder.level).hand
        return Person(
            beliefs,
            self._samples(beliefs, samples, worlds),
            {skill: belief.note for skill, belief in beliefs.items()},
            Eyes(own, builder.acuity_arcmin, builder.near_point_mm, builder.guided),
            samples,
        )

    def _beliefs(
        self,
        builder: Builder,
        worlds: Worlds,
        by_skill: SkillTables,
        planned: Mapping[str, float],
        as_of: str | None,
    ) -> dict[str, Belief]:
        """The belief for every skill: what is said, what was recorded, what is planned."""
        levels = self.data.levels
        named = (*(r.skill for r in builder.records), *(s.skill for s in builder.skills), *planned)
        for name in named:
            levels.skill(name)
        guided = self.data.parameters["guided_factor"] if builder.guided else 1.0
        newest = as_of or max((r.date for r in builder.records if r.date), default="")
        found = {}
        for index, skill in enumerate(levels.skills):
            level = levels.prior(builder.level_of(skill.id))
            said = prior_of(level, guided)
            records = sorted(
                (r for r in builder.records if r.skill == skill.id), key=lambda r: r.date or ""
            )
            readings = [
                reading_of(record, self._ordinary(said, index, record, worlds, by_skill), newest,
                           self.data)
                for record in records
            ]  # fmt: skip
            joints, faults = sum(r.joints for r in records), sum(r.faults for r in records)
            note = f"your record {faults} in {joints}"
            belief = updated(said, readings, self.data, note)
            more = planned.get(skill.id, 0.0)
            found[skill.id] = practised(belief, level.joints_done + joints, more, levels)
        return found

    def _ordinary(
        self, said: Belief, index: int, record: Record, worlds: Worlds, by_skill: SkillTables
    ) -> float:
        """Ordinary joints that a joint of a record counts for: as many faults are predicted of
        this hand at its work as at those."""
        rates = self._at_work(record, index, worlds, by_skill)
        return float(self._hand(said, index, READ_WITH, worlds).mean(rates)) / said.mean

    def _at_work(self, record: Record, index: int, worlds: Worlds, by_skill: SkillTables) -> Floats:
        technique, pitch_mm = made_at(record, self.data.levels.skills[index], self.data)
        key = (technique.id, pitch_mm, worlds.seed)
        if key not in self._rates:
            self._rates[key] = per_joint(technique, pitch_mm, worlds, by_skill)
        return self._rates[key]

    def foreseen(
        self, person: Person, trial: Record, worlds: Worlds, by_skill: SkillTables
    ) -> tuple[int, ...]:
        """Faults that a trial may show, each as likely as the other: of hands from the best to
        the worst fifth of what is believed."""
        index = [skill.id for skill in self.data.levels.skills].index(trial.skill)
        hand, table = person.hands[trial.skill], self._at_work(trial, index, worlds, by_skill)
        rates = np.sort(hand.at_samples(table))
        fifths = (rates[int(share * len(rates))] for share in FIFTHS)
        return tuple(min(round(trial.joints * float(rate)), trial.joints) for rate in fifths)

    def level_hands(self, level: Level, samples: int, worlds: Worlds) -> Mapping[str, Hand]:
        """Hands of somebody at a level."""
        key = (level, samples, worlds.seed)
        if key not in self._levels:
            self._levels[key] = self._samples(beliefs_at(level, self.data), samples, worlds)
        return self._levels[key]

    def _samples(
        self, beliefs: Mapping[str, Belief], samples: int, worlds: Worlds
    ) -> dict[str, Hand]:
        hands = {}
        for index, skill in enumerate(self.data.levels.skills):
            hands[skill.id] = self._hand(beliefs[skill.id], index, samples, worlds)
        return hands

    def _hand(self, belief: Belief, index: int, samples: int, worlds: Worlds) -> Hand:
        key = (belief.a, belief.b, index, samples, worlds.seed)
        if key not in self._hands:
            if len(self._hands) >= MAX_HANDS:
                self._hands.clear()
            self._hands[key] = hand_of(belief, index, samples, worlds)
        return self._hands[key]

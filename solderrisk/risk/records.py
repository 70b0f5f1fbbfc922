"""Records read as what they are: faults seen at some work, against what is predicted there.

What a record was made at is stood up again under plain conditions, so that the bench of
today does not change what yesterday's joints say of the hand.
"""

from __future__ import annotations

from datetime import date
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from solderrisk.model.bench import Iron, Tip
from solderrisk.model.builder import Record
from solderrisk.model.footprint import Body, Footprint, PadGroup, PadKind
from solderrisk.model.kit import Board
from solderrisk.model.risk_data import RiskData, Skill
from solderrisk.model.technique import Technique
from solderrisk.physics.results import IronCase, IronHeat, JointCase, Sight
from solderrisk.risk.conditions import Conditions, Eyes, Means
from solderrisk.risk.faults import hazards
from solderrisk.risk.hands import SkillTables
from solderrisk.risk.heat.setup import Setup
from solderrisk.risk.heat.sources import SOURCES
from solderrisk.risk.results import JointHeat
from solderrisk.risk.skill import Reading
from solderrisk.risk.work import Work
from solderrisk.risk.worlds import Worlds
from solderrisk.risk.yields import chance_of

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

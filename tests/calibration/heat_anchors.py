"""What a good bench hand knows about times and failures, as bounds for the heat model.

Common practice, not measurement: no thermocouple was read for any of these. An anchor is
met while its figure lies between its bounds; outside it counts by how far it is off.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from solderrisk.model.physics_data import PhysicsData
from solderrisk.physics.hot_air import air_heat
from solderrisk.physics.iron import iron_heat
from solderrisk.physics.results import AirCase, AirHeat, IronCase
from tests.heat_joints import (
    BGA_256,
    CARTRIDGE_120,
    CHIP_0402,
    DIP_16,
    GROUND_PIN,
    IRONS,
    JACK,
    PLAIN_25,
    QFP_48,
    QFP_100,
    SAC,
    SNPB,
    SOIC_8,
    STATION_60,
    TAB,
    air_on,
    joint,
    tip_on,
)

# One unit of residual: a time off by a quarter, a temperature off by 10 K.
TIME_UNIT = math.log(1.25)
MARGIN_UNIT_K = 10.0
CENTRE = 0.1  # pull towards the middle of the bounds, so that the fit has one answer
SHARPNESS = 0.25  # pull towards the first judgement, per factor of two


@dataclass(frozen=True)
class Anchor:
    """``figure`` is dwell_s, wet_s, margin_k, molten_s, or how far beyond the part's outline
    joints melt (melts_mm) or plastics soften (softens_mm)."""

    name: str
    case: IronCase | AirCase
    figure: str
    low: float
    high: float


def _dwell(name: str, case: IronCase, low: float, high: float) -> Anchor:
    return Anchor(f"dwell: {name}", case, "dwell_s", low, high)


def _fails(name: str, case: IronCase, by_k: float) -> Anchor:
    return Anchor(f"fails: {name}", case, "margin_k", -math.inf, -by_k)


# Common practice: joints within 5 to 10 mm of the part come loose (a little more under wide
# nozzles), plastics within 20 to 30 mm are masked or taken off; around small parts less.
REACHES = (
    ("QFP-100, 10 mm nozzle", air_on(QFP_100, 10.0, 60.0), (5.0, 12.0), (20.0, 30.0)),
    ("TQFP-48, 8 mm nozzle", air_on(QFP_48, 8.0, 40.0), (5.0, 12.0), (15.0, 30.0)),
    ("SOIC-8, 5 mm nozzle", air_on(SOIC_8, 5.0, 25.0), (3.0, 10.0), (10.0, 30.0)),
)

ANCHORS: tuple[Anchor, ...] = (
    _dwell("0402, 60 W, 1 mm", tip_on(joint(CHIP_0402), STATION_60, 1.0), 1.0, 2.0),
    _dwell("SOIC pin, 60 W, 1 mm", tip_on(joint(SOIC_8), STATION_60, 1.0), 1.0, 2.0),
    _dwell("QFP pin, 60 W, 0.5 mm", tip_on(joint(QFP_100), STATION_60, 0.5), 1.0, 2.0),
    _dwell("DIP pin, 60 W, 1 mm", tip_on(joint(DIP_16), STATION_60, 1.0), 1.5, 3.0),
    _dwell("DIP pin, tin-lead, 25 W, 2 mm",
           tip_on(joint(DIP_16, alloy=SNPB), PLAIN_25, 2.0), 1.5, 4.0),
    _dwell("ground pin, one plane, spokes, tin-lead, 60 W, 1.6 mm",
           tip_on(joint(GROUND_PIN, 1, 4, SNPB), STATION_60, 1.6), 1.5, 3.0),
    _dwell("jack lug, two planes, spokes, 60 W, 3 mm",
           tip_on(joint(JACK, 2, 4), STATION_60, 3.0), 2.0, 6.0),
    _dwell("tab solid in two planes, 60 W, 3 mm: slow",
           tip_on(joint(TAB, 2, 0), STATION_60, 3.0), 4.0, 15.0),
    Anchor("wets: QFP pin, 60 W, 0.5 mm, margin",
           tip_on(joint(QFP_100), STATION_60, 0.5), "margin_k", 40.0, math.inf),
    Anchor("wets: tab solid in four planes, 120 W, 3 mm, board at 100 C",
           tip_on(joint(TAB, 4, 0), CARTRIDGE_120, 3.0, 100.0), "wet_s", 1.0, 5.0),
    Anchor("wets: tab solid in four planes, 120 W, 3 mm, board at 100 C, margin",
           tip_on(joint(TAB, 4, 0), CARTRIDGE_120, 3.0, 100.0), "margin_k", 20.0, math.inf),
    _fails("tab solid in two planes, 25 W, 3 mm", tip_on(joint(TAB, 2, 0), PLAIN_25, 3.0), 10.0),
    *(_fails(f"tab solid in four planes, 25 W, {width:g} mm",
             tip_on(joint(TAB, 4, 0), PLAIN_25, width), 25.0) for width in (1.0, 2.0, 3.0, 5.0)),
    *(_fails(f"{name}, {iron.name}, 0.5 mm, cold", tip_on(what, iron, 0.5), 50.0)
      for iron in IRONS
      for name, what in (("tab, spokes, one plane", joint(TAB, 1, 4)),
                         ("tab solid in two planes", joint(TAB, 2, 0)),
                         ("jack lug, spokes, two planes", joint(JACK, 2, 4)))),
    Anchor("air: QFP-100, tin-lead, 350 C", air_on(QFP_100, 10.0, 60.0), "molten_s", 20.0, 60.0),
    Anchor("air: QFP-100, lead-free, 400 C",
           air_on(QFP_100, 10.0, 60.0, 400.0, SAC), "molten_s", 20.0, 60.0),
    Anchor("air: QFP-100, lead-free, 350 C",
           air_on(QFP_100, 10.0, 60.0, 350.0, SAC), "molten_s", 20.0, 60.0),
    Anchor("air: TQFP-48, tin-lead, 350 C", air_on(QFP_48, 8.0, 40.0), "molten_s", 15.0, 45.0),
    Anchor("air: SOIC-8, tin-lead, 350 C", air_on(SOIC_8, 5.0, 25.0), "molten_s", 10.0, 40.0),
    Anchor("air: ball grid of 17 mm, tin-lead, 330 C, board at 100 C",
           air_on(BGA_256, 10.0, 55.0, 330.0, start_c=100.0), "molten_s", 60.0, 120.0),
    *(Anchor(f"reach: {name}, joints", case, "melts_mm", *joints_mm)
      for name, case, joints_mm, _ in REACHES),
    *(Anchor(f"reach: {name}, plastics", case, "softens_mm", *plastics_mm)
      for name, case, _, plastics_mm in REACHES),
)  # fmt: skip

# Parameters that were tuned, with the judgement that the tuning started from and is held to.
TUNED: dict[str, float] = {
    "contact_w_m2k": 1.0e5,
    "plain_contact_w_m2k": 5.0e4,
    "contact_floor_mm": 0.7,
    "tip_cone_mm": 5.0,
    "plain_inner_w_k": 0.3,
    "station_inner_w_k": 0.6,
    "cartridge_inner_w_k": 2.0,
    "eta_slope": 0.06,
    "eta_knee_d": 1.6,
    "moved_reach_d": 1.0,
}


def figures(data: PhysicsData) -> dict[str, float]:
    """What the model says for each anchor; inf for a joint that never gets there."""
    irons = [anchor.case for anchor in ANCHORS if isinstance(anchor.case, IronCase)]
    airs = [anchor.case for anchor in ANCHORS if isinstance(anchor.case, AirCase)]
    heats: Mapping[object, object] = {
        **dict(zip(irons, iron_heat(irons, data), strict=True)),
        **dict(zip(airs, air_heat(airs, data), strict=True)),
    }
    found = {}
    for anchor in ANCHORS:
        value = _figure(anchor, heats[anchor.case])
        found[anchor.name] = math.inf if value is None else float(value)
    return found


def _figure(anchor: Anchor, heat: object) -> float | None:
    if isinstance(heat, AirHeat) and isinstance(anchor.case, AirCase):
        body = anchor.case.footprint.body
        outline_mm = (body.length_mm + body.width_mm) / 4
        if anchor.figure == "melts_mm":
            return max(heat.reflow_radius_mm - outline_mm, 0.1)
        if anchor.figure == "softens_mm":
            return max(heat.plastic_radius_mm - outline_mm, 0.1)
    value: float | None = getattr(heat, anchor.figure)
    return value


def residual(anchor: Anchor, value: float) -> float:
    """0 inside the bounds; outside, how many units off."""
    if anchor.figure == "margin_k":
        return max(anchor.low - value, value - anchor.high, 0.0) / MARGIN_UNIT_K
    value = min(value, 200.0)
    return max(math.log(anchor.low / value), math.log(value / anchor.high), 0.0) / TIME_UNIT


def _centred(anchor: Anchor, value: float) -> float:
    if anchor.figure == "margin_k":
        return 0.0
    middle = math.sqrt(anchor.low * anchor.high)
    return CENTRE * math.log(min(value, 200.0) / middle) / TIME_UNIT


def objective(tuned: NDArray[np.float64], data: PhysicsData) -> NDArray[np.float64]:
    """Residuals of a fit: anchors, their middles, and the first judgement. ``tuned`` holds
    factors of two on the first judgement."""
    values = {name: first * 2.0**t for (name, first), t in zip(TUNED.items(), tuned, strict=True)}
    trial = with_values(data, values)
    found = figures(trial)
    terms = [residual(anchor, found[anchor.name]) for anchor in ANCHORS]
    terms += [_centred(anchor, found[anchor.name]) for anchor in ANCHORS]
    return np.array([*terms, *(SHARPNESS * tuned)])


def with_values(data: PhysicsData, values: Mapping[str, float]) -> PhysicsData:
    """Data with some parameters set; their relative ranges go along."""
    table = dict(data.parameters.parameters)
    for name, value in values.items():
        old = table[name]
        scale = value / old.value
        table[name] = old.model_copy(
            update={
                "value": value,
                "low": None if old.low is None else old.low * scale,
                "high": None if old.high is None else old.high * scale,
            }
        )
    return replace(data, parameters=type(data.parameters)(parameters=table))

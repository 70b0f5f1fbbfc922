"""Heat for everything a kit may hold: the whole library, odd boards, extreme benches."""

from __future__ import annotations

import math
import warnings
from functools import lru_cache
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from solderrisk.files.reference import physics_data
from solderrisk.files.yaml_source import read_model
from solderrisk.model.footprint import Footprint, FootprintFile
from solderrisk.physics.hot_air import air_heat, harm_radius_mm
from solderrisk.physics.iron import iron_heat
from solderrisk.physics.joint import joint_cases
from solderrisk.physics.low_melt import low_melt_lift
from solderrisk.physics.results import IronHeat, Note
from tests.heat_joints import (
    CHIP_0402,
    IRONS,
    JACK,
    QFP_100,
    SAC,
    SNPB,
    STATION_60,
    TAB,
    air_on,
    board,
    iron,
    joint,
    tip_on,
)

DATA = physics_data()
LIBRARY = Path(__file__).resolve().parents[2] / "footprints"


@lru_cache(maxsize=1)
def library() -> tuple[Footprint, ...]:
    files = sorted(LIBRARY.glob("*.yaml"))
    assert files
    return tuple(f for path in files for f in read_model(path, FootprintFile).footprints)


def sound(heat: IronHeat) -> None:
    for value in (heat.reached_c, heat.needed_c, heat.margin_k, heat.band_k, heat.safe_s):
        assert math.isfinite(value)
    assert heat.band_k > 0
    assert heat.safe_s > 0
    assert heat.margin_k == pytest.approx(heat.reached_c - heat.needed_c)
    assert (heat.wet_s is None) == (heat.margin_k < 0) or abs(heat.margin_k) < 0.5
    if heat.wet_s is not None:
        assert heat.wet_s >= 0
        assert heat.dwell_s is not None
        assert heat.dwell_s > heat.wet_s
    if heat.decision == "wets":
        assert heat.limit == "none"


def test_every_footprint_of_the_library_has_heat_figures() -> None:
    parts = library()
    assert len(parts) > 400
    cases = [
        tip_on(what, with_iron, 1.6)
        for part in parts
        for what in joint_cases(part, board(2), SNPB)
        for with_iron in IRONS[1:]
    ]
    for heat in iron_heat(cases, DATA):
        sound(heat)
    for air in air_heat([air_on(part, 8.0, 50.0) for part in parts], DATA):
        assert all(map(math.isfinite, (air.margin_k, air.band_k, air.top_c, air.ramp_k_s)))
        assert air.top_c <= 350.0
        assert air.plastic_radius_mm >= air.reflow_radius_mm > 0 or air.molten_s is None
    for part in parts[::10]:
        lift = low_melt_lift(part, board(2), SNPB, "Sn42Bi58", DATA, 22.0)
        assert lift.alloy_g > 0
        assert lift.molten_s >= 0


def test_most_small_joints_are_within_reach_of_an_ordinary_station() -> None:
    """Hand soldering works: nearly every joint that a tip reaches wets with a 60 W station
    and a tip of the land's width, in one to three seconds, before anything is hurt."""
    cases = [
        tip_on(what, iron(60.0, "station"), min(max(what.group.land_w_mm, 0.8), 3.0))
        for part in library()
        if part.hand_iron
        for what in joint_cases(part, board(1), SNPB)
        if what.group.kind not in ("exposed", "ball", "tab", "lug") and not what.links
    ]
    found = iron_heat(cases, DATA)
    usual = [
        heat.decision == "wets" and (heat.dwell_s or 99.0) <= min(3.0, heat.safe_s)
        for heat in found
    ]
    assert sum(usual) / len(usual) > 0.95


@settings(max_examples=40, deadline=None)
@given(
    st.sampled_from([CHIP_0402, QFP_100, TAB, JACK]),
    st.floats(5.0, 600.0), st.floats(5.0, 600.0), st.floats(0.1, 6.0), st.integers(0, 8),
    st.floats(5.0, 210.0), st.sampled_from(["plain", "station", "cartridge"]),
    st.floats(1.0, 500.0), st.floats(0.05, 30.0), st.floats(150.0, 480.0), st.floats(0.0, 200.0),
    st.sampled_from([SNPB, SAC, "Sn42Bi58", "In51Bi32.5Sn16.5"]),
)  # fmt: skip
def test_no_input_in_range_breaks_the_iron(
    part: Footprint, length: float, width: float, thick: float, planes: int, copper: float,
    drive: str, power: float, tip: float, tip_c: float, start: float, alloy: str,
) -> None:  # fmt: skip
    on = board(planes, length_mm=length, width_mm=width, thickness_mm=thick, copper_um=copper)
    what = joint(part, planes, 4, alloy, on=on)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        case = tip_on(what, iron(power, drive), tip, start, tip_c)  # type: ignore[arg-type]
        sound(iron_heat([case], DATA)[0])


@settings(max_examples=30, deadline=None)
@given(
    st.sampled_from([CHIP_0402, QFP_100, TAB, JACK]),
    st.floats(5.0, 600.0), st.floats(5.0, 600.0), st.floats(0.1, 6.0), st.integers(0, 8),
    st.floats(100.0, 650.0), st.floats(1.0, 500.0), st.floats(0.5, 40.0), st.floats(1.0, 200.0),
    st.floats(0.0, 200.0), st.sampled_from([SNPB, SAC, "Sn42Bi58"]),
)  # fmt: skip
@example(CHIP_0402, 5.0, 5.0, 1.0, 0, 211.0, 259.0, 1.0, 1.0, 0.0, SNPB)  # all heat at once
def test_no_input_in_range_breaks_the_air(
    part: Footprint, length: float, width: float, thick: float, planes: int, air_c: float,
    flow: float, nozzle: float, height: float, start: float, alloy: str,
) -> None:  # fmt: skip
    on = board(planes, length_mm=length, width_mm=width, thickness_mm=thick)
    case = air_on(part, nozzle, flow, air_c, alloy, on=on, height_mm=height, start_c=start)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        heat = air_heat([case], DATA)[0]
    for value in (heat.margin_k, heat.band_k, heat.top_c, heat.limit_c, heat.ramp_k_s):
        assert math.isfinite(value)
    assert min(start, air_c) - 1e-4 <= heat.top_c <= max(start, air_c) + 1e-4
    assert harm_radius_mm(case, 60.0, DATA) >= 0.0


def test_watts_and_ways_are_told_apart() -> None:
    """A wide tip on a weak iron lacks watts; a needle on a strong one lacks the way."""
    weak, needle = iron_heat(
        [tip_on(joint(TAB, 4, 0), IRONS[0], 5.0), tip_on(joint(TAB, 2, 0), IRONS[2], 0.5)], DATA
    )
    assert (weak.decision, weak.limit) == ("fails", "power")
    assert (needle.decision, needle.limit) == ("fails", "path")


def test_a_molten_start_wets_at_once() -> None:
    heat = iron_heat([tip_on(joint(TAB, 1, 4, "Sn42Bi58"), STATION_60, 2.0, 190.0)], DATA)[0]
    assert heat.wet_s == 0.0
    assert Note("all_molten") in heat.notes


def test_every_number_has_a_unit_and_a_source() -> None:
    allowed = ("assumed", "from memory", "common practice", "J-STD", "IPC", "Incropera",
               "Carslaw", "White", "Martin", "van Everdingen", "NASA")  # fmt: skip
    for name, parameter in DATA.parameters.parameters.items():
        assert parameter.unit, name
        assert parameter.source.startswith(allowed), name
        assert "http" not in parameter.source
    for name, offer in DATA.remedies.offers.items():
        assert offer.unit, name
        assert offer.source.startswith(allowed), name

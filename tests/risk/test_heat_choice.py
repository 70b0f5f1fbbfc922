"""Choice of tip, temperature and air, and what is said where nothing suits."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import pytest
from scipy.special import ndtr

from solderrisk.model.kit import Kit, Placement
from solderrisk.model.priced_tool import with_tools
from solderrisk.physics.results import IronHeat
from solderrisk.risk.heat_choice import window_of
from tests.risk.risk_scene import (
    BARE,
    DECENT,
    FULL,
    PLANE_BOARD,
    REFERENCE,
    job_of,
    kit_of,
    lift_kit,
    without,
)

HEAT = IronHeat(
    reached_c=260, needed_c=218, margin_k=42, band_k=10, decision="wets", limit="none",
    wet_s=0.5, wet_s_low=0.5, wet_s_high=0.5, dwell_s=1.5, safe_s=6.0,
)  # fmt: skip


def test_window_without_doubt_is_the_ratio() -> None:
    assert window_of(HEAT, 0.25, 10.0) == pytest.approx(4.0)


def test_window_is_capped() -> None:
    assert window_of(HEAT, 0.25, 3.0) == 3.0


def test_doubt_narrows_the_window_to_the_same_chance() -> None:
    """Phi(-ln(ratio)/2 / hypot(s, doubt)) = Phi(-ln(window)/2 / s): two lognormal spreads
    add like any two normal ones."""
    doubtful = replace(HEAT, wet_s_low=0.2, wet_s_high=2.0)
    doubt = math.log((2.0 + 1.0) / (0.2 + 1.0)) / 3.29
    window = window_of(doubtful, 0.25, 10.0)
    expected = ndtr(-math.log(4.0) / 2 / math.hypot(0.25, doubt))
    assert ndtr(-math.log(window) / 2 / 0.25) == pytest.approx(expected)
    assert window < 4.0


def test_no_window_where_it_fails() -> None:
    assert window_of(replace(HEAT, decision="fails", dwell_s=None), 0.25, 6.0) == 0.0
    assert window_of(replace(HEAT, decision="undecided", dwell_s=None, wet_s=None), 0.25, 6.0) == 1


def fit(name: str) -> Kit:
    return kit_of([Placement(refs="U1", footprint=name, board="b")], PLANE_BOARD)


# Common practice: about 300 C for tin-lead, hotter only for heavy joints, never above what
# practice and the part bear.
def test_cooler_rather_than_hotter() -> None:
    light = job_of(fit("R-0603"), DECENT, "fit:U1").chosen.settings
    assert light.tip_c == pytest.approx(303)
    for name in ("SHIELDED-12", "DC-JACK-2.1", "LQFP-100", "SOIC-8"):
        tip_c = job_of(fit(name), DECENT, "fit:U1").chosen.settings.tip_c
        assert tip_c is not None
        assert 303 <= tip_c <= REFERENCE.risk.parameters["tip_highest_c"]


def test_hotter_where_the_joint_asks_for_it() -> None:
    solid = PLANE_BOARD.model_copy(update={"spokes": 0})
    heavy = kit_of([Placement(refs="U1", footprint="SHIELDED-12", board="b")], solid)
    why = job_of(heavy, DECENT, "fit:U1").chosen.why
    strong, light = (int(found) for found in re.findall(r"at (\d+) C", why))
    assert light < strong


def test_lead_free_wants_a_hotter_tip() -> None:
    kit = fit("R-0603").model_copy(update={"alloy": "SAC305"})
    assert job_of(kit, DECENT, "fit:U1").chosen.settings.tip_c == pytest.approx(340)


def test_tip_fits_between_neighbours() -> None:
    chosen = job_of(fit("TSSOP-16"), DECENT, "fit:U1").options
    point = next(o for o in chosen if o.technique == "point_fine")
    assert point.settings.tip_width_mm == 0.5


def test_heavy_part_gets_a_wide_tip() -> None:
    chosen = job_of(fit("DC-JACK-2.1"), FULL, "fit:U1").chosen
    assert chosen.settings.tip_width_mm is not None
    assert chosen.settings.tip_width_mm >= 2.0


def test_nozzle_and_bore_are_chosen() -> None:
    air = job_of(lift_kit("LQFP-100"), FULL, "lift:U1").chosen.settings
    assert air.nozzle_mm in FULL.hot_air[0].nozzles_mm
    assert air.air_c is not None
    assert 300 <= air.air_c <= 430
    vacuum = job_of(lift_kit("DIP-14"), FULL, "lift:U1").chosen.settings
    assert vacuum.bore_mm in [n.bore_mm for n in FULL.desolderers[0].nozzles]
    assert vacuum.desolderer == "vacuum"
    assert vacuum.iron is None


def test_settings_name_consumables_and_magnifier() -> None:
    settings = job_of(fit("LQFP-48"), FULL, "fit:U1").chosen.settings
    assert settings.solder == "Sn63Pb37 wire 0.5 mm"
    assert settings.flux == "rosin gel"
    assert settings.magnifier == "microscope"


def test_missing_tools_are_told_in_words() -> None:
    found = job_of(lift_kit("LQFP-100"), BARE, "lift:U1")
    missing = {o.technique: o.missing for o in found.options}
    assert "hot air" in missing["hot_air_lift"]
    assert "low-melt removal alloy" in missing["low_melt_lift"]


def test_lug_wider_than_the_bore_is_told() -> None:
    found = job_of(lift_kit("DC-JACK-2.1"), FULL, "lift:U1")
    vacuum = next(o for o in found.options if o.technique == "vacuum_lift")
    assert not vacuum.feasible
    assert "bore" in vacuum.why


def test_too_little_heat_is_told_with_figures() -> None:
    weak = without(DECENT, irons=(DECENT.irons[0].model_copy(update={"highest_c": 220.0}),))
    found = job_of(fit("DC-JACK-2.1"), weak, "fit:U1")
    assert found.blocked
    assert "K short of wetting" in found.chosen.why
    assert found.tooling_needed


def test_tools_needed_unblock() -> None:
    tools = {tool.id: tool for tool in REFERENCE.plan.tools}
    for kit, key in (
        (lift_kit("LQFP-100"), "lift:U1"),
        (lift_kit("DC-JACK-2.1"), "lift:U1"),
        (fit("QFN-32"), "fit:U1"),
    ):
        blocked = job_of(kit, BARE, key)
        assert blocked.blocked
        better = with_tools(BARE, [tools[i] for i in blocked.tooling_needed])
        assert not job_of(kit, better, key).blocked
        for left_out in blocked.tooling_needed:
            fewer = [tools[i] for i in blocked.tooling_needed if i != left_out]
            assert job_of(kit, with_tools(BARE, fewer), key).blocked

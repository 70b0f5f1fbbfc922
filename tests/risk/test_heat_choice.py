"""Choice of tip, temperature and air, and what is said where nothing suits."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np
import pytest
from scipy.special import ndtr

from solderrisk.model.bench import Flux, HotPlate, Solder, Tip
from solderrisk.model.kit import Board, Kit, Placement
from solderrisk.model.plan_data import with_tools
from solderrisk.model.question import Question
from solderrisk.physics.hot_air import air_heat
from solderrisk.physics.results import AirCase, AirHeat, IronHeat
from solderrisk.risk.engine import RiskEngine
from solderrisk.risk.heat.choice import window_of
from solderrisk.risk.results import Option
from tests.risk.risk_scene import (
    BARE,
    DECENT,
    FULL,
    PLAIN_BOARD,
    PLANE_BOARD,
    REFERENCE,
    REGULAR,
    job_of,
    kit_of,
    library,
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
    assert light.tip_c == pytest.approx(300)
    for name in ("SHIELDED-12", "DC-JACK-2.1", "LQFP-100", "SOIC-8"):
        tip_c = job_of(fit(name), DECENT, "fit:U1").chosen.settings.tip_c
        assert tip_c is not None
        assert 300 <= tip_c <= REFERENCE.risk.parameters["tip_highest_c"]


def test_hotter_where_the_joint_asks_for_it() -> None:
    solid = PLANE_BOARD.model_copy(update={"spokes": 0})
    heavy = kit_of([Placement(refs="U1", footprint="SHIELDED-12", board="b")], solid)
    why = job_of(heavy, DECENT, "fit:U1").chosen.why
    strong, light = (int(found) for found in re.findall(r"at (\d+) C", why))
    assert light < strong


def test_lead_free_wants_a_hotter_tip() -> None:
    kit = fit("R-0603").model_copy(update={"alloy": "SAC305"})
    assert job_of(kit, DECENT, "fit:U1").chosen.settings.tip_c == pytest.approx(340)


def test_lead_free_wire_alone_wants_a_hotter_tip() -> None:
    """Common practice: lead-free by hand is done at 340 to 370 C, whatever the board's
    lands were tinned with."""
    wire = Solder(alloy="SAC305", wire_mm=0.5)
    settings = job_of(fit("R-0603"), without(DECENT, solders=(wire,)), "fit:U1").chosen.settings
    assert settings.tip_c is not None
    assert 340 <= settings.tip_c <= 370
    assert settings.solders == (wire,)


def test_settings_are_what_hands_can_set() -> None:
    """Common practice: a station's dial shows tens of degrees and fives of litres."""
    for footprint in ("R-0603", "QFN-32", "LQFP-100", "SHIELDED-12", "DIP-14"):
        for kit, key in ((fit(footprint), "fit:U1"), (lift_kit(footprint), "lift:U1")):
            for option in job_of(kit, FULL, key).options:
                settings = option.settings
                for value, step in (
                    (settings.tip_c, 10), (settings.air_c, 10), (settings.flow_l_min, 5)
                ):  # fmt: skip
                    assert value is None or value % step == 0, (footprint, option.technique)


def test_tips_are_those_of_the_trade() -> None:
    """Common practice: a sweep or drag wants a bevel or chisel of 1 to 3 mm, never a needle;
    chips and wires never a blade; heavy lugs the strongest iron and its widest tip."""
    cartridge = FULL.irons[-1]
    tips = (Tip(width_mm=0.4, shape="conical"), *cartridge.tips, Tip(width_mm=5.0, shape="blade"))
    bench = without(FULL, irons=(FULL.irons[0], cartridge.model_copy(update={"tips": tips})))
    for name in ("LQFP-48", "TSOP-I-48", "TSSOP-16", "SOIC-8"):
        for option in job_of(fit(name), bench, "fit:U1").options:
            if option.feasible and ("sweep" in option.technique or "drag" in option.technique):
                assert option.settings.tip_shape in ("bevel", "chisel")
                assert option.settings.tip_width_mm is not None
                assert 1.0 <= option.settings.tip_width_mm <= 3.0
    for name in ("R-0603", "INDUCTOR-6060"):
        for option in job_of(fit(name), bench, "fit:U1").options:
            assert option.settings.tip_shape != "blade"
    heavy = job_of(fit("DC-JACK-2.1"), bench, "fit:U1").chosen.settings
    assert (heavy.iron, heavy.tip_width_mm) == (cartridge.name, 3.0)


@pytest.mark.parametrize(("land", "way"), [("WIRE-LAND-2.0", "wire_tack"),
                                           ("WIRE-HOLE-1.0", "wire_through")])  # fmt: skip
def test_wires_take_a_modest_tip_and_their_own_way(land: str, way: str) -> None:
    """Common practice: a hole wants the wire through it; 1.6 to 2.4 mm of chisel, no blade."""
    wire = {"ref": "W1", "board": "b", "footprint": land, "connections": 1}
    kit = Kit.model_validate({"name": "k", "boards": (PLAIN_BOARD,), "wires": (wire,)})
    blade = FULL.irons[-1].model_copy(update={"tips": (Tip(width_mm=5.0, shape="blade"),)})
    risk = job_of(kit, without(FULL, irons=(*FULL.irons, blade)), "wire:W1")
    assert [option.technique for option in risk.options] == [way]
    settings = risk.chosen.settings
    assert settings.tip_shape == "chisel"
    assert settings.tip_width_mm is not None
    assert 1.2 <= settings.tip_width_mm <= 2.4


def test_flux_and_wire_go_with_the_work() -> None:
    """Common practice: gel where air, a flood or a sweep drives a thin flux off, the pen for
    single joints; thin wire for small joints, thick for barrels and lugs."""
    bench = without(
        FULL,
        fluxes=(Flux(kind="no_clean", form="pen"), Flux(kind="rosin"), Flux(kind="acid")),
        solders=(*FULL.solders, Solder(alloy="Sn63Pb37", wire_mm=1.0)),
    )
    for kit, key, flux in (
        (fit("LQFP-48"), "fit:U1", Flux(kind="rosin")),
        (fit("QFN-32"), "fit:U1", Flux(kind="rosin")),
        (lift_kit("LQFP-100"), "lift:U1", Flux(kind="rosin")),
        (fit("R-0603"), "fit:U1", Flux(kind="no_clean", form="pen")),
    ):
        assert job_of(kit, bench, key).chosen.settings.flux == flux
    for name, wire in (("R-0603", 0.5), ("LQFP-48", 0.5), ("DIP-14", 1.0),
                       ("DC-JACK-2.1", 1.0)):  # fmt: skip
        solders = job_of(fit(name), bench, "fit:U1").chosen.settings.solders
        assert [solder.wire_mm for solder in solders] == [wire]


def test_a_flood_takes_a_modest_tip() -> None:
    """Common practice: 230 to 280 C in a flood of low-melt alloy; hotter chars the flux."""
    options = job_of(lift_kit("SHIELDED-12"), FULL, "lift:U1").options
    settings = next(o.settings for o in options if o.technique == "low_melt_lift")
    assert settings.tip_c is not None
    assert 230 <= settings.tip_c <= 280
    assert settings.tip_shape != "conical"


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
    assert [solder.wire_mm for solder in settings.solders] == [0.5]
    assert settings.flux == Flux(kind="rosin")
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
    assert "C too cold" in found.chosen.why
    assert found.tooling_needed


def test_what_may_be_enough_is_not_told_as_needed() -> None:
    """On six planes no tool in the list surely heats such a socket; a preheater may."""
    thick = PLANE_BOARD.model_copy(
        update={"copper_layers": 12, "plane_layers": 6, "thickness_mm": 2.4}
    )
    kit = kit_of([Placement(refs="U1", footprint="USB-C-16-TH", board="b")], thick)
    found = job_of(kit, BARE, "fit:U1")
    assert found.blocked
    assert found.tooling_needed == ()
    tools = {tool.id: tool for tool in REFERENCE.plan.tools}
    helped = job_of(kit, with_tools(BARE, [tools[i] for i in found.tooling_helps]), "fit:U1")
    assert not helped.blocked
    assert not helped.chosen.decided


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
        for left_out in set(blocked.tooling_needed) - {"loupe", "microscope"}:
            fewer = [tools[i] for i in blocked.tooling_needed if i != left_out]
            assert job_of(kit, with_tools(BARE, fewer), key).blocked


def test_a_plate_is_set_up_by_its_own_heat_model() -> None:
    """Tin-lead paste on a small plate: soak and peak are settings, a hotter alloy asks for a
    hotter plate, and a plate that does not get there lacks heat."""
    fit = Placement(refs="U1", footprint="SOIC-8", board="b", technique="plate_reflow")

    def chosen(alloy: str, **plate: float) -> Option:
        paste = Solder(alloy=alloy, wire_mm=None, paste=True)
        tool = HotPlate(name="plate", **plate)
        bench = without(FULL, solders=(paste,), hot_plates=(tool,))
        kit = kit_of([fit], Board(name="b", alloy=alloy), alloy=alloy)
        options = job_of(kit, bench, "fit:U1").options
        return next(option for option in options if option.technique == "plate_reflow")

    leaded, free = chosen("Sn63Pb37"), chosen("SAC305")
    assert leaded.plate_heat is not None
    assert free.plate_heat is not None
    assert leaded.feasible
    assert leaded.plate_heat.soak_plate_c < leaded.plate_heat.peak_plate_c
    assert leaded.plate_heat.peak_plate_c < free.plate_heat.peak_plate_c
    cold = chosen("SAC305", highest_c=200)
    assert cold.missing == ("a hotter plate",)
    assert "too cold" in cold.why


THREE_PINS = Placement(refs="J1", footprint="HEADER-1X3-2.54", board="b")
SOLID = Board(name="b", copper_layers=6, plane_layers=6, copper_um=105, thickness_mm=2.4, spokes=0)


def unmelted(board: Board, share: float = 0.0, group: str = "") -> tuple[float, str]:
    """Chance that a row of three pins stays cold under a weak iron, and why."""
    links = ({"group": group, "planes": 6, "spokes": 0},) if group else ()
    kit = kit_of([THREE_PINS.model_copy(update={"links": links})], board)
    reference = REFERENCE.assuming({"tied_contacts": share}) if share else REFERENCE
    asked = Question(kit, BARE, REGULAR, library(), reference)
    chosen = RiskEngine(reference).assess(asked).by_key["fit:J1"].chosen
    mode = next((mode for mode in chosen.modes if mode.mode == "unmelted"), None)
    return (mode.each.mid, mode.why) if mode else (0.0, "")


def test_pins_whose_copper_nobody_knows_are_tied_by_a_share() -> None:
    """The heat of tied pins fails here, that of free ones does not: what is left is the chance
    that one pin of three is tied, 1 - 0.7^3."""
    listed = SOLID.model_copy(update={"ties_known": False})
    assert unmelted(SOLID) == (0.0, "")
    chance, why = unmelted(listed, share=0.3)
    assert chance == pytest.approx(0.657, abs=0.001)
    assert "taken as on copper planes: 1 of 3 pins, 0..1" in why
    # With its range, 5 % to 95 % of boards from 0.08 to 0.5, the mean is no less in doubt.
    assert 1 - 0.92**3 < unmelted(listed)[0] < 1 - 0.5**3


def test_a_board_without_planes_ties_nothing() -> None:
    assert unmelted(PLAIN_BOARD.model_copy(update={"ties_known": False})) == (0.0, "")


def test_of_undecided_air_the_best_is_told_not_the_coolest() -> None:
    """Every setting in tens of degrees asked of the heat model: none brings the joints nearer
    without costing the top as much."""
    board = {"copper_layers": 8, "plane_layers": 4, "thickness_mm": 2.4}
    part = Placement(refs="U1", footprint="BGA-256-1", board="b")
    kit = kit_of([part], PLAIN_BOARD.model_copy(update=board))
    found = job_of(kit, FULL, "fit:U1")
    assert found.chosen.air_heat is not None
    assert found.chosen.air_heat.decision == "undecided"
    case = found.chosen.case
    assert isinstance(case, AirCase)

    def gains(heat: AirHeat) -> float:
        return heat.margin_k - max(heat.top_c - heat.limit_c, 0.0)

    others = [replace(case, air_c=float(c)) for c in np.arange(250.0, 421.0, 10.0)]
    best = max(gains(heat) for heat in air_heat(others, REFERENCE.physics))
    assert gains(found.chosen.air_heat) >= best - 0.5

"""Cards, notes and refusals as an experienced bench hand would sign them.

What is expected is common practice of the trade unless a test names something else; kits and
benches are invented.
"""

from __future__ import annotations

import re
from dataclasses import replace
from functools import lru_cache
from typing import Any

import pytest

from solderrisk.files.loading import known_names
from solderrisk.model.bench import Bench, Builder, Flux
from solderrisk.model.kit import Kit
from solderrisk.model.kit_check import kit_problems
from solderrisk.physics.hot_air import air_heat
from solderrisk.physics.results import AirCase
from solderrisk.plan.advice import advise, gains
from solderrisk.plan.assess import assess
from solderrisk.plan.results import Assessment, Card
from solderrisk.report.findings import finding_remedy, finding_text
from solderrisk.report.groups import hindrances
from solderrisk.report.planning import change_rows
from solderrisk.report.words import reasons
from solderrisk.risk.results import JobRisk
from tests.risk.risk_scene import REFERENCE, asked, engine, library

BOARD: dict[str, Any] = {"name": "b", "length_mm": 80, "width_mm": 60}
HEAVY = {**BOARD, "copper_layers": 2, "plane_layers": 2, "copper_um": 70, "spokes": 0}
SOLID = [{"planes": 2, "spokes": 0}]
TIN_LEAD = [{"alloy": "Sn63Pb37", "wire_mm": 0.5}, {"alloy": "Sn63Pb37", "wire_mm": 1.0}]
PASTE = {"alloy": "Sn63Pb37", "wire_mm": None, "paste": True}
AIDS = ("flush_cutters", "tweezers", "wick", "solder_pump", "wire_stripper", "multimeter")
PLAIN: dict[str, Any] = {
    "name": "plain 25 W",
    "irons": [
        {
            "name": "plain iron",
            "drive": "plain",
            "power_w": 25,
            "tips": [{"width_mm": 1.0, "shape": "conical"}, {"width_mm": 2.0}],
        }
    ],
    "solders": [{"alloy": "Sn63Pb37", "wire_mm": 0.8}],
    "aids": AIDS,
}
STATION: dict[str, Any] = {
    "name": "station 60 W",
    "irons": [
        {
            "name": "station",
            "drive": "station",
            "power_w": 60,
            "tips": [{"width_mm": 0.5, "shape": "conical"}, {"width_mm": 1.2}, {"width_mm": 2.4}],
        }
    ],
    "solders": TIN_LEAD,
    "fluxes": [{"kind": "no_clean"}],
    "magnifiers": [{"name": "loupe", "power_x": 3.5, "distance_mm": 200}],
    "extraction": "arm",
    "aids": (*AIDS, "board_holder", "polyimide_tape", "brush"),
}
AIR = {"hot_air": [{"name": "air", "power_w": 600, "nozzles_mm": [5, 8, 10]}]}
STRONG: dict[str, Any] = {
    **STATION,
    **AIR,
    "name": "cartridge 120 W",
    "irons": [
        {
            "name": "cartridge",
            "drive": "cartridge",
            "power_w": 120,
            "tips": [{"width_mm": 1.0, "shape": "bevel"}, {"width_mm": 1.6}, {"width_mm": 3.0}],
        }
    ],
    "solders": [*TIN_LEAD, PASTE],
    "preheaters": [{"name": "preheater", "board_c": 100}],
    "desolderers": [
        {
            "name": "vacuum",
            "power_w": 90,
            "nozzles": [{"bore_mm": 0.8, "outer_mm": 1.8}, {"bore_mm": 1.0, "outer_mm": 2.3}],
        }
    ],
    "magnifiers": [{"name": "microscope", "power_x": 10}],
}


def kit(board: dict[str, Any] = BOARD, **more: Any) -> Kit:
    return Kit.model_validate({"name": "k", "boards": [board], **more})


def fit(footprint: str, board: dict[str, Any] = BOARD, **more: Any) -> Kit:
    kit_wide = {name: more.pop(name) for name in ("alloy", "footprints") if name in more}
    part = {"refs": "X1", "footprint": footprint, "board": "b", **more}
    return kit(board, placements=[part], **kit_wide)


def lift(footprint: str, condition: str = "clean", **board: Any) -> Kit:
    old = {"name": "o", "length_mm": 120, "width_mm": 80, "copper_layers": 4, "plane_layers": 2}
    donor = {"name": "old", "condition": condition, "board": {**old, **board}}
    taken = {"ref": "X1", "donor": "old", "footprint": footprint}
    return kit(donors=[donor], lifts=[taken])


@lru_cache(maxsize=64)
def answer(of: Kit, bench: Bench, level: str = "regular") -> Assessment:
    builder = Builder.model_validate({"name": "p", "level": level})
    return assess(asked(of, bench, builder, samples=200), engine())


def told(of: Kit, bench: dict[str, Any]) -> Assessment:
    return answer(of, Bench.model_validate(bench))


def job(a: Assessment, key: str) -> JobRisk:
    return a.risk.by_key[key]


def text(card: Card) -> str:
    lines = (f"{label}: {value}" for label, value in card.settings)
    return " | ".join((*lines, *card.steps, *card.look_for, *card.cautions))


# --- the hardest joint first ---


def test_a_tab_on_planes_has_its_own_wide_hot_tip() -> None:
    a = told(fit("D2PAK", HEAVY, links=SOLID), STRONG)
    chosen = job(a, "fit:X1").chosen
    settings = dict(a.cards["fit:X1"].settings)
    if chosen.joints:
        tip = {joint.group: joint.case for joint in chosen.joints}["tab"]
        assert tip.tip.width_mm >= 3.0
        assert "3 mm" in settings.get("tab", settings.get("iron", ""))
        assert chosen.joints[0].group == "tab"
    else:  # paste and air or a plate do it as well
        assert "air" in settings or "plate" in settings


def test_a_tab_is_not_lifted_with_a_small_tip() -> None:
    board = {"copper_um": 70, "spokes": 0}
    bench = STATION | AIR | {"solders": [*TIN_LEAD, PASTE]}
    chosen = job(
        answer(lift("DPAK", **board), Bench.model_validate(bench), "few"), "lift:X1"
    ).chosen
    assert all(joint.case.tip.width_mm >= 2.4 for joint in chosen.joints if joint.group == "tab")
    assert chosen.after_mending.mid < 0.97


def test_a_vacuum_tool_has_a_temperature() -> None:
    a = told(lift("DIP-40"), STRONG)
    assert job(a, "lift:X1").chosen.heat == "vacuum"
    assert re.search(r"3\d0 C", dict(a.cards["lift:X1"].settings)["vacuum"])


def test_one_card_has_one_stop_time() -> None:
    for name in ("LED-5MM", "LED-3528", "TACT-SWITCH-6", "CAP-FILM-5"):
        assert library().get(name) is not None
        card = told(fit(name), PLAIN).cards["fit:X1"]
        stops = re.findall(r"stop at (\d+) s", text(card))
        assert len(stops) == 1, name
        assert "hold on until" not in text(card)
        assert "under 2 s" not in text(card) or int(stops[0]) <= 2


def test_one_card_has_one_limit() -> None:
    a = told(lift("PLCC-44"), STATION | AIR)
    cautions = " | ".join(a.cards["lift:X1"].cautions)
    limits = {int(found) for found in re.findall(r"(?:over the|body bears) (\d+) C", cautions)}
    assert len(limits) <= 1


# --- solder in hand ---


def test_length_of_wire_is_that_of_the_wire_that_is_named() -> None:
    """Six joints of 4.9 mm3 are 44 mm of 1 mm wire with 2.2 % flux (geometry)."""
    legs = {
        "name": "legs", "kind": "through_hole", "count": 6, "layout": "dual", "pitch_mm": 10,
        "row_span_mm": 35, "land_w_mm": 4, "land_l_mm": 4, "hole_mm": 2.3,
        "lead": {"width_mm": 2, "thickness_mm": 2, "length_mm": 6, "round": True},
    }  # fmt: skip
    body = {"length_mm": 45, "width_mm": 40, "height_mm": 35, "material": "metal", "mass_g": 220}
    heavy = {
        "name": "TRAFO", "family": "other_th", "pads": [legs], "body": body,
        "heat": {"iron_c": 400, "iron_s": 8}, "source": "assumed: invented",
    }  # fmt: skip
    solder = dict(told(fit("TRAFO", footprints=[heavy]), STATION).cards["fit:X1"].settings)[
        "solder"
    ]
    found = re.fullmatch(r"Sn63Pb37 wire 1 mm, about (\d+) mm of wire", solder)
    assert found is not None
    assert 30 <= int(found[1]) <= 65


def test_fine_pitch_takes_thin_wire_though_its_tabs_are_heavy() -> None:
    joints = job(told(fit("FFC-0.5-40"), STATION), "fit:X1").chosen.joints
    pins = next(joint for joint in joints if joint.joints == 40)
    assert pins.solder is not None
    assert pins.solder.wire_mm == 0.5


def test_the_lead_note_hangs_on_the_solder_in_hand() -> None:
    a = told(fit("R-0805", alloy="SAC305"), STATION)
    assert "lead" in {note.id for note in a.safety}
    assert any("asks for SAC305, the bench has Sn63Pb37" in finding_text(f) for f in a.findings)
    free = STATION | {"solders": [{"alloy": "SAC305", "wire_mm": 0.5}]}
    assert "lead" not in {note.id for note in told(fit("R-0805", alloy="SAC305"), free).safety}


def test_water_soluble_flux_is_washed_or_left_out() -> None:
    wet = STATION | {"fluxes": [{"kind": "water_soluble"}]}
    a = told(fit("TSSOP-20"), wet)
    assert "wash it off" in dict(a.cards["fit:X1"].settings)["flux"]
    assert any("hot water" in finding_remedy(found) for found in a.findings)
    dry = wet | {"aids": ("tweezers", "wick")}
    chosen = job(told(fit("TSSOP-20"), dry), "fit:X1").chosen
    assert chosen.settings.flux != Flux(kind="water_soluble")


def test_a_warm_board_calls_for_its_note() -> None:
    a = told(fit("BGA-256-1"), STRONG)
    assert job(a, "fit:X1").chosen.settings.preheat_c is not None
    assert "preheat" in {note.id for note in a.safety}
    assert "preheat" not in {note.id for note in told(fit("R-0805"), STATION).safety}


def test_a_burnt_donor_reaches_the_verdict() -> None:
    bench = STATION | AIR
    burnt, clean = (told(lift("SOIC-8", condition), bench) for condition in ("burnt", "clean"))
    assert any("burnt spots" in reason for reason in reasons(burnt))
    assert not burnt.verdict.manageable
    assert not any("burnt" in reason for reason in reasons(clean))


# --- balls ---


def test_a_ball_grid_part_takes_no_paste() -> None:
    card = told(fit("BGA-256-1"), STRONG).cards["fit:X1"]
    assert not any("paste" in value for _, value in card.settings)


def test_a_lifted_ball_grid_part_needs_new_balls() -> None:
    old = {"name": "old", "board": {"name": "o", "copper_layers": 4, "plane_layers": 2}}
    part = {"refs": "X1", "footprint": "BGA-144-1", "board": "b", "donor": "old"}
    of = kit(donors=[old], placements=[part])
    a = told(of, STRONG)
    assert "new balls" in text(a.cards["lift:X1"])
    assert job(a, "fit:X1").blocked
    assert "reballing_set" in job(a, "fit:X1").tooling_needed
    able = told(of, STRONG | {"aids": (*STRONG["aids"], "reballing_set")})
    assert not job(able, "fit:X1").blocked
    assert "new balls in the jig" in able.cards["fit:X1"].steps[0]
    # A new part has its balls.
    assert not job(told(fit("BGA-144-1"), STRONG), "fit:X1").blocked


# --- what parts are made of ---


def test_a_capacitors_limits_are_told_beside_what_the_bench_does() -> None:
    """Makers' sheets: tip at most 300 C and 130 K over the part from 1210 on; a plain iron
    idles near 400 C (common practice)."""
    card = text(told(fit("C-1210"), PLAIN).cards["fit:X1"])
    assert "the board at 170 C, the tip at most 300 C (here 400 C)" in card
    card = text(told(fit("C-1210"), STATION).cards["fit:X1"])
    assert "the board at 170 C, the tip at most 300 C, on the land" in card


def test_large_ceramic_capacitors_want_a_warm_board() -> None:
    """Makers' sheets: step of tip over part at most 130 to 150 K, no iron above 1210."""
    cold = text(told(fit("C-1812"), PLAIN).cards["fit:X1"])
    assert "thermal shock" in cold
    warm = job(told(fit("C-1812"), STRONG), "fit:X1").chosen
    assert warm.settings.preheat_c is not None or warm.heat in ("air", "plate")
    assert "thermal shock" not in text(told(fit("R-1812"), PLAIN).cards["fit:X1"])


def test_a_thick_cable_is_too_much_for_a_small_iron() -> None:
    """A rod of 16 mm2 copper takes 38 W for 10 s at soldering heat (Carslaw and Jaeger)."""
    wire = {"ref": "W1", "board": "b", "connections": 1, "area_mm2": 16}
    of = kit(wires=[{**wire, "footprint": "WIRE-LAND-4.0"}])
    found = job(told(of, PLAIN), "wire:W1")
    assert found.blocked or not found.chosen.decided


def test_a_plane_link_is_never_dropped_in_silence() -> None:
    stud = {
        "name": "stud", "kind": "lug", "count": 1, "layout": "centre", "land_w_mm": 6,
        "land_l_mm": 6, "hole_mm": 3.4,
        "lead": {"width_mm": 3, "thickness_mm": 1, "length_mm": 3, "material": "brass"},
    }  # fmt: skip
    body = {"length_mm": 10, "width_mm": 8, "height_mm": 8, "material": "metal"}
    own = {
        "name": "STUD", "family": "other_th", "pads": [stud], "body": body,
        "source": "assumed: invented",
    }  # fmt: skip
    of = fit("STUD", {**HEAVY, "copper_um": 35}, links=SOLID, footprints=[own])
    refused = kit_problems(of, library(), alloys=known_names().alloys)
    if not refused:
        found = job(told(of, STATION), "fit:X1")
        case = found.chosen.case
        assert found.blocked or (case is not None and case.joint.links)  # type: ignore[union-attr]
    else:
        assert any("stud" in problem.message for problem in refused)


# --- ways of working ---


@pytest.mark.parametrize(
    ("of", "bench", "key", "ways"),
    [
        (lift("DIP-40", plane_layers=0, copper_layers=2), PLAIN, "lift:X1", {"pump_lift"}),
        (lift("SOIC-8"), STATION, "lift:X1", {"flood_rows_lift"}),
        (fit("MODULE-CASTELLATED-38"), STATION, "fit:X1", {"rim_iron_module"}),
        (fit("QFN-48"), STATION | AIR, "fit:X1", {"tin_and_air"}),
        (lift("LQFP-64"), STATION | AIR, "lift:X1", {"hot_air_lift"}),
    ],
    ids=["many leads by pump", "flooded rows", "module by iron", "tin and air", "hot air"],
)
def test_what_every_bench_does_is_done(
    of: Kit, bench: dict[str, Any], key: str, ways: set[str]
) -> None:
    found = job(told(of, bench), key)
    assert not found.blocked
    assert found.chosen.technique in ways


def test_a_module_by_iron_says_what_becomes_of_the_pad() -> None:
    assert "pad below is left open" in text(
        told(fit("MODULE-CASTELLATED-38"), STATION).cards["fit:X1"]
    )


def test_a_heavy_tab_is_refused_to_a_small_iron_in_plain_words() -> None:
    a = told(fit("DPAK", HEAVY, links=SOLID), PLAIN)
    assert job(a, "fit:X1").blocked
    (found,) = (finding for finding in a.findings if finding.level == "blocker")
    assert re.search(r"some \d+ C too cold", finding_text(found))
    assert "-" not in re.sub(r"\w-\w", "", finding_text(found))
    assert finding_remedy(found).startswith("cheapest way out: ")


def test_cadmium_is_refused() -> None:
    a = told(lift("LQFP-64"), STATION | {"removal_alloys": ["Bi50Pb26.7Sn13.3Cd10"]})
    assert job(a, "lift:X1").blocked
    assert "cadmium" in {note.id for note in a.safety}


# --- tools named are enough, and the cheapest ---


def test_what_is_needed_decides_the_heat() -> None:
    lug = {
        "name": "lug", "kind": "lug", "count": 1, "layout": "centre", "land_w_mm": 6,
        "land_l_mm": 6, "hole_mm": 4, "tied": True,
        "lead": {"width_mm": 3.2, "thickness_mm": 0.8, "length_mm": 3, "material": "brass"},
    }  # fmt: skip
    own = {
        "name": "LUG", "family": "other_th", "pads": [lug],
        "body": {"length_mm": 12, "width_mm": 8, "height_mm": 10, "material": "metal"},
        "heat": {"body_c": 300, "iron_c": 400, "iron_s": 10}, "source": "assumed: invented",
    }  # fmt: skip
    board = {**BOARD, "copper_layers": 4, "plane_layers": 4, "spokes": 0}
    lead_free = STATION | {"solders": [{"alloy": "SAC305", "wire_mm": 1.0}]}
    links = [{"planes": 4, "spokes": 0}]
    of = fit("LUG", board, links=links, footprints=[own], alloy="SAC305")
    found = job(told(of, lead_free), "fit:X1")
    assert found.tooling_needed != ("preheater",)


def test_a_lens_is_a_tool_for_eyes_that_need_one() -> None:
    blind = answer(fit("SSOP-28"), Bench.model_validate(STATION | {"magnifiers": []}), "regular")
    tools = job(blind, "fit:X1").tooling_needed
    assert {"loupe", "microscope"} & set(tools)
    assert not {"loupe", "microscope"} & set(
        job(told(fit("R-1206"), STATION), "fit:X1").tooling_needed
    )


@pytest.mark.parametrize(("arcmin", "lens"), [(1.0, "loupe"), (3.0, "microscope")])
def test_the_lens_that_is_needed_is_the_lens_that_advice_buys(arcmin: float, lens: str) -> None:
    """Common practice: 0.5 mm pitch is worked under a head loupe, under ten times by weak eyes."""
    builder = Builder.model_validate({"name": "p", "level": "several", "acuity_arcmin": arcmin})
    bench = Bench.model_validate(STATION | {"magnifiers": []})
    question = asked(fit("LQFP-64-10X10"), bench, builder, samples=500, target=0.6)
    needed = engine().assess(question).by_key["fit:X1"].tooling_needed
    bought = [tool.id for tool in advise(question, engine()).buys]
    for tools in (needed, bought):
        assert [tool for tool in tools if tool in ("loupe", "microscope")] == [lens]


def test_what_is_needed_is_the_cheapest() -> None:
    prices = {tool.id: tool.price for tool in REFERENCE.plan.tools}
    found = job(told(fit("DPAK", HEAVY, links=SOLID), PLAIN), "fit:X1")
    assert sum(prices[tool] for tool in found.tooling_needed) < prices["strong_iron"]


def test_the_way_out_stands_first_of_what_would_change_it() -> None:
    """Paste and a plate for 59 are less than any iron that does it."""
    bench = Bench.model_validate(PLAIN)
    builder = Builder.model_validate({"name": "p", "level": "regular"})
    question = asked(fit("DPAK", HEAVY, links=SOLID), bench, builder, samples=200)
    a = assess(question, engine())
    needed = job(a, "fit:X1").tooling_needed
    prices = {tool.id: tool.price for tool in REFERENCE.plan.tools}
    *_, head, first, second, third = change_rows(a, gains(question, engine()))
    assert f"{sum(prices[tool] for tool in needed):.0f} EUR" in first
    assert "opens 1 job" in first
    assert " + " in first
    assert "WHAT WOULD CHANGE IT" in head
    assert len({first, second, third}) == 3


def test_a_hot_plate_has_its_temperatures_and_its_time() -> None:
    """J-STD-020, table 5-2: tin-lead is soaked at 100 to 150 C for 60 to 120 s; common
    practice: joints peak 20 to 40 K above 183 C."""
    plate = {
        "hot_plates": [{"name": "plate"}],
        "solders": [*TIN_LEAD, PASTE],
        "aids": (*STATION["aids"], "stencil"),
    }
    a = told(fit("QFN-32"), STATION | plate)
    heat = job(a, "fit:X1").chosen.plate_heat
    assert heat is not None
    assert 60 <= heat.soak_s <= 120
    assert 203 <= heat.settles_c <= 225
    settings = dict(a.cards["fit:X1"].settings)
    assert re.search(r"1\d0 C for the soak, about \d+ s; then 2\d0 C", settings["plate"])
    assert re.search(r"liquid \d+ to \d+ min after switching on", settings["time"])
    # A board that no plate gets hot enough is not promised.
    free = plate | {"solders": [{"alloy": "SAC305", "wire_mm": None, "paste": True}]}
    weak = free | {"hot_plates": [{"name": "plate", "highest_c": 220}]}
    ways = {
        o.technique: o
        for o in job(told(fit("QFN-32", alloy="SAC305"), STATION | weak), "fit:X1").options
    }
    assert not ways["plate_reflow"].feasible
    assert "too cold" in ways["plate_reflow"].why


def test_heat_is_searched_finely_where_a_top_gets_too_hot() -> None:
    """Ten degrees less would have done is no word for a card: it is set so."""
    board = {"copper_um": 70, "spokes": 0}
    chosen = job(told(lift("TSOP-I-48", **board), STATION | AIR), "lift:X1").options
    air = next(option for option in chosen if option.heat == "air")
    case = air.case
    assert isinstance(case, AirCase)
    assert air.air_heat is not None
    cooler = replace(case, air_c=case.air_c - 10.0)
    (less,) = air_heat([cooler], REFERENCE.physics)
    assert less.decision != "wets" or less.top_c >= air.air_heat.top_c or less.top_c < less.limit_c


def test_what_nothing_heats_is_told_once_with_its_best_try() -> None:
    a = told(fit("DPAK", HEAVY, links=SOLID), PLAIN)
    told_of = hindrances(job(a, "fit:X1"))
    assert sum("too cold" in line for line in told_of) == 1
    # What would heat it is worked out for what is blocked as well.
    assert job(a, "fit:X1").chosen.case is not None
    assert any("what would heat it" in line for line in a.cards["fit:X1"].cautions)


def test_tools_that_may_be_written_do_something() -> None:
    """A bake oven, a scope, a lens without depth, a wire stripper change what is told."""

    def findings(of: Kit, bench: dict[str, Any]) -> str:
        listed = told(of, bench).findings
        return " | ".join(f"{finding_text(f)} {finding_remedy(f)}" for f in listed)

    wet = lift("TQFP-32")
    assert "no bake oven" in findings(wet, STATION | AIR)
    assert "no bake oven" not in findings(wet, STATION | AIR | {"aids": (*AIDS, "bake_oven")})
    gate = {"ref": "on", "title": "First power", "kind": "power_up", "after": ["all"]}
    part = {"refs": "R1", "footprint": "R-0805", "board": "b"}
    tested = kit(placements=[part], gates=[gate])
    assert "need a meter" in findings(tested, STATION | {"aids": ("tweezers",)})
    assert "need a meter" not in findings(tested, STATION | {"aids": ("tweezers", "oscilloscope")})
    screen = STATION | {"magnifiers": [{"name": "camera", "power_x": 10, "stereo": False}]}
    assert "no depth" in dict(told(fit("SSOP-28"), screen).cards["fit:X1"].settings)["look through"]
    wire = kit(wires=[{"ref": "W1", "board": "b", "connections": 1, "footprint": "WIRE-LAND-2.0"}])
    assert "stripped" in findings(wire, STATION | {"aids": ("tweezers",)})
    assert "stripped" not in findings(wire, STATION)

"""Moisture with the standards' hours, leads against holes, and what helps heat in doubt."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from solderrisk.files.loading import load_library
from solderrisk.files.reference import load_reference, physics_data, plan_data
from solderrisk.model.bench import Bench, Builder
from solderrisk.model.footprint import Body, Footprint, Lead, PadGroup
from solderrisk.model.jobs import Job, jobs_of
from solderrisk.model.kit import Kit
from solderrisk.model.question import Question
from solderrisk.physics.part_limits import shock_limit
from solderrisk.physics.results import Remedy
from solderrisk.plan.assess import assess
from solderrisk.plan.cards import cards
from solderrisk.plan.heating import heat_help, remedy_words
from solderrisk.plan.part_findings import (
    _shock,
    _soft,
    _weight,
    care_of,
    heat_doubt,
    holes,
    moisture,
)
from solderrisk.report.findings import finding_remedy, finding_text
from solderrisk.risk.engine import RiskEngine
from solderrisk.risk.results import JointHeat, Option, Settings
from tests.heat_joints import STATION_60, TAB, joint, tip_on
from tests.plan.kit_builder import AIR, LIBRARY, air_heat, jobs, kit, option, part, risk
from tests.plan.test_heating import a_package, a_tab

DATA = physics_data()


def under_air(level: str | None, high_mm: float) -> str:
    (work,) = jobs(kit(placements=[part("U1", "QFN")]))
    assert work.footprint is not None
    body = work.footprint.body.model_copy(update={"height_mm": high_mm})
    wet = work.footprint.model_copy(update={"moisture_level": level, "body": body})
    found = risk((replace(work, footprint=wet),), {"fit:U1": option("air", settings=AIR)})
    return " ".join(f"{finding_text(f)}. {finding_remedy(f)}" for f in moisture(found, DATA))


@pytest.mark.parametrize(
    ("level", "high_mm", "floor", "bake"),
    [
        # J-STD-020, floor life; J-STD-033, early revision, user bake at 30 C / 85 % RH.
        ("3", 2.0, "168 h", "27 h at 125 C or 4 days at 90 C or 37 days at 40 C"),
        ("3", 1.4, "168 h", "9 h at 125 C or 33 h at 90 C or 13 days at 40 C"),
        # An LQFP is 1.6 mm high on the board and 1.4 mm thick: the row of 1.4 mm.
        ("3", 1.6, "168 h", "9 h at 125 C or 33 h at 90 C or 13 days at 40 C"),
        ("4", 1.8, "72 h", "34 h at 125 C or 5 days at 90 C or 47 days at 40 C"),
        ("5a", 1.0, "24 h", "16 h at 125 C or 54 h at 90 C or 22 days at 40 C"),
        ("3", 3.5, "168 h", "48 h at 125 C or 10 days at 90 C or 79 days at 40 C"),
        ("3", 5.5, "168 h", "bake before the heat as J-STD-033 says"),  # no such row
        ("6", 1.0, "baking before every use", "as J-STD-033 says"),
    ],
)
def test_moisture_names_the_standards_hours(
    level: str, high_mm: float, floor: str, bake: str
) -> None:
    found = under_air(level, high_mm)
    assert floor in found
    assert bake in found
    assert "the label and the data sheet go first" in found


def test_a_populated_donor_gets_the_milder_oven() -> None:
    work = jobs(kit(placements=[part("U1", "QFP", donor="old")]))
    lift = next(job for job in work if job.kind == "lift")
    assert lift.footprint is not None
    wet = replace(lift, footprint=lift.footprint.model_copy(update={"moisture_level": "3"}))
    found = risk((wet,), {"lift:U1": option("air", settings=AIR)})
    (told,) = moisture(found, DATA)
    bake = "bake before the heat: 33 h at 90 C or 13 days at 40 C; 9 h at 125 C only"
    assert bake in finding_remedy(told)


@pytest.mark.parametrize("level", [None, "1", "2", "2a"])
def test_dry_parts_are_left_alone(level: str | None) -> None:
    assert under_air(level, 2.0) == ""


def pins(name: str, hole_mm: float, lead_mm: float) -> Footprint:
    lead = Lead(width_mm=lead_mm, thickness_mm=lead_mm, length_mm=3.0)
    group = PadGroup(kind="through_hole", count=4, pitch_mm=2.54, land_w_mm=1.7, land_l_mm=1.7,
                     hole_mm=hole_mm, lead=lead)  # fmt: skip
    return Footprint(
        name=name, family="header", pads=(group,), source="assumed: made for a test",
        body=Body(length_mm=10.0, width_mm=2.5, height_mm=8.0),
    )  # fmt: skip


def hole_texts(**more: Any) -> list[tuple[str, str]]:
    of = kit(**more)
    return [(f.level, finding_text(f)) for f in holes(of, jobs_of(of, LIBRARY), DATA)]


def test_a_kit_s_own_footprint_is_held_against_its_lead() -> None:
    # 0.64 mm square: 0.91 mm corner to corner; IPC-2222 level B asks for 0.2 mm more.
    thin, tight, right = pins("THIN", 0.85, 0.64), pins("TIGHT", 1.0, 0.64), pins("FIT", 1.2, 0.64)
    placed = [part("J1", "THIN"), part("J2", "TIGHT"), part("J3", "FIT")]
    found = hole_texts(placements=placed, footprints=[thin, tight, right])
    assert [level for level, _ in found] == ["caution", "note"]
    assert found[0][1] == "J1, pins: lead 0.91 mm across does not enter a 0.85 mm hole"
    assert found[1][1].startswith("J2, pins: tight: hole 1.00 mm")


def test_a_thin_ring_of_land_is_told() -> None:
    # IPC-2221 9.1, level C, lead 0.905 mm: hole 1.055, land 1.055 + 0.1 + 0.4 = 1.555 mm.
    wide = pins("WIDE", 1.2, 0.64)
    group = wide.pads[0].model_copy(update={"land_w_mm": 1.5, "land_l_mm": 1.5})
    thin = wide.model_copy(update={"name": "THIN", "pads": (group,)})
    placed = [part("J1", "WIDE"), part("J2", "THIN")]
    assert hole_texts(placements=placed, footprints=[wide, thin]) == [
        ("note", "J2, pins: land 1.50 mm, 1.56 advised: it lifts easily")
    ]


def test_the_library_s_own_are_not_gone_through_again() -> None:
    assert hole_texts(placements=[part("J1", "HEADER")]) == []


def test_a_donor_s_lead_is_held_against_the_new_hole() -> None:
    new, old = pins("NEW", 1.0, 0.5), pins("OLD", 1.2, 0.9)
    lift = {"ref": "X1", "footprint": "OLD", "donor": "old", "becomes": "J1"}
    of: dict[str, Any] = {"placements": [part("J1", "NEW")], "footprints": [new, old]}
    assert hole_texts(**of) == []
    assert hole_texts(**of, lifts=[lift]) == [
        ("caution", "J1, pins: lead 1.27 mm across does not enter a 1.00 mm hole")
    ]


def test_doubt_is_told_with_what_moves_it() -> None:
    work = jobs(kit(placements=[part("U1-U2", "SO"), part("U3", "QFP")]))
    unsure = replace(option("point"), decided=False)
    found = risk(work, {job.key: unsure for job in work})
    helps = {
        "fit:U1": (Remedy(31.0, 2.0, tip_width_mm=3),),
        "fit:U2": (Remedy(26.4, 2.0, tip_width_mm=3),),
    }
    one, other = heat_doubt(found, helps)
    assert finding_remedy(one).endswith("what would heat it: a 3 mm tip (26 C to spare)")
    assert one.keys == ("fit:U1", "fit:U2")
    assert other.keys == ("fit:U3",)
    assert "may be enough" in finding_remedy(other)


@pytest.mark.parametrize("make", [a_tab, a_package])
@pytest.mark.parametrize("blocked", [False, True])
def test_help_is_the_heat_model_s_and_reaches_the_card(make: Any, blocked: bool) -> None:
    way = replace(make(), decided=False)
    found = risk(jobs(kit(placements=[part("U1-U2", "SO")])), {"fit": way})
    items = tuple(replace(item, blocked=blocked) for item in found.jobs)
    helps = heat_help(replace(found, jobs=items), DATA)
    assert helps["fit:U1"] == helps["fit:U2"]
    assert helps["fit:U1"]
    assert all(remedy.margin_k > 0 for remedy in helps["fit:U1"])
    card = cards(replace(found, jobs=items), load_reference(), {}, (), helps=helps)["fit:U1"]
    first = helps["fit:U1"][0]
    assert f"{remedy_words(first)}, with some {first.margin_k:.0f} C to spare" in " ".join(
        card.cautions
    )


def test_what_wets_needs_no_help() -> None:
    work = jobs(kit(placements=[part("U1", "SO")]))
    found = risk(work, {"fit": replace(a_package(), air_heat=air_heat())})
    assert heat_help(found, DATA) == {}
    assert heat_help(risk(work), DATA) == {}


PLAIN = Bench.model_validate(
    {
        "name": "plain",
        "irons": [{"name": "i", "drive": "station", "power_w": 60, "tips": [{"width_mm": 2}]}],
        "solders": [{"alloy": "Sn63Pb37"}],
    }
)


def card_of(placement: dict[str, object], board: dict[str, object] | None = None) -> str:
    """Everything the card of one part says, on a bench with a plain iron."""
    kit = Kit.model_validate(
        {
            "name": "k",
            "boards": [{"name": "b", **(board or {})}],
            "placements": [{"refs": "X1", "board": "b", **placement}],
        }
    )
    reference = load_reference()
    question = Question(kit, PLAIN, Builder(name="me"), load_library(), reference, samples=200)
    found = assess(question, RiskEngine(reference))
    told = " ".join(f"{finding_text(f)}. {finding_remedy(f)}" for f in found.findings)
    return " ".join((*found.cards["fit:X1"].cautions, told))


def test_cards_say_what_a_part_asks_for_besides_heat() -> None:
    """Makers' sheets for ceramic capacitors from 1210 on; NASA workmanship 6.01 for weight;
    common practice for heat sinks and coatings."""
    assert "cracks under a thermal shock" in card_of({"footprint": "C-1812"})
    assert "makers want hot air or a plate" in card_of({"footprint": "C-1812"})
    assert "makers want" not in card_of({"footprint": "C-1210"})
    assert "crack" not in card_of({"footprint": "R-1812"})
    assert "crack" not in card_of({"footprint": "C-0603"})
    assert "heat sink first" in card_of({"footprint": "TO-220", "fixing": "heat_sink"})
    assert "screw it down first" in card_of({"footprint": "TO-220", "fixing": "screw"})
    assert "when its joints are cold" in card_of({"footprint": "D2PAK", "fixing": "heat_sink"})
    assert "out of its contacts" in card_of({"footprint": "FFC-1X10-0.5"})
    assert "contacts" not in card_of({"footprint": "HEADER-1X4-2.54"})
    assert "lands come with it" in card_of({"footprint": "SOIC-8"}, {"coating": "epoxy"})
    paper = card_of({"footprint": "DIP-16"}, {"material": "phenolic_paper"})
    assert "lands lift easily" in paper


def test_no_card_asks_for_a_full_hole_where_there_is_no_barrel() -> None:
    question = Question(
        Kit.model_validate(
            {
                "name": "k",
                "boards": [{"name": "b", "material": "phenolic_paper"}],
                "placements": [{"refs": "U1", "footprint": "DIP-16", "board": "b"}],
            }
        ),
        PLAIN,
        Builder(name="me"),
        load_library(),
        load_reference(),
        samples=200,
    )
    card = assess(question, RiskEngine(load_reference())).cards["fit:U1"]
    told = " ".join((*card.look_for, *card.steps))
    assert "filled" not in told
    assert "hole is full" not in told
    assert "far side" not in told


def damp(*jobs_: Job, bench: Bench | None = None, data: Any = None) -> list[Any]:
    wet = [replace(job, footprint=job.footprint.model_copy(update={"moisture_level": "3"}))
           for job in jobs_ if job.footprint is not None]  # fmt: skip
    hot = {kind: option("air", settings=AIR) for kind in ("fit", "lift")}
    return [found.of for found in moisture(risk(tuple(wet), hot), data, bench)]


def test_one_that_was_on_a_board_is_baked_with_all_the_rest() -> None:
    work = jobs(kit(placements=[part("U1", "QFN"), part("U2", "QFN", donor="old")]))
    fit, lift = (next(job for job in work if job.kind == kind) for kind in ("fit", "lift"))
    assert [found.dry_when_new for found in damp(fit, lift)] == [False]
    assert [found.dry_when_new for found in damp(fit)] == [True]
    oven = Bench(name="b", aids=("bake_oven",))
    ovens = [damp(fit, bench=bench)[0].oven for bench in (None, oven, Bench(name="b"))]
    assert ovens == [True, True, False]
    # The oven of 90 C is one that a populated board bears; a new part goes into any.
    (told,), (new,) = damp(lift, data=DATA), damp(fit, data=DATA)
    assert [oven_c for oven_c, _ in told.baking.mild] == [90.0, 40.0]
    assert (new.baking.mild, new.floor_h) == ((), 168.0)
    assert damp(*jobs(kit(wires=[{"ref": "W1", "board": "main", "connections": 1}]))) == []


def test_which_leads_are_held_against_which_holes() -> None:
    """A donor's lead against the library's own hole of 0.9 mm: 1.27 mm does not enter. Without the
    donor, or off a part of the same drawing, the library's own are not gone through."""
    old = pins("OLD", 1.5, 0.9)
    lift = {"ref": "X1", "footprint": "OLD", "donor": "old", "becomes": "J1"}
    of: dict[str, Any] = {"placements": [part("J1", "HEADER")], "footprints": [old]}
    assert [level for level, _ in hole_texts(**of, lifts=[lift])] == ["caution"]
    assert hole_texts(**of) == []
    assert hole_texts(placements=[part("J1", "HEADER", donor="old")]) == []
    # A flat part has no hole, a slot no ring that is judged, and the narrow side counts.
    flat = old.pads[0].model_copy(update={"kind": "gull_wing", "hole_mm": None})
    smd = old.model_copy(update={"name": "SMD", "pads": (flat,)})
    task = {"ref": "t", "title": "t"}
    found = hole_texts(placements=[part("U1", "SMD")], footprints=[smd], tasks=[task])
    assert found == []
    lands = {"land_w_mm": 1.5, "land_l_mm": 3.0}
    for slot, told in ((None, 1), (1.2, 0)):
        pad = pins("P", 1.2, 0.64).pads[0].model_copy(update={**lands, "slot_w_mm": slot})
        thin = old.model_copy(update={"name": "THIN", "pads": (pad,)})
        found = hole_texts(placements=[part("J1", "THIN")], footprints=[thin])
        assert len([text for _, text in found if "land 1.50" in text]) == told


def test_what_passes_a_limit_is_told_in_whole_kelvins_and_never_as_none() -> None:
    """2.6 and 3.4 K read the same and stand together; 0.3 K is over, 0 and less is not."""
    work = jobs(kit(placements=[part("U1-U5", "SO")]))
    found = risk(work, {"fit": replace(option("point"), decided=False)})
    over = dict(zip((job.key for job in work), (2.6, 3.4, 0.3, 0.0, -1.0), strict=True))
    helps = {key: (Remedy(9.0, 2.0, air_c=380.0, over_limit_k=k),) for key, k in over.items()}
    told = [(f.refs, f.of[0].over_limit_k) for f in heat_doubt(found, helps)]  # type: ignore[union-attr, index]
    assert [refs for refs, _ in told] == [("U1", "U2"), ("U3",), ("U4",), ("U5",)]
    figures = [k for _, k in told]
    assert (figures[0], figures[2], figures[3]) == (3.0, 0.0, -1.0)
    assert 0.0 < figures[1] < 0.5


BIG = load_library().get("C-1812")


def shocked(*tips_c: float, preheat_c: float | None = None, name: str = "C-1812") -> str:
    """What a card says of a ceramic capacitor under irons of these temperatures."""
    footprint = load_library().get(name)
    assert footprint is not None
    hot = tuple(JointHeat("end", 1, tip_on(joint(TAB, 1, 0), STATION_60, 1.0, 22.0, tip_c=c),
                          None) for c in tips_c)  # fmt: skip
    way = Option("w", "w", True, joints=hot, settings=Settings(preheat_c=preheat_c))  # type: ignore[arg-type]
    return " ".join(_shock(footprint, way, DATA))


def test_how_warm_a_large_ceramic_capacitor_is_kept_by_the_table() -> None:
    """By the table: the tip so many kelvin over the board at most, and no hotter than its most;
    what is here is told where it falls short."""
    assert BIG is not None
    limit = shock_limit(BIG, DATA)
    assert limit is not None
    most, step = limit.tip_most_c, limit.step_k
    below, over = most - 20.0, most + 30.0
    board, tip = f"the board at {below - step:.0f} C", f"the tip at most {most:.0f} C"
    assert f"{board}, {tip}, on" in shocked(below)
    # The hottest of all joints counts, and no more than the most that is allowed at all.
    hot = shocked(below, over)
    assert f"the board at {most - step:.0f} C, {tip} (here {over:.0f} C), on" in hot
    assert f"{board} (here 40 C), {tip}, on" in shocked(below, preheat_c=40.0)
    warm = below - step
    assert f"{board}, {tip}, on" in shocked(below, preheat_c=warm)
    assert f"{board} (here {warm - 1:.0f} C), {tip}" in shocked(below, preheat_c=warm - 1)
    assert "the board at 0 C" in shocked(step - 30.0)
    assert shocked().startswith("large ceramic capacitors crack: warm it up slowly")
    assert shocked(350.0, name="C-0603") == shocked(350.0, name="R-1812") == ""


def test_what_is_held_by_more_than_its_joints() -> None:
    """A known weight over what joints carry; what is fixed says how, whatever it weighs."""
    (job,) = (job for job in jobs(kit(placements=[part("L1", "COIL")])) if job.kind == "fit")
    assert job.footprint is not None
    most = DATA.parameters["fasten_g"]

    def told(mass_g: float | None, fixing: Any = None, hole: bool = False) -> str:
        footprint = job.footprint
        assert footprint is not None
        if hole:
            footprint = LIBRARY.get("DIP")
            assert footprint is not None
        body = footprint.body.model_copy(update={"mass_g": mass_g})
        heavy = footprint.model_copy(update={"body": body})
        return " ".join(_weight(replace(job, fixing=fixing), heavy, DATA))

    assert told(None) == told(0.1) == ""
    assert told(most + 1).startswith(f"{most + 1:.0f} g is more than joints carry")
    assert told(most + 1, "glue") == "glue first, then solder"
    assert told(0.1, "screw").startswith("screw it down first")
    assert told(0.1, "heat_sink").startswith("its heat sink goes on when")
    assert told(0.1, "heat_sink", hole=True).startswith("screw it to its heat sink first")


def test_a_board_above_its_glass_point_is_soft() -> None:
    (job,) = jobs(kit(placements=[part("U1", "SO")]))
    assert job.board is not None
    glass_c = DATA.materials.of(job.board).glass_c
    assert glass_c is not None

    def told(preheat_c: float | None) -> list[str]:
        way = Option("w", "w", True, settings=Settings(preheat_c=preheat_c))
        return list(_soft(job.board, way, DATA))  # type: ignore[arg-type]

    assert told(None) == told(glass_c) == []
    assert told(glass_c + 5) == [f"at {glass_c + 5:.0f} C the board is soft: support it flat, push "
                                 "nothing"]  # fmt: skip


def test_what_a_card_says_of_coats_metals_glue_and_wires() -> None:
    wire = {"ref": "W1", "board": "main", "connections": 1}
    work = jobs(kit(placements=[part("U1", "SO", donor="old"), part("J1", "SLOT")], wires=[wire]))
    by_key = {job.key: job for job in work}

    def said(key: str, coating: str = "none", material: str = "", **more: Any) -> list[str]:
        job = by_key[key]
        assert job.board is not None
        assert job.footprint is not None
        board = job.board.model_copy(update={"coating": coating})
        body = job.footprint.body.model_copy(update={"material": material} if material else {})
        footprint = job.footprint.model_copy(update={"body": body})
        job = replace(job, board=board, footprint=footprint, **more)
        (lines,) = care_of(risk((job,)), DATA, plan_data().families).values()
        return [line.partition(":")[0].partition(",")[0] for line in lines]

    assert said("fit:U1") == said("lift:U1") == said("wire:W1") == []
    assert said("lift:U1", glued=True) == ["glued down"]
    assert said("lift:U1", "silicone") == ["silicone coating"]
    assert said("fit:J1") == ["keep flux and solvent out of its contacts"]
    assert said("wire:W1", material="enamel") == ["scrape the enamel off"]
    assert said("wire:W1", material="polyethylene") == ["its inner insulation melts near 105 C"]
    assert said("fit:U1", material="enamel") == said("fit:U1", material="polyethylene") == []

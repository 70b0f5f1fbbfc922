"""Technique cards from hand-made options."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from solderrisk.files.reference import risk_data
from solderrisk.physics.results import AirHeat, IronHeat, LowMeltLift, SolderNeed
from solderrisk.plan.cards import cards, settings_lines
from solderrisk.plan.results import Card, SafetyNote
from solderrisk.risk.results import Settings
from tests.plan.kit_builder import AIR, IRON, air_heat, jobs, kit, option, part, risk

TECHNIQUES = risk_data().techniques
FIRST = TECHNIQUES[0]


def card(refs: str = "U1", footprint: str = "SO", **more: Any) -> Card:
    """The card of a fit. ``way`` changes the option, ``risky`` the job's risk."""
    way, risky = more.pop("way", {}), more.pop("risky", {})
    safety, accepted = more.pop("safety", ()), more.pop("accepted", None)
    work = jobs(kit(placements=[part(refs, footprint, **more)]))
    chosen = replace(option(FIRST.id), title=FIRST.title, **way)
    found = risk(work, {"fit": chosen})
    found = replace(found, jobs=tuple(replace(item, **risky) for item in found.jobs))
    fit = next(job for job in work if job.kind == "fit")
    limits = {fit.alike: accepted} if accepted else None
    return cards(found, TECHNIQUES, {}, safety, limits)[fit.key]


def test_settings_in_trade_words() -> None:
    assert list(settings_lines(IRON)) == [
        "iron: station, 1.6 mm chisel tip at 330 C",
        "solder: Sn63Pb37",
    ]
    assert list(settings_lines(AIR)) == ["air: blower, 8 mm nozzle, 350 C, 40 l/min"]
    every = Settings(
        desolderer="gun", bore_mm=1.3, preheat_c=100.0, dwell_s=2.34, removal_alloy="Sn42Bi58",
        flux="rosin gel", magnifier="loupe", power_x=10.0,
    )  # fmt: skip
    assert list(settings_lines(every)) == [
        "vacuum: gun, 1.3 mm bore",
        "preheat: board at 100 C",
        "removal alloy: Sn42Bi58",
        "flux: rosin gel",
        "look through: loupe (10x)",
    ]


def test_time_under_hot_air_is_a_range_of_the_whole_part() -> None:
    heat = AirHeat(42.1, 35.6, 58.3, 20.0, 10.0, "wets", 230.0, 260.0, 2.0, 17.0, 40.0, 100.0)
    lines = card(way={"settings": AIR, "air_heat": heat}).settings_lines
    assert "time: everything is liquid after about 36 s to 58 s" in lines
    endless = replace(heat, molten_s_high=None)
    lines = card(way={"settings": AIR, "air_heat": endless}).settings_lines
    assert "time: everything is liquid after about 36 s to much longer" in lines


def test_time_of_an_iron_has_its_end() -> None:
    heat = IronHeat(300, 218, 80, 20, "wets", "none", 0.6, 0.4, 0.9, 1.6, 6.3)
    way = {"settings": replace(IRON, dwell_s=1.6), "iron_heat": heat}
    lines = card(way=way).settings_lines
    assert "time: about 2 s per joint; let go after 6 s at the latest" in lines


def test_an_iron_alone_reads_well() -> None:
    assert list(settings_lines(Settings(iron="plain"))) == ["iron: plain"]


def test_solder_is_told_with_its_length() -> None:
    lines = list(
        settings_lines(Settings(solder="Sn63Pb37 wire 0.5 mm"), SolderNeed(1, 0.01, 7.6, 1))
    )
    assert lines == ["solder: Sn63Pb37 wire 0.5 mm, about 8 mm of wire"]


def test_steps_and_looks_come_from_the_technique() -> None:
    found = card(accepted=("at most 0.1 mm beside the land",))
    assert found.technique == FIRST.title
    assert found.steps == FIRST.steps
    assert found.look_for == (*FIRST.look_for, "at most 0.1 mm beside the land")
    assert found.title == "Fit U1: SO"


def test_a_low_melt_lift_says_how_often_to_wick() -> None:
    mixed = LowMeltLift(152.4, 8.0, 1.5, 11.6, 3, 1.0, True, "", ("keep the heat on",))
    found = card(way={"low_melt": mixed, "settings": Settings(removal_alloy="Sn42Bi58")})
    assert found.settings_lines == (
        "removal alloy: Sn42Bi58",
        "mixture: melts near 152 C, give or take 8 C; stays liquid about 12 s without heat",
        "wick clean: 3 times with fresh solder",
    )
    assert "keep the heat on" in found.cautions


def test_blocked_work_has_no_settings_and_no_steps() -> None:
    found = card(risky={"blocked": True}, way={"air_heat": air_heat()})
    assert (found.settings_lines, found.steps, found.look_for) == ((), (), ())
    assert not any("mask" in line for line in found.cautions)


def test_orientation_only_where_it_matters() -> None:
    assert "data sheet" in card().orientation  # pin one, but no mark is known
    assert "second joint" in card().orientation
    assert card(footprint="R").orientation == ""
    assert card(polarised=False).orientation == ""


def test_a_lift_needs_no_orientation() -> None:
    work = jobs(kit(placements=[part("U1", "SO", donor="old")]))
    found = cards(risk(work), TECHNIQUES, {}, ())
    assert found["lift:U1"].orientation == ""
    assert found["lift:U1"].title == "Lift U1: from old"
    assert found["fit:U1"].orientation


def test_cautions() -> None:
    plain = card(footprint="R").cautions
    # The limits of a part that states none of its own: the model's defaults.
    assert plain == (
        "the usual limit of this kind of part: tip 350 C for 3 s, body 260 C; "
        "its data sheet goes first",
    )
    assert "its plastic softens near 200 C" in card(footprint="JACK").cautions
    assert any("cannot be bought again" in c for c in card(irreplaceable=True).cautions)
    hot = card(way={"air_heat": air_heat(8.0, 15.0), "settings": AIR}).cautions
    assert (
        "mask or leave out plastics within 15 mm and mind joints within 8 mm of its centre" in hot
    )
    unsure = card(way={"decided": False}).cautions
    assert unsure[-1].startswith("the heat model cannot decide")
    assert card(risky={"findings": ("pitch below 0.5 mm",)}).cautions[-1] == "pitch below 0.5 mm"


def test_safety_notes_of_the_job() -> None:
    def note(name: str, *keys: str) -> SafetyNote:
        return SafetyNote(name, name, ("x",), True, keys, "common practice")

    assert card(safety=(note("lead", "fit:U1"), note("cells", "fit:B1"))).safety == ("lead",)

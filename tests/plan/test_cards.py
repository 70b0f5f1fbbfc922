"""Technique cards from hand-made options."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from solderrisk.files.reference import load_reference, plan_data, risk_data
from solderrisk.model.bench import Flux, Solder
from solderrisk.model.footprint import HeatLimit
from solderrisk.model.jobs import Job
from solderrisk.physics.results import AirHeat, IronHeat, LowMeltLift, Note, SolderNeed
from solderrisk.plan.cards import SHEET, _limit, _reach, _wide_tip, cards, latest_s, settings_of
from solderrisk.plan.results import Card, SafetyNote, SolderUse
from solderrisk.risk.results import JointHeat, Settings
from tests.heat_joints import STATION_60, TAB, joint, tip_on
from tests.plan.kit_builder import AIR, IRON, air_heat, jobs, kit, option, part, risk

TECHNIQUES = risk_data().techniques
PARAMETERS = plan_data().parameters.replaced(
    {"card_land_s": 5.0, "paste_metal_mass_share": 0.9, "paste_metal_volume_share": 0.5}
)
PACKAGED = load_reference()
REFERENCE = replace(PACKAGED, plan=replace(PACKAGED.plan, parameters=PARAMETERS))
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
    return cards(found, REFERENCE, {}, safety, limits)[fit.key]


def lines(settings: Settings, *uses: SolderUse) -> list[str]:
    way = option(FIRST.id, settings=settings)
    return [f"{label}: {value}" for label, value in settings_of(way, PARAMETERS, uses)]


def test_settings_in_trade_words() -> None:
    assert lines(IRON) == [
        "iron: station, 1.6 mm chisel tip at 330 C",
        "solder: Sn63Pb37 wire 0.5 mm",
    ]
    assert lines(AIR) == ["air: blower, 8 mm nozzle held about 15 mm above, 350 C, 40 l/min"]
    every = Settings(
        desolderer="gun", bore_mm=1.3, preheat_c=100.0, flux=Flux(kind="rosin"),
        magnifier="loupe", power_x=10.0,
    )  # fmt: skip
    assert lines(every) == [
        "vacuum: gun, 1.3 mm bore",
        "preheat: board at 100 C",
        "flux: rosin gel",
        "look through: loupe (10x)",
    ]


def test_time_under_hot_air_is_a_range_of_the_whole_part() -> None:
    heat = AirHeat(42.1, 35.6, 58.3, 20.0, 10.0, "wets", 230.0, 260.0, 2.0, 17.0, 40.0, 100.0)
    told = dict(card(way={"settings": AIR, "air_heat": heat}).settings)
    assert told["time"] == "everything is liquid after about 40 s (35 s to 60 s)"
    endless = replace(heat, molten_s_high=None)
    told = dict(card(way={"settings": AIR, "air_heat": endless}).settings)
    assert told["time"] == "everything is liquid after about 40 s (35 s to much longer)"


def heated(dwell_s: float, harm_s: float, tip_c: float = 330.0, group: str = "pins") -> JointHeat:
    """A tip that wets within 0.4 to 0.9 s; the rest of the dwell is for flowing."""
    heat = IronHeat(300, 218, 80, 20, "wets", "none", 0.6, 0.4, 0.9, dwell_s, harm_s)
    case = replace(tip_on(joint(TAB, 2, 0), STATION_60, 1.6, 22.0), tip_c=tip_c)
    return JointHeat(group, 8, case, heat)


def timed(*joints: JointHeat, footprint: str = "SO") -> str:
    return dict(card(footprint=footprint, way={"joints": joints}).settings)["time"]


def test_time_of_an_iron_never_passes_the_limit_of_the_part_or_the_land() -> None:
    # The parts of the test's library state no limit of their own: 3 s by the model's default.
    assert timed(heated(1.6, 12.0)) == "1 to 2 s a joint; not wet? stop at 3 s and let it cool"
    assert timed(heated(1.0, 2.9)) == "about 1 s a joint; not wet? stop at 2 s and let it cool"
    assert timed(heated(1.0, 0.4)).startswith("this tip harms the joint in under 1 s")
    long = timed(heated(6.0, 12.0))
    assert long.startswith("about 6 s a joint; that is longer than this part")
    assert "stop at 3 s, let it cool" in long


def test_every_group_of_joints_has_its_time_the_hardest_first_and_one_stop() -> None:
    told = timed(heated(2.4, 9.0, group="tab"), heated(1.0, 9.0))
    assert told == "2 to 3 s on tab, about 1 s on pins; not wet? stop at 3 s and let it cool"
    never = replace(heated(1.0, 9.0).heat, dwell_s=None, wet_s=None)
    told = timed(replace(heated(1.0, 9.0), heat=never))
    assert told == "a trial that may never wet a joint; not wet? stop at 3 s and let it cool"


def test_no_time_passes_the_stop_of_the_same_line() -> None:
    wide = replace(heated(2.0, 9.0).heat, wet_s_low=0.4, wet_s_high=7.0)
    told = timed(replace(heated(2.0, 9.0), heat=wide))
    assert told == "2 to 3 s a joint; not wet? stop at 3 s and let it cool"


@given(st.floats(0.1, 60.0), st.floats(0.5, 60.0), st.floats(250.0, 450.0))
def test_the_latest_time_is_within_every_limit(harm_s: float, part_s: float, tip_c: float) -> None:
    (job,) = (j for j in jobs(kit(placements=[part("U1", "SO")], donors=[])) if j.kind == "fit")
    assert job.footprint is not None
    heat = job.footprint.heat.model_copy(update={"iron_s": part_s})
    job = replace(job, footprint=job.footprint.model_copy(update={"heat": heat}))
    way = replace(option(FIRST.id), joints=(heated(1.0, harm_s, tip_c),))
    hot = 2.0 if tip_c > 355.0 else 99.0
    assert 0 <= latest_s(job, way, PARAMETERS) <= min(harm_s, part_s, 5.0, hot)


def test_a_tip_over_the_parts_limit_says_how_to_live_with_it() -> None:
    hot = card(way={"joints": (heated(1.6, 6.3, 400.0),)})
    assert any("hotter than the part bears" in line for line in hot.cautions)
    assert dict(hot.settings)["time"] == "1 to 2 s a joint; not wet? stop at 2 s and let it cool"
    mild = card(way={"joints": (heated(1.6, 6.3, 350.0),)})
    assert not any("hotter than" in line for line in mild.cautions)


def test_an_iron_alone_reads_well() -> None:
    assert lines(Settings(iron="plain")) == ["iron: plain"]


def test_solder_is_told_with_its_length() -> None:
    need = SolderNeed(1, 0.009, 7.6, 1)
    wire = SolderUse(Solder(alloy="Sn63Pb37"), ("pins",), need)
    assert lines(Settings(), wire) == ["solder: Sn63Pb37 wire 0.5 mm, about 8 mm of wire"]
    # 9 mg of metal are 10 mg of paste at 90 % by mass, and twice its volume.
    paste = SolderUse(Solder(alloy="Sn63Pb37", wire_mm=None, paste=True), ("pins",), need)
    assert lines(Settings(), paste) == ["solder: Sn63Pb37 paste, about 10 mg of paste (2.0 mm3)"]


def test_steps_and_looks_come_from_the_technique() -> None:
    found = card(accepted=("at most 0.1 mm beside the land",))
    assert found.technique == FIRST.title
    assert found.steps == FIRST.steps
    assert found.look_for == (*FIRST.looks_for(True), "at most 0.1 mm beside the land")
    assert found.title == "Fit U1: SO"


def test_a_low_melt_lift_says_how_often_to_wick() -> None:
    mixed = LowMeltLift(
        152.4, 8.0, 30.0, 1.5, 11.6, 3, 1.0, 183.0, "bi_sn", 139.0, notes=(Note("freezes_soon"),)
    )
    flood = Settings(removal_alloy="Sn42Bi58")
    found = card(way={"low_melt": mixed, "settings": flood, "heat": "low_melt"})
    assert found.settings == (
        ("removal alloy", "Sn42Bi58, about 1.5 g"),
        (
            "mixture",
            "melts at 122 to 160 C; stays liquid about 12 s without heat",
        ),
        ("wick clean", "3 times with fresh solder"),
    )
    assert any("keep the heat on" in caution for caution in found.cautions)


def test_blocked_work_has_no_settings_and_no_steps() -> None:
    found = card(risky={"blocked": True}, way={"air_heat": air_heat()})
    assert (found.settings, found.steps, found.look_for) == ((), (), ())
    assert not any("mask" in line for line in found.cautions)


def test_orientation_only_where_it_matters() -> None:
    assert "data sheet" in card().orientation  # pin one, but no mark is known
    assert "before any heat" in card(way={"settings": AIR, "air_heat": air_heat()}).orientation
    iron = IronHeat(300, 218, 80, 20, "wets", "none", 0.6, 0.4, 0.9, 1.6, 6.3)
    assert "second joint" in card(way={"settings": IRON, "iron_heat": iron}).orientation
    assert card(footprint="R").orientation == ""
    assert card(polarised=False).orientation == ""


def test_a_lift_needs_no_orientation() -> None:
    work = jobs(kit(placements=[part("U1", "SO", donor="old")]))
    found = cards(risk(work), REFERENCE, {}, ())
    assert found["lift:U1"].orientation == ""
    assert found["lift:U1"].title == "Lift U1: from old"
    assert found["fit:U1"].orientation


def test_cautions() -> None:
    # The limits that nearly all parts share are told once, not on every card.
    assert card(footprint="R").cautions == ()
    assert "its plastic softens near 200 C" in card(footprint="JACK").cautions
    assert any("cannot be bought again" in c for c in card(irreplaceable=True).cautions)
    hot = card(way={"air_heat": air_heat(8.0, 15.0), "settings": AIR}).cautions
    # Radii of 8 and 15 mm from the centre of a body of 5 mm: 2.5 mm less from its edge.
    assert "mask or leave out plastics within 13 mm and mind joints within 6 mm of its edge" in hot
    warm = card(way={"air_heat": air_heat(8.0, 15.0), "settings": replace(AIR, preheat_c=100.0)})
    assert any(line.startswith("the whole board is warm: take off") for line in warm.cautions)
    assert not any("over the" in line for line in hot)
    over = replace(air_heat(8.0, 15.0), top_c=265.0, limit_c=260.0)
    told = card(way={"air_heat": over, "settings": AIR}).cautions
    assert any("about 265 C, and its body bears 260 C" in line for line in told)
    unsure = card(way={"decided": False}).cautions
    assert unsure[-1].startswith("whether the heat is enough is too close")
    assert card(risky={"findings": ("pitch below 0.5 mm",)}).cautions[-1] == "pitch below 0.5 mm"


def test_safety_notes_of_the_job() -> None:
    def note(name: str, *keys: str) -> SafetyNote:
        return SafetyNote(name, name, ("x",), True, keys, "common practice")

    assert card(safety=(note("lead", "fit:U1"), note("cells", "fit:B1"))).safety == ("lead",)


def limited(footprint: str = "SO", work: str = "fit", iron_s: float = 60.0, **pads: Any) -> Job:
    """A job whose part bears a tip for long."""
    wires = [{"ref": "W1", "board": "main", "connections": 2}]
    of = kit(placements=[part("U1", footprint)], wires=wires)
    job = next(job for job in jobs(of) if job.kind == work)
    assert job.footprint is not None
    changes: dict[str, Any] = {
        "heat": job.footprint.heat.model_copy(update={"iron_s": iron_s}),
        "pads": tuple(group.model_copy(update=pads) for group in job.footprint.pads),
    }
    return replace(job, footprint=job.footprint.model_copy(update=changes))


def test_which_limit_stops_the_iron_by_hand() -> None:
    """A land of a surface-mount part is given 5 s, one with a tab as long as it bears; a tip over
    355 C two seconds, whichever joint it is on. What bears 3 s itself is no wire."""

    def stop(job: Job, *tips_c: float, harm_s: float = 50.5) -> int:
        way = replace(option(FIRST.id), joints=tuple(heated(1.0, harm_s, c) for c in tips_c))
        return latest_s(job, way, PARAMETERS)

    assert stop(limited(), 330.0) == 5
    assert stop(limited("DIP"), 330.0) == 50
    assert stop(limited("DIP"), 330.0, 356.0) == stop(limited("DIP"), 356.0) == 2
    assert stop(limited("DIP"), 355.0) == 50
    assert stop(limited("DIP", iron_s=3.9), 330.0) == 3
    assert stop(limited(work="wire", iron_s=3.0), 360.0, harm_s=4.5) == 4


def test_a_tab_is_given_as_long_as_it_bears() -> None:
    job = limited()
    assert job.footprint is not None
    tab = job.footprint.pads[0].model_copy(update={"name": "tab", "kind": "tab"})
    both = job.footprint.model_copy(update={"pads": (*job.footprint.pads, tab)})
    way = replace(option(FIRST.id), joints=(heated(1.0, 50.5),))
    assert latest_s(replace(job, footprint=both), way, PARAMETERS) == 50


def test_times_at_the_edge() -> None:
    assert timed(heated(1.0, 1.2)) == "about 1 s a joint; not wet? stop at 1 s and let it cool"
    mixed = timed(heated(1.0, 12.0), heated(6.0, 12.0, group="tab"))
    assert mixed.startswith("about 1 s on pins, about 6 s on tab; that is longer than this part")
    wide = replace(heated(3.0, 12.0).heat, wet_s_high=2.0)
    told = timed(replace(heated(3.0, 12.0), heat=wide))
    assert told == "about 3 s a joint; not wet? stop at 3 s and let it cool"
    for gone in ({"dwell_s": None}, {"wet_s": None}):
        unknown = replace(heated(1.0, 9.0), heat=replace(heated(1.0, 9.0).heat, **gone))
        assert timed(unknown).startswith("a trial that may never wet a joint")
    low = replace(heated(1.0, 9.0).heat, wet_s_low=None, wet_s_high=None)
    assert timed(replace(heated(1.0, 9.0), heat=low)).startswith("1 s or much longer a joint")
    air = replace(air_heat(), molten_s=42.0, molten_s_low=None, molten_s_high=50.0)
    told = dict(card(way={"settings": AIR, "air_heat": air}).settings)["time"]
    assert told == "everything is liquid after about 40 s (40 s to 50 s)"


def test_how_much_of_which_solder_for_which_joints() -> None:
    """1.5 mm of wire are told, less is a touch; of paste no less than a milligram."""
    thin, thick = (Solder(alloy="Sn63Pb37", wire_mm=mm) for mm in (0.5, 1.0))
    some, less = SolderNeed(1, 0.009, 1.5, 1), SolderNeed(1, 0.0001, 1.4, 1)
    uses = ((thin, ("pins",), some), (thick, ("tab", "lug"), less), (None, ("x",), less))
    found = lines(Settings(solders=(thin,)), *(SolderUse(*use) for use in uses))
    assert found == [
        "solder: Sn63Pb37 wire 0.5 mm, about 2 mm of wire for pins",
        "solder: Sn63Pb37 wire 1 mm, a touch of it for tab, lug",
    ]
    paste = SolderUse(Solder(alloy="Sn63Pb37", wire_mm=None, paste=True), ("pins",), less)
    assert lines(Settings(), paste)[0].startswith("solder: Sn63Pb37 paste, about 1 mg of paste")
    washed = Settings(flux=Flux(kind="water_soluble"), magnifier="screen", power_x=8, depth=False)
    assert lines(washed) == [
        "flux: water soluble gel; wash it off the same day",
        "look through: screen (8x); it shows no depth, feel your way with the tip",
    ]


def test_a_lifted_part_alone_is_made_ready_first() -> None:
    """New balls go on what was lifted; what is bought has them, and a lift needs none."""
    ready = next(technique for technique in TECHNIQUES if technique.lifted_steps)
    bought, lifted = part("U1", "SO"), part("U2", "SO", donor="old")
    work = jobs(kit(placements=[bought, lifted]))
    found = cards(risk(work, {job.key: option(ready.id) for job in work}), REFERENCE, {}, ())
    assert found["fit:U1"].steps == found["lift:U2"].steps == ready.steps
    assert found["fit:U2"].steps == (*ready.lifted_steps, *ready.steps)


def test_when_the_orientation_is_looked_at_again() -> None:
    """Air and a plate melt all joints together: before any heat. An iron leaves one to turn."""
    iron = heated(1.0, 9.0).heat
    for settings, heat in ((AIR, None), (AIR, iron), (IRON, None), (IRON, iron)):
        told = "the second joint" if settings == IRON and heat else "any heat"
        found = card(way={"settings": settings, "iron_heat": heat}).orientation
        assert found.endswith(f"have it looked at again before {told}")


def test_what_a_body_bears_is_told_where_it_is_not_the_usual() -> None:
    """260 C is usual. Under air the air's own limit counts; over it the heat is told instead."""

    def under_air(top_c: float, limit_c: float, doubt_k: float = 0.0) -> list[str]:
        heat = replace(air_heat(), top_c=top_c, limit_c=limit_c, limit_doubt_k=doubt_k)
        told = card(way={"air_heat": heat, "settings": AIR}).cautions
        return [line for line in told if "bears" in line]

    bears = "its body bears 245 C as a rule; a data sheet goes first"
    assert under_air(240.0, 245.0) == under_air(245.0, 245.0) == [bears]
    assert under_air(240.0, 260.0) == under_air(260.0, 260.0) == []
    sort = "245 C, up to 260 C if made for lead-free ovens,"
    assert under_air(240.0, 245.0, 15.0) == [f"its body bears {sort} as a rule; {SHEET}"]
    (over,) = under_air(246.0, 245.0)
    assert over.startswith("its top gets to about 246 C, and its body bears 245 C as a rule: a")


def test_what_a_part_bears_of_an_iron_or_a_plate() -> None:
    def told(*tips_c: float, **heat: float) -> list[str]:
        job = limited()
        assert job.footprint is not None
        limit = HeatLimit(**heat)  # type: ignore[arg-type]
        way = replace(option(FIRST.id), joints=tuple(heated(1.0, 9.0, c) for c in tips_c))
        return list(_limit(job.footprint.model_copy(update={"heat": limit}), way))

    assert told(330.0, 350.0) == []
    assert told(330.0, 351.0) == [f"it bears a tip of 350 C for 3 s as a rule; {SHEET}"]
    assert told(330.0, body_c=230.0) == told() == []
    assert told(body_c=230.0) == [f"its body bears 230 C as a rule; {SHEET}"]


def test_how_far_the_heat_goes_from_a_narrow_body() -> None:
    """10 x 4 mm: 2 mm from its middle to its edge."""
    job = limited()
    assert job.footprint is not None
    narrow = job.footprint.body.model_copy(update={"length_mm": 10.0, "width_mm": 4.0})
    job = replace(job, footprint=job.footprint.model_copy(update={"body": narrow}))
    assert _reach(job, option(FIRST.id), air_heat(1.0, 7.5)) == (
        "mask or leave out plastics within 6 mm and mind joints within 0 mm of its edge"
    )
    bare = _reach(replace(job, footprint=None), option(FIRST.id), air_heat(1.5, 7.0))
    assert "plastics within 7 mm and mind joints within 2 mm" in bare


def test_a_tip_that_covers_a_small_part() -> None:
    """From two and a half lands on: 2.5 mm on 1 mm is the most, and of a land of 0.2 mm no less
    than 0.5 mm. Pins are measured by their pitch elsewhere."""

    def told(tip_mm: float, land_mm: float, kind: str = "chip_end") -> str:
        job, hot = limited(land_w_mm=land_mm, kind=kind), heated(1.0, 9.0)
        case = replace(hot.case, tip=hot.case.tip.model_copy(update={"width_mm": tip_mm}))
        assert job.footprint is not None
        way = replace(option(FIRST.id), joints=(replace(hot, case=case),))
        numbers = PARAMETERS.replaced({"card_tip_over_land": 2.5})
        return " ".join(_wide_tip(job.footprint, way, numbers))

    assert told(2.5, 1.0) == told(2.6, 1.0, "gull_wing") == ""
    assert told(2.6, 1.0).endswith("take a tip of about 1.0 mm")
    assert told(2.6, 0.2).endswith("take a tip of about 0.5 mm")


def test_blocked_work_and_wires_are_told_less() -> None:
    hot = {"joints": (heated(1.0, 9.0, 400.0),)}
    open_, shut = card(way=hot).cautions, card(way=hot, risky={"blocked": True}).cautions
    assert [line for line in open_ if "tip" in line] != []
    assert [line for line in shut if "tip" in line] == []
    work = jobs(kit(wires=[{"ref": "W1", "board": "main", "connections": 2}]))
    told = cards(risk(work, {"wire": replace(option(FIRST.id), **hot)}), REFERENCE, {}, ())
    assert not any("it bears a tip" in line for line in told["wire:W1"].cautions)

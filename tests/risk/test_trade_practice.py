"""Technique choice comes out as a good bench hand would say, and says why.

Expected choices are common practice of the trade (situations of hand soldering and of
lifting parts to be used again), not results of the program.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise

import pytest

from solderrisk.model.bench import Bench, Builder, Iron, Tip
from solderrisk.model.jobs import Job
from solderrisk.model.kit import Kit, Placement
from solderrisk.physics.iron import iron_heat
from solderrisk.physics.results import IronCase
from solderrisk.plan.cards import settings_of
from solderrisk.report.words import why_chosen, why_not_next
from solderrisk.risk.engine import RiskEngine
from tests.risk.risk_scene import (
    DECENT,
    FEW,
    FULL,
    PLANE_BOARD,
    REFERENCE,
    REGULAR,
    asked,
    job_of,
    jobs,
    kit_of,
    lift_kit,
    without,
)

NO_AIR = without(FULL, hot_air=())
NO_AIR_NO_VACUUM = without(FULL, hot_air=(), desolderers=(), preheaters=())


def fitted(footprint: str, **more: object) -> Kit:
    placement = Placement.model_validate(
        {"refs": "U1", "footprint": footprint, "board": "b", "price_each": 2.0, **more}
    )
    return kit_of([placement], PLANE_BOARD)


def kit_job(kit: Kit) -> Job:
    (job,) = jobs(kit)
    return job


def near_plastic(kit: Kit) -> Kit:
    plastic = {"board": "d", "name": "slot", "x_mm": 4.0, "y_mm": 2.0}
    return Kit.model_validate({**dict(kit), "plastics": (plastic,)})


@dataclass(frozen=True)
class Situation:
    name: str
    kit: Kit
    bench: Bench
    key: str
    chosen: tuple[str, ...]
    possible: tuple[str, ...] = ()
    builder: Builder = field(default=REGULAR)


SITUATIONS = [
    Situation(
        "fine-pitch IC to be used again, hot air at hand",
        lift_kit("LQFP-100", irreplaceable=True), FULL, "lift:U1", ("hot_air_lift",),
    ),
    Situation(
        "the same without hot air: low-melt alloy, not impossible",
        lift_kit("LQFP-100", irreplaceable=True), NO_AIR, "lift:U1", ("low_melt_lift",),
    ),
    Situation(
        "the same on a decent bench in less practised hands",
        lift_kit("LQFP-100", irreplaceable=True), DECENT, "lift:U1", ("low_melt_lift",),
        builder=FEW,
    ),
    Situation(
        "small choke next to plastic: low-melt alloy rather than air",
        near_plastic(lift_kit("CHOKE-4PAD-7060", price_each=2.0)), FULL, "lift:U1",
        ("low_melt_lift",), ("hot_air_lift",),
    ),
    Situation(
        "smaller choke next to plastic",
        near_plastic(lift_kit("CHOKE-4PAD-4532", price_each=2.0)), FULL, "lift:U1",
        ("low_melt_lift",), ("hot_air_lift",),
    ),
    Situation("ordinary DIP to be lifted", lift_kit("DIP-14"), FULL, "lift:U1", ("vacuum_lift",)),
    Situation(
        "ordinary header to be lifted", lift_kit("HEADER-1X6-2.54"), FULL, "lift:U1",
        ("vacuum_lift",),
    ),
    Situation(
        "lugs wider than the bore: preheat and wide tip, or low-melt alloy",
        lift_kit("DC-JACK-2.1"), FULL, "lift:U1", ("low_melt_lift", "preheat_wide_tip_lift"),
    ),
    Situation(
        "shell lugs in planes",
        lift_kit("SHIELDED-12"), FULL, "lift:U1", ("low_melt_lift", "preheat_wide_tip_lift"),
    ),
    Situation(
        "the same lugs without preheater and vacuum",
        lift_kit("SHIELDED-12"), NO_AIR_NO_VACUUM, "lift:U1", ("low_melt_lift",),
    ),
    Situation(
        "fine-pitch QFP to be fitted: aligned, tacked, checked, then swept",
        fitted("LQFP-100"), FULL, "fit:U1", ("tack_align_sweep",), ("drag_iron",),
    ),
    Situation(
        "the same on a decent bench", fitted("LQFP-48"), DECENT, "fit:U1", ("tack_align_sweep",),
    ),
    Situation(
        "the same in less practised hands",
        fitted("LQFP-48"), FULL, "fit:U1", ("tack_align_sweep",), builder=FEW,
    ),
    Situation(
        "0.65 mm gull wings: aligned, tacked, checked, swept",
        fitted("TSSOP-16"), DECENT, "fit:U1", ("tack_align_sweep",), ("point_fine",),
    ),
    Situation(
        "the same, hands better at coarse than at fine pitch",
        fitted("TSSOP-16"), DECENT, "fit:U1", ("tack_align_sweep",),
        builder=Builder.model_validate(
            {"name": "x", "level": "regular",
             "skills": ({"skill": "iron_fine_pitch", "level": "few"},)}
        ),
    ),
    Situation(
        "1.27 mm pitch is not fine", fitted("SOIC-8"), DECENT, "fit:U1",
        ("sweep_iron", "point_iron"),
    ),
    Situation("four-pad crystal", fitted("CRYSTAL-3225-4"), FULL, "fit:U1", ("tack_and_solder",)),
    Situation("0603", fitted("R-0603"), FULL, "fit:U1", ("tack_and_solder",)),
    Situation("0402", fitted("CHIP-0402"), DECENT, "fit:U1", ("tack_and_solder",)),
    Situation("0603 on a decent bench", fitted("C-0603"), DECENT, "fit:U1", ("tack_and_solder",)),
    Situation("supply jack", fitted("DC-JACK-2.1"), FULL, "fit:U1", ("heavy_tab_iron",)),
    Situation("shielded connector", fitted("SHIELDED-12"), DECENT, "fit:U1", ("heavy_tab_iron",)),
    Situation("cell contact", fitted("BATTERY-CONTACT"), DECENT, "fit:U1", ("heavy_tab_iron",)),
    Situation("DIP to be fitted", fitted("DIP-14"), DECENT, "fit:U1", ("barrel_iron",)),
    Situation("exposed pad: air or plate", fitted("QFN-32"), FULL, "fit:U1",
              ("paste_and_air", "plate_reflow")),
]  # fmt: skip


@pytest.mark.parametrize("case", SITUATIONS, ids=lambda case: case.name)
def test_situation(case: Situation) -> None:
    risk = job_of(case.kit, case.bench, case.key, case.builder)

    assert not risk.blocked, why_chosen(risk)
    assert risk.chosen.technique in case.chosen, (why_chosen(risk), why_not_next(risk))
    assert risk.chosen.title in why_chosen(risk)
    feasible = {option.technique for option in risk.options if option.feasible}
    assert set(case.possible) <= feasible
    if len(risk.options) > 1:
        assert risk.options[1].title in why_not_next(risk)


def test_drag_is_never_required() -> None:
    """Whatever can be dragged can be fitted by another technique with the same tools."""
    for footprint in ("SOIC-8", "TSSOP-16", "LQFP-48", "LQFP-100", "TSOP-I-48", "PLCC-44"):
        risk = job_of(fitted(footprint), DECENT, "fit:U1")
        others = [o for o in risk.options if o.feasible and o.technique != "drag_iron"]
        assert others, footprint


def test_drag_is_quicker_and_asks_more_skill() -> None:
    options = {o.technique: o for o in job_of(fitted("LQFP-100"), FULL, "fit:U1").options}
    drag, sweep = options["drag_iron"], options["tack_align_sweep"]
    technique = REFERENCE.risk.technique

    assert technique("drag_iron").joint_minutes < technique("tack_align_sweep").joint_minutes
    assert drag.first_time.mid < sweep.first_time.mid


def test_no_lead_part_with_exposed_pad_is_even_odds_without_air_or_plate() -> None:
    """Common practice: the rim by iron, the pad open or through a hole from behind; most
    chips need their pad."""
    risk = job_of(fitted("QFN-32"), DECENT, "fit:U1")

    assert risk.chosen.technique == "rim_iron"
    assert 0.3 <= risk.chosen.after_mending.mid <= 0.55
    # From nothing, the cheapest way that makes every joint is paste and a plate.
    assert set(risk.tooling_needed) >= {"hot_plate", "solder_paste"}


def test_ball_grid_is_not_for_an_iron() -> None:
    """Common practice: preheat from below and hot air; nobody sees the joints after."""
    risk = job_of(fitted("BGA-64-0.8"), DECENT, "fit:U1")
    assert risk.blocked

    able = job_of(fitted("BGA-64-0.8"), FULL, "fit:U1")
    assert [option.technique for option in able.options] == ["ball_air"]
    look = " ".join(REFERENCE.risk.technique("ball_air").look_for)
    assert "cannot be seen" in look
    assert "X-ray" in look


def test_neither_eye_nor_meter_reaches_balls() -> None:
    kit = fitted("BGA-64-0.8")
    keys = (("fit:U1", ("second_person", "continuity")),)
    plain, looked = (
        RiskEngine(REFERENCE)
        .chances(asked(kit, FULL, Builder(name="b", level="regular"), looks=looks))
        .working.mid
        for looks in ((), keys)
    )
    assert looked == pytest.approx(plain, abs=0.02)


def test_a_tip_too_wide_for_one_land_is_riskier_not_impossible() -> None:
    """Common practice: it is held on the free side, or across toes and the surplus wicked."""
    wide = Iron(name="wide", drive="station", power_w=65, tips=(Tip(width_mm=2.4),))
    fine = wide.model_copy(update={"name": "fine", "tips": (Tip(width_mm=1.0), *wide.tips)})
    crowded, alone = (
        job_of(fitted("TO-92"), FULL.model_copy(update={"irons": (iron,)}), "fit:U1")
        for iron in (wide, fine)
    )
    assert not crowded.blocked
    bridges = [
        next(m for m in risk.chosen.modes if m.mode == "bridge") for risk in (crowded, alone)
    ]
    assert bridges[0].each.mid > bridges[1].each.mid
    assert "too wide for one land" in bridges[0].why


def each_bridge(footprint: str) -> float:
    options = job_of(fitted(footprint), FULL, "fit:U1").options
    swept = next(o for o in options if o.technique == "tack_align_sweep")
    return next(m for m in swept.modes if m.mode == "bridge").each.mid


def test_a_coarser_pitch_bridges_no_more_often() -> None:
    """Common practice; 64 pins at 0.4, 0.5, 0.65 and 0.8 mm, one technique."""
    names = ("TQFP-64-7X7", "LQFP-64", "LQFP-64-12X12", "TQFP-64-14X14")
    rates = [each_bridge(name) for name in names]
    # 0.65 and 0.8 mm leave the same gap in the row; the corners' wider gaps are averaged in.
    assert all(coarse <= 1.01 * fine for fine, coarse in pairwise(rates))
    assert each_bridge("MSOP-8") <= each_bridge("MSOP-10")


def test_wires_that_stand_close_can_bridge() -> None:
    for footprint, gap in (("ELCO-RADIAL-5", "0.40"), ("LED-5MM", "0.74"), ("SOT-89", "0.60")):
        modes = job_of(fitted(footprint), FULL, "fit:U1").chosen.modes
        assert f"gap {gap} mm" in next(m for m in modes if m.mode == "bridge").why
    for footprint in ("CHIP-0603", "RESISTOR-AXIAL-0.25W"):
        modes = job_of(fitted(footprint), FULL, "fit:U1").chosen.modes
        assert not any(m.mode == "bridge" for m in modes)


def test_steps_say_what_decides() -> None:
    """Common practice: what a card of each technique has to say."""
    say = {t.id: " ".join((*t.steps, *t.look_for)).lower() for t in REFERENCE.risk.techniques}

    for words in ("polyimide tape", "flux", "circles", "never parked", "barely any force"):
        assert words in say["hot_air_lift"]
    assert "every joint is liquid" in say["hot_air_lift"]
    assert "wick" in say["low_melt_lift"]
    assert "refill" in say["low_melt_lift"]
    assert "opposite corner" in say["tack_align_sweep"]
    assert "align: this step decides" in say["tack_align_sweep"]
    assert "other three pads" in say["tack_and_solder"]
    assert "before the second joint" in say["heavy_tab_iron"]
    assert "seating" in say["heavy_tab_iron"]


def test_corroded_donor_has_more_lift_faults() -> None:
    clean = job_of(lift_kit("DIP-14"), FULL, "lift:U1")
    leaked = job_of(lift_kit("DIP-14", condition="leaked_cell"), FULL, "lift:U1")

    assert leaked.chosen.lost.mid > clean.chosen.lost.mid
    assert any("corroded donor" in mode.why for mode in leaked.chosen.modes)


def test_shielded_connector_takes_two_tips() -> None:
    """Common practice: the wide tip for the ground tabs, a tip that fits for the pins; the
    heat told is that of the harder of the two."""
    kit = fitted("SHIELDED-12")
    found = job_of(kit, FULL, "fit:U1").chosen
    tips = {joint.group: joint.case.tip for joint in found.joints}
    assert tips["shell"].width_mm >= REFERENCE.risk.parameters["wide_tip_mm"]
    # Pins of 1.5 mm pitch on 0.95 mm lands: a wider tip than 0.95 + 2 x 0.55 bridges them.
    assert tips["pins"].width_mm <= 0.95 + 2 * 0.55
    assert isinstance(found.case, IronCase)
    assert found.iron_heat == iron_heat([found.case], REFERENCE.physics)[0]
    told = dict(settings_of(found, REFERENCE.plan.parameters))
    for group, tip in tips.items():
        assert f"{tip.width_mm:g} mm {tip.shape} tip" in told[group]
    # The hardest joints come first, on the card as well as in the set-up.
    assert next(iter(told)) == "shell"
    assert found.settings.tip_width_mm == tips["shell"].width_mm


def test_one_kind_of_joint_takes_one_tip() -> None:
    for footprint in ("DC-JACK-2.1", "DIP-14", "R-0603", "LQFP-48"):
        joints = job_of(fitted(footprint), FULL, "fit:U1").chosen.joints
        assert len({joint.case.tip for joint in joints}) == 1


def test_heavy_part_asks_for_a_wide_tip() -> None:
    """On narrow tips alone the tabs cannot be done; from nothing, what is bought has one."""
    iron = DECENT.irons[0]
    narrow = iron.model_copy(update={"tips": (iron.tips[0], iron.tips[1])})
    blocked = job_of(fitted("SHIELDED-12"), without(DECENT, irons=(narrow,)), "fit:U1")
    assert blocked.blocked
    assert blocked.tooling_needed == ("wide_tip",)
    tools = {tool.id: tool for tool in REFERENCE.plan.tools}
    needed = job_of(fitted("SHIELDED-12"), DECENT, "fit:U1").tooling_needed
    widths = [t.width_mm for i in needed for iron in tools[i].adds.irons for t in iron.tips]
    assert max(widths) >= REFERENCE.risk.parameters["wide_tip_mm"]


def test_fine_pitch_exercises_fine_pitch_skill() -> None:
    """Whatever way an iron goes below 0.8 mm pitch, it is the fine-pitch skill that counts."""
    for footprint in ("TSSOP-16", "LQFP-48", "LQFP-100", "TSOP-I-48"):
        for option in job_of(fitted(footprint), DECENT, "fit:U1").options:
            technique = REFERENCE.risk.technique(option.technique)
            assert technique.heat != "iron" or technique.skill == "iron_fine_pitch", footprint


def test_fine_pitch_without_flux_is_possible_and_worse() -> None:
    bare = job_of(fitted("TSSOP-16"), without(DECENT, fluxes=()), "fit:U1").chosen
    fluxed = job_of(fitted("TSSOP-16"), DECENT, "fit:U1").chosen
    assert bare.technique == "point_fine"
    assert bare.after_mending.mid < fluxed.after_mending.mid


PLATE = without(FULL, hot_air=())
STENCIL = without(FULL, aids=(*FULL.aids, "stencil"))


def test_paste_on_many_fine_lands_asks_for_a_stencil() -> None:
    """Common practice: a syringe does for a QFN, rows of a hundred leads ask for a stencil."""
    qfn = {o.technique: o for o in job_of(fitted("QFN-32"), FULL, "fit:U1").options}
    rows = {o.technique: o for o in job_of(fitted("LQFP-100"), FULL, "fit:U1").options}
    cut = {o.technique: o for o in job_of(fitted("LQFP-100"), STENCIL, "fit:U1").options}
    for way in ("paste_and_air", "plate_reflow"):
        assert qfn[way].feasible
        assert rows[way].missing == ("a paste stencil",)
        assert cut[way].feasible


@pytest.mark.parametrize(("footprint", "helps"), [("QFN-32", True), ("R-0603", False)])
def test_stencil_lays_fine_paste_better(footprint: str, helps: bool) -> None:
    def first_time(bench: Bench) -> float:
        options = job_of(fitted(footprint), bench, "fit:U1").options
        return next(o.first_time.mid for o in options if o.technique == "paste_and_air")

    assert (first_time(STENCIL) > first_time(FULL)) is helps


def test_one_pass_on_a_plate_does_a_whole_side() -> None:
    """Its set-up is shared: sixteen chips take far less than sixteen times one."""

    def minutes(refs: str) -> float:
        placement = Placement(refs=refs, footprint="R-0603", board="b", price_each=0.1)
        options = job_of(kit_of([placement]), PLATE, "fit:U1").options
        return next(o.minutes.mid for o in options if o.technique == "plate_reflow")

    set_up = REFERENCE.risk.technique("plate_reflow").set_up_minutes
    assert minutes("U1") - minutes("U1-U16") == pytest.approx(set_up * 15 / 16, rel=0.05)


def test_fine_rows_ask_for_iron_wire_and_flux() -> None:
    """From nothing, the cheapest tools: a plate would ask for paste, a stencil and tweezers;
    half-millimetre pitch asks for a lens as well."""
    needed = job_of(fitted("LQFP-100"), FULL, "fit:U1").tooling_needed
    assert needed == ("gel_flux", "loupe", "regulated_iron", "thin_solder")

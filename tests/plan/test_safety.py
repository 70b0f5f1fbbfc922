"""Safety notes: which work calls for which, and what no note may ever say."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any, get_args

import pytest
from pydantic import ValidationError

from solderrisk.files.loading import load_library
from solderrisk.files.reference import physics_data, plan_data
from solderrisk.model.bench import Bench, Solder
from solderrisk.model.jobs import Job, jobs_of
from solderrisk.model.kit import Kit
from solderrisk.model.plan_data import BenchWhen, When
from solderrisk.model.technique import Heat
from solderrisk.physics.handwork import kit_fume
from solderrisk.physics.results import Fume
from solderrisk.plan.findings import _calls, _on_bench, notes_for
from solderrisk.plan.results import SafetyNote
from solderrisk.report.findings import fume_line, note_lines
from solderrisk.risk.results import Option, Settings

DATA = plan_data().safety
LIBRARY = load_library(())
ALL_AIDS = (
    "flush_cutters", "tweezers", "board_holder", "polyimide_tape", "current_limited_supply",
    "wrist_strap", "esd_mat", "eye_protection", "gloves", "good_light",
)  # fmt: skip


def kit(**more: object) -> Kit:
    values: dict[str, object] = {
        "name": "k",
        "boards": [{"name": "main"}],
        "placements": [{"refs": "R1", "footprint": "CHIP-0603", "board": "main"}],
    }
    return Kit.model_validate(values | more)


def lifted(condition: str = "clean", footprint: str = "SOIC-8", alloy: str = "Sn63Pb37") -> Kit:
    return kit(
        donors=[{"name": "old", "condition": condition, "board": {"name": "o", "alloy": alloy}}],
        placements=[{"refs": "U1", "footprint": footprint, "board": "main", "donor": "old"}],
    )


def found(
    a_kit: Kit, heats: dict[str, Heat] | None = None, **bench: object
) -> dict[str, SafetyNote]:
    values = {"name": "b", "aids": ALL_AIDS, "extraction": "arm"} | bench
    a_bench = Bench.model_validate(values)
    chosen = {key: Option("way", "way", True, heat=heat) for key, heat in (heats or {}).items()}
    notes = notes_for(jobs_of(a_kit, LIBRARY), chosen, a_bench, a_kit, DATA)
    return {note.id: note for note in notes}


def test_any_joint_calls_for_fume_and_burns() -> None:
    notes = found(kit())
    assert {"fumes", "burns", "lead"} <= set(notes)
    assert notes["fumes"].applies_to == ("fit:R1",)
    assert not {"hot_air", "low_melt", "leaked_cell", "donors", "oven"} & set(notes)


def test_lead_free_work_has_no_lead_note() -> None:
    assert "lead" not in found(kit(alloy="SAC305"))


def test_hot_air_applies_to_the_jobs_that_use_it() -> None:
    notes = found(lifted(), {"lift:U1": "air", "fit:U1": "iron"})
    assert notes["hot_air"].acknowledge
    assert notes["hot_air"].applies_to == ("lift:U1",)


def test_low_melt_alloy_tells_of_its_residue() -> None:
    note = found(lifted(), {"lift:U1": "low_melt"}, removal_alloys=["Sn42Bi58"])["low_melt"]
    assert note.acknowledge
    text = " ".join(note.text)
    assert "bismuth" in text
    assert "96 C" in text


def test_cadmium_is_never_melted() -> None:
    notes = found(kit(), removal_alloys=["Bi50Pb26.7Sn13.3Cd10"])
    assert "Do not melt it" in notes["cadmium"].text[0]
    assert notes["cadmium"].acknowledge
    assert "cadmium" not in found(kit(), removal_alloys=["Sn42Bi58"])
    assert found(lifted(alloy="Bi50Pb26.7Sn13.3Cd10"))["cadmium"].applies_to == ("lift:U1",)


@pytest.mark.parametrize("condition", ["leaked_cell", "corroded"])
def test_leaks_bring_gloves_and_weak_acid(condition: str) -> None:
    note = found(lifted(condition))["leaked_cell"]
    text = " ".join(note.text)
    assert "potassium hydroxide" in text
    assert "gloves and eye protection" in text
    assert note.applies_to == ("lift:U1",)
    assert "leaked_cell" not in found(lifted("dusty"))


def test_cells_come_out_before_any_lift() -> None:
    assert found(lifted())["cells"].applies_to == ("lift:U1",)
    assert found(kit(extras=[{"name": "lithium cell"}]))["cells"].applies_to == ()
    assert "cells" not in found(kit())


@pytest.mark.parametrize(
    ("value", "notes"),
    [
        ("mains filter choke", {"mains", "capacitors"}),
        ("photoflash capacitor", {"capacitors"}),
        ("flash memory", set()),
        ("hex inverter", set()),
        ("domains register", set()),
    ],
)
def test_words_bring_mains_and_capacitors(value: str, notes: set[str]) -> None:
    a_kit = kit(
        placements=[{"refs": "X1", "footprint": "CHIP-0603", "board": "main", "value": value}]
    )
    assert {"mains", "capacitors"} & set(found(a_kit)) == notes


def test_mains_work_is_left_to_qualified_people() -> None:
    text = " ".join(found(kit(title="Mains dimmer"))["mains"].text)
    assert "qualified people" in text


def test_tasks_and_gates_bring_theirs() -> None:
    notes = found(
        kit(
            tasks=[
                {"ref": "bake", "title": "Dry it", "kind": "bake"},
                {"ref": "wash", "title": "Wash it", "kind": "clean"},
                {"ref": "notch", "title": "Cut a notch", "kind": "cut"},
            ],
            gates=[{"ref": "on", "title": "First power", "kind": "power_up", "after": ["all"]}],
        )
    )
    assert notes["oven"].applies_to == ("task:bake",)
    assert notes["solvents"].applies_to == ("task:wash",)
    assert notes["eyes"].applies_to == ("task:notch",)
    assert notes["power_up"].applies_to == ("gate:on",)


def test_chips_bring_the_wrist_strap_and_resistors_do_not() -> None:
    assert "esd" not in found(kit())
    assert "1 megohm" in " ".join(found(lifted())["esd"].text)


@pytest.mark.parametrize(
    ("note", "bench", "line"),
    [
        ("fumes", {"extraction": "none"}, "No extraction is listed"),
        ("fumes", {"extraction": "fan"}, "No extraction is listed"),
        ("fumes", {"extraction": "filter_box"}, "particle filter"),
        ("eyes", {"aids": ()}, "Eye protection is not listed"),
        ("donors", {"aids": ()}, "Gloves are not listed"),
        ("esd", {"aids": ("wrist_strap",)}, "No wrist strap or no mat"),
    ],
)
def test_what_the_bench_lacks_is_told(note: str, bench: dict[str, object], line: str) -> None:
    assert any(line in text for text in found(lifted(), None, **bench)[note].text)
    assert not any(line in text for text in found(lifted())[note].text)


def test_acid_flux_has_no_place_on_a_bench() -> None:
    assert "flux_acid" not in found(kit(), fluxes=[{"kind": "rosin"}])
    assert "flux_acid" in found(kit(), fluxes=[{"kind": "rosin"}, {"kind": "acid"}])


def test_fume_and_hot_air_are_to_be_read_before_the_work() -> None:
    notes = tuple(found(lifted(), {"lift:U1": "air"}).values())
    assert [note.id for note in notes if note.acknowledge] == ["fumes", "hot_air"]


def test_the_fume_note_carries_the_estimate() -> None:
    a_kit, bench = kit(), Bench(name="b")
    jobs = jobs_of(a_kit, LIBRARY)
    air = kit_fume(600.0, 120.0, bench, physics_data())
    notes = notes_for(jobs, {}, bench, a_kit, DATA, air)
    assert sum("near the face" in line for line in note_lines(notes[0])) == 1
    assert notes[0].id == "fumes"
    assert "no measurement" in note_lines(notes[0])[-2]
    assert not any("near the face" in line for note in notes[1:] for line in note_lines(note))


def test_no_soldering_no_estimate() -> None:
    assert kit_fume(0.0, 60.0, Bench(name="b"), physics_data()) is None
    assert kit_fume(5.0, 0.0, Bench(name="b"), physics_data()) is None


def test_hot_air_low_melt_and_fumes_must_be_acknowledged() -> None:
    must = {note.id for note in DATA.notes if note.acknowledge}
    assert {"hot_air", "low_melt", "fumes"} <= must


def test_every_note_defers_and_none_permits() -> None:
    everything = lifted("leaked_cell")
    for note in found(everything, {"lift:U1": "low_melt"}, aids=()).values():
        assert note.text[-1] == DATA.closing
        assert note.source
    for word in ("Rules of the place", "data sheets", "trained people"):
        assert word in DATA.closing
    for note in DATA.notes:
        for text in (note.title, *note.text, *(line.text for line in note.extra)):
            bare = text.replace("safety data sheet", "")
            assert not re.search(r"\bsafe(ly|r|st)?\b|no risk|harmless", bare, re.I), note.id


def test_every_source_of_heat_but_the_bare_iron_has_its_note() -> None:
    covered = {
        heat
        for note in DATA.notes
        if note.id in ("hot_air", "low_melt", "preheat")
        for when in note.when
        for heat in when.heats
    }
    # A warm board calls for its note whatever the tool: a preheated iron comes with one.
    assert set(get_args(Heat)) - {"iron", "vacuum", "preheated_iron"} == covered
    (note,) = (note for note in DATA.notes if note.id == "preheat")
    assert any(when.preheated for when in note.when)


def test_notes_that_the_practice_ladder_names_exist() -> None:
    ids = {note.id for note in DATA.notes}
    named = {n for exercise in plan_data().practice.exercises for n in exercise.notes}
    assert named <= ids


def test_empty_conditions_are_refused() -> None:
    for model in (When, BenchWhen):
        with pytest.raises(ValidationError, match="must name something"):
            model()


def test_a_hotter_tip_makes_more_fume() -> None:
    """HSE INDG248: particulate up to three times as much at 400 C as at 250 C."""
    cool, hot = (kit_fume(5.0, 60.0, Bench(name="b"), physics_data(), c) for c in (300.0, 400.0))
    assert cool is not None
    assert hot is not None
    assert cool.breathing_15min_high_mg_m3 < hot.breathing_15min_high_mg_m3
    assert hot.breathing_15min_high_mg_m3 < 3.0 * cool.breathing_15min_high_mg_m3


def job_of(**more: Any) -> Job:
    """A fit on a donor's condition that only a lift has."""
    of = lifted("corroded")
    fit = next(job for job in jobs_of(of, LIBRARY) if job.kind == "fit")
    return replace(fit, **more)


FIT, WAY = job_of(), Option("way", "way", True, heat="air", skill="hot_air")
LIFT = next(job for job in jobs_of(lifted("corroded"), LIBRARY) if job.kind == "lift")
OTHERS = {
    job.kind: job
    for job in jobs_of(
        kit(tasks=[{"ref": "t", "title": "t", "kind": "clean"}],
            gates=[{"ref": "g", "title": "g", "kind": "rail", "after": ["R1"]}]),
        LIBRARY,
    )
}  # fmt: skip
WARM = replace(WAY, settings=Settings(preheat_c=100.0))
BOTH = tuple(Solder(alloy=alloy) for alloy in ("SAC305", "Sn63Pb37"))
LEADED = replace(WAY, settings=Settings(solders=BOTH))
FREE = replace(FIT, alloy="SAC305")


@pytest.mark.parametrize(("when", "job", "way", "calls"), [
    # All that is set must hold.
    ({"kinds": ("fit",), "heats": ("air",)}, FIT, WAY, True),
    ({"kinds": ("lift",), "heats": ("air",)}, FIT, WAY, False),
    ({"kinds": ("fit",), "heats": ("iron",)}, FIT, WAY, False),
    ({"heats": ("air",)}, FIT, None, False),
    ({"skills": ("hot_air",)}, FIT, WAY, True),
    ({"skills": ("wiring",)}, FIT, WAY, False),
    ({"skills": ("hot_air",)}, FIT, None, False),
    ({"families": ("soic",)}, FIT, None, True),
    ({"families": ("chip",)}, FIT, None, False),
    ({"families": ("soic",)}, OTHERS["task"], None, False),
    ({"preheated": True}, FIT, WARM, True),
    ({"preheated": True}, FIT, WAY, False),
    ({"preheated": True}, FIT, None, False),
    # Lead in the joint or in one of the solders put on; nothing is soldered at a gate.
    ({"metals": ("Pb",)}, FIT, None, True),
    ({"metals": ("Pb",)}, FREE, None, False),
    ({"metals": ("Pb",)}, FREE, LEADED, True),
    ({"metals": ("Pb",)}, replace(OTHERS["gate"], alloy="Sn63Pb37"), None, False),
    ({"task_kinds": ("clean",)}, OTHERS["task"], None, True),
    ({"task_kinds": ("bake",)}, OTHERS["task"], None, False),
    ({"task_kinds": ("clean",)}, FIT, None, False),
    ({"gate_kinds": ("rail",)}, OTHERS["gate"], None, True),
    ({"gate_kinds": ("visual",)}, OTHERS["gate"], None, False),
    ({"gate_kinds": ("rail",)}, FIT, None, False),
    ({"donor_conditions": ("corroded",)}, LIFT, None, True),
    ({"donor_conditions": ("clean",)}, LIFT, None, False),
    ({"donor_conditions": ("corroded",)}, replace(FIT, donor_condition="corroded"), None, False),
    ({"words": ("mains",)}, replace(FIT, note="a mains filter"), None, True),
    ({"words": ("mains",)}, FIT, None, False),
])  # fmt: skip
def test_work_calls_for_a_note_where_all_that_is_set_holds(
    when: dict[str, Any], job: Job, way: Option | None, calls: bool
) -> None:
    assert _calls(When(**when), job, way) is calls


@pytest.mark.parametrize(("when", "there"), [
    ({"aids": ("gloves", "wick")}, True),
    ({"aids": ("wick",)}, False),
    ({"aids_missing": ("gloves", "wick")}, True),
    ({"aids_missing": ("gloves",)}, False),
    ({"aids": ("gloves",), "extraction": ("none",)}, False),
    ({"aids": ("gloves",), "extraction": ("arm",)}, True),
    ({"flux_kinds": ("rosin",)}, True),
    ({"flux_kinds": ("water_soluble",)}, False),
    ({"removal_metals": ("Bi",)}, True),
    ({"removal_metals": ("Cd",)}, False),
    ({"solder_metals": ("Pb",)}, True),
    ({"solder_metals": ("In",)}, False),
])  # fmt: skip
def test_of_a_list_any_one_on_the_bench_does(when: dict[str, Any], there: bool) -> None:
    bench = Bench.model_validate({
        "name": "b", "aids": ["gloves"], "extraction": "arm",
        "fluxes": [{"kind": "no_clean"}, {"kind": "rosin"}],
        "removal_alloys": ["Sn50In50", "Sn42Bi58"],
        "solders": [{"alloy": "SAC305"}, {"alloy": "Sn63Pb37"}],
    })  # fmt: skip
    assert _on_bench(BenchWhen(**when), bench) is there


def test_a_note_is_called_by_any_of_its_conditions() -> None:
    first = DATA.notes[0].model_copy(update={"extra": ()})
    wanted = {"when": (When(kinds=("lift",)), When(kinds=("fit",))), "bench": ()}
    either = first.model_copy(update=wanted)
    benches = (BenchWhen(aids=("wick",)), BenchWhen(aids=("gloves",)))
    here = first.model_copy(update={"when": (), "bench": benches})
    nothing = first.model_copy(update={"when": (When(kinds=("wire",)),), "bench": ()})
    data = DATA.model_copy(update={"notes": (either, here, nothing)})
    bench = Bench(name="b", aids=("gloves",))
    told = notes_for(jobs_of(kit(), LIBRARY), {}, bench, kit(), data)
    assert [note.applies_to for note in told] == [("fit:R1",), ()]


def test_the_line_on_fume_by_its_limits() -> None:
    def line(low: float, high: float, steady: float, extraction: Any = "none") -> str:
        return fume_line(Fume(0.1, low, high, 0.15, 0.05, steady, extraction))

    assert "may pass the 15-minute limit of 0.15" in line(0.1, 0.2, 0.05)
    assert "the fume near the face passes" in line(0.2, 0.3, 0.05)
    assert "stays under" in line(0.1, 0.15, 0.05)
    assert "8-hour" not in line(0.1, 0.2, 0.05)
    assert "above the 8-hour limit of 0.05" in line(0.1, 0.2, 0.051)
    assert "Keep the extraction close" in line(0.1, 0.2, 0.0, "tip")
    assert "Catch the fume" in line(0.1, 0.2, 0.0, "fan")

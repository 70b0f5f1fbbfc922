"""Findings: each where it belongs, and none where it does not."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, get_args

import pytest

from solderrisk.files.reference import load_reference
from solderrisk.model.bench import Bench, Flux, Solder
from solderrisk.model.jobs import jobs_of
from solderrisk.model.kit import Board, Donor, Kit
from solderrisk.model.library import Library
from solderrisk.plan.findings import findings, ties_unknown
from solderrisk.plan.results import Finding, FindingKind
from solderrisk.report.findings import SENTENCES, finding_remedy, finding_text, sentences
from solderrisk.risk.results import KitRisk
from tests.plan.kit_builder import AIR, IRON, LIBRARY, air_heat, jobs, kit, option, part, risk

BENCH = Bench(name="b", aids=("multimeter",), extraction="tip")


def told(of: Kit, found: KitRisk | None = None, bench: Bench = BENCH) -> tuple[Finding, ...]:
    work = jobs(of)
    return findings(of, work, bench, found or risk(work))


STRIPPER = BENCH.model_copy(update={"aids": (*BENCH.aids, "wire_stripper")})


def texts(of: Kit, found: KitRisk | None = None, bench: Bench = BENCH) -> str:
    listed = told(of, found, bench)
    return " | ".join(f"{f.level}: {finding_text(f)}. {finding_remedy(f)}" for f in listed)


def test_a_plain_kit_needs_no_word() -> None:
    assert told(kit(placements=[part("R1", "R")])) == ()


def test_what_is_not_counted_is_told_first() -> None:
    of = kit(placements=[part("R1", "R")], not_counted=("J1", "Battery Holder"))
    first = told(of)[0]
    assert first.level == "blocker"
    assert finding_text(first).startswith("2 references are not counted")
    assert "J1, Battery Holder" in finding_text(first)


@pytest.mark.parametrize(
    ("connections", "conductors", "remedy"),
    [(5, 4, "one wire more"), (6, 4, "2 wires more"), (4, 4, None), (4, None, None), (4, 6, None)],
)
def test_cables_that_are_too_thin(
    connections: int, conductors: int | None, remedy: str | None
) -> None:
    wire = {"ref": "W1", "board": "main", "connections": connections, "conductors": conductors,
            "reused": True}  # fmt: skip
    found = texts(kit(wires=[wire]), bench=STRIPPER)
    if remedy is None:
        assert found == ""
    else:
        assert f"the reused cable has {conductors} conductors" in found
        assert f"the boards ask for {connections}" in found
        assert remedy in found


def test_chip_sizes_that_two_systems_name() -> None:
    names = ("CHIP-0603", "CHIP-0603M", "CHIP-0805")
    library = Library.of(
        [*LIBRARY, *(LIBRARY.get("R").model_copy(update={"name": n}) for n in names)]  # type: ignore[union-attr]
    )
    of = kit(placements=[part(f"R{n}", name) for n, name in enumerate(names)]
             + [part("C1", "CHIP-0603")])  # fmt: skip
    work = jobs_of(of, library)
    found = findings(of, work, BENCH, risk(work))
    assert [finding_text(f) for f in found] == ["size 0603 of R0, C1 is read as the imperial code"]
    assert finding_remedy(found[0]) == "write 0603M where the metric size is meant"


def dirty(condition: str, *tasks: dict[str, Any]) -> Kit:
    donor = Donor(name="old", board=Board(name="o"), condition=condition)  # type: ignore[arg-type]
    return kit(placements=[part("U1", "SO", donor="old")], donors=[donor], tasks=list(tasks))


def test_dirty_donors_are_cleaned_first() -> None:
    assert "donor old is leaked cell" in texts(dirty("leaked_cell"))
    assert "donor old is corroded" in texts(dirty("corroded"))
    assert texts(dirty("dusty")) == ""
    clean = {"ref": "c", "title": "clean", "kind": "clean", "before": ["lifts"]}
    assert texts(dirty("leaked_cell", clean)) == ""
    assert "leaked cell" in texts(dirty("leaked_cell", {**clean, "kind": "bake"}))


def test_what_nobody_sells_gets_a_gate() -> None:
    parts = [part("R1", "R"), part("U1", "SO", irreplaceable=True)]
    assert "no gate protects U1" in texts(kit(placements=parts))
    gate = {"ref": "g", "title": "rails", "after": ["R1"], "before": ["U1"]}
    assert "protects" not in texts(kit(placements=parts, gates=[gate]))


def test_the_case_is_closed_on_what_works() -> None:
    case = {"ref": "case", "title": "close the case", "kind": "fit_case"}
    parts = [part("R1", "R")]
    assert "closed without a working check" in texts(kit(placements=parts, tasks=[case]))
    gate = {"ref": "g", "title": "works", "after": ["R1"], "before": ["case"]}
    assert texts(kit(placements=parts, tasks=[case], gates=[gate])) == ""


@pytest.mark.parametrize(
    ("level", "air", "is_told"),
    [("3", True, True), ("2a", True, False), (None, True, False), ("3", False, False)],
)
def test_moisture_under_hot_air(level: str | None, air: bool, is_told: bool) -> None:
    work = jobs(kit(placements=[part("U1", "QFN")]))
    wet = work[0].footprint.model_copy(update={"moisture_level": level})  # type: ignore[union-attr]
    work = (replace(work[0], footprint=wet),)
    options = {"fit:U1": option("air", settings=AIR, heat=air_heat())} if air else {}
    found = findings(kit(placements=[part("U1", "QFN")]), work, BENCH, risk(work, options))
    assert any("moisture" in finding_text(f) for f in found) is is_told


def test_heat_in_doubt_is_a_note() -> None:
    of = kit(placements=[part("U1", "SO")])
    unsure = replace(option("point"), decided=False)
    assert "note: U1 may stay cold: the heat is too close to call" in texts(
        of, risk(jobs(of), {"fit:U1": unsure})
    )


def test_a_bench_without_meter_or_extraction() -> None:
    gate = {"ref": "g", "title": "rails", "after": ["R1"]}
    of = kit(placements=[part("R1", "R")], gates=[gate])
    bare = Bench(name="bare")
    assert "the gates need a meter" in texts(of, bench=bare)
    assert "nothing catches the fumes" in texts(of, bench=bare)
    assert "meter" not in texts(kit(placements=[part("R1", "R")]), bench=bare)


def test_blockers_come_first_and_together() -> None:
    of = kit(placements=[part("R1-R3", "R"), part("U1", "SO")])
    found = risk(jobs(of))
    way = replace(option("paste"), feasible=False, missing=("hot air",), why="")
    items = tuple(
        replace(item, blocked=True, options=(way,), tooling_needed=("hot_air",))
        for item in found.jobs
    )
    result = told(of, replace(found, jobs=items), Bench(name="bare"))
    assert [f.level for f in result] == ["blocker", "caution"]
    assert (
        finding_text(result[0]) == "R1, R2, R3, U1 cannot be fitted on this bench: it lacks hot air"
    )
    assert finding_remedy(result[0]) == "cheapest way out: hot air"
    assert result[0].keys == ("fit:R1", "fit:R2", "fit:R3", "fit:U1")


def test_blocked_work_that_no_tool_opens_goes_to_a_shop() -> None:
    of = kit(placements=[part("U1", "SO")])
    found = risk(jobs(of))
    items = tuple(replace(item, blocked=True) for item in found.jobs)
    assert "no tool in the list helps" in texts(of, replace(found, jobs=items))
    perhaps = tuple(replace(item, tooling_helps=("hot_air",)) for item in items)
    assert "hot air would help, still too close to call" in texts(of, replace(found, jobs=perhaps))
    assert "cheapest way out" not in texts(of, replace(found, jobs=perhaps))


def test_copper_that_nobody_knows_is_told_with_its_range() -> None:
    """Shares as in the table: of a chip's ends 0.23, 0.07 to 0.45."""
    row = part("R1-R3", "R")
    tied = part("R4", "R", links=({"group": "pins", "planes": 1},))
    known = kit(placements=[row, tied])
    listed = known.model_copy(
        update={"boards": (known.boards[0].model_copy(update={"ties_known": False}),)}
    )
    (found,) = ties_unknown(jobs(listed), load_reference())
    assert found.level == "caution"
    assert finding_text(found) == (
        "which pins lie on the copper planes of main is not known; taken as on them: 1 of 6 pins, "
        "0..3"
    )
    assert ties_unknown(jobs(known), load_reference()) == ()


def kinds(of: Kit, found: KitRisk | None = None, bench: Bench = BENCH) -> list[tuple[str, ...]]:
    """What is told: its kind and whom it is about."""
    return [(each.kind, *each.refs) for each in told(of, found, bench)]


def test_one_lift_that_is_not_cleaned_is_told_with_all_of_its_donor() -> None:
    donor = Donor(name="old", board=Board(name="o"), condition="burnt")
    parts = [part("U1", "SO", donor="old"), part("U2", "SO", donor="old")]
    wash = {"ref": "c", "title": "c", "kind": "clean", "before": ["lift:U1"]}
    of = kit(placements=parts, donors=[donor], tasks=[wash])
    assert kinds(of) == [("unwashed_donor", "U1", "U2")]
    both = {**wash, "before": ["lift:U1", "lift:U2"]}
    assert kinds(kit(placements=parts, donors=[donor], tasks=[both])) == []
    assert kinds(kit(placements=[part("R1", "R")], donors=[donor])) == []


def test_only_what_is_fitted_and_not_sold_needs_a_gate() -> None:
    parts = [
        part("U1", "SO", irreplaceable=True, donor="old"),
        part("U2", "SO", irreplaceable=True),
    ]
    gate = {"ref": "g", "title": "rails", "after": ["R1"], "before": ["U2"]}
    of = kit(placements=[part("R1", "R"), *parts], gates=[gate])
    assert kinds(of) == [("no_gate", "U1")]
    assert told(of)[0].keys == ("fit:U1",)


def test_a_meter_of_either_kind_serves_one_gate_among_many_jobs() -> None:
    gate = {"ref": "g", "title": "rails", "after": ["R1"]}
    of = kit(placements=[part("R1", "R")], gates=[gate])
    for aids, missing in ((("oscilloscope",), []), (("multimeter",), []), ((), [("no_meter",)])):
        assert kinds(of, bench=BENCH.model_copy(update={"aids": aids})) == missing


def test_leads_and_wires_ask_for_small_tools() -> None:
    """Cutters cut and strip; a stripper only strips."""
    wire = {"ref": "W1", "board": "main", "connections": 1}
    parts = [part("J1", "DIP"), part("U1", "SO"), part("J2", "DIP", donor="old")]
    of = kit(placements=parts, wires=[wire])
    cut, strip = ("leads_to_cut", "J1", "J2"), ("wires_to_strip", "W1")
    for aids, missing in (
        ((), [cut, strip]),
        (("wire_stripper",), [cut]),
        (("flush_cutters",), []),
    ):
        bench = BENCH.model_copy(update={"aids": ("multimeter", *aids)})
        assert kinds(of, bench=bench) == missing


def test_flux_that_eats_on_is_told_of_the_work_that_uses_it() -> None:
    eats, mild = Flux(kind="water_soluble"), Flux(kind="rosin")
    of = kit(placements=[part(f"U{n}", "SO") for n in range(1, 5)])
    ways = {
        f"fit:U{n}": option("point", settings=replace(IRON, flux=flux))
        for n, flux in ((1, eats), (2, mild), (3, None), (4, eats))
    }
    found = risk(jobs(of), ways)
    items = tuple(replace(item, blocked=item.job.ref == "U4") for item in found.jobs)
    found = replace(found, jobs=items)
    both = BENCH.model_copy(update={"fluxes": (mild, eats)})
    assert ("flux_to_wash", "U1") in kinds(of, found, both)
    assert "flux" not in str(kinds(of, found, BENCH.model_copy(update={"fluxes": (mild,)})))
    plain = risk(jobs(of), {"fit": option("point", settings=replace(IRON, flux=mild))})
    assert ("flux_left_out",) in kinds(of, plain, both)
    brush = both.model_copy(update={"aids": ("multimeter", "brush")})
    assert "flux" not in str(kinds(of, plain, brush))


def test_solder_of_another_alloy_is_told_by_alloys() -> None:
    of = kit(placements=[part("U1,U2,U3", "SO")], alloy="SAC305")
    other, same = (Solder(alloy=name) for name in ("Sn63Pb37", "SAC305"))
    ways = {"fit:U1": option("p", settings=replace(IRON, solders=(other, same))),
            "fit:U2": option("p", settings=replace(IRON, solders=(same,))),
            "fit:U3": option("p", settings=replace(IRON, solders=(other,)))}  # fmt: skip
    found = risk(jobs(of), ways)
    assert kinds(of, found) == [("other_solder", "U1", "U3")]
    assert told(of, found)[0].names == ("SAC305", "Sn63Pb37")
    shut = tuple(replace(item, blocked=item.job.ref == "U3") for item in found.jobs)
    assert ("other_solder", "U1") in kinds(of, replace(found, jobs=shut))


def test_doubt_of_what_cannot_be_done_is_no_doubt() -> None:
    of = kit(placements=[part("U1,U2,U3", "SO")])
    found = risk(jobs(of), {"fit": replace(option("point"), decided=False)})
    items = (replace(found.jobs[0], blocked=True), found.jobs[1],
             replace(found.jobs[2], options=(option("point"),)))  # fmt: skip
    doubt = [each for each in kinds(of, replace(found, jobs=items)) if each[0] == "heat_in_doubt"]
    assert doubt == [("heat_in_doubt", "U2")]


def test_every_kind_of_finding_has_its_sentence() -> None:
    """A new kind needs one: told by a table, or by what it was found from, or counted."""
    by_values = {
        "cannot", "cannot_surely", "damp", "hole", "heat_in_doubt", "gave_way",
        "small_land", "short_cable", "board_material", "unwashed_donor", "not_counted",
        "ties_unknown",
    }  # fmt: skip
    assert set(SENTENCES) | by_values == set(get_args(FindingKind))
    assert not set(SENTENCES) & by_values
    for kind in SENTENCES:
        text, remedy = sentences(Finding("note", kind, ("R7",), names=("one", "other")))
        assert "{" not in text + remedy
        assert not remedy.endswith(".")

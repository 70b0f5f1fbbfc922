"""Data decide what a technique heats and what it asks of a bench: no name of a technique does."""

from __future__ import annotations

import re
import shutil
from pathlib import Path
from typing import get_args

import pytest

from solderrisk.files.loading import demo_path, load_bench, load_builder, load_kit, load_library
from solderrisk.files.reference import DATA, load_reference, read_reference
from solderrisk.files.text import FileProblems
from solderrisk.model.bench import Bench, Builder, Iron, Solder, Tip
from solderrisk.model.kit import Kit
from solderrisk.model.plan_data import brings_something, with_tools
from solderrisk.model.question import Question, Reference
from solderrisk.model.risk_data import ModeId
from solderrisk.model.technique import Heat
from solderrisk.plan.practice import ladder
from solderrisk.plan.results import Assessment
from solderrisk.risk.heat.sources import SOURCES
from solderrisk.session import Session

LIBRARY = load_library()
PACKAGE = DATA.parent


def changed(folder: Path, **changes: tuple[str, str]) -> Path:
    """A copy of the data in which every file has one piece of text changed, once or often."""
    shutil.copytree(DATA, folder)
    for name, (old, new) in changes.items():
        file = folder / f"{name}.yaml"
        text = file.read_text(encoding="utf-8")
        assert re.search(old, text), old
        file.write_text(re.sub(old, new, text), encoding="utf-8")
    return folder


def test_every_source_of_heat_is_known_both_ways() -> None:
    assert set(SOURCES) == set(get_args(Heat))


def test_every_fault_mode_is_yielded_and_no_other() -> None:
    code = "".join(file.read_text(encoding="utf-8") for file in (PACKAGE / "risk").rglob("*.py"))
    assert set(re.findall(r'Raw\(\s*"(\w+)"', code)) == set(get_args(ModeId))


def test_no_technique_is_named_in_the_code() -> None:
    ids = "|".join(technique.id for technique in load_reference().risk.techniques)
    named = {
        str(file): found
        for file in PACKAGE.rglob("*.py")
        if (found := re.findall(rf'["\']({ids})["\']', file.read_text(encoding="utf-8")))
    }
    assert named == {}


# --- a name is only a name ---


def shown(a: Assessment) -> tuple[object, ...]:
    """Order, reasons, masking, notes and findings: everything but the technique's id."""
    return (
        a.order.keys,
        a.order.edges,
        a.safety,
        a.findings,
        {key: (card.cautions, card.safety, card.settings) for key, card in a.cards.items()},
    )


def test_a_renamed_technique_changes_nothing_else(tmp_path: Path) -> None:
    hot = [t.id for t in load_reference().risk.techniques if SOURCES[t.heat].warms != "joint"]
    assert len(hot) >= 4
    new = (rf"\b({'|'.join(hot)})\b", r"hot_\1")
    renamed = read_reference(changed(tmp_path / "data", techniques=new, practice=new))

    def answer(reference: Reference) -> Assessment:
        kit = load_kit(demo_path("river-recorder", "kit"), LIBRARY)
        bench = load_bench(demo_path("well-equipped", "bench"))
        builder = load_builder(demo_path("hobbyist", "builder"))
        return Session().assess(Question(kit, bench, builder, LIBRARY, reference, samples=100))

    before, after = answer(load_reference()), answer(renamed)
    assert shown(after) == shown(before)
    assert any(edge.rule == "heat_reach" for edge in after.order.edges)
    used = {risk.chosen.technique for risk in after.risk.jobs}
    assert any(name.startswith("hot_") for name in used)


# --- a technique with a tool of its own, by data alone ---

NEED = """  - id: twin_iron
    title: a twin iron
    met_when: {aids: [twin_iron]}
    met_by: [twin_iron]
tips:
  - {id: twin, title: twin tips, shapes: [tweezer], source: "assumed: made for a test"}
"""
TECHNIQUE = """  - id: twin_chip
    title: both ends at once with a twin iron
    short: "twin iron"
    purpose: fit
    heat: iron
    solder: wire
    suits: {kinds: [chip_end], joints_to: 2}
    needs: [[twin_iron], [solder_wire]]
    skill: iron_surface
    tip: twin
    tries: 6
    factors: {bridge: 0.1, open: 0.1, disturbed: 0.1, misaligned: 0.1}
    set_up_minutes: 0.1
    joint_minutes: 0.1
    steps: ["Tin both lands.", "Hold the part in the tips.", "Let go when both ends swim."]
    look_for: ["a fillet at both ends"]
    source: "assumed: made for a test"
"""
TOOL = """  - id: twin_iron
    title: twin iron of about 50 W
    price: 80
    source: "assumed: made for a test"
    adds:
      name: twin_iron
      aids: [twin_iron]
      irons:
        - name: twin iron
          drive: cartridge
          power_w: 50
          tips: [{width_mm: 1.0, shape: tweezer}]
"""


def test_a_technique_with_a_tool_of_its_own_is_data_alone(tmp_path: Path) -> None:
    folder = changed(
        tmp_path / "data",
        techniques=("(?m)^tips:\n", NEED),
        tools=(r"\Z", TOOL),
    )
    with (folder / "techniques.yaml").open("a", encoding="utf-8") as file:
        file.write(TECHNIQUE)
    reference = read_reference(folder)
    (tool,) = (each for each in reference.plan.tools if each.id == "twin_iron")
    bench = Bench(
        name="b",
        irons=(Iron(name="station", drive="station", power_w=60, tips=(Tip(width_mm=1.2),)),),
        solders=(Solder(alloy="Sn63Pb37"),),
        aids=("tweezers",),
    )
    kit = Kit.model_validate(
        {
            "name": "k",
            "boards": [{"name": "main"}],
            "placements": [{"refs": "C1", "footprint": "C-0805", "board": "main"}],
        }
    )

    def answer(of: Bench) -> Assessment:
        who = Builder(name="p")
        return Session().assess(Question(kit, of, who, LIBRARY, reference, samples=100))

    found = answer(with_tools(bench, [tool]))
    assert found.risk.jobs[0].chosen.technique == "twin_chip"
    card = found.cards["fit:C1"]
    assert "twin iron, 1 mm tweezer tip" in dict(card.settings)["iron"]
    assert {"fumes", "burns", "lead"} <= set(card.safety)
    # The what-if switches tools that bring something; without it another way is taken.
    assert brings_something(bench, tool)
    assert answer(bench).risk.jobs[0].chosen.technique != "twin_chip"
    nothing = answer(bench.model_copy(update={"irons": ()}))
    ways = {each.technique: each.missing for each in nothing.risk.jobs[0].options}
    assert "a twin iron" in ways["twin_chip"]
    rungs = [step for step in ladder(Builder(name="p"), reference) if "twin_chip" in step.unlocks]
    assert [step.skill for step in rungs] == ["iron_surface"]


# --- unknown names fail at load, with place and remedy ---


@pytest.mark.parametrize(
    ("file", "old", "new", "told"),
    [
        ("techniques", r"met_by: \[wick\]", "met_by: [wik]", r"'wik'; did you mean 'wick'"),
        ("techniques", r"aids: \[solder_pump\]", "aids: [solder_pum]", "unknown aid"),
        ("techniques", r"\[\[vacuum\]\]", "[[vacum]]", "unknown need 'vacum'; did you"),
        ("techniques", r"heat: vacuum", "heat: vacum", r"did you mean 'vacuum'"),
        ("techniques", r"tip: wide\b", "tip: wid", "unknown rule for tips"),
        ("techniques", r"skill: wiring", "skill: wirring", "unknown skill"),
        ("techniques", r"stuck_joint: 3.0", "stuck_joints: 3.0", "unknown fault mode"),
        ("techniques", r"wide_from: wide_tip_mm", "wide_from: wide_mm", "unknown parameter"),
        ("faults", r"id: dead\b", "id: ded", r"did you mean 'dead'"),
        ("safety", r"aids_missing: \[gloves\]", "aids_missing: [glove]", "unknown aid"),
        ("safety", r"heats: \[air\]", "heats: [aire]", r"did you mean 'air'"),
        ("practice", r"unlocks: \[barrel_iron\]", "unlocks: [barel_iron]", "unknown technique"),
    ],
)  # fmt: skip
def test_unknown_names_fail_at_load_with_their_place(
    tmp_path: Path, file: str, old: str, new: str, told: str
) -> None:
    folder = changed(tmp_path / "data", **{file: (old, new)})
    with pytest.raises(FileProblems) as refused:
        read_reference(folder)
    first = str(refused.value).splitlines()[0]
    assert re.match(rf".*{file}\.yaml:\d+:\d+: ", first), first
    assert re.search(told, first), first


def test_a_missing_fault_mode_or_family_fails_at_load(tmp_path: Path) -> None:
    gone = changed(tmp_path / "one", faults=(r"(?m)^  - \{id: dead,.*\n.*\n", ""))
    with pytest.raises(FileProblems, match="fault modes are missing: dead"):
        read_reference(gone)
    heavy = changed(tmp_path / "two", families=(r"heavy: true, ", ""))
    with pytest.raises(FileProblems, match=r"heavy: is missing; add this key"):
        read_reference(heavy)

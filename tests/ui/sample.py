"""A hand-made assessment of any size and a session that serves it: invented figures."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import replace

from solderrisk.files.reference import load_reference
from solderrisk.model.bench import Bench, Builder, Flux, HotAir, Iron, Magnifier, Solder, Tip
from solderrisk.model.footprint import Body, Footprint, Lead, PadGroup
from solderrisk.model.jobs import Job, jobs_of
from solderrisk.model.kit import Board, Donor, Gate, Kit, NearPlastic, Placement, Position, Wire
from solderrisk.model.library import Library
from solderrisk.model.plan_data import PricedTool
from solderrisk.model.question import ALONE, Question, Reference, Run
from solderrisk.physics.results import AirHeat, Alignment, Curve, IronHeat
from solderrisk.plan.order.edges import Edge, Edges, Why
from solderrisk.plan.practice import PassMark, PracticeStep
from solderrisk.plan.results import (
    Advice,
    Assessment,
    Assumed,
    Card,
    CostLine,
    Costs,
    Finding,
    FittingOrder,
    Gain,
    Judgement,
    Move,
    SafetyNote,
    Search,
    SecondLook,
    Stage,
    StatementCell,
    Training,
    Verdict,
)
from solderrisk.plan.sensitivity import Effect, Ranking
from solderrisk.risk.results import JobRisk, KitRisk, ModeChance, Option, Range, Settings
from solderrisk.session import Session
from solderrisk.tui.setup import Inputs

CHIP = Footprint(
    name="R0603",
    family="chip",
    title="chip 0603",
    pads=(
        PadGroup(
            kind="chip_end", count=2, layout="ends", row_span_mm=1.6, land_w_mm=0.9, land_l_mm=0.8
        ),
    ),
    body=Body(length_mm=1.6, width_mm=0.8, height_mm=0.45, material="ceramic"),
    source="assumed: test sample",
)
TSOP = Footprint(
    name="TSOP-48",
    family="tsop",
    title="TSOP-48 0.5 mm",
    pads=(
        PadGroup(
            kind="gull_wing",
            count=48,
            layout="dual",
            pitch_mm=0.5,
            row_span_mm=19.2,
            land_w_mm=0.3,
            land_l_mm=1.6,
            lead=Lead(width_mm=0.22, thickness_mm=0.15, foot_mm=0.6),
        ),
    ),
    body=Body(length_mm=18.4, width_mm=12.0, height_mm=1.0),
    orientation="pin_one",
    mark="dot",
    source="assumed: test sample",
)
JACK = Footprint(
    name="DCJACK",
    family="dc_jack",
    title="DC jack",
    pads=(
        PadGroup(
            kind="lug",
            count=3,
            layout="single",
            pitch_mm=6.0,
            land_w_mm=2.5,
            land_l_mm=4.0,
            hole_mm=2.0,
            tied=True,
        ),
    ),
    body=Body(length_mm=14.0, width_mm=9.0, height_mm=11.0, material="pbt"),
    source="assumed: test sample",
)
LAND = Footprint(
    name="WIRE-LAND-1.5",
    family="wire_pad",
    title="wire land",
    pads=(PadGroup(kind="wire", count=1, land_w_mm=1.5, land_l_mm=1.5),),
    body=Body(length_mm=1.5, width_mm=1.5, height_mm=0.5),
    source="assumed: test sample",
)
LIBRARY = Library.of((CHIP, TSOP, JACK, LAND))
BENCH = Bench(
    name="decent",
    irons=(Iron(name="station 60 W", drive="station", power_w=60, tips=(Tip(width_mm=1.6),)),),
    hot_air=(HotAir(name="hot air 500 W", nozzles_mm=(6.0, 10.0)),),
    solders=(Solder(alloy="Sn63Pb37"),),
    fluxes=(Flux(kind="no_clean"),),
    magnifiers=(Magnifier(name="loupe", power_x=10),),
    aids=("tweezers", "wick", "multimeter"),
)
BUILDER = Builder(name="Ana", level="several")


def sample_kit(count: int) -> Kit:
    """``count`` placements: a lifted fine-pitch part first, a jack second, then chips."""
    names = ["TSOP-48", "DCJACK"][:count] + ["R0603"] * max(count - 2, 0)
    columns = max(math.ceil(math.sqrt(count * 1.6)), 1)
    placements = []
    for number, name in enumerate(names):
        ref = {"TSOP-48": "U1", "DCJACK": "J1"}.get(name, f"R{number - 1}")
        x, y = (number % columns) / columns, (number // columns) * columns / max(count * 1.6, 1)
        at = Position(ref=ref, x_mm=6 + 86 * x, y_mm=10 + 60 * min(y, 1.0))
        placements.append(
            Placement(
                refs=ref,
                footprint=name,
                board="main",
                value="10k" if name == "R0603" else "",
                positions=(at,),
                price_each=0.02 if name == "R0603" else 4.5,
                donor="old recorder" if name == "TSOP-48" else None,
                irreplaceable=name == "TSOP-48",
            )
        )
    return Kit(
        name="sample",
        title="River-level recorder",
        invented=True,
        boards=(
            Board(name="main", length_mm=100, width_mm=80),
            Board(name="front", length_mm=40, width_mm=30),
        ),
        donors=(Donor(name="old recorder", board=Board(name="old")),) if count else (),
        placements=tuple(placements),
        wires=(Wire(ref="W1", board="main", connections=2),) if count > 1 else (),
        gates=(Gate(ref="rails", title="Rails at 3.3 V", kind="rail", after=("all",)),)
        if count > 1
        else (),
        plastics=(NearPlastic(board="main", name="relay", x_mm=90, y_mm=20),) if count > 1 else (),
    )


def around(mid: float, width: float) -> Range:
    return Range(max(mid - width, 0.0), mid, min(mid + width, 1.0))


def _option(job: Job, skill: float) -> Option:
    assert job.footprint is not None
    hard = {"tsop": 0.12, "dc_jack": 0.02}.get(job.footprint.family, 0.0004) * skill
    works = 1.0 - hard
    heat = IronHeat(290, 217, 40, 12, "wets", "none", 1.2, 0.9, 1.7, 2.2, 6.0)
    modes = (
        ModeChance(
            "bridge",
            "bridge between leads",
            46,
            around(hard / 40, hard / 80),
            around(hard / 2, hard / 4),
            "mendable",
            "0.2 mm gap, drag with gel flux",
            hand="steady hand",
        ),
        ModeChance(
            "lifted_pad",
            "land torn off",
            48,
            around(hard / 90, hard / 150),
            around(hard / 5, hard / 9),
            "kills_board",
            "dwell 2.2 s of 6.0 s that the land bears",
            hand="steady hand",
        ),
    )
    return Option(
        technique="drag" if job.footprint.family == "tsop" else "point_by_point",
        title="drag with flux" if job.footprint.family == "tsop" else "point by point",
        feasible=True,
        why="the iron reaches every lead",
        settings=Settings(iron="station 60 W", tip_width_mm=1.6, tip_c=340),
        iron_heat=heat,
        first_time=around(1 - 3 * hard, 2 * hard),
        after_mending=around(works, hard / 2),
        lost=around(hard, hard / 2),
        loss=Range(hard, 5 * hard, 9 * hard),
        minutes=Range(0.5, 1.0 + 80 * hard, 3.0 + 90 * hard),
        modes=modes,
    )


def _risk(job: Job, skill: float, air: bool, pins: dict[str, str]) -> JobRisk:
    options = [_option(job, skill)]
    if job.kind == "lift":
        reach = AirHeat(55, 40, 75, 30, 15, "wets", 238, 260, 1.8, 14, 22, 105)
        lifting = replace(
            options[0],
            technique="hot_air_lift",
            title="hot-air lift",
            iron_heat=None,
            air_heat=reach,
            feasible=air,
            missing=() if air else ("hot air",),
        )
        options = [lifting, options[0]] if air else [options[0], lifting]
    pinned = pins.get(job.key)
    options.sort(key=lambda option: option.technique != pinned) if pinned else None
    return JobRisk(job, tuple(options), False, "several", ("iron",), pinned=pinned is not None)


def sample(count: int, question: Question | None = None) -> Assessment:
    """An assessment of ``count`` placements that answers to level, hot air and pins."""
    kit = sample_kit(count)
    asked = question or QUESTION
    bench, builder = asked.bench, asked.builder
    skill = {"never": 5.0, "few": 2.5, "several": 1.4, "regular": 0.8, "trained": 0.4}[
        builder.level
    ]
    jobs = jobs_of(kit, LIBRARY)
    risks = tuple(
        _risk(job, skill, bool(bench.hot_air), dict(asked.pins)) for job in jobs if job.soldered
    )
    works = math.prod(r.chosen.after_mending.mid for r in risks)
    fails = {r.job.key: 1 - r.chosen.after_mending.mid for r in risks}
    total = sum(fails.values()) or 1.0
    shares = {key: value / total for key, value in fails.items()}
    top = tuple(sorted(shares, key=lambda key: -shares[key])[:6])
    target = asked.target if asked.target is not None else 0.7
    return Assessment(
        kit=kit,
        bench=bench,
        builder=builder,
        jobs=jobs,
        risk=KitRisk(
            jobs=risks,
            first_time=around(works**3, 0.1),
            working=around(works, 0.09),
            faults=Range(0.5 * skill, 1.2 * skill, 3.0 * skill),
            ruined=Range(4 * skill, 9 * skill, 15 * skill),
            hours=Range(count / 30, count / 20, count / 12),
            by_key={risk.job.key: risk for risk in risks},
            fail_share=shares,
        ),
        verdict=Verdict(
            Judgement("yes" if works >= target else "no", float(works >= target)),
            around(works, 0.09),
            around(works**3, 0.1),
            target,
            top,
        ),
        costs=Costs(
            (CostLine("parts", 23.4, "part"),), 23.4, 61.0, Range(4, 9, 15), "EUR", 9, 4.2, 3, 0
        ),
        order=_order(jobs, risks),
        cards={r.job.key: _card(r) for r in risks},
        safety=(
            SafetyNote(
                "lead",
                "Lead in the solder",
                ("Wash your hands before you eat.", "Keep food off the bench."),
                True,
                tuple(j.key for j in jobs[:3]),
                "common practice",
            ),
            SafetyNote(
                "burns", "Hot tools", ("Park the iron in its stand.",), False, (), "common practice"
            ),
        ),
        findings=(
            Finding("caution", "no_gate", ("U1",), ("fit:U1",)),
            Finding("note", "wires_to_strip", ("W1",), ("wire:W1",)),
        )
        if count
        else (),
        assumed=Assumed(80, 100),
    )


def _order(jobs: tuple[Job, ...], risks: Sequence[JobRisk]) -> FittingOrder:
    kinds = ("lift", "fit", "wire", "gate")
    stages = []
    for kind in kinds:
        keys = tuple(job.key for job in jobs if job.kind == kind)
        if keys:
            stages.append(
                Stage(
                    number=len(stages) + 1,
                    work=tuple(job for job in jobs if job.kind == kind),
                    options=tuple(r.chosen for r in risks if r.job.kind == kind),
                    turned=("main", "top"),
                    faults=("bridge",),
                    test=next((j for j in jobs if j.key == "gate:rails" and kind == "fit"), None),
                    minutes=12.0 + len(keys),
                    share=0.0,
                    reasons=(),
                )
            )
    lifts = [job for job in jobs if job.kind == "lift"]
    edges = [
        Edge(
            job.key,
            job.feeds,
            "lift_before_fit",
            Why("stated", ("a part is lifted before it is fitted",)),
        )
        for job in lifts
        if job.feeds
    ]
    keys = tuple(key for stage in stages for key in stage.keys)
    return FittingOrder(keys, tuple(stages), Edges.of(jobs, edges), 9.0, True, 0.0, 2, Search(True))


def _card(risk: JobRisk) -> Card:
    return Card(
        risk.job.key,
        risk.job.ref,
        risk.chosen.title,
        risk.chosen.technique,
        (("iron", "station 60 W, 1.6 mm chisel, 340 °C"), ("time", "2.2 s on each lead")),
        ("Tack two corners.", "Check that it sits square.", "Drag along each row."),
        ("no bridge between leads", "smooth fillet at heel and toe"),
        "pin 1 at the dot" if risk.job.polarised else "either way round",
        ("Do not press on the lands.",),
        ("lead",),
    )


def sample_curve() -> Curve:
    times = tuple(0.05 * i for i in range(101))
    return Curve(
        times,
        tuple(22 + 290 * (1 - math.exp(-t / 0.9)) for t in times),
        tuple(340 - 60 * math.exp(-t / 0.5) * min(t * 8, 1) for t in times),
        217.0,
        330.0,
        "station 60 W, 1.6 mm chisel",
    )


QUESTION = Question(sample_kit(5), BENCH, BUILDER, LIBRARY, load_reference())


NO = Judgement("no", 0.0)
FINER_TIP = PricedTool(
    id="fine_tip", title="finer tip, 0.8 mm", price=9.0, adds=Bench(name="tip"), source="assumed"
)


class SampleSession(Session):
    """Serves samples at once. ``fails`` makes reading fail."""

    def __init__(self, count: int = 40, fails: Exception | None = None) -> None:
        super().__init__()
        self.count, self.fails = count, fails
        self.fails_ranking: Exception | None = None

    def read(self, inputs: Inputs) -> Question:
        if self.fails:
            raise self.fails
        return QUESTION.but(kit=sample_kit(self.count), target=inputs.target)

    def assess(
        self, question: Question, *, order: FittingOrder | None = None, run: Run = ALONE
    ) -> Assessment:
        return sample(self.count, question)

    def advise(self, question: Question, *, cautious: bool = False, run: Run = ALONE) -> Advice:
        return Advice(
            True,
            (FINER_TIP,),
            (Training("iron_fine_pitch", "fine pitch with an iron", 60, 2.0, 0.0),),
            Range(0.7, 0.8, 0.9),
            Judgement("yes", 0.9),
            question.wanted,
            31,
        )

    def gains(
        self, question: Question, ticked: Collection[str] = (), run: Run = ALONE
    ) -> tuple[Gain, ...]:
        return (Gain(FINER_TIP, 0.04, 0.04, 9.0, ("fit:U1",)),)

    def statement(
        self, question: Question, benches: Sequence[Bench], run: Run = ALONE
    ) -> tuple[StatementCell, ...]:
        return tuple(
            StatementCell(level, bench, around(0.1 * i + 0.1 * j, 0.05), NO, ("lift:U1",))
            for i, level in enumerate(("never", "few", "several", "regular", "trained"))
            for j, bench in enumerate(("bare", "decent", "well-equipped"))
        )

    def second_looks(self, question: Question, run: Run = ALONE) -> tuple[SecondLook, ...]:
        return (SecondLook("fit:U1", "second_person", 0.021, 2.0, ("U1",)),)

    def ladder(
        self,
        builder: Builder,
        reference: Reference,
        *,
        aim: str = "",
        skills: Collection[str] | None = None,
    ) -> tuple[PracticeStep, ...]:
        marks = (PassMark(45, 0, 0.05, 0.9), PassMark(77, 1, 0.05, 0.9))
        return (
            PracticeStep(
                id="drag",
                title="Drag a row of fine leads",
                skill="iron_fine_pitch",
                shows="regular",
                after=(),
                material="a scrap board",
                steps=("Tack two corners.", "Drag with gel flux."),
                marks=marks,
                sequential=(50, 94, 138),
                hours=1.5,
                price=4.0,
                unlocks=("drag",),
                notes=("lead",),
                missing_notes=("lead",),
                state="open",
                ready=True,
            ),
        )

    def rank(self, question: Question, run: Run = ALONE) -> Ranking:
        run.tell(0.5, "trying dead_rate")
        if self.fails_ranking:
            raise self.fails_ranking
        return Ranking(0.3, (Effect("dead_rate", 0.7, 0.5), Effect("void_rate", 0.66, 0.61)))

    def move(
        self,
        question: Question,
        found: Assessment,
        key: str,
        before: str | None,
        done: Sequence[str] = (),
    ) -> FittingOrder:
        if found.order.keys[0] == before:
            raise ValueError(f"{before} has to come first: a part is lifted before it is fitted")
        keys = [other for other in found.order.keys if other != key]
        keys.insert(keys.index(before) if before else len(keys), key)
        return replace(found.order, keys=tuple(keys), made=Move(key, None, 0.0))

    def replan(
        self,
        question: Question,
        found: Assessment,
        *,
        done: Sequence[str] = (),
        again: Sequence[str] = (),
        locked: Sequence[str] = (),
        run: Run = ALONE,
    ) -> tuple[FittingOrder, tuple[str, ...]]:
        order = replace(found.order, made=Search(proved=not locked))
        return order, tuple(key for key in done if key not in again)

    def curve(self, question: Question, option: Option) -> Curve | None:
        return sample_curve()

    def alignment(self, question: Question, job: Job) -> Alignment | None:
        return Alignment(0.11, 0.6, 2)

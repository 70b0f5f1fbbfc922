"""Kit: boards, placements, lifts, wires, tasks, gates, donors, prices."""

from __future__ import annotations

from typing import Annotated, Any, Literal, Self

from pydantic import Field, model_validator

from solderrisk.model.base import Frozen, Many, PositiveMm, Share, Text
from solderrisk.model.footprint import Footprint, Material, SinkG

Side = Literal["top", "bottom"]
MAX_PLACE_MM = 5000.0
Place = Annotated[float, Field(ge=-MAX_PLACE_MM, le=MAX_PLACE_MM)]
Price = Annotated[float, Field(ge=0, le=1e6)]
Minutes = Annotated[float, Field(ge=0, le=1e5)]
RatedC = Annotated[
    float, Field(ge=60, le=400, description="body temperature that its data sheet rates it for")
]
Refs = Annotated[
    str,
    Field(
        min_length=1,
        max_length=2000,
        description="one reference, a list 'C1, C4' or ranges 'R1-R9'",
    ),
]


class PlaneLink(Frozen):
    """How a joint is tied to copper planes: by 0 of them, not at all. ``spokes`` 0 means
    solid copper."""

    group: Text = Field(
        "*", description="pad group's name; '*' for every tied group, or the only one"
    )
    planes: int = Field(ge=0, le=32)
    spokes: int = Field(4, ge=0, le=8)
    spoke_w_mm: PositiveMm = 0.3
    spoke_gap_mm: PositiveMm = 0.3


BoardMaterial = Literal[
    "fr4",
    "phenolic_paper",  # FR-1, FR-2
    "cem1",
    "cem3",
    "aluminium_core",
    "polyimide_film",
    "ceramic",
]
# One layer of copper is what these boards have; planes and plated holes are not made on them.
ONE_SIDED = ("phenolic_paper", "cem1", "aluminium_core")
THICKNESS_ASKED = ("aluminium_core", "polyimide_film", "ceramic")


Finish = Literal["hasl", "enig", "osp", "tin", "silver", "bare_copper", "unknown"]
Coating = Literal["none", "acrylic", "silicone", "polyurethane", "epoxy", "parylene"]


class Board(Frozen):
    """A bare board, new or a donor's."""

    name: Text
    material: BoardMaterial = "fr4"
    thickness_mm: PositiveMm = Field(
        1.6, description="must be given for aluminium core, film and ceramic"
    )
    length_mm: PositiveMm = 100.0
    width_mm: PositiveMm = 80.0
    copper_layers: int = Field(2, ge=1, le=32)
    plane_layers: int = Field(1, ge=0, le=32, description="layers that are mostly one plane")
    plane_cover: Share = Field(0.8, description="copper share of a plane layer")
    copper_um: float = Field(35.0, ge=5, le=210)
    spokes: int = Field(4, ge=0, le=8, description="usual thermal relief; 0 is solid copper")
    ties_known: bool = Field(
        True, description="false: nobody knows which pins lie on planes; a share is taken"
    )
    plated_holes: bool | None = Field(
        None, description="by layers and material if unset: none on one layer"
    )
    solder_mask: bool = True
    mask_dam_mm: PositiveMm = Field(
        0.1, description="narrowest strip of mask; 0.12 red or blue, 0.15 black or white"
    )
    finish: Finish = "unknown"
    coating: Coating = "none"
    alloy: Text = Field("Sn63Pb37", description="solder on it (donors) or chosen for it")
    price: Price = 0.0
    owned: bool = True

    @model_validator(mode="before")
    @classmethod
    def _usual_layers(cls, given: Any) -> Any:
        if isinstance(given, dict) and given.get("material") in ONE_SIDED:
            return {"copper_layers": 1, "plane_layers": 0, **given}
        return given

    @model_validator(mode="after")
    def _possible(self) -> Self:
        if self.plane_layers > self.copper_layers:
            raise ValueError(
                f"plane_layers {self.plane_layers} exceeds copper_layers {self.copper_layers}"
            )
        if self.material in THICKNESS_ASKED and "thickness_mm" not in self.model_fields_set:
            raise ValueError(f"thickness_mm is needed for {self.material}; measure the board")
        if self.material in ONE_SIDED and self.plane_layers:
            raise ValueError(f"{self.material} boards have no plane layers; write plane_layers: 0")
        if self.barrels and self.copper_layers == 1:
            raise ValueError("plated_holes need two copper_layers; leave plated_holes out")
        return self

    @property
    def barrels(self) -> bool:
        """Whether holes are plated, so that solder has a barrel to fill."""
        if self.plated_holes is not None:
            return self.plated_holes
        return self.copper_layers > 1 and self.material not in ONE_SIDED


class Donor(Frozen):
    """An old board that parts are lifted from."""

    name: Text
    board: Board
    condition: Literal["clean", "dusty", "corroded", "leaked_cell", "burnt", "unknown"] = "unknown"
    price: Price = 0.0
    owned: bool = True


class Position(Frozen):
    """Where one reference sits; y points up, rotation is counter-clockwise."""

    ref: Text
    x_mm: Place
    y_mm: Place
    rotation_deg: float = 0.0
    side: Side = "top"


Fixing = Literal["screw", "heat_sink", "clip", "glue"]


class Placement(Frozen):
    """One footprint to be fitted, once or several times."""

    refs: Refs
    footprint: Text
    board: Text
    quantity: int | None = Field(None, ge=1, le=5000, description="checked against refs")
    value: str = ""
    side: Side = "top"
    positions: Many[Position] = ()
    price_each: Price = 0.0
    owned: bool = Field(False, description="already in the drawer: nothing to buy")
    spares: int = Field(0, ge=0, le=5000, description="parts in hand beyond the quantity")
    irreplaceable: bool = False
    donor: Text | None = Field(None, description="lifted from this donor before it is fitted")
    polarised: bool | None = Field(None, description="overrides the footprint's orientation")
    links: Many[PlaneLink] = Field((), description="overrides the board's usual plane ties")
    joined: Many[Many[int]] = Field(
        (), description="lands of one net, by their numbers: solder between them is no fault"
    )
    rated_c: RatedC | None = None
    fixing: Fixing | None = Field(None, description="what holds it besides solder")
    sink_g: SinkG | None = Field(
        None, description="mass of its heat sink, with fixing heat_sink; a small one if unset"
    )
    mask_between: bool | None = Field(
        None, description="solder mask between its lands; by gap and board if unset"
    )
    technique: Text | None = Field(None, description="pinned technique")
    note: str = ""

    @model_validator(mode="after")
    def _sink_fixed(self) -> Self:
        if self.sink_g is not None and self.fixing != "heat_sink":
            raise ValueError("sink_g is the mass of a heat sink; write fixing: heat_sink beside it")
        return self


class Lift(Frozen):
    """Parts taken off a donor, one by its ``ref`` or several alike by ``refs``. Placements
    with ``donor`` make their own lifts; a lift written out here says more, and ``becomes``
    names the placement that a single one feeds."""

    ref: Text | None = None
    refs: Refs | None = None
    donor: Text
    footprint: Text
    becomes: Text | None = None
    spares: int = Field(0, ge=0, le=1000, description="further donors or parts to try on")
    irreplaceable: bool = False
    price_each: Price = 0.0
    links: Many[PlaneLink] = ()
    rated_c: RatedC | None = None
    glued: bool = Field(False, description="glue under the part, besides its solder")
    technique: Text | None = None
    bends: int = Field(0, ge=0, le=100, description="leads that must be straightened")
    x_mm: Place | None = Field(None, description="where it sits on the donor's board")
    y_mm: Place | None = None

    @model_validator(mode="after")
    def _named(self) -> Self:
        if (self.ref is None) == (self.refs is None):
            raise ValueError("write either ref, for one part, or refs, for several alike")
        return self

    @property
    def named(self) -> str:
        """The references as they are written."""
        return self.ref or self.refs or ""


Insulation = Literal["pvc", "silicone", "ptfe", "polyethylene", "enamel", "coax", "bare"]


class Wire(Frozen):
    """A wire, a cable or a ribbon between two places."""

    ref: Text
    board: Text
    connections: int = Field(ge=1, le=500, description="conductors that the boards ask for")
    conductors: int | None = Field(None, ge=1, le=500, description="conductors that it has")
    footprint: Text = "WIRE-LAND-1.5"
    area_mm2: float = Field(
        0.14, gt=0, le=50, description="copper; must be given with an insulation other than pvc"
    )
    length_mm: PositiveMm = 100.0
    insulation: Insulation = "pvc"
    reused: bool = False
    price: Price = 0.0
    owned: bool = False
    note: str = ""

    @model_validator(mode="after")
    def _section_known(self) -> Self:
        if self.insulation != "pvc" and "area_mm2" not in self.model_fields_set:
            raise ValueError(
                f"area_mm2 is needed for a wire with insulation {self.insulation}; write the "
                "cross-section of its copper"
            )
        return self


class Task(Frozen):
    """Work that is no soldering: clean, bake, cut, fit into the case."""

    ref: Text
    title: Text
    kind: Literal["clean", "bake", "cut", "inspect", "fit_case", "prepare", "other"] = "other"
    minutes: Minutes = Field(5.0, description="hands-on time")
    wait_hours: float | None = Field(
        None, ge=0, le=5000, description="time to wait without a hand on it, such as baking"
    )
    after: Many[Text] = ()
    before: Many[Text] = ()
    spoils: Share = Field(0.0, description="chance that it spoils something")


GateKind = Literal["visual", "shorts", "rail", "power_up", "function"]


class Gate(Frozen):
    """A test that must pass before more value is put on the board."""

    ref: Text
    title: Text
    kind: GateKind = "function"
    after: Many[Text] = Field(min_length=1)
    before: Many[Text] = ()
    minutes: Minutes = 5.0
    finds: Share | None = Field(None, description="share of faults it finds; by kind if unset")


class Rule(Frozen):
    """An order that the builder or the designer asks for."""

    first: Text
    then: Text
    why: Text = "asked for in the kit"


class Extra(Frozen):
    """Something the kit needs that is neither soldered nor a tool: display, case, cells."""

    name: Text
    price: Price = 0.0
    owned: bool = False
    committed_by: Text | None = Field(None, description="task or gate after which it is sunk")


class NearPlastic(Frozen):
    """Something on a board or donor that heat would hurt, besides the placements."""

    board: Text
    name: Text
    x_mm: Place
    y_mm: Place
    material: Material = "abs"


class Kit(Frozen):
    """Everything a builder has to do. Selectors in ``after``, ``before``, ``first`` and
    ``then``: a reference, 'R1-R9', 'lift:U1', 'board:main', 'donor:old', 'lifts', 'fits',
    'wires', 'tasks', 'gates', 'all' (all that is soldered), or the ref of a task or gate."""

    name: Text
    title: str = ""
    invented: bool = Field(False, description="marks invented (demo) data")
    currency: str = Field("EUR", min_length=1, max_length=8)
    boards: Many[Board] = Field(min_length=1)
    donors: Many[Donor] = ()
    footprints: Many[Footprint] = Field((), description="the kit's own, go before the library's")
    placements: Many[Placement] = ()
    lifts: Many[Lift] = ()
    wires: Many[Wire] = ()
    tasks: Many[Task] = ()
    gates: Many[Gate] = ()
    rules: Many[Rule] = ()
    extras: Many[Extra] = ()
    not_counted: Many[Text] = Field(
        (), description="references that have no footprint yet; told with every verdict"
    )
    plastics: Many[NearPlastic] = ()
    alloy: Text = Field("Sn63Pb37", description="solder that the kit is fitted with")
    target_chance: Share | None = Field(None, description="chance below which it is not worth it")
    hour_value: Price | None = Field(None, description="what an hour is worth to the builder")
    price: Price | None = Field(None, description="of the whole kit, where its parts have none")

    def steps(self) -> tuple[tuple[str, tuple[Task | Gate, ...]], ...]:
        """Tasks and gates with the name of their key in the file."""
        return ("tasks", self.tasks), ("gates", self.gates)

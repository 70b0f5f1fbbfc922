"""Footprints: pads, pitch, body, heat, and what their families ask for."""

from __future__ import annotations

import math
from typing import Annotated, Literal, Self, get_args

from pydantic import Field, model_validator

from solderrisk.model.base import Frozen, Many, NonNegativeMm, Point, PositiveMm, Source, Text

Family = Literal[
    "chip",
    "chip_array",
    "melf",
    "moulded_cap",
    "can_cap",
    "sot",
    "power_tab",
    "soic",
    "ssop",
    "tsop",
    "qfp",
    "qfn",
    "bga",
    "plcc",
    "crystal_smd",
    "inductor_smd",
    "choke_smd",
    "led_smd",
    "dip",
    "sip",
    "to_th",
    "axial",
    "radial",
    "crystal_th",
    "header",
    "dc_jack",
    "audio_jack",
    "switch",
    "potentiometer",
    "shielded_connector",
    "edge_slot",
    "usb",
    "card_slot",
    "ffc",
    "battery_contact",
    "terminal_block",
    "relay",
    "module",
    "wire_pad",
    "test_pad",
    "other_smd",
    "other_th",
]

PadKind = Literal[
    "chip_end",  # wrap-round termination of a chip or moulded part
    "gull_wing",
    "j_lead",
    "no_lead",  # side-wettable or bottom-only land of a no-lead part
    "castellation",
    "ball",
    "exposed",  # thermal pad under the body
    "tab",  # heavy metal tab or can soldered flat on the board
    "through_hole",  # round or square lead in a barrel
    "lug",  # wide shell or ground tab in a hole or slot
    "wire",  # a flat land for a wire
]

Layout = Literal["ends", "single", "dual", "quad", "grid", "centre", "corners", "explicit"]

Material = Literal[
    "epoxy",
    "ceramic",
    "ferrite",
    "glass",
    "metal",
    "aluminium_can",
    "polyamide",
    "high_temp_polymer",
    "pbt",
    "abs",
    "phenolic",
    "pvc",
    "silicone",
    "ptfe",
    "polyethylene",
    "enamel",
    "fr4",
]

LeadMaterial = Literal[
    "copper_alloy",
    "iron_nickel",
    "steel",
    "brass",
    "tinned_copper",
    "nickel",
    "nickel_steel",  # battery tabs
]


class Lead(Frozen):
    """One lead's cross-section and its free length from the joint to the body."""

    width_mm: PositiveMm
    thickness_mm: PositiveMm
    length_mm: PositiveMm = Field(1.0, description="from the joint to the body")
    foot_mm: NonNegativeMm = Field(0.0, description="length that lies on the land")
    round: bool = False
    material: LeadMaterial = "copper_alloy"
    wire_mm: PositiveMm | None = Field(None, description="whole length of a wire's conductor")


class PadGroup(Frozen):
    """Pads of one shape: a row, two rows, four rows, or single heavy tabs.

    ``pitch_mm`` is the step inside a row. ``row_span_mm`` is the distance between the
    centres of opposite rows along x (``ends``, ``dual``, ``quad``), ``row_span_y_mm`` the
    same along y (``quad``; equal to ``row_span_mm`` when left out).
    """

    name: Text = "pins"
    kind: PadKind
    count: int = Field(ge=1, le=4000)
    layout: Layout = "single"
    pitch_mm: PositiveMm | None = None
    row_span_mm: PositiveMm | None = None
    row_span_y_mm: PositiveMm | None = None
    rows: int = Field(1, ge=1, le=100, description="rows of a single or grid layout")
    land_w_mm: PositiveMm = Field(description="land across the row (along the pitch)")
    land_l_mm: PositiveMm = Field(description="land along the lead")
    hole_mm: PositiveMm | None = Field(None, description="hole, or long side of a slot")
    slot_w_mm: PositiveMm | None = Field(None, description="narrow side, where it is a slot")
    lead: Lead | None = None
    tied: bool = Field(False, description="usually joined to the board's planes (ground, heat)")
    at: Many[Point] = Field((), description="centres in mm, for explicit layout")
    turned: Many[int] = Field(
        (), description="which centres, counted from 1, have land_l along x (explicit layout)"
    )
    square: Many[int] = Field((), description="which lands of holes, counted from 1, are square")

    @model_validator(mode="after")
    def _complete(self) -> Self:
        if self.kind in ("through_hole", "lug") and self.hole_mm is None:
            raise ValueError(f"{self.name}: hole_mm is needed for {self.kind}")
        if self.layout == "explicit" and len(self.at) != self.count:
            raise ValueError(f"{self.name}: 'at' has {len(self.at)} centres for {self.count} pads")
        if self.layout in ("ends", "dual", "quad") and self.row_span_mm is None:
            raise ValueError(f"{self.name}: row_span_mm is needed for layout {self.layout}")
        if self.slot_w_mm is not None and self.slot_w_mm > (self.hole_mm or 0.0):
            raise ValueError(f"{self.name}: slot_w_mm must not be more than hole_mm")
        if self.layout in ("dual", "quad", "grid") and self.count > 4 and self.pitch_mm is None:
            raise ValueError(f"{self.name}: pitch_mm is needed for layout {self.layout}")
        in_row = self.layout in ("single", "dual", "quad") and self.count > 2
        if in_row and self.pitch_mm is not None and self.land_w_mm >= self.pitch_mm:
            raise ValueError(
                f"{self.name}: land_w_mm {self.land_w_mm:g} leaves no gap at pitch "
                f"{self.pitch_mm:g}"
            )
        return self

    @property
    def gap_mm(self) -> float | None:
        """Copper-to-copper gap between neighbours in a row, mm; None for lone pads and for
        lands with the part's body between them."""
        if self.layout == "ends" and self.through_board and self.row_span_mm is not None:
            return max(self.row_span_mm - self.land_l_mm, 0.0)
        if self.pitch_mm is None or self.count < 2:
            return None
        return max(self.pitch_mm - self.land_w_mm, 0.0)

    @property
    def through_board(self) -> bool:
        return self.hole_mm is not None

    @property
    def hole_area_mm2(self) -> float:
        """Open area of one hole, or of one slot with round ends, mm2; 0 for a flat land."""
        if self.hole_mm is None:
            return 0.0
        narrow_mm = self.slot_w_mm or self.hole_mm
        return math.pi / 4 * narrow_mm**2 + narrow_mm * (self.hole_mm - narrow_mm)


SinkG = Annotated[float, Field(gt=0, le=5000)]


class Body(Frozen):
    """The part's body; heat capacity is estimated from volume where none is given.

    ``shape``: a ``cylinder`` lies or stands, round across its two like sides; a ``dome`` is an
    upright cylinder that ends in a half sphere (a wired LED).
    """

    length_mm: PositiveMm
    width_mm: PositiveMm
    height_mm: PositiveMm
    shape: Literal["block", "cylinder", "dome"] = "block"
    material: Material = "epoxy"
    mass_g: Annotated[float, Field(gt=0, le=500)] | None = None
    heat_capacity_j_k: Annotated[float, Field(gt=0, le=500)] | None = None
    stand_off_mm: NonNegativeMm = 0.1
    on_sink: bool = Field(False, description="metal on metal on a heat sink while it is soldered")
    sink_g: SinkG | None = Field(None, description="mass of that heat sink")

    @property
    def volume_mm3(self) -> float:
        block = self.length_mm * self.width_mm * self.height_mm
        match self.shape:
            case "cylinder":
                return math.pi / 4 * block
            case "dome":
                # Half a sphere of diameter d holds as much as a cylinder d / 3 high.
                rounded = min(self.width_mm / 6, self.height_mm)
                return math.pi / 4 * block * (1 - rounded / self.height_mm)
            case _:
                return block


class HeatLimit(Frozen):
    """What the part bears, from its kind; a data sheet always goes first."""

    body_c: float = Field(260.0, ge=60, le=400, description="highest body temperature")
    body_s: float = Field(10.0, gt=0, le=600, description="time at that temperature")
    iron_c: float = Field(350.0, ge=150, le=480, description="tip temperature on the lead")
    iron_s: float = Field(3.0, gt=0, le=60, description="time of the tip on one lead")
    softens_c: float | None = Field(None, ge=60, le=400, description="plastic softens")
    rated_c: float | None = Field(
        None, ge=60, le=400, description="body temperature that its data sheet rates it for"
    )
    source: Source = "common practice"


class Footprint(Frozen):
    """One definition of the library. ``name`` and ``aliases`` are what kits refer to."""

    name: Text
    aliases: Many[Text] = ()
    capacitor_names: Many[Text] = Field(
        (), description="further names, under which it is a ceramic capacitor"
    )
    words: Many[Text] = Field((), description="everyday words that find it")
    board_names: Many[Text] = Field(
        (), description="names in board files, upper case; * stands for anything"
    )
    family: Family
    title: str = Field("", max_length=120)
    pads: Many[PadGroup] = Field(min_length=1)
    body: Body
    heat: HeatLimit = HeatLimit()
    orientation: Literal["none", "polarity", "pin_one"] = "none"
    mark: str = Field("", max_length=120, description="how the orientation is marked")
    moisture_level: Literal["1", "2", "2a", "3", "4", "5", "5a", "6"] | None = None
    hand_iron: bool = Field(True, description="false where no iron reaches the joints")
    metric_code: str | None = Field(None, max_length=8, description="chip size, metric")
    ceramic_capacitor: bool = Field(False, description="cracks under a thermal shock")
    drawing: Text | None = Field(
        None, description="drawing of the open footprint library that lands and holes agree with"
    )
    source: Source

    @property
    def names(self) -> tuple[str, ...]:
        """Everything that kits may call it."""
        return (self.name, *self.aliases, *self.capacitor_names)

    @property
    def as_capacitor(self) -> Footprint:
        return self.model_copy(update={"ceramic_capacitor": True})

    @property
    def pin_count(self) -> int:
        """Electrical pins: every pad but exposed pads, tabs named mount*, shells shell*."""
        return sum(
            group.count
            for group in self.pads
            if group.kind != "exposed" and not group.name.startswith(("mount", "shell"))
        )

    @property
    def joint_count(self) -> int:
        return sum(group.count for group in self.pads)

    @property
    def pitch_mm(self) -> float | None:
        """The finest pitch of the footprint, mm."""
        return min((g.pitch_mm for g in self.pads if g.pitch_mm is not None), default=None)

    @property
    def through_hole(self) -> bool:
        return any(group.through_board for group in self.pads)

    @property
    def has_exposed_pad(self) -> bool:
        return any(group.kind == "exposed" for group in self.pads)


class FootprintFile(Frozen):
    """One YAML file of the library: a family of footprints, and words that find all of them."""

    words: Many[Text] = ()
    footprints: Many[Footprint] = Field(min_length=1)


class Sourced(Frozen):
    value: float
    source: Source


class FamilyUsual(Frozen):
    """Usual joints, body and heat limits of one family, lengths in mm. ``heavy``: it stands
    in the way like a tall part. ``spare_air``: hot air beside it would hurt it."""

    smd: PadKind | None = None
    hole: PadKind | None = None
    hole_mm: float = Field(1.0, gt=0)
    height_mm: float = Field(gt=0)
    material: Material = "epoxy"
    lead_mm: float = Field(0.2, gt=0, description="thickness")
    lead_w_mm: float | None = None
    lead_share: float = 0.4
    land_share: float = Field(0.55, gt=0, lt=1)
    land_mm: float = Field(1.5, gt=0, description="land along the lead")
    round: bool = False
    polarity: bool | None = False
    pin_one: bool = False
    hand_iron: bool = True
    heavy: bool
    spare_air: bool
    body_c: float = 260.0
    body_s: float = 10.0
    iron_c: float = 350.0
    iron_s: float = 3.0
    softens_c: float | None = None
    two: Literal["ends", "holes"] | None = Field(None, description="where two pins are")
    lands: Literal["gull_rows", "four_sides", "balls", "rows_under", "row", "one"] | None = None
    two_rows: bool = Field(False, description="of holes, for an even number of pins")
    bends: bool = Field(False, description="leads that go into any holes")
    needs_pitch: bool = Field(False, description="to be drawn from its name")
    source: Source

    def heat(self) -> HeatLimit:
        return HeatLimit(
            body_c=self.body_c,
            body_s=self.body_s,
            iron_c=self.iron_c,
            iron_s=self.iron_s,
            softens_c=self.softens_c,
            source="assumed: estimated from the family of the part",
        )


class ByLetters(Frozen):
    """What a part of unknown name is, by the letters of its reference."""

    lands: dict[str, Family]
    holes: dict[str, Family]
    source: Source


class Families(Frozen):
    """``families.yaml``."""

    defaults: dict[str, Sourced]
    spare_air_materials: Many[Material] = Field(description="of bodies, whatever the family")
    open_contacts: Many[Family] = Field(description="flux and solvent creep into them")
    families: dict[Family, FamilyUsual]
    tied: dict[Text, Many[Family]] = Field(
        description="which number of risk.yaml is the share of their pins on copper planes"
    )
    letters: ByLetters

    @model_validator(mode="after")
    def _all(self) -> Self:
        missing = [name for name in get_args(Family) if name not in self.families]
        if missing:
            raise ValueError(f"families are missing: {', '.join(missing)}; add them")
        several = sorted(name for some in self.tied.values() for name in some)
        if several != sorted(get_args(Family)):
            raise ValueError("each family has to stand under one number of 'tied'")
        return self

    def tied_share(self, family: Family) -> str:
        """The name of the number that says which share of its pins lies on copper planes."""
        return next(number for number, some in self.tied.items() if family in some)

    def spares_air(self, footprint: Footprint) -> bool:
        """Plastics, cans and modules: what hot air next to it would hurt."""
        return (
            footprint.heat.softens_c is not None
            or self[footprint.family].spare_air
            or footprint.body.material in self.spare_air_materials
        )

    def __getitem__(self, family: Family) -> FamilyUsual:
        return self.families[family]

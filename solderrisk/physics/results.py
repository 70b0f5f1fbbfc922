"""What the physics layer asks and answers: plain frozen values.

Every case is hashable, so equal cases are computed once. Temperatures in C, differences
in K, times in s, lengths in mm, power in W.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from solderrisk.model.bench import Drive, HotPlate, Iron, Tip
from solderrisk.model.footprint import Footprint, PadGroup
from solderrisk.model.kit import Board, PlaneLink

Extraction = Literal["none", "open_window", "fan", "filter_box", "arm", "tip"]
Decision = Literal["wets", "fails", "undecided"]
Limit = Literal["none", "path", "power"]


NoteKind = Literal[
    "thin_board",  # value mm
    "more_planes",  # value of limit layers
    "wide_land",
    "far_side_lags",
    "hidden_joint",
    "all_molten",
    "plain_iron",  # idles at value C
    "outside_range",  # value C
    "steep",  # value against limit K/s
    "jet_flow",  # Reynolds number value
    "jet_height",  # value diameters
    "wide_part",
    "freezes_soon",
    "planes_cool_first",
]


@dataclass(frozen=True)
class Note:
    """Something a bench or a reader has to know of a result, with its figures."""

    kind: NoteKind
    value: float = 0.0
    limit: float = 0.0


@dataclass(frozen=True)
class JointCase:
    """One kind of joint on one board: what an iron or air has to heat."""

    footprint: Footprint
    group: PadGroup
    board: Board
    alloy: str
    links: tuple[PlaneLink, ...] = ()


@dataclass(frozen=True)
class IronCase:
    """A tip on a joint."""

    joint: JointCase
    iron: Iron
    tip: Tip
    tip_c: float
    start_c: float = 22.0  # the board's temperature: ambient or preheated


@dataclass(frozen=True)
class IronHeat:
    """What a tip does to a joint.

    ``margin_k`` is the hottest joint temperature less ``needed_c`` (liquidus plus what
    wetting asks for); ``band_k`` is the half-width of its doubt, and a margin inside the
    band reads 'undecided'. ``wet_s`` is None where the joint never gets there.
    ``dwell_s`` is wetting plus flow time (what the hand holds), ``safe_s`` the longest
    dwell before land, board or part is hurt.
    """

    reached_c: float
    needed_c: float
    margin_k: float
    band_k: float
    decision: Decision
    limit: Limit
    wet_s: float | None
    wet_s_low: float | None
    wet_s_high: float | None
    dwell_s: float | None
    safe_s: float
    notes: tuple[Note, ...] = ()


@dataclass(frozen=True)
class Curve:
    """Temperatures against time of one heating, equal lengths."""

    time_s: tuple[float, ...]
    joint_c: tuple[float, ...]
    source_c: tuple[float, ...]  # tip, or the part's top under hot air
    needed_c: float
    harm_c: float
    label: str = ""


@dataclass(frozen=True)
class Remedy:
    """A change that the same model says would heat the joint: what is changed, and what
    comes of it. ``over_limit_k``: how far the part's top then gets beyond its limit."""

    margin_k: float
    wet_s: float | None
    tip_width_mm: float | None = None
    tip_owned: bool = False
    power_w: float | None = None
    drive: Drive | None = None
    preheat_c: float | None = None
    air_c: float | None = None
    over_limit_k: float = 0.0


@dataclass(frozen=True)
class AirCase:
    """Hot air on a whole part."""

    footprint: Footprint
    board: Board
    alloy: str
    air_c: float
    flow_l_min: float
    nozzle_mm: float
    height_mm: float = 15.0
    start_c: float = 22.0
    purpose: Literal["fit", "lift"] = "lift"
    links: tuple[PlaneLink, ...] = ()


@dataclass(frozen=True)
class AirHeat:
    """What hot air does to a part and to what stands round it.

    ``molten_s`` is when the slowest joint is liquid (None: never), ``top_c`` the part's
    top at that time against ``limit_c``, which it bears for sure; nobody knows of the next
    ``limit_doubt_k`` above. ``reflow_radius_mm`` and ``plastic_radius_mm``
    are distances from the part's centre inside which neighbours' solder melts or plastics
    soften (at ``plastic_c``). ``notes`` are for the bench; ``doubts`` say where the model is
    used beyond what it was made from.
    """

    molten_s: float | None
    molten_s_low: float | None
    molten_s_high: float | None
    margin_k: float
    band_k: float
    decision: Decision
    top_c: float
    limit_c: float
    ramp_k_s: float
    reflow_radius_mm: float
    plastic_radius_mm: float
    plastic_c: float
    notes: tuple[Note, ...] = ()
    doubts: tuple[Note, ...] = ()
    limit_doubt_k: float = 0.0


@dataclass(frozen=True)
class PlateCase:
    """A part on a board on a hot plate. ``gap_mm`` is the air below the board: None for a
    bare underside, else what the parts there force."""

    footprint: Footprint
    board: Board
    alloy: str
    plate: HotPlate
    gap_mm: float | None = None
    start_c: float = 22.0
    links: tuple[PlaneLink, ...] = ()


@dataclass(frozen=True)
class PlateHeat:
    """What a hot plate does to a part's joints.

    The plate is set to ``soak_plate_c``; ``soak_s`` after the joints reached the soak it is
    set to ``peak_plate_c`` and stays there until all have been liquid for a while.
    ``molten_s`` is counted from switching on (None: never), ``above_s`` the time above
    liquidus until the heat is taken away. ``settles_c`` is where the joints would end,
    ``margin_k`` what they reach in time less what melting needs, ``band_k`` its doubt (the
    gap). ``top_c`` is the part's top at the end, ``ramp_k_s`` the steepest rise of its joints,
    ``board_c`` the board's hottest face.
    """

    soak_plate_c: float
    peak_plate_c: float
    soak_s: float
    molten_s: float | None
    molten_s_low: float | None
    molten_s_high: float | None
    above_s: float
    settles_c: float
    margin_k: float
    band_k: float
    decision: Decision
    top_c: float
    limit_c: float
    board_c: float
    board_limit_c: float
    ramp_k_s: float


@dataclass(frozen=True)
class PlateAnswer:
    """A plate's case with what it comes to."""

    case: PlateCase
    heat: PlateHeat


@dataclass(frozen=True)
class HangingPart:
    """Whether molten joints hold a part on the underside: its load in g per mm2 of joint
    against what trials bore for sure (``safe``) and at most (``most``)."""

    load_g_mm2: float
    safe_g_mm2: float
    most_g_mm2: float

    @property
    def holds(self) -> Literal["yes", "perhaps", "no"]:
        if self.load_g_mm2 <= self.safe_g_mm2:
            return "yes"
        return "perhaps" if self.load_g_mm2 <= self.most_g_mm2 else "no"


Trap = Literal["bi_pb_sn", "bi_sn", "in_sn"]
Obstacle = Literal["cadmium", "hidden", "no_iron", "melts_no_lower"]


@dataclass(frozen=True)
class LowMeltLift:
    """Flooding a part's joints with a low-melt removal alloy. The mixture may melt up to
    ``mix_doubt_k`` higher and ``mix_doubt_down_k`` lower than told; ``old_liquidus_c`` is that
    of the solder alone. ``trap``: what residue does, from ``trap_c`` on. ``caution``: what the
    alloy's data say of it."""

    mix_liquidus_c: float
    mix_doubt_k: float
    mix_doubt_down_k: float
    alloy_g: float
    molten_s: float  # how long all joints stay liquid once the heat is off
    cleanings: int
    residue_percent: float
    old_liquidus_c: float
    trap: Trap
    trap_c: float
    obstacle: Obstacle | None = None
    caution: str = ""
    notes: tuple[Note, ...] = ()

    @property
    def feasible(self) -> bool:
        return self.obstacle is None


@dataclass(frozen=True)
class SolderNeed:
    """Solder and flux for one placement."""

    volume_mm3: float
    mass_g: float
    wire_mm: float  # length of wire of the given diameter; 0 without a diameter
    flux_mg: float


FitKind = Literal[
    "no_hole", "bore_below_hole", "bore_below_lead", "next_land", "wide_nozzle", "loose_bore",
    "press_lightly", "bore_clears", "bridges", "narrow_tip", "tip_suits", "air_loses",
    "air_beyond", "air_covers", "no_lead", "no_entry", "tight", "loose", "hole_suits",
    "lug_enters", "lug_too_large",
]  # fmt: skip


@dataclass(frozen=True)
class ToolFit:
    """Whether a tool's shape suits a joint, or a hole its lead. ``kind``: how, of
    ``words.FITS``, with its ``figures``, mm."""

    fits: bool
    kind: FitKind
    figures: tuple[float, ...] = ()
    measure_mm: float | None = None


@dataclass(frozen=True)
class Fume:
    """Rosin fume in a room, as a caution: ``room`` is the well-mixed average, ``breathing``
    a range near the face. A figure below the limit is no permission."""

    room_15min_mg_m3: float
    breathing_15min_low_mg_m3: float
    breathing_15min_high_mg_m3: float
    limit_15min_mg_m3: float
    limit_8h_mg_m3: float
    steady_mg_m3: float
    extraction: Extraction

    @property
    def near_passes(self) -> Literal["yes", "perhaps", "no"]:
        """Whether the fume near the face passes the 15-minute limit."""
        if self.breathing_15min_low_mg_m3 > self.limit_15min_mg_m3:
            return "yes"
        return "perhaps" if self.breathing_15min_high_mg_m3 > self.limit_15min_mg_m3 else "no"


@dataclass(frozen=True)
class Sight:
    """Magnification needed for a detail and what the bench offers."""

    detail_mm: float
    needed_x: float
    standard_low_x: float
    standard_high_x: float
    have_x: float
    enough: bool


@dataclass(frozen=True)
class Alignment:
    """How far a part may sit off its lands; ``no_play``: its lead is wider than its land."""

    lateral_mm: float
    rotation_deg: float
    acceptance_class: int
    no_play: bool = False

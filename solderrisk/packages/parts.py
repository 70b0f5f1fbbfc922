"""Names that say what a part is, and so how many pins it has: coils, fuses, jumpers, holes."""

from __future__ import annotations

import re
from dataclasses import replace

from solderrisk.model.footprint import Family
from solderrisk.packages.reading import Hint, PackageReading, sizes_of

_NO_PART = re.compile(
    r"^(?:MOUNTING_?HOLE|FIDUCIAL|.*LOGO|SYMBOL_|OSHW|GAUGE_|.*_SILKSCREEN|.*_COPPERTOP|CE-LOGO"
    r"|.*_SOLDERMASK$|POLARITY_|SMD_?HOLE)"
)
_COUPLED = re.compile(r"MOUNT|COMMON|COUPL|DUAL|TRANSF|ARRAY|(?<![A-Z])CM[CS]?(?![A-Z])|BALUN|TAP")
_COIL = re.compile(r"^(?:L|IND|INDUCTOR|CHOKE|COIL)[-_ ](?=.*\d)")
_FUSE = re.compile(r"^(?:F|FUSE|PTC|POLYFUSE)[-_](?!HOLDER|BLADE|CLIP)")
_JUMPER = re.compile(r"(?:SOLDERJUMPER|NETTIE|NET-TIE|^SJ)[-_ ]?(\d)(?=$|[_\-])")
_AXIAL_DIODE = re.compile(
    r"^D(?:IODE)?_[A-Z0-9-]+(?:_[A-Z0-9-]+)*_P(\d+(?:\.\d+)?)MM_(?:HORIZONTAL|VERTICAL)"
)
_POT = re.compile(r"^(?:POTENTIOMETER|TRIMPOT|TRIMMER|POT)(?:[-_ ]|$)")
_KEY = re.compile(r"^SW_.*_\d\.\d\dU(?:_|$)")
_CRYSTAL_CAN = re.compile(r"^(?:CRYSTAL|XTAL)[-_ ].*(?:HORIZONTAL|VERTICAL)")
_LETTERED = re.compile(
    r"(?:^|[_ ])(?:[RS]-)?P?(VQFN|WQFN|UQFN|VSON|WSON|SON|DSO|QFP"
    r"|TQFP|SOP|SSOP)-[NG](\d{1,3})(?=$|[_ -])"
)
_TERMINAL = re.compile(r"^TERMINAL_?BLOCK.*?[-_X](\d{1,2})(?:-\d)?_P\d")
_COUNTED = re.compile(r"MALE_(\d{2})_P\d|FEMALE_(\d{2})_P\d")
_FIXED: tuple[tuple[str, Family, int, bool | None, str], ...] = (
    (r"^(?:DIODE_?)?BRIDGE", "other_th", 4, None, "a bridge has four leads"),
    (r"^BUZZER", "radial", 2, None, "a buzzer has two leads"),
    (r"^FUSE_?HOLDER|^FUSE_?CLIP", "other_th", 2, True, "a fuse has two ends"),
    (r"^ROTARY_?ENCODER.*SWITCH", "potentiometer", 5, True, "three contacts and a switch"),
    (r"^(?:RV|VARISTOR|MOV)_DISC", "radial", 2, True, "a varistor has two leads"),
    (r"^C_TRIMMER", "other_smd", 2, None, "a trimmer capacitor has two poles"),
    (r"^PIN_D\d", "test_pad", 1, True, "one pin"),
    (r"^MOUNTING_(?!HOLE)", "other_smd", 1, False, "a soldered spacer"),
    (r"^HEAT_?SINK.*FIXATION", "other_th", 1, True, "pegs of one number"),
    (r"^BATTERY_?HOLDER", "battery_contact", 2, None, "a holder has two poles"),
    (r"^HDMI_A(?:_|$)", "shielded_connector", 19, False, "a connector of 19 contacts"),
)


def read_no_part(name: str, hint: Hint) -> PackageReading | None:
    """Holes, fiducial marks and logos: nothing to solder, so no pins."""
    if not _NO_PART.match(name):
        return None
    if "PAD" in name:
        return PackageReading(
            text=name, state="known", pins=1, why="a hole or mark with one ring of copper"
        )
    return PackageReading(text=name, state="known", pins=0, why="a hole or a mark, no part")


def read_part_word(name: str, hint: Hint) -> PackageReading | None:
    """Parts whose kind fixes the number of pins."""
    for rule in (_lettered, _coil, _choke, _two_pins, _jumper, _pot, _crystal, _terminal):
        reading = rule(name, hint)
        if reading is not None:
            return reading
    return None


def _known(name: str, family: Family, pins: int, why: str, through: bool | None) -> PackageReading:
    sizes = sizes_of(name)
    return PackageReading(
        text=name,
        state="known",
        family=family,
        pins=pins,
        pitch_mm=sizes.pitch,
        body=sizes.body,
        height_mm=sizes.height,
        exposed=sizes.exposed,
        exposed_mm=sizes.exposed_mm,
        through_hole=through,
        why=why,
    )


def _lettered(name: str, hint: Hint) -> PackageReading | None:
    match = _LETTERED.search(name)
    if match is None:
        return None
    family: Family = "qfn" if "ON" in match[1] or "FN" in match[1] else "soic"
    if family == "soic" and match[1] in ("SSOP", "SOP", "DSO"):
        return None
    if match[1].endswith("QFP"):
        family = "qfp"
    reading = _known(name, family, int(match[2]), "family letters and pin count", False)
    return replace(reading, two_sides=match[1].endswith("SON"))


def _coil(name: str, hint: Hint) -> PackageReading | None:
    if not _COIL.match(name) or _COUPLED.search(name) or "SWITCH" in name:
        return None
    if name.startswith("CHOKE"):
        return None
    through = bool(re.search(r"AXIAL|RADIAL|TOROID|THT|_TH_", name))
    family: Family = "radial" if through else "inductor_smd"
    return _known(name, family, 2, "a coil has two ends", through)


def _choke(name: str, hint: Hint) -> PackageReading | None:
    if not re.match(r"^(?:CHOKE_|L_COMMON_?MODE)", name) or "ARRAY" in name:
        return None
    through = None if re.search(r"SMD|TOROID", name) is None else "SMD" not in name
    return _known(name, "choke_smd", 4, "two coils on one core have four ends", through)


def _two_pins(name: str, hint: Hint) -> PackageReading | None:
    match = _AXIAL_DIODE.match(name)
    if match and "BRIDGE" not in name and "SHUNT" not in name:
        return replace(
            _known(name, "axial", 2, "a diode with two leads", True), pitch_mm=float(match[1])
        )
    if _FUSE.match(name):
        smd = bool(re.search(r"SMD|_SM[DT]?|-SM", name))
        return _known(
            name, "other_smd" if smd else "radial", 2, "a fuse has two ends", not smd or None
        )
    if _KEY.match(name):
        return _known(name, "switch", 2, "a key switch has two pins", True)
    for pattern, family, pins, through, why in _FIXED:
        if re.match(pattern, name):
            return replace(_known(name, family, pins, why, through), body=None)
    if re.match(r"^LED_(?:RECTANGULAR|OVAL|SIDEEMITTER|D\d)", name) and not re.search(
        r"RGB|-\d(?:_|$|PIN)", name
    ):
        return _known(name, "radial", 2, "a light-emitting diode with two leads", True)
    return None


def _jumper(name: str, hint: Hint) -> PackageReading | None:
    match = _JUMPER.search(name)
    if match is None:
        return None
    return _known(name, "test_pad", int(match[1]), "bare copper pads", False)


def _pot(name: str, hint: Hint) -> PackageReading | None:
    if not _POT.match(name) or re.search(r"DOUBLE|DUAL|TRIPLE|SLIDE|SWITCH|MP", name):
        return None
    smd = "SMD" in name
    return _known(name, "potentiometer", 3, "a potentiometer has three leads", not smd)


def _crystal(name: str, hint: Hint) -> PackageReading | None:
    if not _CRYSTAL_CAN.match(name) or "SMD" in name or "OSC" in name:
        return None
    pins = 3 if re.search(r"\dEP|3PIN|-3", name) else 2
    return _known(name, "crystal_th", pins, "a crystal in a can", True)


def _terminal(name: str, hint: Hint) -> PackageReading | None:
    counted = _COUNTED.search(name)
    if counted:
        pins = int(counted[1] or counted[2])
        return replace(_known(name, "header", pins, "poles before the pitch", None), rows=1)
    match = _TERMINAL.match(name)
    if match is None:
        return None
    reading = _known(name, "terminal_block", int(match[1]), "poles before the pitch", True)
    return replace(reading, rows=1)

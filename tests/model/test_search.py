"""Everyday words find parts; the lists are what builders say, not names of the program."""

from __future__ import annotations

import pytest

from solderrisk.files.loading import load_library
from solderrisk.model.footprint import Footprint
from solderrisk.model.library import Library, Search

LIBRARY = load_library()

# What builders, parts lists and shops call parts.
WORDS = """usb c; type c; usbc; micro usb; usb b; 9mm pot; 3.5 jack; 3.5mm jack; audio jack;
mono jack; 6.35 jack; 1/4 jack; dc jack; tact switch; tactile; push button; button; slide switch;
rotary encoder; ic socket; dip socket; female header; 5mm led; 3mm led; rgb led; ir led; ws2812;
electrolytic; electrolytic capacitor; ceramic capacitor; film capacitor; 1/4w resistor;
resistor 1/4 w; 1n4148; 1n4007; schottky; transistor; regulator; 7805; crystal 16mhz;
screw terminal; battery plug; ribbon; battery holder; coin cell; esp-12; pi pico; 7 segment;
7-segment; sd card; ethernet; optocoupler; ferrite bead; edge connector; polyfuse; keyswitch;
key switch; mx switch; 9v battery; speaker; microphone; nano board; midi; din 5; heatsink;
mounting hole; spring contact; ldr; photoresistor; thermistor; spacer; antenna; bnc; nixie;
tube socket; 0603; 0805; soic-8; soic8; dip8; dip-14; sot-23; sot23; to-220; to92; header;
pin header; header 1x6; 2x5 header; led; diode; capacitor; resistor; inductor; crystal; relay;
potentiometer; trimmer; toggle switch; switch; usb; usb a; hdmi; rj45; rj11; db9; d-sub; bga;
qfn; tqfp; lqfp; qfp 64; tssop; msop; plcc; sma; smb; sod-123; tantalum; melf; fuse; fuse holder;
buzzer; varistor; terminal block; ffc; flat cable; box header; idc; wire; test point;
solder jumper; display; lcd; oled; module""".replace("\n", " ")
# Written down later, without looking at the library.
OTHER_WORDS = """resistors; smd resistor; through hole resistor; quarter watt resistor; capacitors;
100nf; decoupling capacitor; bulk capacitor; elco; pushbuttons; reset button; keyboard switch;
mechanical key; hot swap socket; hotswap; headphone socket; guitar jack; patch jack; power header;
barrel jack; power socket; usb socket; usb mini; type-c connector; charging port; network socket;
telephone socket; serial port; vga; memory card; micro sd; sim card; trimpot; preset; knob; slider;
fader; encoder; joystick; dip switch; jumper; pin strip; male header; pin socket; stacking header;
wire to board; battery connector; lipo connector; aa battery; aaa holder; 18650; cr2032;
button cell; signal diode; zener diode; rectifier diode; bridge rectifier; rectifier;
bipolar transistor; mosfet; voltage regulator; lm7805; lm317; ne555; op amp; opamp; logic chip;
microcontroller; atmega328; dev board; pro micro; esp32; esp8266; radio module; lora; gps;
bluetooth; wifi module; oled display; seven segment display; clock display; dot matrix; bar graph;
light sensor; temperature sensor; ntc; beeper; loudspeaker; electret; quartz; 32.768khz;
watch crystal; oscillator; coil; choke; toroid; power inductor; common mode choke; polyswitch;
glass fuse; tube; valve; antenna connector; coax; u.fl; banana; standoff; heat sink; solder pad;
wire pad; cable; addressable led; bicolor led; led 5 mm; infrared led; ir receiver; optoisolator;
solid state relay; reed relay; transformer""".replace("\n", " ")


def failing(words: str) -> list[str]:
    """Words that find nothing, or nothing that has all of them."""
    found = [(word.strip(), LIBRARY.search(word)) for word in words.split(";")]
    return [word for word, search in found if not search.found or search.left_out]


def names(text: str) -> list[str]:
    return [footprint.name for footprint in LIBRARY.search(text).found]


def test_everyday_words_find_parts() -> None:
    assert len(WORDS.split(";")) >= 134
    assert len(failing(WORDS)) <= 2, failing(WORDS)
    share = len(failing(OTHER_WORDS)) / len(OTHER_WORDS.split(";"))
    assert share <= 8 / 134, failing(OTHER_WORDS)


@pytest.mark.parametrize(
    ("words", "name"),
    [
        ("0603", "CHIP-0603"), ("rotary encoder", "ROTARY-ENCODER"), ("1n4148", "DO-35"),
        ("1N4007", "DO-41"), ("LM7805", "TO-220"), ("5mm led", "LED-5MM"), ("led 5 mm", "LED-5MM"),
        ("keyswitch", "KEY-SWITCH-2"), ("ethernet", "RJ45"), ("din 5", "DIN-5"), ("sma", "SMA"),
        ("tact switch", "TACT-SWITCH-6"), ("usb micro", "USB-MICRO-B"), ("bc547", "TO-92"),
        ("watch crystal", "CRYSTAL-CYLINDER-2X6"), ("eurorack power", "BOX-HEADER-2X5-2.54"),
    ],
)  # fmt: skip
def test_the_part_that_is_meant_is_among_the_first(words: str, name: str) -> None:
    assert name in names(words)[:3]


def test_spaces_hyphens_order_and_number_do_not_matter() -> None:
    for one, other in (
        ("rotary encoder", "encoder, rotary"), ("tact-switch", "tact switches"),
        ("SOIC8", "soic 8"), ("key switch", "keyswitch"), ("screw terminals", "screw-terminal"),
    ):  # fmt: skip
        assert names(one)[0] == names(other)[0]


def test_every_definition_is_found_by_ten_words_and_by_its_name() -> None:
    for footprint in LIBRARY:
        assert footprint is LIBRARY.search(footprint.name).found[0]
        assert len({*footprint.words, *footprint.title.split(), *footprint.aliases}) >= 5
        assert any(footprint in LIBRARY.search(word).found for word in footprint.words)


def test_what_no_definition_has_is_told_with_what_is_near() -> None:
    assert LIBRARY.search("rotary frobnicator").left_out == ("frobnicator",)
    lost = LIBRARY.search("potentiometr xyzzy")
    assert "potentiometer" in lost.near
    assert LIBRARY.search("xyzzy").found == ()
    assert LIBRARY.search("???") == Search((), ("???",))
    assert len(LIBRARY.search("").found) == len(LIBRARY)


def test_bare_names_of_several_sizes_say_which_there_are() -> None:
    assert LIBRARY.close_to("1N4148")[0] == "DO-35"
    assert LIBRARY.close_to("SOIC-9") == ("SOIC-8",)
    assert LIBRARY.close_to("rotary encoder")[0] == "ROTARY-ENCODER"
    assert LIBRARY.close_to("DIP-24") == ("DIP-24-7.62", "DIP-24-15.24")
    assert LIBRARY.close_to("TQFP-64") == ("TQFP-64-7X7", "TQFP-64-10X10", "TQFP-64-14X14")


def test_an_own_definition_is_found_too() -> None:
    own = LIBRARY.get("DIP-8")
    assert own is not None
    mine = own.model_copy(update={"name": "FROBNICATOR-8", "aliases": (), "words": ("gizmo",)})
    assert isinstance(mine, Footprint)
    found = LIBRARY.with_front([mine]).search("gizmos")
    assert found == Search((mine,))
    assert Library.of([mine]).search("resistor").found == ()

"""Common parts by the words of a line, and what one answer settles.

The lines are of our own making, in the manner of real lists; what each means is common
knowledge of the trade.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from solderrisk.draft.drafting import answer, draft
from solderrisk.draft.lookup import ASK_EACH
from solderrisk.files.loading import load_library
from solderrisk.model.draft import LEAVE_OUT, Draft, DraftLine
from solderrisk.packages import kinds as kinds_module

LIBRARY = load_library()


def listed(tmp_path: Path, *rows: str) -> Draft:
    path = tmp_path / "list.csv"
    path.write_text("Ref,Value,Description,Package,MPN\n" + "\n".join(rows) + "\n", "utf-8")
    return draft([path], LIBRARY)


def one(tmp_path: Path, row: str) -> DraftLine:
    return listed(tmp_path, row).lines[0]


WORDS = [
    ("J1,USB,USB-C receptacle 16 pin,,", "USB-C-16"),
    ("J1,,USB Type-C 6P power only,,", "USB-C-6"),
    ("J1,USB_B_Micro,,XYZ_0805_thing,", "USB-MICRO-B"),  # digits of a number are no chip
    ("SW1,reset,tactile switch 6x6 mm,,", "TACT-SWITCH-6"),
    ("SW1,,tact switch SMD,,", "TACT-SWITCH-6-SMD"),
    ("SW2,,12x12 mm push button,,", "TACT-SWITCH-12"),
    ("SW3,,rotary encoder with switch,,", "ROTARY-ENCODER"),
    ("RV1,10k,9mm potentiometer vertical,,", "POT-9MM"),
    ("RV2,10k,multi-turn trimmer 3296,,", "TRIMMER-10-TURN"),
    ("RV3,10k,trimpot,,", "TRIMMER-6"),
    ("R_CC1,5.1k,USB-C CC1 pull-down,0402,", "CHIP-0402"),  # what it is for is no part
    ("J2,,3.5 mm stereo audio jack,,", "AUDIO-JACK-3.5"),
    ("J2,,6.35mm jack audio,,", "AUDIO-JACK-6.35"),
    ("J3,,RJ45 jack with magnetics,,", "RJ45-MAGNETICS"),
    ("J4,,SMA edge connector,,", "SMA-EDGE"),
    ("D9,SS14,Schottky diode SMA,SMA,", "SMA"),  # the same letters, another part
    ("K1,5V,relay SPDT,,", "RELAY-SPDT-5"),
    ("J5,12V,DC barrel jack 2.1mm,,", "DC-JACK-2.1"),
    ("J6,,screw terminal 2 pin 5.08mm,,", "TERMINAL-1X2-5.08"),
    ("J6,,screw terminal 3x1 5mm,,", "TERMINAL-1X3-5"),
    ("J7,,IDC box header 2x5,,", "BOX-HEADER-2X5"),
    ("J7,,box header 10 pin shrouded,,", "BOX-HEADER-2X5"),
    ("J8,,pin header 2x3 2.54mm,,", "HEADER-2X3-2.54"),
    ("J8,,female header 8 pin,,", "SOCKET-1X8-2.54"),
    ("J9,,FFC 0.5mm 24 pin,,", "FFC-0.5-24"),
    ("C1,100uF,electrolytic 6.3x11mm,,", "ELCO-RADIAL-6.3"),
    ("C2,100n,film capacitor box RM 10,,", "CAP-FILM-10"),
    ("L1,10uH,shielded power inductor 4030,,", "INDUCTOR-4040"),  # never a ceramic chip
    ("L2,100uH,axial inductor,,", "INDUCTOR-AXIAL"),
    ("Y1,16 MHz,HC-49/U crystal,,", "HC-49U"),
    ("Y2,32.768kHz,watch crystal,,", "CRYSTAL-CYLINDER-2X6"),
    ("R1,10k,resistor 1/4 W,,", "RESISTOR-AXIAL-0.25W"),
    ("R2,10k,metal film resistor 1/2W,,", "RESISTOR-AXIAL-0.5W"),
    ("R3,10k,chip resistor 0805 1/8W,,", "CHIP-0805"),
    ("R4,22k,,,MFR-12FTF52-22K", "RESISTOR-AXIAL-0.125W"),  # a series of leaded bodies
    ("R5,68R,,,MFR-25FBF52-68R", "RESISTOR-AXIAL-0.25W"),
    ("R6,10k,resistor array 4x0603,,", "ARRAY-4X0603"),
    ("U6,AMS1117-5.0,,,", "SOT-223"),
    ("RV4,50k,slide potentiometers,,3296X-1-503", "TRIMMER-10-TURN"),  # a shop's shelf
    ("U7,,,msoic-10,", "MSOP-10"),
    ("D1,1N4148,,,", "DO-35"),
    ("D2,1N4007,,,", "DO-41"),
    ("D3,red,LED 5 mm,,", "LED-5MM"),
    ("D4,red,LED 0805,,", "LED-0805"),
    ("Q1,BC547B,,,", "TO-92"),
    ("U1,LM7805,,,", "TO-220"),
    ("U2,74HC595N,,,", "DIP-16"),
    ("U3,NE555P,,,", "DIP-8"),
    ("U4,,8 pin DIL socket,,", "DIP-SOCKET-8"),
    ("U5,,,,ATmega328P-PU", "DIP-28-7.62"),
    ("BT1,CR2032,coin cell holder,,", "COIN-HOLDER-2032"),
    ("BZ1,,buzzer 12mm,,", "BUZZER-12"),
    ("R1,390,R1 Widerstand 0.25 W,,", "RESISTOR-AXIAL-0.25W"),  # no '1 W' of two words
    ("D7,1N4733A,zener,,", "DO-41"),
    ("C7,100u,Elko radial d = 8 mm,,", "ELCO-RADIAL-8"),
    ("D8,Diodo,1N4007,,", "DO-41"),
    ('IC9,amplificador,"LM358, DIP",,', "DIP-8"),
    ("J7,,header male 2x5 shr,,", "BOX-HEADER-2X5"),
    ("IC3,LS123,,,", "DIP-16"),
    ("IC1,74HC86,use the SOP package,,", "SOIC-14"),  # its pins by the number, its form by words
    ("IC2,74HC244,TSSOP package,,", "TSSOP-20"),
    ("C8,0.1u,1608 sized,,", "CHIP-0603"),  # no case of size D
    ("C9,10u,tantalum 1206 / 3216M,,", "TANTALUM-A"),
    ("J9,,TRRS socket,,", "AUDIO-JACK-3.5-4POLE"),
    ("SW4,,tact switch 6.2x6.2x5 mm,,", "TACT-SWITCH-6"),
    ("SW5,,SPDT slide switch,,", "SLIDE-SWITCH-SPDT"),
    ("R7,220,220 ohm 1/4 watt resistor,,", "RESISTOR-AXIAL-0.25W"),
    ("R8,10k,,axial 0207 10.16 mm,", "RESISTOR-AXIAL-0.25W"),  # of the library, not drawn anew
    ("C10,10n,,Ceramic disc D5.0mm_W2.5mm_P5.00mm,", "CAP-DISC-5"),  # thick is no spacing
    ("C11,100n,50V X7R LS =2.54mm,,", "CAP-DISC-2.5"),
    ("C12,470u,,electrolytic diameter 10 mm pitch 5 mm,", "ELCO-RADIAL-5-D10"),
    ("C13,10u,,Radial D5.0mm P2.50mm,", "ELCO-RADIAL-2.5-D5"),
    ("C14,47u,,E2.5-6E,", "ELCO-RADIAL-2.5-D6.3"),
    ("D10,rgb,LED RGB 5 mm common cathode,,", "LED-RGB-5MM"),  # four leads
    ("C15,10u,,CASE-A_3216,", "TANTALUM-A"),  # with its direction
    ("C16,10uF,tantalum 2917 35 V,,", "TANTALUM-D"),  # imperial code of the 7343
    ("R9,10k,,0.25W-RESISTOR-VERTICAL,", "RESISTOR-AXIAL-5.08-0.25W-UPRIGHT"),
    ("Q2,NPN,,TO-92-3_L4.8-W3.7-P2.54-L,", "TO-92-WIDE"),
    ("RV5,50k,,THT RM65,", "TRIMMER-6"),
    ("J14,,16x-pin female header,,", "SOCKET-1X16-2.54"),
    ("J15,,2-way header 2mm pitch vertical SMD PH series,,", "WIRE-BOARD-1X2-2-SMD"),
    ("U11,ARDUINO NANO,,ARDUINO-NANO-3.0#ISP,", "MODULE-DEV-2X15"),
    ("LED1,2 V 20 mA,green status LEDs,0603,", "LED-0603"),  # with its direction
    ("LED2,red,,0805,", "LED-0805"),
    ("F1,500 mA,,,MF-R050", "RESETTABLE-FUSE-5"),
    ("RN1,8 x 10k,as 4609X-101-103LF,,", "SIP-9"),
    ("SW6,,,KEY-TH_4P-L6.0-W6.0-P4.50,", "TACT-SWITCH-6"),  # TH says the mount
    ("J10,,,IDC-TH_10P-P2.54-S2.54,", "BOX-HEADER-2X5-2.54"),  # two rows
    ("J11,AVR-ISP-6,,,", "HEADER-2X3-2.54"),
    ("J12,,16 right angle pin header,,", "HEADER-1X16-2.54-RIGHT-ANGLE"),
    ("J13,,PS/2 connector,,", "MINI-DIN-6"),
    ("SW7,ON-ON,toggle switch DPDT,,", "TOGGLE-SWITCH-6"),
    ("U8,LM13700,,,", "DIP-16"),
    ("U9,MCP6004 in SOIC,,,", "SOIC-14"),  # four amplifiers
    ("U10,74HC244,SOP package,,", "SOIC-20W"),
    ("D12,,diode 1N914 (DZ805),,", "DO-35"),  # letters of a shop before three digits
    ("D13,1N4148,SMD or through hole,,", "DO-35"),
]


@pytest.mark.parametrize(("row", "footprint"), WORDS, ids=[row for row, _ in WORDS])
def test_words_name_the_part(tmp_path: Path, row: str, footprint: str) -> None:
    known = LIBRARY.get(footprint)
    assert known is not None
    assert one(tmp_path, row).footprint == known.name


@pytest.mark.parametrize(
    "row",
    [
        "U1,TL072CDT,,,",  # the old part in a package for lands: not the old package
        "U2,CH340G,USB UART bridge,,",  # a chip, no socket
        "Q1,2N7002,,,",  # registered for lands alone
        "RV1,10k,potentiometer,,",  # which of many
        "J1,Conn_01x04,,,",  # a symbol
        "J1,,USB type-C receptacle 24P,,",  # the library has none of 24
        "U3,,,USB-C-SMD_TYPE-C-24P-QQ,",
        "SW1,,tactile switch 4.5 mm,,",  # smaller than the usual one
        "SW1,,tact switch,SW_SPST_4.2x3.2mm,",
        "SW1,,momentary 4.5x4.5x5 mm through hole,,",
        "SW2,SPDT,slide switch,QQSS8220,",  # a maker's number for lands or holes
        "SW2,QQSS82201,SPDT slide switch,,",
        "U1,TL074,SMD,,",  # not the old package, and no family is said
        "R1,390,R1 Widerstand,,",
        "J1,,Netzteil 12 V mit Hohlstecker,,",
        "A1,,sockets for a pro micro,,",
        "U2,DS1882,audio digital potentiometer,,",  # no jack, nothing to turn
        "J1,,brass battery contacts,,",  # no tactile switch
        "RV1,10k,linear slide potentiometer 60 mm,,",  # the library has shorter ones
        "J1,USB-C,USB4085 receptacle,,",  # pins in holes, of which the library has none
        "F2,40 A,fuse,FUSE_5MM,",  # clips or a holder, never two wires
        "J1,,USB A socket,SMD,",  # the library's has pins in holes
        "SW1,,hot-swap key switch socket,PTH,",  # and that one lands
        "C1,10uF,electrolytic capacitor,SMT-1206,",  # a can is no chip
        "BT1,,12mm coin cell holder SMD,,",  # of a smaller cell
        "BT1,CR2450,coin cell holder,,",
        "R1,4.7k,resistor array 1206,,",  # four parts in one body, never a chip of two ends
    ],
)
def test_what_says_too_little_is_asked(tmp_path: Path, row: str) -> None:
    assert one(tmp_path, row).state == "unknown"


def test_a_body_and_its_holes_are_those_of_the_name(tmp_path: Path) -> None:
    """Distances and bodies of the open footprint library's names."""
    made = listed(
        tmp_path,
        "C1,330u,,CP_Axial_L25.0mm_D10.0mm_P30.00mm_Horizontal,",
        "C2,330u,,CP_Axial_L21.0mm_D10.0mm_P28.00mm_Horizontal,",
        "D1,6 A,,D_P600_R-6_P20.00mm_Horizontal,",
        "D2,6 A,,R-6,",
        "D3,3 A,,DO-201AD,",
    )
    shapes = {f.name: f for f in (*LIBRARY, *made.footprints)}
    found = {line.ref: shapes[line.footprint or ""] for line in made.lines}
    spans = {ref: f.pads[0].row_span_mm or f.pads[0].pitch_mm for ref, f in found.items()}
    assert spans == {"C1": 30, "C2": 27.94, "D1": 20, "D2": 20, "D3": 15.24}
    assert found["C1"].body.length_mm == 25
    assert {ref: found[ref].body.width_mm for ref in ("D1", "D2", "D3")} == {
        "D1": 9.1,
        "D2": 9.1,
        "D3": 5.3,
    }
    assert {p.refs: p.polarised for p in made.placements}["C1"] is not False
    assert found["D2"].orientation == "polarity"


def test_the_smallest_diodes_are_told_apart(tmp_path: Path) -> None:
    """Bodies of 0.8 x 0.6 mm and 1.0 x 0.6 mm, as common diode data sheets have them."""
    made = listed(tmp_path, "D1,ESD,,sod923,", "D2,ESD,,SOD-723,")
    sizes = [(f.body.length_mm, f.body.width_mm) for f in made.footprints]
    assert sizes == [(0.8, 0.6), (1.0, 0.6)]


def test_names_of_the_table_are_in_the_library() -> None:
    tables = kinds_module._tables()
    names = {part.is_ for part in tables.types}
    for kind in tables.kinds:
        names |= {kind.usual, kind.usual_smd, kind.usual_holes} | {
            n for t in kind.take for n in (t.is_, t.smd)
        }
    assert {n for n in names if n and "{" not in n and LIBRARY.get(n) is None} == set()


def test_one_answer_settles_all_resistors_and_is_shown_as_taken(tmp_path: Path) -> None:
    rows = [f"R{n},{n}k,,," for n in range(1, 41)]
    made = listed(tmp_path, *rows, "C1,1u,,,")
    assert len(made.questions) == 2
    asked = next(q for q in made.questions if "R1" in q.refs)
    assert len(asked.refs) == 40
    settled = answer(made, asked.id, "RESISTOR-AXIAL-0.25W")
    lines = [line for line in settled.lines if line.ref.startswith("R")]
    assert {line.state for line in lines} == {"guessed"}
    assert all("your answer for all of them" in line.from_what for line in lines)
    assert all("taken as RESISTOR-AXIAL-" in remark for remark in settled.comments.values())
    each = answer(made, asked.id, ASK_EACH)
    assert len(each.questions) == 42
    assert answer(each, asked.id, "").questions == made.questions


def test_one_size_is_asked_once_whatever_letters_stand_beside_it(tmp_path: Path) -> None:
    made = listed(tmp_path, "R1,1k,,R0603,", "C1,1u,,C_0603,", "R2,2k,,0603,")
    (asked,) = made.questions
    assert asked.refs == ("R1", "C1", "R2")
    metric = answer(made, asked.id, asked.choices[1])
    assert {line.footprint for line in metric.lines} == {"CHIP-0201"}


def test_no_question_has_leaving_out_as_its_only_choice(tmp_path: Path) -> None:
    made = listed(tmp_path, "ZZ1,thing,odd,ZORK-1,", "U9,core,,QQ-77,", "LINE,widget,,,")
    for asked in made.questions:
        assert set(asked.choices) != {LEAVE_OUT}


def test_words_typed_as_an_answer_search_the_library(tmp_path: Path) -> None:
    made = listed(tmp_path, "J1,plug,,ZORK-1,")
    (asked,) = made.questions
    (searched,) = answer(made, asked.id, "rotary encoder").questions
    assert "ROTARY-ENCODER" in searched.choices
    assert set(asked.choices) <= set(searched.choices)


def test_what_is_no_part_is_one_question(tmp_path: Path) -> None:
    path = tmp_path / "shop.csv"
    path.write_text(
        "Part,Amount\n683 ZZ bearing,6\nAcrylic mirror,1\nServo 9 g,2\nResistor 1206 10k,4\n"
    )
    made = draft([path], LIBRARY)
    (asked,) = made.questions
    assert len(asked.refs) == 9
    assert sum(line.state == "guessed" for line in made.lines) == 4
    assert answer(made, asked.id, LEAVE_OUT).count("unknown") == 0


def test_a_column_of_components_holds_words(tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_text("Ref,Component,Function,Qty\nSW1,tact switch SMD,reset,1\n", "utf-8")
    assert draft([path], LIBRARY).lines[0].footprint == "TACT-SWITCH-6-SMD"


def test_words_beside_a_part_do_not_take_it_away(tmp_path: Path) -> None:
    path = tmp_path / "shop.csv"
    path.write_text(
        "Part,Quantity,Note\nEC11 rotary encoder,1,with knob\nknob for the encoder,1,\n"
        "MX switches,2,and keycaps\nkeycaps,2,for MX switches\n"
    )
    states = {line.what: line.footprint for line in draft([path], LIBRARY).lines}
    assert states == {
        "EC11 rotary encoder": "ROTARY-ENCODER",
        "knob for the encoder": None,
        "MX switches": "KEY-SWITCH-2",
        "keycaps": None,
    }


@pytest.mark.parametrize(
    "words",
    ["M3 x 6 mm socket head screw", "M3 brass threaded inserts"],
)
def test_screws_and_inserts_are_no_parts(tmp_path: Path, words: str) -> None:
    made = listed(tmp_path, "R1,10k,,0805,", f",{words},,,")
    assert [line.state for line in made.lines if words in line.what] == ["ignored"]


def test_the_name_of_a_library_is_no_part_number(tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_text(
        "Ref,Value,LibPart,Footprint\nS1,ZZ77,8085-parts:QXW22,board:QXW22\nU1,ZZ78,board:8085,\n",
        "utf-8",
    )
    assert [line.footprint for line in draft([path], LIBRARY).lines] == [None, "DIP-40"]


HOLES = ("U1,NE555,,DIP-8,", "J1,,,PinHeader_1x03_P2.54mm,", "Q1,BC547,,TO-92,")


def test_a_list_of_parts_through_the_board_needs_no_word_for_the_others(tmp_path: Path) -> None:
    rows = ("R1,10k,,,", "C1,100n,,,", "C2,22uF,,,", "D1,5V1,zener diode,,", "Y1,8 MHz,crystal,,")
    made = {line.ref: line.footprint for line in listed(tmp_path, *HOLES, *rows).lines}
    assert made["R1"] == "RESISTOR-AXIAL-10.16-0.25W"
    assert made["C1"] == "CAP-DISC-5-D5"
    assert made["C2"] is None  # ceramic or electrolytic, of which one has a direction
    assert made["D1"] == "DO-35"
    assert made["Y1"] == "HC-49U"
    alone = {line.ref: line.footprint for line in listed(tmp_path, *rows).lines}
    assert set(alone.values()) == {None}


def test_smd_beside_some_parts_says_nothing_of_the_others(tmp_path: Path) -> None:
    rows = [f"C{n},100n,ceramic SMD 0805,," for n in range(1, 5)]
    made = listed(tmp_path, *rows, "D1,1N4148,,,", "R1,10k,,,")
    found = {line.ref: line.footprint for line in made.lines}
    assert found["D1"] == "DO-35"
    assert found["R1"] is None


def test_chips_in_words_say_how_the_rest_of_a_list_is_mounted(tmp_path: Path) -> None:
    rows = ("C1,,CAP 0.1UF 16V X7R 0402,,", "R1,,chip resistor 10 kOhm 0402 (1005 metric),,")
    rows += ("D1,,DIODE SCHOTTKY 20V 1A SMA,,", "U1,,IC REG BUCK 3.3V 8SOIC,,")
    made = listed(tmp_path, *rows, "SW1,,SWITCH TACTILE SPST-NO 0.05A 24V,,")
    assert {line.ref: line.footprint for line in made.lines}["SW1"] == "TACT-SWITCH-6-SMD"


def drafted_text(tmp_path: Path, name: str, text: str) -> dict[str, str | None]:
    path = tmp_path / name
    path.write_text(text, "utf-8")
    lines = [line for line in draft([path], LIBRARY).lines if line.state != "ignored"]
    return {line.ref or line.what: line.footprint for line in lines}


def test_what_stands_above_a_part_of_a_list_speaks_for_it(tmp_path: Path) -> None:
    """Sizes and kinds in headings of two depths; a deeper one ends with the next above it."""
    table = "|Qty|Ref|Value|\n|-|-|-|\n"
    text = (
        "# parts\n\n## SMD resistors (0805)\n\n" + table + "|1|R1|10k|\n|1|R2|1k|\n\n"
        "## Capacitors\n\n### Electrolytic\n\n" + table + "|1|C1|22uF|\n\n"
        "## Rest\n\n" + table + "|1|C2|1uF|\n"
    )
    found = drafted_text(tmp_path, "headed.md", text)
    assert found["R1"] == found["R2"] == "CHIP-0805"
    assert found["C1"] == "ELCO-RADIAL-2-D5"
    assert found["C2"] is None


def test_lines_of_counts_and_words_are_a_list(tmp_path: Path) -> None:
    text = (
        "* 2 x pin header (male, 1x6)\n* 28 x 56 Ohm resistor 1/4 W\n* 1 x rotary encoder\n"
        "**Other (0805):**\n- 100R : 4x (thin)\n- 3 mm LED: 2x\n"
    )
    found = drafted_text(tmp_path, "counted.md", text)
    stems = {ref.rsplit("_", 1)[0] if ref[-1].isdigit() else ref: f for ref, f in found.items()}
    assert sorted(f or "" for f in stems.values()) == [
        "CHIP-0805", "HEADER-1X6-2.54", "LED-3MM", "RESISTOR-AXIAL-10.16-0.25W", "ROTARY-ENCODER",
    ]  # fmt: skip
    assert len(found) == 2 + 28 + 1 + 4 + 2


def test_references_before_the_words_of_one_column(tmp_path: Path) -> None:
    text = (
        "Anzahl;Bezeichnung;Wert\n2;R2+R14 Widerstand 1/4 W;220\n3;D1-3 Diode;1N4007\n"
        "1;IC1 Komparator DIP;LM393\n1;Platine;\n"
    )
    found = drafted_text(tmp_path, "words.csv", text)
    refs = {"R2", "R14", "D1", "D2", "D3", "IC1"}
    assert refs <= found.keys()
    assert found["R14"] == "RESISTOR-AXIAL-10.16-0.25W"
    assert found["D2"] == "DO-41"
    assert found["IC1"] == "DIP-8"


def test_tabs_set_twice_part_no_columns(tmp_path: Path) -> None:
    rows = "22 uF, 50V\t1\tC1\tElectrolytic\n180 ohm\t\t1\tR1\t1/4 W\nBS170\t\t1\tQ1\tMOSFET\n"
    found = drafted_text(tmp_path, "tabs.txt", rows)
    assert found == {
        "C1": "ELCO-RADIAL-2-D5", "R1": "RESISTOR-AXIAL-10.16-0.25W", "Q1": "TO-92",
    }  # fmt: skip


def test_names_of_references_and_what_is_specified(tmp_path: Path) -> None:
    text = (
        "| **Ref Name** | **Description** | **Value / Type** |\n|-|-|-|\n"
        "| D1 | Schottky 1 A 40 V DO41 | 1N5819 |\n| MOTOR | terminal 5.08mm 2pin | - |\n"
        "| ON | LED 5mm | - |\n| Q1 | Transistor TO-92 | BC547 |\n| R1 | Resistor | 82K |\n"
    )
    assert drafted_text(tmp_path, "names.md", text) == {
        "D1": "DO-41", "MOTOR": "TERMINAL-1X2-5.08", "ON": "LED-5MM", "Q1": "TO-92",
        "R1": "RESISTOR-AXIAL-10.16-0.25W",
    }  # fmt: skip
    text = (
        "| Qty | Part | Spec | Notes |\n|-|-|-|-|\n| 2 | MOSFET | AO3401, SOT-23 | any |\n"
        "| 1 | LED | 3 mm | red |\n"
    )
    assert set(drafted_text(tmp_path, "spec.md", text).values()) == {"SOT-23", "LED-3MM"}

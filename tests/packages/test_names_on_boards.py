"""Names that board files and parts lists of open hobby projects use lead to definitions.

The list is of names alone: the parts that such boards use most, and what some parts lists of
synthesizers and keyboards call theirs (read in November 2026).
"""

from __future__ import annotations

import pytest

from solderrisk.files.loading import load_library
from solderrisk.packages.match import by_name, match
from solderrisk.packages.names import read_package

LIBRARY = load_library()

TEXT = """
Arduino_Nano ProMicro Pro_Micro XIAO-RP2040 RPi_Pico_SMD_TH WEMOS_D1_mini_light
USB_C_Receptacle_HRO_TYPE-C-31-M-12 USB_C_Receptacle_GCT_USB4105-xx-A_16P_TopMnt_Horizontal
USB_C_Receptacle_XKB_U262-16XN-4BVC11 USB_C_Receptacle_GCT_USB4085 L_Bourns-SRN4018
L_7.3x7.3_H4.5 L_Bourns_SRN6045TA L_Taiyo-Yuden_NR-40xx L_12x12mm_H8mm L_Sunlord_SWPA4030S
L_Bourns_SRN8040TA 1pin SolderWirePad_1x01_Drill1mm SolderWirePad_1x01_SMD_1x2mm
Pin_D1.0mm_L10.0mm Jack_3.5mm_QingPu_WQP-PJ398SM_Vertical_CircularHoles WQP-PJ301M-12_JACK
THONKICONN_JACK R_Axial_DIN0207_L6.3mm_D2.5mm_P7.62mm_Horizontal CP_Radial_D5.0mm_P2.50mm
Potentiometer_Alpha_RD901F-40-00D_Single_Vertical 9MM_SNAP-IN_POT ALPHA9MM_TRIM
Potentiometer_Bourns_PTV09A-1_Single_Vertical Potentiometer_Alps_RK09L_Single_Vertical
SW_Cherry_MX_1.00u_PCB SW_Cherry_MX_2.25u_PCB CherryMX_1.00u_PCB_KailhSocket Kailh_MX_Socket
C_Disc_D4.7mm_W2.5mm_P5.00mm C_Disc_D4.3mm_W1.9mm_P5.00mm
SolderJumper-2_P1.3mm_Bridged_RoundedPad1.0x1.5mm SolderJumper-3_P1.3mm_Open_Pad1.0x1.5mm
TerminalBlock_Phoenix_MKDS-1,5-2_1x02_P5.00mm_Horizontal
TerminalBlock_RND_205-00012_1x02_P5.00mm_Horizontal TerminalBlock_Altech_AK300-2_P5.00mm
Altech_AK300_1x02_P5.00mm_45-Degree Jack_3.5mm_PJ320E_Horizontal TRRS-PJ-320A
BatteryHolder_Keystone_3002_1x2032 BatteryHolder_Keystone_1042_1x18650
BatteryHolder_Keystone_2462_2xAA BatteryHolder_Keystone_2466_1xAAA
RotaryEncoder_Alps_EC11E-Switch_Vertical_H20mm RotaryEncoder_Bourns_Vertical_PEC12R-3xxxF-Sxxxx
Fuseholder_Clip-5x20mm_Littelfuse_111_Inline_P20.00x5.00mm_D1.05mm_Horizontal Fuse_Bourns_MF-RG300
R_Axial_DIN0207_L6.3mm_D2.5mm_P2.54mm_Vertical TestPoint_THTPad_D1.5mm_Drill0.7mm
TestPoint_Loop_D2.50mm_Drill1.0mm C_Disc_D3.0mm_W2.0mm_P2.50mm CA56-12EWA SA15-11xxx
SW_SPST_TL3342 SW_SPST_PTS645 SW_SPST_B3U-1000P SW_Push_1P1T_NO_6x6mm_H9.5mm
SMA_Amphenol_132289_EdgeMount SMA_Amphenol_901-144_Vertical U.FL_Hirose_U.FL-R-SMT-1_Vertical
BNC_Amphenol_B6252HB-NPP3G-50_Horizontal D_DO-41_SOD81_P7.62mm_Horizontal
D_A-405_P7.62mm_Horizontal D_DO-41_SOD81_P2.54mm_Vertical_KathodeUp
D_DO-35_SOD27_P2.54mm_Vertical_AnodeUp SW_Slide_1P2T_CK_OS102011MS2Q SW_SPDT_PCM12
BarrelJack_CUI_PJ-102AH_Horizontal BarrelJack_Horizontal C_Disc_D5.0mm_W2.5mm_P2.50mm
C_Disc_D7.5mm_W5.0mm_P5.00mm Potentiometer_Piher_PT-6-V_Vertical
Potentiometer_Piher_PT-10-V10_Vertical Potentiometer_Bourns_3296W_Vertical RJ45_Hanrun_HR911105A
RJ12_Amphenol_54601 USB_Micro-B_Molex-105017-0001 USB_Mini-B_Lumberg_2486_01_Horizontal TO-92
TO-92_Inline_Wide Molex_KK-254_AE-6410-02A_1x02_P2.54mm_Vertical
JST_XH_B2B-XH-A_1x02_P2.50mm_Vertical JST_PH_S2B-PH-K_1x02_P2.00mm_Horizontal
JST_SH_SM04B-SRSS-TB_1x04-1MP_P1.00mm_Horizontal JST_PH_S2B-PH-SM4-TB_1x02-1MP_P2.00mm_Horizontal
Relay_DPDT_Omron_G5V-2 IDC-Header_2x05_P2.54mm_Vertical
PinHeader_2x05_P2.54mm_Vertical_EurorackPower EURO_PWR_HEADER_LOCK
Relay_SPDT_SANYOU_SRD_Series_Form_C Relay_SPDT_Omron-G5LE-1 Relay_SPDT_Schrack-RT1-FormC_RM5mm
R_Axial_DIN0204_L3.6mm_D1.6mm_P5.08mm_Horizontal C_Rect_L10.0mm_W4.0mm_P7.50mm_MKS4
C_Rect_L7.2mm_W2.5mm_P5.00mm_FKS2_FKP2_MKS2_MKP2
R_Axial_DIN0207_L6.3mm_D2.5mm_P15.24mm_Horizontal SW_PUSH_6mm_H13mm
PinHeader_1x06_P2.54mm_Horizontal
ESP-12E ESP32-WROOM-32 nRF24L01_Breakout LED_Rectangular_W5.0mm_H2.0mm LED_D3.0mm_Clear
LED_SK6812MINI_PLCC4_3.5x3.5mm_P1.75mm LED-TH_BD3.0-P2.54-FD HDR-TH_8P-P2.54-V-M
CAP-SMD_BD4.0-L4.3-W4.3-FD SOD-123F_L2.7-W1.6-LS3.8-RD DIP-8_W7.62mm_Socket_LongPads
DIP-14_W7.62mm_Socket 0402_R SOIC-14_150MIL SOT23-BEC SMADIODE 2X5-PTH-1.27MM NX5032 RES400 CAP200
3362U HDR-1x4 KK-254-4 A/3216-18W CP_EIA-3528-15_AVX-H_Pad1.50x2.35mm_HandSolder
CP_Radial_D8.0mm_P3.50mm CP_Radial_D4.0mm_P2.00mm CP_Radial_D10.0mm_P3.80mm
"""
NAMES = TEXT.split()


def way(name: str) -> str:
    if by_name(name, LIBRARY) is not None:
        return "library"
    found = match(read_package(name), LIBRARY)
    return "none" if found is None else "built" if found.own else "library"


def test_wanted_names_are_found() -> None:
    ways = {name: way(name) for name in NAMES}
    assert len(NAMES) >= 130
    assert sum(how == "library" for how in ways.values()) >= 0.97 * len(NAMES), ways
    assert sum(how == "none" for how in ways.values()) <= 0.02 * len(NAMES), ways


@pytest.mark.parametrize(
    ("name", "meant"),
    [
        ("DIP-8_W7.62mm_Socket_LongPads", "DIP-SOCKET-8"),  # and not the chip in it
        ("DIP-8_W7.62mm", "DIP-8"),
        ("CherryMX_1.00u_PCB_KailhSocket", "KEY-SOCKET"),
        ("SW_Cherry_MX_1.00u_PCB", "KEY-SWITCH-2"),
        ("R_Axial_DIN0207_L6.3mm_D2.5mm_P7.62mm_Horizontal", "RESISTOR-AXIAL-7.62-0.25W"),
        ("JST_PH_S2B-PH-SM4-TB_1x02-1MP_P2.00mm_Horizontal", "WIRE-BOARD-1X2-2-SMD"),
        ("TO-92_Inline", "TO-92"),
        ("ESP-12E", "MODULE-CASTELLATED-22-2"),
    ],
)
def test_the_closest_pattern_wins(name: str, meant: str) -> None:
    found = by_name(name, LIBRARY)
    assert found is not None
    assert found.name == meant


def test_a_pattern_takes_no_name_of_another_part() -> None:
    for name in ("MountingHole_3.2mm_M3", "SOIC-8", "LQFP-48_7x7mm_P0.5mm", "Fiducial_1mm"):
        assert LIBRARY.as_on_boards(name.upper()) is None

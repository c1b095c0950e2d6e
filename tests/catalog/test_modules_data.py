"""The modules we ship: typed by hand here from other sources than the entries', pin by pin."""

from __future__ import annotations

import tomllib
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

import boardgen.catalog
from boardgen.catalog.model import Module, ModulePin, PinKind
from boardgen.catalog.schema import ModuleForm
from boardgen.footprint import families
from boardgen.units import Point, mm

FOLDER = Path(boardgen.catalog.__file__).parent / "data" / "modules"
RAW: dict[str, dict[str, Any]] = {
    path.stem: tomllib.loads(path.read_text(encoding="utf-8")) for path in sorted(FOLDER.glob("*.toml"))
}
IDS = sorted(RAW)

# Legends in order, read with the USB end up: left row from the top, right row from the top.
# Pico 2: sockets drawn in expansion boards' schematics. ESP32s and XIAO: pin positions in an open
# simulator's board tables. Pro Micro: keyboard firmware tables. Black Pill: a carrier's pin map.
# Micro: the maker's full pinout sheet (COPI and CIPO under their older names). Feather M0: the pin
# list of a sap flow meter. Nano: the legend of an open simulator's drawing.
ROWS = {
    "pico-2": (
        "GP0 GP1 GND GP2 GP3 GP4 GP5 GND GP6 GP7 GP8 GP9 GND GP10 GP11 GP12 GP13 GND GP14 GP15",
        "VBUS VSYS GND 3V3_EN 3V3 ADC_VREF GP28 AGND GP27 GP26 RUN GP22"
        " GND GP21 GP20 GP19 GP18 GND GP17 GP16",
    ),
    "pro-micro-32u4": (
        "TXO RXI GND GND 2 3 4 5 6 7 8 9",
        "RAW GND RST VCC A3 A2 A1 A0 15 14 16 10",
    ),
    "micro-32u4": (
        "D13 3V3 AREF A0 A1 A2 A3 A4 A5 NC NC 5V RST GND VIN MISO SCK",
        "D12 D11 D10 D9 D8 D7 D6 D5 D4 D3 D2 GND RST RX TX SS MOSI",
    ),
    "nano-328p": (
        "D13 3V3 REF A0 A1 A2 A3 A4 A5 A6 A7 5V RST GND VIN",
        "D12 D11 D10 D9 D8 D7 D6 D5 D4 D3 D2 GND RST RX0 TX1",
    ),
    "black-pill-f411": (
        "B12 B13 B14 B15 A8 A9 A10 A11 A12 A15 B3 B4 B5 B6 B7 B8 B9 5V GND 3V3",
        "5V GND 3V3 B10 B2 B1 B0 A7 A6 A5 A4 A3 A2 A1 A0 R C15 C14 C13 VB",
    ),
    "xiao-samd21": ("D0 D1 D2 D3 D4 D5 D6", "5V GND 3V3 D10 D9 D8 D7"),
    "feather-m0": (
        "RST 3V AREF GND A0 A1 A2 A3 A4 A5 SCK MOSI MISO RX TX SPARE",
        "BAT EN USB 13 12 11 10 9 6 5 SCL SDA",
    ),
    "esp32-devkitc": (
        "CLK D0 D1 15 2 0 4 16 17 5 18 19 GND 21 RX TX 22 23 GND",
        "5V CMD D3 D2 13 GND 12 14 27 26 25 33 32 35 34 VN VP EN 3V3",
    ),
    "esp32-s3-devkitc-1": (
        "GND GND 19 20 21 47 48 45 0 35 36 37 38 39 40 41 42 2 1 RX TX GND",
        "GND 5V 14 13 12 11 10 9 46 3 8 18 17 16 15 7 6 5 4 RST 3V3 3V3",
    ),
}

SPACING = {  # mm between the two rows
    "pico-2": 17.78,
    "pro-micro-32u4": 15.24,
    "micro-32u4": 15.24,
    "nano-328p": 15.24,
    "black-pill-f411": 15.24,
    "xiao-samd21": 15.24,
    "feather-m0": 20.32,
    "esp32-devkitc": 25.4,
    "esp32-s3-devkitc-1": 22.86,
}

# Legends of the pins that decide something at boot, and of those something on the module uses.
STRAPS = {
    "esp32-devkitc": {"0", "2", "5", "12", "15"},
    "esp32-s3-devkitc-1": {"0", "3", "45", "46"},
    "black-pill-f411": {"B2"},
}
SHARED = {
    "micro-32u4": {"D13", "SS"},
    "nano-328p": {"TX1", "RX0", "D13"},
    "black-pill-f411": {"A11", "A12", "C13", "C14", "C15", "A0"},
    "feather-m0": {"9", "13"},
    "esp32-devkitc": {"CLK", "D0", "D1", "D2", "D3", "CMD", "0", "RX", "TX"},
    "esp32-s3-devkitc-1": {"19", "20", "35", "36", "37", "38", "0", "RX", "TX"},
}

FUNCTIONS = [  # module, legend, functions that must be among the pin's
    ("pico-2", "GP0", "uart0.tx i2c0.sda spi0.miso pwm"),
    ("pico-2", "GP5", "uart1.rx i2c0.scl spi0.cs"),
    ("pico-2", "GP8", "uart1.tx i2c0.sda spi1.miso"),
    ("pico-2", "GP15", "i2c1.scl spi1.mosi"),
    ("pico-2", "GP16", "uart0.tx i2c0.sda spi0.miso"),
    ("pico-2", "GP19", "i2c1.scl spi0.mosi"),
    ("pico-2", "GP26", "adc0.0 i2c1.sda"),
    ("pico-2", "GP27", "adc0.1 i2c1.scl"),
    ("pico-2", "GP28", "adc0.2"),
    ("pro-micro-32u4", "A0", "adc0.7"),
    ("pro-micro-32u4", "A3", "adc0.4"),
    ("pro-micro-32u4", "2", "i2c0.sda"),
    ("pro-micro-32u4", "3", "i2c0.scl pwm"),
    ("micro-32u4", "A0", "adc0.7"),
    ("micro-32u4", "A3", "adc0.4"),
    ("micro-32u4", "A4", "adc0.1"),
    ("micro-32u4", "A5", "adc0.0"),
    ("micro-32u4", "D2", "i2c0.sda"),
    ("micro-32u4", "D3", "i2c0.scl pwm"),
    ("micro-32u4", "D11", "pwm"),
    ("nano-328p", "A4", "adc0.4 i2c0.sda"),
    ("nano-328p", "D11", "spi0.mosi pwm"),
    ("black-pill-f411", "A9", "uart1.tx"),
    ("black-pill-f411", "A10", "uart1.rx"),
    ("black-pill-f411", "B8", "i2c1.scl"),
    ("black-pill-f411", "B9", "i2c1.sda"),
    ("black-pill-f411", "A6", "spi1.miso adc1.6"),
    ("black-pill-f411", "A12", "usb.dp"),
    ("xiao-samd21", "D4", "i2c2.sda"),
    ("xiao-samd21", "D6", "uart4.tx"),
    ("xiao-samd21", "D10", "spi0.mosi"),
    ("feather-m0", "A5", "adc0.10"),
    ("feather-m0", "TX", "uart0.tx"),
    ("esp32-devkitc", "VP", "adc1.0"),
    ("esp32-devkitc", "32", "adc1.4"),
    ("esp32-devkitc", "25", "dac0.0 adc2.8"),
    ("esp32-s3-devkitc-1", "19", "usb.dm"),
    ("esp32-s3-devkitc-1", "20", "usb.dp"),
    ("esp32-s3-devkitc-1", "1", "adc1.0"),
    ("esp32-s3-devkitc-1", "14", "adc2.3"),
]

GPIO_COUNT = {
    "pico-2": 26,
    "pro-micro-32u4": 18,
    "micro-32u4": 24,
    "nano-328p": 22,
    "black-pill-f411": 32,
    "xiao-samd21": 11,
    "feather-m0": 20,
    "esp32-devkitc": 32,
    "esp32-s3-devkitc-1": 36,
}


def module(entry_id: str) -> Module:
    return ModuleForm.model_validate(RAW[entry_id]).frozen(f"{entry_id}.toml")


def legends(entry_id: str, side: str) -> list[str]:
    entry = module(entry_id)
    return [entry.pin(number).name for number in RAW[entry_id]["family"][side]]


def gpio(entry: Module) -> list[ModulePin]:
    return [pin for pin in entry.pins if pin.kind is PinKind.GPIO]


def named(entry: Module, name: str) -> ModulePin:
    (pin,) = [pin for pin in entry.pins if pin.name == name]
    return pin


def test_the_modules_are_the_ones_described_here() -> None:
    assert IDS == sorted(ROWS) == sorted(SPACING) == sorted(GPIO_COUNT), "type a new module's pins here"
    assert len(IDS) >= 8


@pytest.mark.parametrize("entry_id", IDS)
def test_entry_is_whole(entry_id: str) -> None:
    entry = module(entry_id)
    assert entry.id == entry_id
    assert entry.footprint == f"module-{entry_id}"
    assert len(entry.sources) >= 2
    assert all(source.document and source.what for source in entry.sources)
    assert entry.cautions
    assert entry.usb is not None


@pytest.mark.parametrize("entry_id", IDS)
def test_pins_are_the_footprint_rows(entry_id: str) -> None:
    family = RAW[entry_id]["family"]
    numbers = [pin.number for pin in module(entry_id).pins]
    assert Counter(family["left"] + family["right"]) == Counter(numbers)
    assert numbers == [str(n) for n in range(1, len(numbers) + 1)]


@pytest.mark.parametrize("entry_id", IDS)
def test_rows_read_as_on_the_module(entry_id: str) -> None:
    left, right = ROWS[entry_id]
    assert legends(entry_id, "left") == left.split()
    assert legends(entry_id, "right") == right.split()


@pytest.mark.parametrize("entry_id", IDS)
def test_numbers_run_counter_clockwise(entry_id: str) -> None:
    """Down one row and up the other, wherever the maker starts."""
    family = RAW[entry_id]["family"]
    around = [int(n) for n in family["left"]] + [int(n) for n in reversed(family["right"])]
    start = around.index(1)
    assert around[start:] + around[:start] == list(range(1, len(around) + 1))


@pytest.mark.parametrize("entry_id", IDS)
def test_geometry(entry_id: str) -> None:
    raw = RAW[entry_id]
    family, entry = raw["family"], module(entry_id)
    assert family["right_x_mm"] - family["left_x_mm"] == pytest.approx(SPACING[entry_id])
    assert family["right_x_mm"] == pytest.approx(-family["left_x_mm"])
    assert family["pitch_mm"] == 2.54
    ys = []
    for side in ("left", "right"):
        first, count = family[f"{side}_first_y_mm"], len(family[side])
        ys += [first + i * 2.54 for i in range(count)]
    assert min(ys) == pytest.approx(-max(ys)), "the origin is the middle of the pin field"
    left, top, right, bottom = raw["body_mm"]
    assert family["body_mm"] == raw["body_mm"]
    assert left < family["left_x_mm"] - 0.8
    assert right > family["right_x_mm"] + 0.8
    assert top < min(ys) - 0.8
    assert bottom > max(ys) + 0.8
    assert 10 < raw["height_mm"] < 20
    assert entry.usb is not None
    assert 0 <= raw["usb"]["overhang_mm"] <= 3
    least = {"usb-c": (12.35, 6.5), "micro-b": (10.6, 8.5), "mini-b": (10.6, 8.0)}[entry.usb.kind]
    assert raw["usb"]["plug_mm"][0] >= least[0]
    assert raw["usb"]["plug_mm"][1] >= least[1]


@pytest.mark.parametrize("entry_id", IDS)
def test_straps_and_shared_pins_are_marked(entry_id: str) -> None:
    entry = module(entry_id)
    assert {pin.name for pin in entry.pins if pin.strap} == STRAPS.get(entry_id, set())
    assert {pin.name for pin in entry.pins if pin.shared} == SHARED.get(entry_id, set())


def test_pico_pins_without_a_header_hole_are_not_there() -> None:
    names = {pin.name for pin in module("pico-2").pins}
    assert names.isdisjoint({"GP23", "GP24", "GP25", "GP29"})
    assert {f"GP{n}" for n in (*range(23), 26, 27, 28)} <= names


@pytest.mark.parametrize(
    ("number", "name"), [("36", "3V3"), ("31", "GP26"), ("40", "VBUS"), ("39", "VSYS"), ("33", "AGND")]
)
def test_pico_numbers(number: str, name: str) -> None:
    assert module("pico-2").pin(number).name == name


@pytest.mark.parametrize(
    ("number", "name"), [("1", "TX1"), ("16", "D13"), ("17", "3V3"), ("27", "5V"), ("30", "VIN")]
)
def test_nano_numbers(number: str, name: str) -> None:
    assert module("nano-328p").pin(number).name == name


@pytest.mark.parametrize(("entry_id", "name", "functions"), FUNCTIONS)
def test_functions(entry_id: str, name: str, functions: str) -> None:
    assert set(functions.split()) <= set(named(module(entry_id), name).functions)


@pytest.mark.parametrize("entry_id", IDS)
def test_counts(entry_id: str) -> None:
    entry = module(entry_id)
    assert len(gpio(entry)) == GPIO_COUNT[entry_id]
    assert any(pin.kind is PinKind.GROUND for pin in entry.pins)
    assert len({pin.name for pin in gpio(entry)}) == len(gpio(entry))
    channels = Counter(f for pin in entry.pins for f in pin.functions if f.startswith(("adc", "dac", "usb")))
    assert not [name for name, count in channels.items() if count > 1]


@pytest.mark.parametrize("entry_id", IDS)
def test_voltages_are_sane(entry_id: str) -> None:
    entry = module(entry_id)
    for pin in gpio(entry):
        assert pin.max_volts is not None
        assert pin.idle_max_volts is not None
        assert entry.logic_volts <= pin.max_volts <= 5.5
        assert 0.3 <= pin.idle_max_volts <= pin.max_volts - 0.3
    for pin in entry.pins:
        if pin.kind is not PinKind.GPIO:
            assert not (pin.can_read)
            assert not (pin.can_drive)
            assert not (pin.functions)
        assert (pin.supply is not None) == (pin.kind is PinKind.SUPPLY)


@pytest.mark.parametrize("entry_id", IDS)
def test_one_five_volt_rail_feeds_the_device(entry_id: str) -> None:
    supplies = [pin.supply for pin in module(entry_id).pins if pin.supply]
    five = [s for s in supplies if s.rail == "5V"]
    assert five
    assert all(s.role in ("out", "both") and s.volts == 5.0 for s in five)
    assert all(s.budget_a and 0 < s.budget_a <= 0.5 and s.note for s in five)
    assert len(five) == (2 if entry_id == "black-pill-f411" else 1)
    three = [s for s in supplies if s.rail == "3V3"]
    assert all(s.volts == 3.3 and s.role in ("out", "both") and s.note for s in three)
    assert bool(three) == (entry_id != "pro-micro-32u4")
    assert all(s.note for s in supplies if s.role in ("in", "both"))


@pytest.mark.parametrize("name", ["VP", "VN", "34", "35"])
def test_esp32_input_only_pins(name: str) -> None:
    pin = named(module("esp32-devkitc"), name)
    assert pin.can_read
    assert not pin.can_drive
    assert pin.pulls == ()


def test_only_those_pins_cannot_drive() -> None:
    held = {(i, pin.name) for i in IDS for pin in gpio(module(i)) if not pin.can_drive}
    assert held == {("esp32-devkitc", n) for n in ("VP", "VN", "34", "35")} | {
        ("nano-328p", "A6"),
        ("nano-328p", "A7"),
    }


def test_pico_limits_and_erratum() -> None:
    entry = module("pico-2")
    for pin in gpio(entry):
        limits = (3.6, 0.3) if pin.analog else (5.5, 3.63)
        assert (pin.max_volts, pin.idle_max_volts) == limits
        assert "E9" in pin.caution
    assert {pin.name for pin in entry.pins if pin.analog} == {"GP26", "GP27", "GP28"}


@pytest.mark.parametrize("entry_id", [i for i in IDS if i.startswith("esp32")])
def test_antenna_is_at_the_end_away_from_usb(entry_id: str) -> None:
    entry = module(entry_id)
    (area,) = entry.antenna
    assert area.box.top > 0 > entry.body.top
    assert area.box.bottom >= entry.body.bottom


def test_only_radios_have_an_antenna() -> None:
    assert {i for i in IDS if module(i).antenna} == {i for i in IDS if i.startswith("esp32")}


# Land patterns of others: pad numbers at x, y in mm, their pad 1 at the origin, y down. Where their
# USB end is at the bottom the pattern is turned half round before it is compared.
PATTERNS: dict[str, tuple[dict[str, tuple[float, float]], bool]] = {
    "pro-micro-32u4": ({"1": (0, 0), "12": (0, 27.94), "13": (15.24, 27.94), "24": (15.24, 0)}, False),
    "feather-m0": ({"1": (0, 0), "16": (0, 38.1), "17": (20.32, 38.1), "28": (20.32, 10.16)}, False),
    "nano-328p": ({"1": (0, 0), "15": (0, 35.56), "16": (15.24, 35.56), "30": (15.24, 0)}, True),
    "esp32-devkitc": ({"1": (0, 0), "19": (0, 45.72), "20": (25.4, 45.72), "38": (25.4, 0)}, True),
    "esp32-s3-devkitc-1": ({"1": (0, 0), "22": (0, 53.34), "23": (22.86, 53.34), "44": (22.86, 0)}, True),
}


@pytest.mark.parametrize("entry_id", sorted(PATTERNS))
def test_pads_lie_as_in_other_peoples_land_patterns(entry_id: str) -> None:
    pattern, turned = PATTERNS[entry_id]
    pads = {p.number: p.at for p in families.build(RAW[entry_id]["family"], entry_id).footprint.pads}
    sign = -1 if turned else 1
    for number, (x, y) in pattern.items():
        moved = Point(pads["1"].x + mm(x) * sign, pads["1"].y + mm(y) * sign)
        assert pads[number] == moved, number


@pytest.mark.parametrize("entry_id", IDS)
def test_the_drawn_footprint_has_every_pin_once(entry_id: str) -> None:
    pads = families.build(RAW[entry_id]["family"], entry_id).footprint.pads
    assert Counter(p.number for p in pads) == Counter(p.number for p in module(entry_id).pins)


# Highest voltage at an unpowered pin, typed from the sources: RP2350 table 1433 (its ADC pins have a
# diode), STM32 without supply, AVR and SAM D21 clamp at once.
IDLE = {
    "pico-2": {3.63, 0.3},
    "black-pill-f411": {3.6, 0.3},
    "pro-micro-32u4": {0.5},
    "micro-32u4": {0.5},
    "nano-328p": {0.5},
    "xiao-samd21": {0.3},
    "feather-m0": {0.3},
    "esp32-devkitc": {0.3},
    "esp32-s3-devkitc-1": {0.3},
}


@pytest.mark.parametrize("entry_id", IDS)
def test_unpowered_limits(entry_id: str) -> None:
    entry = module(entry_id)
    assert {pin.idle_max_volts for pin in gpio(entry)} == IDLE[entry_id]
    if entry.logic_volts == 3.3:
        assert all((pin.idle_max_volts == 0.3) == (pin.max_volts == 3.6) for pin in gpio(entry))


@pytest.mark.parametrize("entry_id", IDS)
def test_unread_figures_are_marked_and_reach_the_user(entry_id: str) -> None:
    """Only house rules may be unconfirmed, and a caution then says what to measure."""
    entry = module(entry_id)
    marked = [source for source in entry.sources if "not confirmed" in source.what]
    assert marked
    assert {source.document for source in marked} == {"boardgen house rule"}
    assert all(source.what.endswith("measure before relying on it") for source in marked)
    assert [text for text in entry.cautions if "not confirmed: measure" in text]


@pytest.mark.parametrize("entry_id", IDS)
def test_the_five_volt_budget_is_called_an_estimate(entry_id: str) -> None:
    entry = module(entry_id)
    five = [pin.supply for pin in entry.pins if pin.supply and pin.supply.rail == "5V"]
    assert [supply for supply in five if "estimate from the 500 mA USB limit" in supply.note]
    said = f"{five[0].budget_a:g} A at 5V is an estimate from the 500 mA USB limit"
    assert [source for source in entry.sources if source.what.startswith(said)]

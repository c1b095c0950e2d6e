"""Levels, pulls, straps and supplies of the modules: published figures typed by hand, and sanity."""

from __future__ import annotations

import pytest

from boardgen.catalog.load import load_catalog
from boardgen.catalog.logic import at_supply
from boardgen.catalog.model import Module, ModulePin, PinKind
from boardgen.catalog.power import Power, RailPath, Regulator

MODULES = load_catalog().modules

# module, class of pins: VIH, VIL, weakest (A, VOH), weakest (A, VOL); from the chips' sheets
PUBLISHED = {
    ("pico-2", "tolerant"): (2.0, 0.8, (0.004, 2.62), (0.004, 0.5)),
    ("pico-2", "analog"): (2.0, 0.8, (0.004, 2.62), (0.004, 0.5)),
    ("esp32-devkitc", "io"): (2.475, 0.825, (0.01, 2.64), (0.01, 0.33)),
    ("esp32-devkitc", "input-only"): (2.475, 0.825, None, None),
    ("esp32-s3-devkitc-1", ""): (2.475, 0.825, (0.01, 2.64), (0.01, 0.33)),
    ("nano-328p", "io"): (3.0, 1.5, (0.02, 4.1), (0.02, 0.9)),
    ("nano-328p", "analog-only"): (3.0, 1.5, None, None),
    ("micro-32u4", ""): (1.9, 0.8, (0.01, 4.2), (0.01, 0.7)),
    ("pro-micro-32u4", ""): (1.9, 0.8, (0.01, 4.2), (0.01, 0.7)),
    ("black-pill-f411", "tolerant"): (2.31, 0.8, (0.008, 2.9), (0.008, 0.4)),
    ("black-pill-f411", "standard"): (2.31, 0.8, (0.008, 2.9), (0.008, 0.4)),
    ("black-pill-f411", "backup"): (2.31, 0.8, (0.0005, 2.9), (0.003, 0.4)),
    ("feather-m0", ""): (1.815, 0.99, (0.002, 2.64), (0.0025, 0.66)),
    ("xiao-samd21", ""): (1.815, 0.99, (0.002, 2.64), (0.0025, 0.66)),
}

PULLS = {  # least and most kOhm of the internal pull-up
    "pico-2": (32, 86),
    "esp32-devkitc": (30, 60),
    "esp32-s3-devkitc-1": (30, 60),
    "nano-328p": (20, 50),
    "micro-32u4": (20, 50),
    "pro-micro-32u4": (20, 50),
    "black-pill-f411": (30, 50),
    "feather-m0": (20, 60),
    "xiao-samd21": (20, 60),
}

STRAPS = {  # level at reset, internal pull then
    ("esp32-devkitc", "0"): ("high", "up"),
    ("esp32-devkitc", "2"): ("low", "down"),
    ("esp32-devkitc", "5"): ("", "up"),
    ("esp32-devkitc", "12"): ("low", "down"),
    ("esp32-devkitc", "15"): ("", "up"),
    ("esp32-s3-devkitc-1", "0"): ("high", "up"),
    ("esp32-s3-devkitc-1", "3"): ("", ""),
    ("esp32-s3-devkitc-1", "45"): ("low", "down"),
    ("esp32-s3-devkitc-1", "46"): ("low", "down"),
    ("black-pill-f411", "B2"): ("low", ""),
}

# does a supply of one's own at the 5V pin reach the USB host?
REACHES_USB = {
    "pico-2": True,
    "micro-32u4": True,
    "pro-micro-32u4": True,
    "black-pill-f411": True,
    "feather-m0": True,
    "nano-328p": False,
    "esp32-devkitc": False,
    "esp32-s3-devkitc-1": False,
    "xiao-samd21": False,
}


def gpio(module: Module) -> list[ModulePin]:
    return [pin for pin in module.pins if pin.kind is PinKind.GPIO]


def test_every_module_states_its_levels() -> None:
    assert {(i, name) for i, m in MODULES.items() for name, _ in m.logics} == set(PUBLISHED)


@pytest.mark.parametrize(("entry_id", "name"), sorted(PUBLISHED))
def test_levels_are_the_published_ones(entry_id: str, name: str) -> None:
    module = MODULES[entry_id]
    point = at_supply(dict(module.logics)[name], module.logic_volts)
    vih, vil, high, low = PUBLISHED[entry_id, name]
    assert point.vih_v == pytest.approx(vih)
    assert point.vil_v == pytest.approx(vil)
    assert (point.high[0] if point.high else None) == high
    assert (point.low[0] if point.low else None) == low


@pytest.mark.parametrize("entry_id", sorted(MODULES))
def test_levels_agree_with_the_limits_at_each_pin(entry_id: str) -> None:
    module = MODULES[entry_id]
    for pin in gpio(module):
        logic = module.logic_of(pin)
        assert logic.most_v(module.logic_volts) == pytest.approx(pin.max_volts), pin.name
        assert logic.idle_max_v == pin.idle_max_volts, pin.name
        point = at_supply(logic, module.logic_volts)
        assert bool(point.high) == bool(point.low) == pin.can_drive, pin.name


@pytest.mark.parametrize("entry_id", sorted(MODULES))
def test_classes_follow_the_kind_of_pin(entry_id: str) -> None:
    module = MODULES[entry_id]
    by_class: dict[str, set[str]] = {}
    for pin in gpio(module):
        by_class.setdefault(pin.logic or module.logics[0][0], set()).add(pin.name)
    analog = {pin.name for pin in gpio(module) if pin.analog}
    if entry_id == "pico-2":
        assert by_class["analog"] == analog
    if entry_id == "black-pill-f411":
        # B5 is the one pin without ADC that the F411 makes no FT pin
        assert by_class["standard"] == analog | {"B5"}
        assert by_class["backup"] == {"C13", "C14", "C15"}
    if entry_id == "esp32-devkitc":
        assert by_class["input-only"] == {"VP", "VN", "34", "35"}
    if entry_id == "nano-328p":
        assert by_class["analog-only"] == {"A6", "A7"}
    assert set(by_class) == {name for name, _ in module.logics}


@pytest.mark.parametrize("entry_id", sorted(PULLS))
def test_pulls(entry_id: str) -> None:
    module = MODULES[entry_id]
    least, most = PULLS[entry_id]
    own = {"A10": (7e3, 15e3), "B12": (8e3, 50e3)} if entry_id == "black-pill-f411" else {}
    for pin in gpio(module):
        wanted = own.get(pin.name, (least * 1e3, most * 1e3)) if "up" in pin.pulls else None
        assert module.pull_ohms(pin, "up") == wanted, pin.name
        assert (module.pull_ohms(pin, "down") is not None) == ("down" in pin.pulls), pin.name


def test_rp2350_pulls_down_weaker_than_the_erratum_allows() -> None:
    """E9 needs 8.2 kOhm or less; the chip's own pull-down has 36 kOhm at least."""
    module = MODULES["pico-2"]
    pull = module.pull_ohms(module.pin("GP0"), "down")
    assert pull == (36e3, 113e3)
    assert pull[0] > 8.2e3


def test_straps_say_what_they_need() -> None:
    found = {
        (i, pin.name): (pin.strap_needs, pin.strap_pull)
        for i, module in MODULES.items()
        for pin in module.pins
        if pin.strap
    }
    assert found == STRAPS


def test_straps_that_matter_to_the_loader_alone() -> None:
    found = {(i, pin.name) for i, m in MODULES.items() for pin in m.pins if pin.strap_for == "load"}
    assert found == {("esp32-devkitc", "2"), ("esp32-s3-devkitc-1", "46"), ("black-pill-f411", "B2")}


def test_known_faults_of_the_chips() -> None:
    found = {
        (i, e.id): (e.condition, e.most_ohms, e.pins, e.harm) for i, m in MODULES.items() for e in m.errata
    }
    assert found == {
        ("pico-2", "RP2350 E9"): ("pull-down", 8.2e3, (), "error"),
        ("esp32-devkitc", "ESP32 GPIO-3.11"): ("input", None, ("3", "4"), "warning"),
    }
    names = {pin.number: pin.name for pin in MODULES["esp32-devkitc"].pins}
    assert (names["3"], names["4"]) == ("VP", "VN")


def test_a_strap_s_pull_gives_the_level_it_needs() -> None:
    for needs, pull in STRAPS.values():
        if needs and pull:
            assert {"up": "high", "down": "low"}[pull] == needs


def test_parts_at_pins() -> None:
    found = {
        (i, pin.name): [(part.kind, part.ohms, part.to if part.kind == "led" else "") for part in pin.onboard]
        for i, module in MODULES.items()
        for pin in module.pins
        if pin.onboard
    }
    assert found == {
        ("nano-328p", "D13"): [("led", 1e3, "ground")],
        ("nano-328p", "RX0"): [("driver", 1e3, "")],
        ("micro-32u4", "D13"): [("led", 1e3, "ground")],
        ("micro-32u4", "SS"): [("led", 1e3, "supply")],
        ("black-pill-f411", "B2"): [("pull-down", 10e3, "")],
        ("black-pill-f411", "C13"): [("led", 510.0, "supply")],
        ("feather-m0", "9"): [("pull-up", 100e3, ""), ("pull-down", 100e3, "")],
        ("feather-m0", "13"): [("led", 1e3, "ground")],
    }


@pytest.mark.parametrize("entry_id", sorted(MODULES))
def test_currents_are_sane(entry_id: str) -> None:
    module = MODULES[entry_id]
    for pin in gpio(module):
        drive = module.drive_of(pin)
        assert drive is not None
        assert 0.003 <= drive <= 0.02
        for amps, _ in (
            *at_supply(module.logic_of(pin), module.logic_volts).high,
            *at_supply(module.logic_of(pin), module.logic_volts).low,
        ):
            assert amps <= max(drive, 0.02)
    if module.io_total_a is not None:
        assert module.io_total_a >= max(module.drive_of(pin) or 0 for pin in gpio(module))


@pytest.mark.parametrize("entry_id", sorted(MODULES))
def test_power_makes_sense(entry_id: str) -> None:
    module = MODULES[entry_id]
    power = module.power
    assert power is not None
    assert 0.01 <= power.draw_a <= 0.2
    assert (power.radio_draw_a is not None) == entry_id.startswith("esp32")
    rails = {pin.supply.rail: pin.supply.volts for pin in module.pins if pin.supply}
    assert power.paths[0].source == "USB"
    for path in power.paths:
        assert (path.drop_v > 0) == (path.by == "diode")
        assert path.drop_v <= 0.6
        assert (path.hold_a is not None) == (path.by == "fuse")
    for regulator in power.regulators:
        assert rails[regulator.output_rail] == regulator.output_v
        if regulator.kind == "linear" and regulator.dropout_v is not None:
            assert regulator.input_min_v >= regulator.output_v or "bridged" in regulator.part
        assert regulator.input_min_v < regulator.input_max_v
    if module.logic_volts == 3.3:
        assert [r.output_rail for r in power.regulators] == ["3V3"]


@pytest.mark.parametrize("entry_id", sorted(REACHES_USB))
def test_what_keeps_a_supply_from_the_usb_host(entry_id: str) -> None:
    power = MODULES[entry_id].power
    assert power is not None
    assert power.usb_blocks is not REACHES_USB[entry_id]
    assert (power.usb_diode_v is not None) == (not REACHES_USB[entry_id])


def test_currents_flow_as_the_parts_let_them() -> None:
    """Wire both ways, diode along the arrow, regulator both ways."""
    power = Power(
        0.1,
        paths=(
            RailPath("USB", "A", "wire"),
            RailPath("A", "B", "diode", 0.3),
            RailPath("B", "C", "fuse", hold_a=0.5),
        ),
        regulators=(Regulator("r", "linear", "C", "D", 3.3, 4.0, 6.0),),
    )
    assert power.fed_by("USB") == {"A", "B", "C", "D"}
    assert power.fed_by("A") == {"USB", "B", "C", "D"}
    assert power.fed_by("D") == {"C", "B"}
    assert power.usb_fuse_a is None
    assert power.path("A", "B") is power.paths[1]
    assert power.path("B", "A") is None


def test_the_5_volt_pin_of_the_pico_and_its_diode() -> None:
    power = MODULES["pico-2"].power
    assert power is not None
    diode = power.path("5V", "VSYS")
    assert diode is not None
    assert (diode.by, diode.drop_v) == ("diode", 0.34)
    assert "USB" not in power.fed_by("VSYS")
    assert power.regulators[0].kind == "switching"


def test_a_1117_has_no_room_on_a_weak_bus() -> None:
    """4.40 V at the jack less the diode less 1.3 V is under 3.3 V: the figure behind a finding."""
    power = MODULES["esp32-devkitc"].power
    assert power is not None
    drop = power.usb_diode_v
    dropout = power.regulators[0].dropout_v
    assert drop is not None
    assert dropout is not None
    assert 4.40 - drop - dropout < 3.3
    assert power.regulators[0].dropout(0.8) == dropout == 1.3
    assert power.regulators[0].dropout(0.1) == pytest.approx(1.2125)

"""Boards with chips between connector and module: placed, routed without a via, clean, the same twice."""

from __future__ import annotations

import pytest
from board_checks import assert_sound
from design_kit import bound_of, contacts

from boardgen.board.geometry import pad_centre
from boardgen.catalog.load import load_catalog
from boardgen.errors import Severity
from boardgen.pipeline import build

CATALOG = load_catalog()


def head(connector: str, module: str, fab: str = "economy-2l") -> str:
    return f'name = "trial"\nmodule = "{module}"\nconnector = "{connector}"\nfab = "{fab}"\n'


def logic(family: str, **more: object) -> str:
    rest = "".join(f"{key} = {value}\n" for key, value in more.items())
    return f'[[logic]]\nfamily = "{family}"\n{rest}'


DESIGNS = {
    "eight TTL outputs into an ESP32": head("dsub-25-socket-right-angle", "esp32-devkitc")
    + contacts("digital", range(1, 9), "D", direction="in")
    + contacts("supply", [14], rail="5V", current_a=0.05)
    + contacts("ground", [13, 25])
    + logic("74ls"),
    "eight from a box header": head("box-header-2x10", "esp32-devkitc")
    + contacts("digital", range(1, 9), "D", direction="in")
    + contacts("supply", [14], rail="5V", current_a=0.05)
    + contacts("ground", [20])
    + logic("74ls"),
    "six lines up to 5 V CMOS": head("dsub-15-socket-right-angle", "pico-2")
    + contacts("digital", range(1, 7), "D", direction="out")
    + contacts("supply", [9], rail="5V", current_a=0.05)
    + contacts("ground", [15])
    + logic("cd4000b"),
    "three down and three up": head("dsub-15-socket-right-angle", "xiao-samd21")
    + contacts("digital", range(1, 4), "I", direction="in")
    + contacts("digital", range(4, 7), "O", direction="out")
    + contacts("supply", [9], rail="5V", current_a=0.05)
    + contacts("ground", [15])
    + logic("cd4000b"),
    "a bus at 5 V": head("dsub-9-socket-right-angle", "pico-2")
    + contacts("digital", [1], "SDA", direction="both", function="i2c.sda")
    + contacts("digital", [2], "SCL", direction="both", function="i2c.scl")
    + contacts("supply", [5], rail="5V", current_a=0.05)
    + contacts("ground", [9])
    + '[[logic]]\nname = "d"\nrail = "5V"\n',
}


@pytest.mark.parametrize("name", DESIGNS)
def test_a_board_with_its_levels_shifted_is_ready_to_order(name: str) -> None:
    done = build(bound_of(DESIGNS[name], CATALOG), CATALOG)
    assert_sound(done)
    assert done.routing.vias == 0
    plan = done.bundle.plan
    assert not [f for f in plan.findings if f.severity is Severity.ERROR]
    chips = [p for p in plan.parts if p.component.gates]
    board = {p.ref: p for p in done.bundle.board.parts}
    for chip in chips:
        assert dict(board[chip.ref].nets) == dict(chip.nets)  # the plan knows the gates that were chosen
        cap = next(p for p in plan.parts if p.beside == chip.ref)
        supply = chip.component.pad("supply")
        pad = board[chip.ref].footprint.numbered(supply)[0]
        at = pad_centre(board[chip.ref], pad)
        near = min(at.distance(pad_centre(board[cap.ref], p)) for p in board[cap.ref].footprint.pads)
        assert near < 12e6  # nm: a decoupling capacitor serves within about a centimetre


def test_the_lines_of_a_chip_do_not_cross() -> None:
    done = build(bound_of(DESIGNS["eight TTL outputs into an ESP32"], CATALOG), CATALOG)
    board = {p.ref: p for p in done.bundle.board.parts}
    chip = next(p for p in done.bundle.plan.parts if p.component.gates)
    ends = []
    for gate in chip.component.gates:
        pad = chip.component.pad(gate.input)
        net = dict(chip.nets)[pad]
        inner = pad_centre(board[chip.ref], board[chip.ref].footprint.numbered(pad)[0])
        outer = next(
            pad_centre(board["J1"], p)
            for p in board["J1"].footprint.pads
            if board["J1"].net_of(p.number) == net
        )
        ends.append((inner.x, outer.x))
    assert [o for _, o in sorted(ends)] == sorted(o for _, o in ends)


def test_the_same_design_gives_the_same_board() -> None:
    bound = bound_of(DESIGNS["three down and three up"], CATALOG)
    one, two = build(bound, CATALOG), build(bound, CATALOG)
    assert one.bundle.board == two.bundle.board
    assert one.bundle.plan == two.bundle.plan


def test_a_device_whose_rail_is_left_open_runs_at_the_modules_level() -> None:
    text = (
        head("mini-din-6-socket-right-angle", "xiao-samd21")
        + contacts("digital", [1], "DATA", direction="in")
        + contacts("digital", [2], "CLOCK", direction="out")
        + contacts("supply", [4], rail="auto", current_a=0.01)
        + contacts("ground", [3])
        + logic("cd4000b")
    )
    done = build(bound_of(text, CATALOG), CATALOG)
    assert_sound(done)
    assert not any(p.component.gates for p in done.bundle.plan.parts)
    assert [c.rail for c in done.bundle.bound.design.contacts if c.kind == "supply"] == ["3V3"]
    assert dict(done.bundle.plan.contact_nets)["4"] == "3V3"
    higher = build(bound_of(text + "supply_min_v = 4.5\n", CATALOG), CATALOG)
    assert_sound(higher)
    assert dict(higher.bundle.plan.contact_nets)["4"] == "5V"
    assert any(p.component.gates or p.component.kind == "mosfet" for p in higher.bundle.plan.parts)

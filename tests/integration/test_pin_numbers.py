"""Some modules print digits that are another pin's number: after binding, every floor means the number."""

from __future__ import annotations

import pytest
from design_kit import bound_of

from boardgen.catalog.load import load_catalog
from boardgen.catalog.model import Module, PinKind
from boardgen.circuit.assign_usable import waived
from boardgen.design.model import BoundDesign
from boardgen.electrical.levels import candidate_pins, free_pins
from boardgen.electrical.plan import plan_signals
from boardgen.floorplan.wires import wire_model
from boardgen.pipeline import build

CATALOG = load_catalog()
BASE = """
name = "pins"
module = "{module}"
connector = "dsub-9-socket-right-angle"
[[contacts]]
number = 1
kind = "switch"
signal = "S1"
[[contacts]]
number = 2
kind = "switch"
signal = "S2"
[[contacts]]
number = 5
kind = "ground"
"""
WAIVER = '[[waivers]]\npin = "{pin}"\nreason = "measured to be harmless"\n'
FIXED = '[[fixed]]\nsignal = "S1"\npin = "{pin}"\n'


def made(more: str, module: str) -> BoundDesign:
    return bound_of(BASE.format(module=module) + more, CATALOG)


def held(module: Module) -> list[str]:
    return [p.number for p in module.pins if p.kind is PinKind.GPIO and (p.strap or p.shared)]


@pytest.mark.parametrize("name", list(CATALOG.modules))
def test_a_waiver_frees_its_own_pin_and_no_other_on_every_floor(name):
    module = CATALOG.module(name)
    plain = {p.number for p in free_pins(made("", name))}
    for number in held(module):
        bound = made(WAIVER.format(pin=f"#{number}"), name)
        wanted = {*plain, number}
        assert {p.number for p in free_pins(bound)} == wanted
        assert [p.number for p in module.pins if waived(p, bound.design.waivers)] == [number]
        plan = plan_signals(bound, CATALOG)
        prints = (CATALOG.footprint(module.footprint), CATALOG.footprint(bound.connector.footprint))
        assert wire_model(bound, plan, *prints).forbidden.shape[1] == len(wanted)


@pytest.mark.parametrize("name", ["esp32-devkitc", "esp32-s3-devkitc-1", "pro-micro-32u4", "feather-m0"])
def test_a_printed_name_and_a_number_that_read_alike_are_two_pins(name):
    module = CATALOG.module(name)
    free = {p.number: p for p in free_pins(made("", name))}
    numbers = {p.number for p in module.pins}
    alike = [p for p in free.values() if p.name in numbers and p.name != p.number and "up" in p.pulls]
    assert alike
    bound = made(FIXED.format(pin=alike[0].name), name)
    assert [f.pin for f in bound.design.fixed] == [alike[0].number]
    assert candidate_pins(bound, bound.design.contact("S1")) == (alike[0],)


def test_a_fixed_pin_by_its_print_ends_on_the_pad_of_that_pin():
    bound = made(FIXED.format(pin="2") + FIXED.format(pin="#8").replace("S1", "S2"), "pro-micro-32u4")
    done = build(bound, CATALOG)
    pads = {c.request.signal: (c.pin_number, c.pin_name) for c in done.bundle.pinmap.choices}
    assert pads == {"S1": ("5", "2"), "S2": ("8", "5")}
    assert done.complete


def test_the_module_chosen_for_auto_keeps_a_waived_pin():
    text = WAIVER.format(pin="D13") + FIXED.format(pin="D13")
    bound = made(text, "auto")
    pin = bound.module.pin(bound.design.fixed[0].pin)
    assert pin.name == "D13"
    assert bound.design.waivers[0].pin == pin.number

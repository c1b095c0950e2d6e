"""Binding a design to the catalogue: ids, contacts, pins and rails, each message whole."""
# ruff: noqa: E501 - messages are held whole

from __future__ import annotations

import re
from pathlib import Path

import pytest
from design_mutants import mutants
from hypothesis import HealthCheck, given, settings

from boardgen.catalog.load import Catalog, load_catalog
from boardgen.catalog.tomlfile import parse_toml
from boardgen.design.bind import bind, span
from boardgen.design.load import design_from, load_design
from boardgen.design.model import BoundDesign
from boardgen.design.needs import find_pin, pin_needs
from boardgen.errors import BoardgenError

ROOT = Path(__file__).parents[2]

BASE = """\
name = "x"
module = "pico-2"
connector = "dsub-9-socket-straight"
[[contacts]]
number = 1
kind = "row"
signal = "R0"
[[contacts]]
number = 2
kind = "column"
signal = "C0"
[[contacts]]
number = 3
kind = "analog"
signal = "POT"
[[contacts]]
number = 4
kind = "supply"
rail = "5V"
"""


@pytest.fixture(scope="module")
def catalog() -> Catalog:
    return load_catalog()


def bound(text: str, catalog: Catalog, module: str | None = None) -> BoundDesign:
    return bind(design_from(parse_toml(text.encode(), "d.toml"), Path()), catalog, module)


def fixed(signal: str, pin: str) -> str:
    return f'[[fixed]]\nsignal = "{signal}"\npin = "{pin}"\n'


def test_a_bound_design_holds_its_entries(catalog: Catalog) -> None:
    result = bound(BASE, catalog)
    assert (result.module.id, result.connector.id, result.fab.id) == (
        "pico-2",
        "dsub-9-socket-straight",
        "economy-2l",
    )


@pytest.mark.parametrize(
    "name", ["lecture-keypad", "pointer-handset", "slide-remote", "dome-fader", "chart-ball"]
)
def test_the_demos_bind(name: str, catalog: Catalog) -> None:
    design = load_design(ROOT / "designs" / name)
    assert bind(design, catalog).design == design


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            BASE.replace("pico-2", "pico-3"),
            "d.toml:2: module: there is no module 'pico-3' in the catalogue, did you mean 'pico-2'?",
        ),
        (
            BASE.replace("dsub-9-socket-straight", "dsub-9-scoket-straight").replace("pico-2", "pico-3"),
            "d.toml:3: connector: there is no connector 'dsub-9-scoket-straight' in the catalogue, did you mean "
            "'dsub-9-socket-straight' or 'dsub-15-socket-straight' or 'dsub-25-socket-straight'?\n"
            "d.toml:2: module: there is no module 'pico-3' in the catalogue, did you mean 'pico-2'?",
        ),
        (
            'fab = "economy2l"\n' + BASE,
            "d.toml:1: fab: there is no fab class 'economy2l' in the catalogue, did you mean 'economy-2l'?",
        ),
        (BASE.replace("pico-2", "auto"), "d.toml:2: module: the module is left open and none was chosen"),
        (
            BASE.replace("number = 3", "number = 10"),
            "d.toml:12: contacts: contact 10 is not on connector dsub-9-socket-straight; allowed: 1 to 9",
        ),
        (
            BASE.replace("number = 3", 'number = "SH"'),
            "d.toml:12: contacts: contact SH is the shell of dsub-9-socket-straight; allowed: shield, ground",
        ),
        (
            BASE + fixed("R0", "GP99"),
            "d.toml:20: fixed: pico-2 has no pin 'GP99', did you mean 'GP9'?",
        ),
        (
            BASE + fixed("R0", "GP2") + fixed("C0", "#4"),
            "d.toml:23: fixed: pin GP2 (number 4) of pico-2 is fixed for both R0 and C0",
        ),
        (
            BASE + fixed("R0", "VBUS"),
            "d.toml:20: fixed: R0 cannot use pin VBUS (number 40) of pico-2: it is a supply pin, not a GPIO",
        ),
        (
            BASE + fixed("POT", "GP2"),
            "d.toml:20: fixed: POT cannot use pin GP2 (number 4) of pico-2: it has no ADC input",
        ),
        (
            BASE.replace("pico-2", "micro-32u4") + fixed("R0", "D13"),
            "d.toml:20: fixed: R0 may not use pin D13 (number 1) of micro-32u4: the module uses it (LED); "
            "allowed: with a [[waivers]] table for the pin",
        ),
        (
            BASE.replace("pico-2", "esp32-s3-devkitc-1") + fixed("R0", "45"),
            "d.toml:20: fixed: R0 may not use pin 45 (number 30) of esp32-s3-devkitc-1: it is a boot "
            "strap (supply of the flash: must be low or open at reset; pulled down inside); "
            "allowed: with a [[waivers]] table for the pin",
        ),
        (
            BASE + '[[waivers]]\npin = "GP77"\nreason = "none"\n',
            "d.toml:20: waivers: pico-2 has no pin 'GP77', did you mean 'GP7'?",
        ),
        (
            BASE.replace('"5V"', '"12V"'),
            "d.toml:16: contacts: pico-2 gives no rail 12V; allowed: 3V3 (3.3 V), 5V (5 V), AREF (3.3 V)",
        ),
        (
            BASE.replace('"POT"', '"VSYS"'),
            "d.toml:12: contacts: signal VSYS has the name of a rail of pico-2",
        ),
    ],
)
def test_what_is_wrong_is_said(text: str, message: str, catalog: Catalog) -> None:
    with pytest.raises(BoardgenError) as caught:
        bound(text, catalog)
    assert str(caught.value) == message


def test_a_waiver_lets_a_shared_pin_be_used(catalog: Catalog) -> None:
    text = BASE.replace("pico-2", "micro-32u4") + fixed("C0", "D13")
    result = bound(text + '[[waivers]]\npin = "D13"\nreason = "the LED may blink"\n', catalog)
    assert [(item.signal, item.pin) for item in result.design.fixed] == [("C0", "1")]
    assert [item.pin for item in result.design.waivers] == ["1"]


def test_an_input_only_pin_cannot_drive(catalog: Catalog) -> None:
    module = catalog.module("esp32-devkitc")
    pin = next(pin for pin in module.pins if pin.can_read and not pin.can_drive and not pin.shared)
    text = BASE.replace("pico-2", module.id)
    with pytest.raises(BoardgenError) as caught:
        bound(text + fixed("C0", pin.name), catalog)
    named = f"pin {pin.name} (number {pin.number})"
    assert str(caught.value) == f"d.toml:20: fixed: C0 cannot use {named} of {module.id}: it is an input only"
    assert bound(text + fixed("R0", pin.name), catalog).design.fixed[0].pin == pin.number


def test_the_printed_name_comes_before_the_number(catalog: Catalog) -> None:
    module = catalog.module("pro-micro-32u4")
    by_name, by_number = find_pin(module, "5"), find_pin(module, "#5")
    assert by_name is not None
    assert by_number is not None
    assert (by_name.name, by_name.number) == ("5", "8")
    assert (by_number.name, by_number.number) == ("2", "5")
    only_number = find_pin(module, "24")
    assert only_number is not None
    assert only_number.name == "RAW"
    assert find_pin(module, "#99") is None


def test_another_module_may_be_bound_in_place_of_the_designs_own(catalog: Catalog) -> None:
    assert bound(BASE, catalog, "micro-32u4").module.id == "micro-32u4"


def test_what_each_kind_asks_of_a_pin() -> None:
    text = BASE + (
        '[[contacts]]\nnumber = 5\nkind = "digital"\ndirection = "both"\nsignal = "D"\n'
        '[[contacts]]\nnumber = 6\nkind = "lamp"\ncurrent_a = 0.1\nsignal = "L"\n'
        '[[matrices]]\ndrive = "rows"\n'
    )
    needs = pin_needs(design_from(parse_toml(text.encode(), "d.toml"), Path()))
    assert {n.signal: (n.reads, n.drives, n.analog) for n in needs} == {
        "R0": (False, True, False),
        "C0": (True, False, False),
        "POT": (True, False, True),
        "D": (True, True, False),
        "L": (False, True, False),
    }


def test_contact_numbers_in_few_words() -> None:
    assert span(tuple(str(n) for n in range(25, 0, -1))) == "1 to 25"
    assert span(("1", "2", "4")) == "1, 2, 4"
    assert span(("A1", "B1")) == "A1, B1"


CATALOG = load_catalog()


@given(mutants())
@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_mutated_designs_bind_or_give_a_named_error(raw: bytes) -> None:
    try:
        design = design_from(parse_toml(raw, "d.toml"), Path("nowhere"))
        result, text = bind(design, CATALOG), ""
    except BoardgenError as error:
        result, text = None, str(error)
    if result is None:
        assert all(re.match(r"d\.toml(:\d+)?: \S|nowhere/", line) for line in text.split("\n"))
    else:
        numbers = {pin.number for pin in result.module.pins}
        assert {item.pin for item in (*result.design.fixed, *result.design.waivers)} <= numbers
        known = {*result.connector.numbers(), *result.connector.shell}
        assert {contact.number for contact in result.design.contacts} <= known

"""Whole designs with signals on boot straps, shared pins and pins with parts: what a run then says."""

from __future__ import annotations

import pytest
from design_kit import bound_of, contacts

from boardgen.catalog.load import load_catalog
from boardgen.pipeline import build

CATALOG = load_catalog()
HEAD = 'name = "trial"\nconnector = "pin-row-1x8"\nfab = "economy-2l"\n'


def built(module, pin, kind="switch", more=""):
    text = f'{HEAD}module = "{module}"\n' + contacts(
        kind, [1], "KEY", **({"direction": "in"} if kind == "digital" else {})
    )
    text += contacts("ground", [8])
    text += f'[[fixed]]\nsignal = "KEY1"\npin = "{pin}"\n[[waivers]]\npin = "{pin}"\nreason = "trial"\n{more}'
    return build(bound_of(text, CATALOG), CATALOG)


def said(result, rule):
    return [(str(f.severity), f.message) for f in result.bundle.findings if f.rule == rule]


def check(result):
    return next(c for c in result.checks if c.name == "pins at boot")


@pytest.mark.parametrize(("pin", "severity"), [("0", "error"), ("12", None), ("2", None), ("15", "note")])
def test_a_key_to_ground_on_each_strap_of_an_esp32(pin, severity):
    result = built("esp32-devkitc", pin)
    found = said(result, "strap")
    assert [s for s, _ in found] == ([severity] if severity else [])
    if severity:
        assert found[0][1].startswith("with KEY1 held at power-up")
    assert check(result).passed == (severity != "error")
    assert check(result).evidence["straps"] == 1
    assert check(result).evidence["states"] == 2


def test_a_waived_finding_passes_with_its_reason():
    more = '[[waivers]]\nrule = "strap"\nitems = ["KEY1"]\nuntil = "A"\nreason = "the volunteers know"\n'
    result = built("esp32-devkitc", "0", more=more)
    ((severity, message),) = said(result, "strap")
    assert severity == "note"
    assert "the volunteers know" in message
    assert check(result).passed


def test_a_key_on_a_pin_with_an_led_is_an_error_of_the_run():
    result = built("micro-32u4", "D13")
    ((severity, message),) = said(result, "onboard")
    assert severity == "error"
    assert "the module's LED to ground through 1 kohm" in message
    assert not check(result).passed

"""Straps of the board's code: resistors, requests, and each level proved against a node solved by hand."""

from __future__ import annotations

from pathlib import Path

import pytest

from boardgen.catalog.load import load_catalog
from boardgen.catalog.tomlfile import parse_toml
from boardgen.design.bind import bind
from boardgen.design.load import design_from
from boardgen.design.model import BoundDesign
from boardgen.electrical.identity import RULE
from boardgen.electrical.model import ElectricalPlan
from boardgen.electrical.plan import plan_signals
from boardgen.errors import Severity

CATALOG = load_catalog()
MODULES = sorted(CATALOG.modules)


def planned(module: str, table: str) -> tuple[BoundDesign, ElectricalPlan]:
    text = (
        f'name = "x"\nconnector = "box-header-2x5"\nmodule = "{module}"\n'
        '[[contacts]]\nnumber = 1\nkind = "ground"\n'
        f'[[contacts]]\nnumber = 2\nkind = "switch"\nsignal = "KEY"\n[identity]\n{table}\n'
    )
    bound = bind(design_from(parse_toml(text.encode(), "d.toml"), Path("nowhere")), CATALOG)
    return bound, plan_signals(bound, CATALOG)


def node(volts: float, branches: list[tuple[float, float]], leak_a: float) -> float:
    """Voltage of a node fed through (V, ohm) branches, with *leak_a* flowing into it, by Kirchhoff."""
    conductance = sum(1 / ohms for _, ohms in branches)
    return (sum(v / ohms for v, ohms in branches) + leak_a) / conductance


@pytest.mark.parametrize("module", MODULES)
def test_every_module_reads_its_code_for_certain(module: str) -> None:
    bound, plan = planned(module, "bits = 2\ncode = 1")
    assert [f for f in plan.findings if f.rule == RULE] == []
    assert [(s.signal, s.bit, s.high) for s in plan.straps] == [
        ("BOARD_ID0", 1, False),
        ("BOARD_ID1", 0, True),
    ]
    requests = {request.signal: request for request in plan.requests}
    for strap in plan.straps:
        assert strap.proof is not None
        assert strap.proof.passes
        request = requests[strap.signal]
        assert (request.reads, request.drives, request.pull) == (True, False, "up")
        assert request.pins
        for number in request.pins:
            pin = bound.module.pin(number)
            assert (pin.strap, pin.shared, pin.onboard) == ("", "", ())
            assert "up" in pin.pulls
        part = next(part for part in plan.parts if part.ref == strap.ref)
        assert {net for _, net in part.nets} == {strap.net, strap.to}
        assert (strap.to == "GND") is not strap.high


@pytest.mark.parametrize("module", MODULES)
@pytest.mark.parametrize("pull", ["up", "down"])
def test_levels_are_those_of_the_node(module: str, pull: str) -> None:
    have = sum(pull in pin.pulls for pin in CATALOG.module(module).pins)
    if not have:
        pytest.skip("no such pull")
    bound, plan = planned(module, f'bits = 1\ncode = 1\npull = "{pull}"')
    (strap,) = plan.straps
    proof = strap.proof
    assert proof is not None
    volts, worst = bound.module.logic_volts, []
    request = next(r for r in plan.requests if r.signal == strap.signal)
    for number in request.pins or ():
        pin = bound.module.pin(number)
        logic = bound.module.logic_of(pin)
        least, _ = bound.module.pull_ohms(pin, pull) or (20e3, 80e3)
        if pull == "up":
            worst.append(node(volts, [(0.0, 2200 * 1.05), (volts, least)], logic.low_a))
        else:
            worst.append(node(volts, [(volts, 2200 * 1.05), (0.0, least)], -logic.high_a))
    told = proof.vol_v if pull == "up" else proof.voh_v
    assert told is not None
    limit = max(worst) if pull == "up" else min(worst)
    assert told == pytest.approx(limit, abs=1e-9)


def test_a_resistor_too_large_is_an_error() -> None:
    _, plan = planned("pico-2", "bits = 1\nohms = 47000.0")
    (finding,) = [f for f in plan.findings if f.rule == RULE]
    assert finding.severity is Severity.ERROR
    assert "BOARD_ID0 of 47k" in finding.message


@pytest.mark.parametrize(("ohms", "errors"), [(9600.0, 0), (9800.0, 1)])
def test_the_limit_lies_where_the_data_sheet_has_it(ohms: float, errors: int) -> None:
    """0.8 V of 3.3 V against 32 kohm: 10.24 kohm at most, 9.75 kohm at 5 %, a little less for the leakage."""
    _, plan = planned("pico-2", f"bits = 1\nohms = {ohms}")
    assert len([f for f in plan.findings if f.rule == RULE]) == errors

"""The plan against the catalogue that ships: every part it may ask for is there, with its figures."""

import pytest
from electrical_bench import bind, connector, contact

from boardgen.catalog.load import load_catalog
from boardgen.electrical import digital, loads, supplies
from boardgen.electrical.plan import plan_signals
from boardgen.electrical.ways import build
from boardgen.errors import Severity

WANTED = (
    loads.RESISTOR,
    build.CAPACITOR,
    *loads.MOSFETS,
    *loads.TRANSISTORS,
    *supplies.FUSES,
    supplies.DECOUPLING,
    *supplies.BULKS,
    *digital.BUFFERS,
    digital.SWITCH,
)


@pytest.mark.parametrize("name", sorted(set(WANTED)))
def test_the_part_is_in_the_catalogue(name):
    assert load_catalog().component(name).id == name


def test_lamps_and_a_fused_supply_on_the_real_module():
    catalog = load_catalog()
    contacts = [
        contact(1, "LAMP1", "lamp", rail="5V", current_a=0.04),
        contact(2, "LAMP2", "lamp", rail="5V", current_a=0.15),
        contact(3, "V", "supply", rail="5V"),
        contact(4, "SW", "switch"),
        contact(5, "G", "ground"),
    ]
    bound = bind(contacts, catalog.module("pico-2"), connector(), fuse=True)
    result = plan_signals(bound, catalog)
    assert [f for f in result.findings if f.severity is Severity.ERROR] == []
    chosen = {p.ref: p.component.id for p in result.parts}
    assert chosen["Q1"] == "transistor-2n3904"
    assert chosen["Q2"] == "transistor-bc337"
    assert chosen["F1"] == "fuse-ptc-250ma"
    numbers = {pin.number for pin in bound.module.pins if pin.kind == "ground"}
    assert numbers <= dict(result.module_nets).keys()
    assert ("40", "5V") in result.module_nets

"""Straps of the board's code count among what competes for pins."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

from demos import DESIGNS

from boardgen.catalog.load import load_catalog
from boardgen.design.bind import bind
from boardgen.design.load import load_design
from boardgen.design.model import Identity
from boardgen.design.needs import pin_needs, usable_pins
from boardgen.electrical.scarce import gives_way


def test_a_line_gives_way_where_straps_leave_too_few_pins():
    bound = bind(load_design(DESIGNS / "slide-remote"), load_catalog(()), "micro-32u4")
    needs, free = pin_needs(bound.design), usable_pins(bound.module, bound.design)
    last = needs[-1].signal
    offer = SimpleNamespace(pins=frozenset(pin.number for pin in free), way="direct")
    line = SimpleNamespace(contact=SimpleNamespace(way="auto"))
    chosen = {last: SimpleNamespace(offer=offer, line=line)}
    assert gives_way(bound, chosen) == ""
    bits = len(free) - len(needs) + 1
    assert 0 < bits <= 8
    tight = replace(bound, design=replace(bound.design, identity=Identity(bits, 1)))
    assert gives_way(tight, chosen) == last

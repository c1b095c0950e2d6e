"""The power tree: what flows where, which source could drive another, heat, budgets, inrush."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boardgen.electrical.power.flow import currents, feeding
from boardgen.electrical.power.model import Load, Source, Step
from boardgen.electrical.power.paths import back_paths


def source(name, node):
    return Source(name, node, 5.0, 4.5, 5.5)


USB, CELL = source("USB", "USB"), source("cell", "CELL")


def test_a_wire_between_two_sources_is_an_open_way_both_ways():
    found = back_paths((USB, CELL), (Step("USB", "5V", "wire", True), Step("CELL", "5V", "plug", True)))
    assert [(p.source, p.target, p.steps, p.blocked_by) for p in found] == [
        ("USB", "cell", ("wire", "plug"), ""),
        ("cell", "USB", ("plug", "wire"), ""),
    ]


def test_one_diode_blocks_one_way_alone():
    steps = (Step("USB", "5V", "wire", True), Step("CELL", "5V", "D1", False))
    assert {(p.source, p.target): p.blocked_by for p in back_paths((USB, CELL), steps)} == {
        ("USB", "cell"): "D1",
        ("cell", "USB"): "",
    }


def test_a_diode_each_blocks_both_ways():
    steps = (Step("USB", "5V", "D2", False), Step("CELL", "5V", "D1", False))
    assert [p.blocked_by for p in back_paths((USB, CELL), steps)] == ["D1", "D2"]


def test_sources_that_are_not_joined_have_no_way():
    assert back_paths((USB, CELL), (Step("USB", "5V", "wire", True),)) == ()


NODES = ("USB", "CELL", "A", "B", "C")


@given(
    st.lists(
        st.tuples(st.sampled_from(NODES), st.sampled_from(NODES), st.booleans()).filter(
            lambda t: t[0] != t[1]
        ),
        max_size=7,
    )
)
def test_a_way_is_open_exactly_where_a_chain_of_steps_is(edges):
    steps = tuple(Step(a, b, f"s{n}", back) for n, (a, b, back) in enumerate(edges))
    arrows = {(a, b) for a, b, _ in edges} | {(b, a) for a, b, back in edges if back}
    reach = {(n, n) for n in NODES} | arrows
    for via, a, b in itertools.product(NODES, NODES, NODES):  # Warshall, an independent way to say it
        if (a, via) in reach and (via, b) in reach:
            reach.add((a, b))
    found = {(p.source, p.target): p for p in back_paths((USB, CELL), steps)}
    for (name, node), (other, goal) in (
        (("USB", "USB"), ("cell", "CELL")),
        (("cell", "CELL"), ("USB", "USB")),
    ):
        path = found.get((name, other))
        assert ((node, goal) in reach) == (path is not None and path.blocked_by == "")
        if path is not None and path.blocked_by:
            blocking = [s for s in steps if s.through == path.blocked_by]
            assert not blocking[0].back


def test_currents_add_up_toward_the_source():
    steps = (
        Step("USB", "5V", "wire", True),
        Step("5V", "3V3", "regulator", True),
        Step("5V", "5V_OUT", "F1", True),
        Step("3V3", "1V8", "switcher", True, ratio=0.5),
    )
    loads = (Load("5V_OUT", "device", 0.2), Load("3V3", "module", 0.1), Load("1V8", "core", 0.04))
    amps = currents(feeding(steps, "USB"), loads)
    assert amps == {
        "5V_OUT": pytest.approx(0.2),
        "3V3": pytest.approx(0.12),
        "1V8": pytest.approx(0.04),
        "5V": pytest.approx(0.32),
        "USB": pytest.approx(0.32),
    }

"""Lines settled anew with their routed copper: as if the plan had known it, and what is told."""

from dataclasses import replace

import pytest
from electrical_bench import Direction, bind, connector, contact
from hypothesis import given
from hypothesis import strategies as st
from plan_judge import CATALOG

from boardgen.design.model import DeviceLogic
from boardgen.electrical import digital, prove
from boardgen.electrical.plan import plan_signals
from boardgen.electrical.routed import settling_findings, with_routed
from boardgen.errors import Severity
from boardgen.measure.model import LineCapacitance
from boardgen.pipeline.measured import with_copper


def planned(way, **more):
    line = contact(1, "D", "digital", direction=Direction.IN, logic="one", way=way)
    contacts = [line, contact(9, "5V", "supply", rail="5V", current_a=0.01), contact(10, "G", "ground")]
    bound = bind(contacts, CATALOG.module("esp32-devkitc"), connector(20))
    design = replace(bound.design, logic=(DeviceLogic("one", "74hc", "5V", **more),))
    return plan_signals(replace(bound, design=design), CATALOG)


def signal(plan):
    return next(s for s in plan.signals if s.contact.signal == "D")


@pytest.mark.parametrize(("way", "more"), [("divider", {}), ("pull-up", {"output": "open-drain"})])
@given(st.floats(0.5, 200.0), st.floats(0.0, 50.0))
def test_the_time_is_that_of_a_plan_that_had_known_the_copper(way, more, first, second):
    found = signal(planned(way, **more))
    pf = {found.net: first, found.module_net: second}
    routed = sum(pf.values())  # one net where the way has one
    anew = with_routed(found, pf)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(prove, "BOARD_PF", routed)
        patch.setattr(digital, "BOARD_PF", routed)
        wanted = signal(planned(way, **more))
    if wanted.parts and [p.high_a for p in wanted.proofs] == [p.high_a for p in found.proofs]:
        assert [p.settle_s for p in anew.proofs] == pytest.approx([p.settle_s for p in wanted.proofs])


def test_little_copper_says_nothing_and_much_is_told():
    found = signal(planned("pull-up", output="open-drain"))
    assert settling_findings(with_routed(found, {found.net: 9.0}), {found.net: 9.0}) == ()
    (note,) = settling_findings(with_routed(found, {found.net: 14.0}), {found.net: 14.0})
    assert (note.rule, note.severity) == ("settling", Severity.NOTE)
    assert "has 14.0 pF, 10 pF were reckoned with" in note.message
    (error,) = settling_findings(with_routed(found, {found.net: 9e4}), {found.net: 9e4})
    assert error.severity is Severity.ERROR
    assert "are left" in error.message


def test_behind_a_fet_less_copper_shortens_nothing():
    found = signal(planned("open-drain", output="open-drain"))
    nets = (found.net, found.module_net)
    assert with_routed(found, dict.fromkeys(nets, 1.0)).proofs == found.proofs
    more = with_routed(found, dict.fromkeys(nets, 20.0)).proofs
    assert all(a.settle_s > b.settle_s for a, b in zip(more, found.proofs, strict=True))


def test_a_finished_board_settles_its_signals_too():
    plan = planned("pull-up", output="open-drain")
    net = signal(plan).net
    anew = with_copper(plan, [LineCapacitance(net, 25.0, 100.0, 0.0)])
    assert signal(anew).proofs[0].settle_pf == pytest.approx(signal(plan).proofs[0].settle_pf + 15.0)
    assert [f.rule for f in anew.findings if f not in plan.findings] == ["settling"]
    assert with_copper(plan, []) == plan

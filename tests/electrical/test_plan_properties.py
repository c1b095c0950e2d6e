"""Whatever a design asks, the plan is whole and nothing dangerous stays unsaid."""

from electrical_bench import Direction, connector, contact, gpio, module, plan
from hypothesis import given, settings
from hypothesis import strategies as st

KINDS = ["row", "column", "switch", "analog", "digital", "lamp", "supply", "ground", "shield", "unused"]


@st.composite
def contacts(draw):
    found = []
    for number in range(1, draw(st.integers(1, 12)) + 1):
        kind = draw(st.sampled_from(KINDS))
        rail = draw(st.sampled_from(["3V3", "5V"]))
        more = {"rail": rail} if kind in {"supply", "lamp", "digital", "analog"} else {}
        if kind == "digital":
            more["direction"] = draw(st.sampled_from(list(Direction)))
        if kind in {"lamp", "supply"}:
            more["current_a"] = draw(st.floats(0.001, 1.5))
        found.append(contact(number, f"S{number}", kind, **more))
    return found


@st.composite
def modules(draw):
    pins = []
    for number in range(10, 10 + draw(st.integers(1, 14))):
        adc = ("adc0.0",) if draw(st.booleans()) else ()
        pulls = draw(st.sampled_from([(), ("up",), ("up", "down")]))
        pins.append(
            gpio(number, functions=adc, pulls=pulls, max_volts=draw(st.sampled_from([None, 3.6, 5.5])))
        )
    return module(*pins, logic=draw(st.sampled_from([3.3, 5.0])))


@settings(deadline=None)
@given(contacts(), modules(), st.booleans())
def test_every_net_named_is_a_net_and_every_reference_is_used_once(items, mod, fuse):
    result = plan(items, mod, connector(12, shell=("S",)), fuse=fuse)
    names = [net.name for net in result.nets]
    assert len(set(names)) == len(names)
    named = {net for _, net in result.contact_nets if net} | {net for _, net in result.module_nets}
    named |= {net for part in result.parts for _, net in part.nets} | {r.net for r in result.requests}
    assert named <= set(names)
    refs = [part.ref for part in result.parts]
    assert len(set(refs)) == len(refs)
    assert [number for number, _ in result.contact_nets] == [*(str(n) for n in range(1, 13)), "S"]
    for part in result.parts:
        # no part has both ends on one net; a chip has spare inputs and ties on its rails
        assert part.component.gates or len({net for _, net in part.nets}) == len(part.nets)
        assert part.why

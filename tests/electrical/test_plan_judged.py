"""No plan drives a pin above its limit, leaves an input floating, or lets two outputs fight."""

from dataclasses import replace

from electrical_bench import Direction, bind, connector, contact
from hypothesis import given, settings
from hypothesis import strategies as st
from plan_judge import CATALOG, Fact, Judge

from boardgen.catalog.logic import Logic, LogicPoint
from boardgen.design.model import DeviceLogic
from boardgen.electrical.plan import plan_signals
from boardgen.errors import Severity

FAMILIES = sorted(CATALOG.logic)
MODULES = sorted(CATALOG.modules)
TAKES_V = 5.5
MEASURED = Logic(0.0, 10.0, (LogicPoint(5.0, 2.0, 0.8),), TAKES_V, 0.3)
WAYS = ["auto", "auto", "auto", "direct", "series", "pull-up", "divider", "buffer", "open-drain"]


@st.composite
def devices(draw):
    """A device: one or two kinds of chips, fed by the board or by itself, with lines each way."""
    module = CATALOG.module(draw(st.sampled_from(MODULES)))
    given = sorted({p.supply.rail for p in module.pins if p.supply and p.supply.role in ("out", "both")})
    contacts, tables, plain = [], [], []
    number = 1
    supplied: dict[str, str] = {}
    for name in ("one", "two")[: draw(st.integers(1, 2))]:
        own = draw(st.booleans())
        rail = draw(st.sampled_from(["3V3", "5V"])) if own else draw(st.sampled_from(given))
        brought = own and draw(st.booleans())
        known = {
            "own_supply": own,
            "output": draw(st.sampled_from([None, None, None, "open-drain"])),
            "pull_up_ohms": draw(st.sampled_from([None, None, 4_700.0])),
        }
        if draw(st.integers(0, 3)):
            table = DeviceLogic(name, draw(st.sampled_from(FAMILIES)), rail, **known)
        else:
            high = draw(st.floats(2.4, 4.9))
            measured = {
                "high_v": high,
                "low_v": 0.2,
                "reads_high_v": 2.0,
                "reads_low_v": 0.8,
                "takes_v": TAKES_V,
            }
            table = DeviceLogic(name, "", rail, **known, **measured)
        tables.append(table)
        if (brought or not own) and rail not in supplied:
            source = "device" if own else "board"
            contacts.append(contact(number, rail, "supply", rail=rail, current_a=0.01, source=source))
            supplied[rail] = source
            number += 1
        for _ in range(draw(st.integers(1, 5))):
            way = draw(st.sampled_from(WAYS))
            direction = draw(st.sampled_from(list(Direction)))
            function = draw(st.sampled_from(["", "", "i2c.sda"])) if direction is Direction.BOTH else ""
            item = contact(
                number, f"S{number}", "digital", direction=direction, logic=name, way=way, function=function
            )
            contacts.append(item)
            plain.append((item, table))
            number += 1
    for _ in range(draw(st.integers(0, 2))):
        contacts.append(contact(number, f"S{number}", "switch"))
        number += 1
    if supplied and draw(st.booleans()):
        way = draw(st.sampled_from(["auto", "direct", "divider"]))
        rail = draw(st.sampled_from(sorted(supplied)))
        ohms = draw(st.sampled_from([None, 1_000.0, 10_000.0]))
        contacts.append(contact(number, f"S{number}", "analog", rail=rail, ohms=ohms, way=way))
        number += 1
    contacts.append(contact(number, "GND", "ground"))
    return module, contacts, tables, plain


def volts_of(bound, rail):
    there = (p.supply.volts for p in bound.module.pins if p.supply and p.supply.rail == rail)
    return next(there, {"3V3": 3.3, "5V": 5.0}.get(rail))


def facts_of(bound, result, plain):
    nets = {s.contact.number: s.net for s in result.signals}
    found = []
    for item in bound.design.contacts:
        if item.kind == "analog":  # the wiper at its upper end
            own = any(c.rail == item.rail and c.source == "device" for c in bound.design.contacts)
            volts = volts_of(bound, item.rail)
            found.append(Fact(item.number, item.signal, volts, own, "", sends=True, takes=False))
    for item, table in plain:
        supply = [c for c in bound.design.contacts if c.kind == "supply" and c.rail == table.rail]
        feeds = any(c.source == "board" for c in supply) and not table.own_supply
        volts = volts_of(bound, table.rail)
        rail = next((nets[c.number] for c in supply if c.source == "device"), "") if not feeds else ""
        logic = CATALOG.logic_family(table.family).levels if table.family else MEASURED
        bus = bool(item.function)
        found.append(
            Fact(
                item.number,
                item.signal,
                volts,
                not feeds,
                rail or "",
                item.direction != "out",
                item.direction != "in",
                logic,
                bus or table.output == "open-drain" or logic.output == "open-drain",
                table.pull_up_ohms,
                table.high_v if table.pull_up_ohms is None else None,
            )
        )
    return found


def judged(module, contacts, tables, plain):
    bound = bind(contacts, module, connector(20))
    bound = replace(bound, design=replace(bound.design, logic=tuple(tables)))
    result = plan_signals(bound, CATALOG)
    refused = {f.items[0] for f in result.findings if f.severity is Severity.ERROR and f.items}
    return Judge(bound, result, facts_of(bound, result, plain)).judge(frozenset(refused)), result


@settings(deadline=None, max_examples=150)
@given(devices())
def test_no_plan_overdrives_a_pin_leaves_an_input_floating_or_lets_outputs_fight(device):
    complaints, _ = judged(*device)
    assert complaints == []


def test_the_judge_sees_what_is_wrong():
    """Plans spoilt by hand: the judge is worth nothing if it passes them."""
    esp = CATALOG.module("esp32-devkitc")
    lines = [contact(n, f"D{n}", "digital", direction=Direction.IN, logic="one") for n in range(1, 5)]
    contacts = [*lines, contact(9, "5V", "supply", rail="5V", current_a=0.01), contact(10, "G", "ground")]
    tables = [DeviceLogic("one", "74ls", "5V")]
    bound = bind(contacts, esp, connector(20))
    bound = replace(bound, design=replace(bound.design, logic=tuple(tables)))
    result = plan_signals(bound, CATALOG)
    facts = facts_of(bound, result, [(item, tables[0]) for item in lines])
    assert Judge(bound, result, facts).judge() == []
    chip = next(p for p in result.parts if p.component.gates)
    pads = dict(chip.component.pins)

    def without(*pins):
        nets = tuple(n for n in chip.nets if n[0] not in {pads[p] for p in pins})
        parts = tuple(replace(p, nets=nets) if p is chip else p for p in result.parts)
        return Judge(bound, replace(result, parts=parts), facts).judge()

    def with_(**nets):
        new = tuple(sorted({**dict(chip.nets), **{pads[k]: v for k, v in nets.items()}}.items()))
        parts = tuple(replace(p, nets=new) if p is chip else p for p in result.parts)
        return Judge(bound, replace(result, parts=parts), facts).judge()

    assert any("a5" in text for text in without("a5"))
    assert any("hang in the air" in text for text in without("enable"))
    assert any("both drive" in text for text in with_(b2="D1_M"))
    assert any(
        "V allowed" in text for text in with_(supply="5V", dir="5V")
    )  # it would drive 5 V into the module
    bare = replace(result, parts=tuple(p for p in result.parts if p.component.kind != "capacitor"))
    assert any("no capacitor" in text for text in Judge(bound, bare, facts).judge())

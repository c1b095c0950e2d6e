"""A device is drawn, measured as a person would, and told again from the readings: the same device."""

from __future__ import annotations

import random
from dataclasses import dataclass, field, replace
from pathlib import Path

from bench_device import Device, Notebook, notes
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from boardgen.bench.csvform import parse_sheet
from boardgen.bench.gather import gather
from boardgen.bench.infer import infer
from boardgen.bench.model import Inference, Stated
from boardgen.bench.tomltext import device_toml
from boardgen.catalog.load import load_catalog
from boardgen.catalog.tomlfile import parse_toml
from boardgen.design.bind import bind
from boardgen.design.load import design_from
from boardgen.design.model import Design

CATALOG = load_catalog()
CONNECTORS = (
    "dsub-25-socket-right-angle",
    "dsub-15-plug-straight",
    "dsub-hd15-socket-right-angle",
    "din-8-262-socket-right-angle",
    "box-header-2x13",
    "modular-8p8c-jack-right-angle",
)


@dataclass
class Wanted:
    kinds: dict[str, str] = field(default_factory=dict)
    rows: set[str] = field(default_factory=set)
    columns: set[str] = field(default_factory=set)
    keys: dict[tuple[str, str], str] = field(default_factory=dict)
    toward: dict[str, str] = field(default_factory=dict)  # by key: the side with the cathode
    lamps: dict[str, str] = field(default_factory=dict)
    pots: dict[str, float] = field(default_factory=dict)


@st.composite
def devices(draw: st.DrawFn) -> tuple[Device, Wanted]:
    connector = CATALOG.connector(draw(st.sampled_from(CONNECTORS)))
    free = list(draw(st.permutations(connector.numbers())))
    device, wanted = Device(connector), Wanted()
    matrix = draw(st.booleans()) and len(free) > 8
    if matrix:
        _matrix(draw, device, wanted, free)
    ground = None
    if draw(st.booleans()) and len(free) >= 3:
        ground = free.pop()
        wanted.kinds[ground] = "ground"
        count = draw(st.integers(2, min(5, len(free))))
        for n in range(count):
            leaf = free.pop()
            device.keys[f"B{n}"] = (leaf, ground) if draw(st.booleans()) else (ground, leaf)
            wanted.kinds[leaf] = "switch"
    supply = None
    if draw(st.booleans()) and len(free) >= 4:
        supply = free.pop()
        wanted.kinds[supply] = "supply"
        device.signals[supply] = "5V"
        if ground is None:
            ground = free.pop()
            device.signals[ground] = "GND"
            wanted.kinds[ground] = "ground"
        # a pot a hundred times another's resistance vanishes beside it: no meter of three digits tells
        values = draw(st.sampled_from([[1000.0, 4700.0], [10000.0], [47000.0, 100000.0]]))
        for _ in range(draw(st.integers(1, min(3, len(free))))):
            wiper = free.pop()
            total = draw(st.sampled_from(values))
            ends = (supply, ground) if draw(st.booleans()) else (ground, supply)
            device.pots.append((wiper, *ends, total))
            wanted.kinds[wiper], wanted.pots[wiper] = "analog", total
    if supply is not None:
        for n in range(draw(st.integers(0, min(3, len(free))))):
            lamp = free.pop()
            wanted.kinds[lamp], wanted.lamps[lamp] = "lamp", supply
            if draw(st.booleans()):
                device.resistors.append((lamp, supply, draw(st.sampled_from([4.5, 8.0, 33.0, 120.0]))))
            else:
                device.leds.append((supply, lamp))
            if draw(st.booleans()):
                device.signals[lamp] = f"LAMP_{n}"
    if ground is not None and free and draw(st.booleans()):
        other = free.pop()
        device.joined.append((ground, other))
        wanted.kinds[other] = "ground"
    if free and draw(st.booleans()):
        shield = free.pop()
        device.wires[shield] = "bare"
        wanted.kinds[shield] = "shield"
    return device, wanted


def _matrix(draw: st.DrawFn, device: Device, wanted: Wanted, free: list[str]) -> None:
    most = 4 if len(free) > 10 else 3
    rows = [free.pop() for _ in range(draw(st.integers(2, most)))]
    columns = [free.pop() for _ in range(draw(st.integers(2, most)))]
    spine = {(rows[min(n, len(rows) - 1)], columns[min(n, len(columns) - 1)]) for n in range(most)}
    spine |= {(rows[min(n + 1, len(rows) - 1)], columns[min(n, len(columns) - 1)]) for n in range(most)}
    every = [(r, c) for r in rows for c in columns]
    crossings = [rc for rc in every if rc in spine or draw(st.booleans())]
    kinds = draw(st.sampled_from([("none",), ("row",), ("column",), ("row", "column"), ("column", "row")]))
    some = draw(st.booleans())
    for n, (row, column) in enumerate(crossings):
        key = f"KEY {n}"
        device.keys[key] = (row, column)
        wanted.keys[row, column] = key
        kind = kinds[n // 3 % len(kinds)]
        if kind != "none" and (not some or n % 2 == 0):
            device.diodes[key] = (column, row) if kind == "row" else (row, column)
            wanted.toward[key] = kind
    wanted.rows, wanted.columns = set(rows), set(columns)
    wanted.kinds |= dict.fromkeys(rows, "row") | dict.fromkeys(columns, "column")


books = st.builds(
    Notebook,
    st.sampled_from(["mating-face", "solder-side"]),
    st.sampled_from(["plug", "socket"]),
    st.sampled_from(["printed", "position"]),
    st.booleans(),
)


def told(device: Device, text: str) -> Inference:
    return infer(
        gather([parse_sheet(text.encode(), "notes.csv")], Stated(), device.connector), device.connector
    )


@settings(max_examples=150, suppress_health_check=[HealthCheck.too_slow])
@given(devices(), books, st.integers(0, 2**32), st.booleans(), st.sampled_from([False, False, True]))
def test_device_comes_back(
    drawn: tuple[Device, Wanted], book: Notebook, seed: int, turn: bool, everything: bool
) -> None:
    device, wanted = drawn
    found = told(device, notes(device, book, random.Random(seed), turn, everything))
    assert not found.contradictions, found.contradictions
    by_number = {c.number: c for c in found.contacts}
    kinds = {c.number: str(c.kind) for c in found.contacts if c.kind != "unused"}
    number = {c.signal: c.number for c in found.contacts if c.signal}
    swapped = False
    if wanted.rows:
        [matrix] = found.matrices
        swapped = {number[s] for s in matrix.rows} == wanted.columns
        assert {number[s] for s in matrix.rows} == (wanted.columns if swapped else wanted.rows)
        assert {number[s] for s in matrix.columns} == (wanted.rows if swapped else wanted.columns)
        keys = {(number[r], number[c]): key for r, c, key in matrix.keys}
        assert keys == {(c, r) if swapped else (r, c): key for (r, c), key in wanted.keys.items()}
        swap = {"row": "column", "column": "row"}
        toward = {key: swap[side] if swapped else side for key, side in wanted.toward.items()}
        assert matrix.key_diodes() == {key: f"cathode-to-{side}" for key, side in toward.items()}
        sides = list(toward.values())
        if sides:  # the scan is the one that reads more of them
            other = swap[matrix.drive.removesuffix("s")]
            assert 2 * sides.count(other) <= len(sides)
        assert (matrix.diode_keys is None) == (len(toward) in (0, len(keys)))
        said = [finding for finding in found.findings if finding.rule == "diodes-both-ways"]
        assert len(said) == (len(set(sides)) > 1)
        kinds = {n: swap.get(kind, kind) if swapped else kind for n, kind in kinds.items()}
    else:
        assert found.matrices == ()
    assert kinds == wanted.kinds
    for wiper, total in wanted.pots.items():
        contact = by_number[wiper]
        assert contact.ohms is not None
        assert abs(contact.ohms / total - 1) < 0.05
        assert contact.sure == ("measured" if turn else "guessed")
        assert contact.rail == "5V"
    for lamp in wanted.lamps:
        assert by_number[lamp].rail == "5V"
    switches = {key: pair for key, pair in device.keys.items() if key.startswith("B")}
    for key, pair in switches.items():
        assert number[key] in pair
    design = read_back(found)
    facts = ("number", "kind", "wire", "sure", "rail", "current_a", "ohms", "note")
    for ours, theirs in zip(found.contacts, design.contacts, strict=True):
        assert [getattr(ours, name) for name in facts] == [getattr(theirs, name) for name in facts]
        assert ours.signal in ("", theirs.signal)
    assert [replace(m, keys=()) for m in design.matrices] == [replace(m, keys=()) for m in found.matrices]
    assert [set(m.keys) for m in design.matrices] == [set(m.keys) for m in found.matrices]


def read_back(found: Inference) -> Design:
    """Put the missing lines before the device and read it as a design, bound to its entries."""
    head = f'name = "again"\nconnector = "{found.connector}"\nmodule = "micro-32u4"\n'
    design = design_from(parse_toml((head + device_toml(found)).encode(), "design.toml"), Path())
    bind(design, CATALOG)
    return design


@settings(max_examples=60, suppress_health_check=[HealthCheck.too_slow])
@given(devices(), books, st.integers(0, 2**32), st.data())
def test_one_wrong_line_is_named(
    drawn: tuple[Device, Wanted], book: Notebook, seed: int, data: st.DataObject
) -> None:
    """Write a reading down again with another result: the clash names both lines."""
    device, _ = drawn
    text = notes(device, book, random.Random(seed))
    lines = text.splitlines()
    held = [n for n, line in enumerate(lines, 1) if line.startswith(("KEY ", "B")) and ", " in line]
    assume(held)
    at = data.draw(st.sampled_from(held))
    key, plus, minus, reading = lines[at - 1].split(", ")
    other = "7.5" if reading in ("OL", "open") else "open"
    again = f"{text}key, plus, minus, reading\n{key}, {plus}, {minus}, {other}\n"
    found = told(device, again)
    named = [{item.split(": ")[0] for item in finding.items} for finding in found.contradictions]
    assert {f"notes.csv:{at}", f"notes.csv:{len(lines) + 2}"} in [
        places & {f"notes.csv:{at}", f"notes.csv:{len(lines) + 2}"} for places in named
    ]


@settings(max_examples=60, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much])
@given(devices(), books, st.integers(0, 2**32), st.data())
def test_a_key_inside_one_side_is_named(
    drawn: tuple[Device, Wanted], book: Notebook, seed: int, data: st.DataObject
) -> None:
    device, wanted = drawn
    assume(wanted.rows)
    side = data.draw(st.sampled_from([sorted(wanted.rows), sorted(wanted.columns)]))
    a, b = data.draw(st.permutations(side))[:2]
    device.keys["WRONG"] = (a, b)
    found = told(device, notes(device, book, random.Random(seed)))
    rings = [f.message for f in found.contradictions if "ring of odd length" in f.message]
    assert len(rings) == 1
    assert "'WRONG'" in rings[0]
    asked = [f.message for f in found.findings if f.rule == "measure-next" and "'WRONG'" in f.message]
    assert any(message.startswith("measure ") for message in asked)

"""Whatever is read, clashing or not: an answer, and a design file that reads back."""

from __future__ import annotations

from pathlib import Path

from bench_sheets import CATALOG, HEAD, IDLE, KEYS, WIRES, table, tell
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from boardgen.bench.model import Inference
from boardgen.bench.tomltext import device_toml
from boardgen.catalog.tomlfile import parse_toml
from boardgen.design.bind import bind
from boardgen.design.load import design_from
from boardgen.design.model import Design

contact = st.sampled_from(["1", "2", "3", "4", "5", "6", "7", "8", "9", "SH", "10"])
reading = st.sampled_from(
    [
        "open",
        "0.3",
        "1.9",
        "4",
        "60",
        "900",
        "1500",
        "5k",
        "10k",
        "99k",
        "150k",
        "3M",
        "0.6 V",
        "1.8 V",
        "-2",
        "9 V",
    ]
)
wire = st.tuples(
    contact,
    st.sampled_from(["red", "black", "bare", "-", "white\\brown", 'a "b"']),
    st.sampled_from(
        ["", "", "GND", "5V", "VCC", "SHIELD", "NC", "ROW1", "COL1", "LAMP", "LED 2", "fire!", "5"]
    ),
)
idle = st.tuples(contact, contact, reading, st.sampled_from(["", "", "left"]))
key = st.tuples(st.sampled_from(["A", "B", "C", "a", "#", "D E", "ü\\", "'"]), contact, contact, reading)


def lines(rows: list[tuple[str, ...]]) -> list[str]:
    return [", ".join('"' + cell.replace('"', '""') + '"' for cell in row) for row in rows]


def read_back(found: Inference) -> Design:
    head = f'name = "again"\nconnector = "{found.connector}"\nmodule = "micro-32u4"\n'
    design = design_from(parse_toml((head + device_toml(found)).encode(), "design.toml"), Path())
    bind(design, CATALOG)
    return design


@settings(max_examples=200, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.lists(wire, max_size=9),
    st.lists(idle, max_size=14),
    st.lists(key, max_size=14),
    st.sampled_from(["", "rail, 3V3\n", "rows, 1, 2\n", "meter, pointer\n", 'device, "a ""b"" \\"\n']),
)
def test_any_readings_give_a_design(
    wires: list[tuple[str, ...]], idles: list[tuple[str, ...]], keys: list[tuple[str, ...]], more: str
) -> None:
    tables = (table(WIRES, *lines(wires)), table(IDLE, *lines(idles)), table(KEYS, *lines(keys)))
    found = tell(*tables, head=HEAD + more)
    design = read_back(found)
    assert [c.number for c in design.contacts] == [c.number for c in found.contacts]
    named = " ".join(f"{f.message} {' '.join(f.items)}" for f in found.findings)
    placed = {name for m in design.matrices for _, _, name in m.keys}
    switched = " ".join(f"{c.signal} {c.note}" for c in design.contacts if c.kind == "switch")
    for name, _, _, _ in keys:  # no key is dropped without a word
        assert repr(name) in named or name in placed or name in switched


def test_text_that_toml_must_escape() -> None:
    found = tell(
        table(WIRES, '1, "a ""b"" \\", GND'), table(KEYS, '"""\\", 2, 3, 1', "=, 2, 4, 1", "-, 5, 3, 1")
    )
    design = read_back(found)
    assert {name for m in design.matrices for _, _, name in m.keys} == {'"\\', "=", "-"}
    assert design.contacts[0].wire == 'a "b" \\'

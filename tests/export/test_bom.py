"""The parts list: numbers that can be ordered, rows that add up, cells a spreadsheet leaves alone."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boardgen.board.model import PartKind
from boardgen.catalog.load import load_catalog
from boardgen.circuit.model import CircuitPart
from boardgen.circuit.partnumber import order_number
from boardgen.export.bom import (
    BOM_COLUMNS,
    POSITION_COLUMNS,
    assembly_lists,
    bom_rows,
    csv_text,
    natural,
)
from boardgen.footprint.model import Footprint, Pad, PadKind, PadShape
from boardgen.units import Size, mm, point_mm

MPN, NOTE = BOM_COLUMNS.index("MPN"), BOM_COLUMNS.index("Note")
DEMOS = ("lecture-keypad", "pointer-handset", "slide-remote", "dome-fader", "chart-ball")

# Typed from the makers' order code rules: value letter as decimal point (resistors),
# two digits and the number of zeros in pF (capacitors).
ORDERABLE = [
    ("resistor-axial-quarter", "10k", "CFR-25JB-52-10K"),
    ("resistor-axial-quarter", "1k", "CFR-25JB-52-1K"),
    ("resistor-axial-quarter", "4.7k", "CFR-25JB-52-4K7"),
    ("resistor-axial-quarter", "330", "CFR-25JB-52-330R"),
    ("resistor-0805", "10k", "RC0805FR-0710KL"),
    ("resistor-0805", "56", "RC0805FR-0756RL"),
    ("resistor-0805", "1.20k", "RC0805FR-071K2L"),
    ("resistor-0805", "1.0M", "RC0805FR-071ML"),
    ("resistor-1206", "1k", "RC1206FR-071KL"),
    ("capacitor-disc-5", "100n", "C322C104K5R5TA"),
    ("capacitor-0805", "100n", "CC0805KRX7R9BB104"),
]


def land(name: str, columns: tuple[int, ...] = (1, 1)) -> Footprint:
    """A footprint with so many plated pads in each column."""
    size, hole = Size(mm(1.6), mm(1.6)), Size(mm(0.8), mm(0.8))
    places = [(x, y) for x, count in enumerate(columns) for y in range(count)]
    pads = (
        Pad(str(n), PadKind.PLATED, PadShape.CIRCLE, point_mm(x * 15.24, y * 2.54), size, hole)
        for n, (x, y) in enumerate(places, 1)
    )
    return Footprint(name, tuple(pads))


def part(ref: str, value: str = "10k", **changes: object) -> CircuitPart:
    base = CircuitPart(ref, value, PartKind.COMPONENT, "r", land("axial"), (), "Resistor", "Maker", "RES-10K")
    return replace(base, **changes)  # type: ignore[arg-type]


def bundle(*parts: CircuitPart, socketed: bool = True, placed: tuple[object, ...] = ()) -> SimpleNamespace:
    module = CircuitPart(
        "U1",
        "Pico 2",
        PartKind.MODULE,
        "m",
        land("m", (20, 20)),
        (),
        "module",
        "",
        "Pico 2 without headers, 40 pins",
    )
    return SimpleNamespace(
        netlist=SimpleNamespace(parts=(*parts, module)),
        board=SimpleNamespace(parts=placed),
        bound=SimpleNamespace(design=SimpleNamespace(socketed=socketed)),
    )


def rows(*parts: CircuitPart, **how: object) -> list[dict[str, str]]:
    header, *body = bom_rows(bundle(*parts, **how))  # type: ignore[arg-type]
    assert header == BOM_COLUMNS
    return [dict(zip(BOM_COLUMNS, row, strict=True)) for row in body]


@pytest.mark.parametrize(("entry", "value", "mpn"), ORDERABLE)
def test_a_range_part_gets_the_order_number_of_its_value(entry: str, value: str, mpn: str) -> None:
    assert order_number(load_catalog().component(entry), value) == mpn


def test_every_range_in_the_catalogue_is_tried_above() -> None:
    ranges = {entry.id for entry in load_catalog().components.values() if "*" in entry.mpn}
    assert ranges == {entry for entry, _, _ in ORDERABLE}


@pytest.mark.parametrize("name", DEMOS)
def test_the_demos_show_no_number_that_cannot_be_ordered(built, name: str) -> None:
    listed = bom_rows(built(name).bundle)
    assert not [row for row in listed if "*" in row[MPN]]
    bought = [row for row in listed[1:] if row[0].startswith(("R", "C", "D", "F", "Q"))]
    assert all(row[MPN] for row in bought)
    assert bool(bought) == (name != "lecture-keypad"), (
        "the keypad reads its matrix with the module's own pulls"
    )


@pytest.mark.parametrize("name", DEMOS)
def test_the_demos_list_every_part_once(built, name: str) -> None:
    made = built(name).bundle
    listed = [ref for row in bom_rows(made)[1:] if "socket" not in row[0] for ref in row[0].split()]
    wanted = {p.ref for p in made.netlist.parts if p.kind is not PartKind.HOLE}
    wanted |= {p.ref for p in made.board.parts if p.kind is PartKind.LINK}
    assert sorted(listed) == sorted(wanted)


def test_a_star_nothing_could_fill_moves_into_the_note() -> None:
    (row,) = [r for r in rows(part("R1", "1.2345k", mpn="RES-*L")) if r["Designator"] == "R1"]
    assert row["MPN"] == ""
    assert row["Note"] == "Resistor; order RES-*L with the maker's code for 1.2345k in place of *"


def test_equal_parts_share_a_row_and_count() -> None:
    found = rows(part("R10"), part("R2"), part("R1"), part("R3", "1k", mpn="RES-1K"))
    by_ref = {row["Designator"]: row for row in found}
    assert by_ref["R1 R2 R10"]["Qty"] == "3"
    assert by_ref["R3"]["Qty"] == "1"
    assert by_ref["R3"]["MPN"] == "RES-1K"


@pytest.mark.parametrize(
    "changes",
    [
        {"value": "1k"},
        {"mpn": "OTHER"},
        {"manufacturer": "Other"},
        {"footprint": land("chip")},
        {"description": "hot"},
    ],
)
def test_parts_that_differ_in_one_thing_stand_apart(changes: dict[str, object]) -> None:
    found = rows(part("R1"), part("R2", **changes))
    assert [row["Designator"] for row in found][:2] == ["R1", "R2"]


def test_rows_run_in_natural_order() -> None:
    values = [part(ref, ref, mpn=ref) for ref in ("R10", "C2", "R2", "D1", "C11")]
    names = [row["Designator"] for row in rows(*values, socketed=False)]
    assert names == ["C2", "C11", "D1", "R2", "R10", "U1"]


@given(st.lists(st.integers(0, 10**6), min_size=1, unique=True))
def test_numbers_order_designators(numbers: list[int]) -> None:
    assert sorted((f"R{n}" for n in numbers), key=natural) == [f"R{n}" for n in sorted(numbers)]


def test_holes_are_not_bought_and_links_are_wire() -> None:
    hole = part("H1", "3.2", kind=PartKind.HOLE)
    link = SimpleNamespace(kind=PartKind.LINK, ref="W2", value="link", footprint=land("link-10.16"))
    found = {row["Designator"]: row for row in rows(hole, placed=(link,))}
    assert "H1" not in found
    assert found["W2"]["Note"] == "bare tinned wire"


def test_the_note_says_which_module_to_buy() -> None:
    (row,) = [r for r in rows(socketed=False) if r["Designator"] == "U1"]
    assert (row["MPN"], row["Note"]) == ("", "Pico 2 without headers, 40 pins")


def test_a_socketed_module_brings_its_strips() -> None:
    last = rows(part("R1"))[-1]
    assert last["Designator"] == "U1 socket"
    assert (last["Qty"], last["Value"]) == ("2", "1x20")
    assert not [row for row in rows(part("R1"), socketed=False) if "socket" in row["Designator"]]


def test_uneven_rows_bring_two_kinds_of_strip() -> None:
    made = bundle(part("R1"))
    module = replace(made.netlist.parts[-1], footprint=land("m", (16, 12)))
    made.netlist.parts = (module,)
    strips = [row for row in bom_rows(made) if "socket" in row[0]]  # type: ignore[arg-type]
    assert [(row[1], row[2]) for row in strips] == [("1", "1x16"), ("1", "1x12")]


@pytest.mark.parametrize("text", ["=1+1", "+5V", "-5V rail", "@x", "\tx", "-1=2"])
def test_cells_that_look_like_formulas_are_disarmed(text: str) -> None:
    assert next(csv.reader(io.StringIO(csv_text([(text, "b")]), newline="")))[0] == f"'{text}"


@pytest.mark.parametrize("text", ["-1.250", "-3", "10k", "R1 R2", "5V", ""])
def test_other_cells_and_negative_numbers_stay(text: str) -> None:
    assert next(csv.reader(io.StringIO(csv_text([(text, "b")])))) == [text, "b"]


def test_a_line_break_in_a_cell_does_not_break_the_row() -> None:
    assert csv_text([("a\rb", "c\nd", "e\r\nf")]) == "a b,c d,e f\n"


CELL = st.text(
    st.characters(blacklist_categories=("Cs", "Cc", "Zl", "Zp")) | st.sampled_from(',";|'), max_size=20
)


@given(st.lists(st.tuples(CELL, CELL, CELL), min_size=1, max_size=5))
def test_quoting_survives_the_standard_reader(table: list[tuple[str, ...]]) -> None:
    """Cells come back as they went in, but for the apostrophe before what looks like a formula."""
    read = list(csv.reader(io.StringIO(csv_text(table), newline="")))
    assert len(read) == len(table)
    for got, sent in zip(read, table, strict=True):
        assert [a in (b, f"'{b}") for a, b in zip(got, sent, strict=True)] == [True] * 3
        assert not [cell for cell in got if cell.startswith(("=", "+", "@"))]


def test_both_lists_are_whole_tables(built) -> None:
    for file, columns in zip(
        assembly_lists(built(DEMOS[1]).bundle), (BOM_COLUMNS, POSITION_COLUMNS), strict=True
    ):
        table = list(csv.reader(io.StringIO(file.data.decode("utf-8"))))
        assert tuple(table[0]) == columns
        assert {len(row) for row in table} == {len(columns)}
        assert len(table) > 3

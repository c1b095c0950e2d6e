"""Arrange the schematic on the smallest paper: module left, connector right, blocks between."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass

from boardgen.board.model import PartKind
from boardgen.circuit.model import CircuitPart
from boardgen.export.bundle import Bundle
from boardgen.export.cad_blocks import block, dressed, pin_end
from boardgen.export.cad_drawing import (
    DOWN,
    UP,
    Item,
    Note,
    Placed,
    bounds,
    moved,
    power_symbol,
    rooted,
    snapped,
)
from boardgen.export.cad_jobs import jobs, natural, notes, outside_nets
from boardgen.export.cad_parts import Sheet
from boardgen.export.cad_shapes import power_flag
from boardgen.export.cad_symbols import GRID, TEXT, text_width
from boardgen.units import ORIGIN, ZERO, Nm, Point, mm

# name and landscape size in mm (ISO 216)
PAPERS = (("A4", 297, 210), ("A3", 420, 297), ("A2", 594, 420), ("A1", 841, 594), ("A0", 1189, 841))
EDGE = mm("17.78")  # left free along the sheet's frame
TITLE_WIDTH, TITLE_HEIGHT = mm(112), mm(36)  # room of the CAD program's title block, lower right
GAP = GRID * 6
HEADING = mm(2)


@dataclass(frozen=True, slots=True)
class Arranged:
    """The finished sheet: paper and what stands on it."""

    paper: str
    items: tuple[Item, ...]


def _shapes(bundle: Bundle, sheet: Sheet) -> dict[str, str]:
    """Return the label shape at the module's end for each net: which way the signal runs there."""
    shapes: dict[str, str] = {}
    for choice in bundle.pinmap.choices:
        request = choice.request
        if request.reads and request.drives:
            shapes[request.net] = "bidirectional"
        elif request.drives:
            shapes[request.net] = "output"
        elif request.reads:
            shapes[request.net] = "input"
    return {net: shape for net, shape in shapes.items() if not sheet.is_power(net)}


_OPPOSITE = {"output": "input", "input": "output", "bidirectional": "bidirectional"}


def big_part(sheet: Sheet, part: CircuitPart, shapes: dict[str, str]) -> list[Item]:
    """Return a module, a connector or another box with something at each pin."""
    symbol = sheet.symbols[part.ref]
    value = part.value
    placed = Placed(part.ref, value, symbol, ORIGIN, 0, symbol.ref_at, symbol.value_at)
    by_pin = {}
    for pin in symbol.pins:
        net = sheet.net(part, pin.number)
        if net in shapes:
            by_pin[pin.number] = shapes[net]
    return dressed(sheet, part, placed, by_pin)


def _flags(sheet: Sheet) -> list[Item]:
    """Return a flag for each power net that nothing on the sheet drives."""
    items: list[Item] = []
    x = ZERO
    for net in sheet.flagged:
        reach = snapped(max(text_width(net), text_width("PWR_FLAG")) // 2 + GRID)
        at = Point(x + reach, ZERO)
        down = net in sheet.grounds
        items.append(power_symbol(power_flag(), at, UP if down else DOWN, UP))
        items += pin_end(sheet, net, at, DOWN if down else UP)
        x = at.x + reach
    return rooted(items, ORIGIN) if items else []


def _columns(blocks: list[list[Item]], height: int) -> list[list[Item]]:
    """Fill columns of at most *height* from the top, in reading order."""
    columns: list[list[Item]] = []
    y = ZERO
    for items in blocks:
        box = bounds(items)
        if not columns or y + box.height > height:
            columns.append([])
            y = ZERO
        columns[-1] += moved(items, Point(ZERO, y))
        y = snapped(y + box.height + GRID * 3)
    return columns


def arrange(bundle: Bundle, sheet: Sheet) -> Arranged:
    """Return the sheet on the smallest paper that holds it (the largest, where none does)."""
    shapes = _shapes(bundle, sheet)
    facing = {net: _OPPOSITE[shape] for net, shape in shapes.items()}
    parts = sorted(bundle.netlist.parts, key=lambda part: natural(part.ref))
    modules = [p for p in parts if p.kind is PartKind.MODULE]
    connectors = [p for p in parts if p.kind is PartKind.CONNECTOR]
    left = [big_part(sheet, part, shapes) for part in modules]
    right = [big_part(sheet, part, facing) for part in connectors]
    blocks = []
    for job in jobs(bundle, sheet):
        blocks.append(block(sheet, job, outside_nets(bundle, sheet, job.parts)))
    flags = _flags(sheet)
    remarks = notes(bundle)
    best: Arranged | None = None
    for paper, wide, high in PAPERS:
        best, fits = _on_paper(paper, mm(wide), mm(high), left, right, blocks, flags, remarks)
        if fits:
            break
    assert best is not None  # PAPERS is not empty
    return best


def _wrapped(remarks: list[str], width: Nm) -> str:
    """Return the notes as lines that fit *width*, counted with the widest usual letter."""
    count = max(40, int(width) // int(TEXT))
    lines = [line for text in remarks for line in textwrap.wrap(text, count, subsequent_indent="  ")]
    return "\n".join(lines)


def _stack(groups: list[list[Item]]) -> list[Item]:
    items: list[Item] = []
    y = ZERO
    for group in groups:
        placed = rooted(group, Point(ZERO, y))
        items += placed
        y = snapped(bounds(placed).bottom + GAP)
    return items


def _on_paper(
    paper: str,
    wide: Nm,
    high: Nm,
    left: list[list[Item]],
    right: list[list[Item]],
    blocks: list[list[Item]],
    flags: list[Item],
    remarks: list[str],
) -> tuple[Arranged, bool]:
    """Return the sheet on one paper and whether all of it fits."""
    notes_width = wide - EDGE * 2 - TITLE_WIDTH
    text = _wrapped(remarks, notes_width)
    lines = text.count("\n") + 1 if text else 0
    notes_height = Nm(round(TEXT * 1.62)) * lines + HEADING * 2
    foot = high - EDGE - max(notes_height, TITLE_HEIGHT)
    top = EDGE + HEADING
    room = foot - GRID * 4 - top - GRID * 3
    columns = _columns(blocks, room)
    groups: list[tuple[str, list[Item]]] = []
    if left:
        below = [_with_small_heading("Power flags", flags)] if flags else []
        groups.append(("Module", _stack([*left, *below])))
    groups += [("" if number else "Parts between", column) for number, column in enumerate(columns)]
    if right:
        groups.append(("Connector", _stack(right)))
    items: list[Item] = []
    x = EDGE
    widths = [max(bounds(group).width, text_width(title, HEADING)) for title, group in groups]
    # whole steps, one kept back, since each group is moved up to the next one
    steps = int(wide - EDGE * 2 - sum(widths)) // max(len(groups) - 1, 1) // int(GRID) - 1
    gap = max(GAP, GRID * min(24, steps))
    for (title, group), width in zip(groups, widths, strict=True):
        placed = rooted(group, Point(x, top + GRID * 3))
        items += placed
        left_side = bounds(placed).left
        if title:
            items.append(Note(title, Point(snapped(left_side), top), HEADING))
        x = snapped(left_side + width + gap)
    whole = bounds(items)
    fits = whole.right <= wide - EDGE and whole.bottom <= foot - GRID
    if text:
        first = high - EDGE - notes_height + HEADING * 2
        items.append(Note("Notes", Point(EDGE, first - GRID * 2), HEADING))
        last = first + Nm(round(TEXT * 1.62)) * (lines - 1) + TEXT
        items.append(Note(text, Point(EDGE, last)))
    return Arranged(paper, tuple(items)), fits


def _with_small_heading(text: str, items: list[Item]) -> list[Item]:
    box = bounds(items)
    made = [*items, Note(text, Point(snapped(box.left), snapped(box.top - GRID)))]
    return rooted(made, ORIGIN)

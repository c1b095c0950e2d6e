"""What to buy and where small parts stand: the parts list and the position file."""

from __future__ import annotations

import csv
import io
import re
from collections import defaultdict
from collections.abc import Sequence

from boardgen.board.model import PartKind, Side
from boardgen.circuit.partnumber import number_and_note
from boardgen.export.bundle import Bundle, FabBundle
from boardgen.export.files import OutFile, text_file
from boardgen.export.frame import fab_frame
from boardgen.footprint.model import PadKind
from boardgen.units import format_mm

BOM_COLUMNS = (
    "Designator",
    "Qty",
    "Value",
    "Footprint",
    "Manufacturer",
    "MPN",
    "Supplier part",
    "DNP",
    "Note",
)
POSITION_COLUMNS = ("Designator", "Value", "Package", "X (mm)", "Y (mm)", "Rotation", "Side", "Type")

_FORMULA_STARTS = ("=", "+", "-", "@", "\t")  # what spreadsheets take for a formula
_NUMBER = re.compile(r"-\d+(\.\d+)?")


def _plain(cell: str) -> str:
    """Return *cell* on one line, with a leading apostrophe where a spreadsheet would run it.

    Negative numbers stay as they are.
    """
    cell = " ".join(cell.splitlines())  # a lone carriage return would break the row: csv does not quote it
    if cell.startswith(_FORMULA_STARTS) and not _NUMBER.fullmatch(cell):
        return f"'{cell}"
    return cell


def csv_text(rows: Sequence[Sequence[str]], separator: str = ",") -> str:
    """Return rows as CSV, one line a row, without cells that a spreadsheet would run as formulas."""
    out = io.StringIO()
    writer = csv.writer(out, delimiter=separator, lineterminator="\n")
    for row in rows:
        writer.writerow([_plain(cell) for cell in row])
    return out.getvalue()


def natural(ref: str) -> tuple[str, int, str]:
    """Return a key that puts R2 before R10."""
    letters = ref.rstrip("0123456789")
    digits = ref[len(letters) :]
    return letters, int(digits) if digits else 0, ref


def bom_rows(bundle: Bundle) -> list[tuple[str, ...]]:
    """Return the parts list, header first; equal parts share a row, sorted by designator.

    "MPN" holds order numbers that can be ordered as they stand, or nothing.
    """
    groups: dict[tuple[str, ...], list[str]] = defaultdict(list)
    for part in bundle.netlist.parts:
        if part.kind is PartKind.HOLE:
            continue
        mpn, note = number_and_note(part)
        key = (part.value, part.footprint.name, part.manufacturer, mpn, note)
        groups[key].append(part.ref)
    for placed in bundle.board.parts:
        if placed.kind is PartKind.LINK:
            key = (placed.value, placed.footprint.name, "", "", "bare tinned wire")
            groups[key].append(placed.ref)
    rows: list[tuple[str, ...]] = []
    for (value, footprint, maker, mpn, note), refs in groups.items():
        ordered = sorted(refs, key=natural)
        rows.append((" ".join(ordered), str(len(ordered)), value, footprint, maker, mpn, "", "", note))
    rows.sort(key=lambda row: natural(row[0].split(" ")[0]))
    design = bundle.bound.design
    if design.socketed:
        for length, count in _socket_strips(bundle):
            note = "socket strip, 2.54 mm, for the module"
            rows.append(
                ("U1 socket", str(count), f"1x{length}", f"socket strip 1x{length}", "", "", "", "", note)
            )
    return [BOM_COLUMNS, *rows]


def _socket_strips(bundle: Bundle) -> list[tuple[int, int]]:
    """Return (contacts, strips) for the module's pin rows, longest first."""
    module = next(part for part in bundle.netlist.parts if part.kind is PartKind.MODULE)
    rows: dict[int, int] = defaultdict(int)
    for pad in module.footprint.pads:
        if pad.kind is PadKind.PLATED:
            rows[int(pad.at.x)] += 1
    lengths: dict[int, int] = defaultdict(int)
    for count in rows.values():
        lengths[count] += 1
    return sorted(lengths.items(), reverse=True)


def position_rows(bundle: FabBundle) -> list[tuple[str, ...]]:
    """Return part positions in the fabrication files' axes, header first."""
    frame = fab_frame(bundle.board)
    rows: list[tuple[str, ...]] = [POSITION_COLUMNS]
    for part in sorted(bundle.board.parts, key=lambda item: natural(item.ref)):
        if part.kind is PartKind.HOLE:
            continue
        at = frame.turn(part.placement.at)
        turn = part.placement.rotation % 360
        side = "Top" if part.placement.side is Side.TOP else "Bottom"
        kind = "THT" if part.footprint.through_hole else "SMT"
        rows.append(
            (
                part.ref,
                part.value,
                part.footprint.name,
                format_mm(at.x, 3),
                format_mm(at.y, 3),
                f"{turn:.1f}",
                side,
                kind,
            )
        )
    return rows


def assembly_lists(bundle: Bundle) -> tuple[OutFile, ...]:
    """Return ``assembly/bom.csv`` and ``assembly/positions.csv``."""
    return (
        text_file("assembly/bom.csv", csv_text(bom_rows(bundle))),
        text_file("assembly/positions.csv", csv_text(position_rows(bundle))),
    )

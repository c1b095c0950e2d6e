"""The bare-board test netlist in IPC-D-356A, from the board model.

Columns as the standard lays them out (record 317 for through holes, 327 for
surface pads); metric, one unit 0.001 mm; long or lower-case net names go
through NNAME aliases.
"""

from __future__ import annotations

import re

from boardgen.board.geometry import pad_centre, sides_of
from boardgen.board.model import Board, Part, Side
from boardgen.export.bundle import FabBundle
from boardgen.export.files import OutFile
from boardgen.export.frame import FabFrame, fab_frame
from boardgen.export.identity import identity_text
from boardgen.footprint.model import Pad, PadKind
from boardgen.units import Point

NET_WIDTH = 14
OPEN = "N/C"


def _microns(value: int) -> int:
    half = 500 if value >= 0 else -500
    return int((value + half) / 1000)


def net_labels(board: Board) -> dict[str, str]:
    """Return each net's name as written in the records: itself where it fits, else an alias."""
    plain = re.compile(r"[A-Z0-9_+.\-/]{1,14}")
    labels: dict[str, str] = {}
    count = 0
    for net in sorted(net.name for net in board.nets):
        if plain.fullmatch(net) and not net.startswith("NNAME") and net != OPEN:
            labels[net] = net
        else:
            count += 1
            labels[net] = f"NNAME{count}"
    return labels


def _xy(frame: FabFrame, at: Point) -> str:
    turned = frame.turn(at)
    x, y = _microns(turned.x), _microns(turned.y)
    return f"X{'+' if x >= 0 else '-'}{abs(x):06d}Y{'+' if y >= 0 else '-'}{abs(y):06d}"


def _record(
    code: str,
    net: str,
    ref: str,
    pin: str,
    middle: bool,
    hole: str,
    access: str,
    place: str,
    size: tuple[int, int],
    turn: int,
    mask: str,
) -> str:
    # The standard's columns: 1-3 code, 4-17 net, 21-26 reference, 27 dash, 28-31 pin, 32 mid,
    # 33-38 hole, 39-41 access, 42-57 place, 58-67 size, 68-71 turn, 73-74 mask.
    dash = "-" if pin else " "
    w, h = size
    return (
        f"{code}{net:<14.14}   {ref:<6.6}{dash}{pin:<4.4}{'M' if middle else ' '}"
        f"{hole:<6}{access}{place}X{w:04d}Y{h:04d}R{turn:03d} {mask}"
    )


def _pad_record(board: Board, part: Part, pad: Pad, frame: FabFrame, label: str) -> str:
    sides = sides_of(part, pad, board.copper)
    both = len(sides) == 2
    access = "A00" if both else ("A01" if sides == (Side.TOP,) else "A02")
    mask = "S0"  # every pad is open in the mask
    hole = ""
    if pad.hole is not None:
        across = max(pad.hole)
        hole = f"D{_microns(across):04d}{'P' if pad.kind is PadKind.PLATED and board.plated else 'U'}"
    code = "317" if pad.hole is not None else "327"
    sign = -1 if part.placement.side is Side.BOTTOM else 1
    turn = round(part.placement.rotation + sign * pad.rotation) % 360
    size = (_microns(pad.size.w), _microns(pad.size.h))
    return _record(
        code, label, part.ref, pad.number, False, hole, access, _xy(frame, pad_centre(part, pad)), size,
        turn, mask,
    )  # fmt: skip


def ipc356_text(bundle: FabBundle) -> str:
    """Return the netlist file's text; one record a pad and a via, sorted by net, part and pin."""
    board = bundle.board
    frame = fab_frame(board)
    labels = net_labels(board)
    lines = [
        "P  CODE 00",
        "P  UNITS CUST 1",
        f"P  JOB {bundle.stem}",
        f"C  {bundle.tool}",
        f"C  {identity_text(bundle)}",
        "P  ARRAY N",
    ]
    for net in sorted(labels):
        if labels[net] != net:
            lines.append(f"P  {labels[net]} {net}")
    rows: list[tuple[str, str, str, str]] = []
    for part in board.parts:
        for pad in part.footprint.pads:
            if pad.kind is PadKind.UNPLATED or not sides_of(part, pad, board.copper):
                continue
            label = labels.get(part.net_of(pad.number) or "", OPEN)
            rows.append((label, part.ref, pad.number, _pad_record(board, part, pad, frame, label)))
    for via in board.vias:
        size = (_microns(via.diameter), 0)
        record = _record(
            "317", labels[via.net], "VIA", "", True, f"D{_microns(via.hole):04d}P", "A00",
            _xy(frame, via.at), size, 0, "S3",
        )  # fmt: skip
        rows.append((labels[via.net], "VIA", "", record))
    lines.extend(record for *_key, record in sorted(rows))
    lines.append("999")
    return "\n".join(lines) + "\n"


def ipc356_files(bundle: FabBundle) -> tuple[OutFile, ...]:
    """Return the netlist under ``fab/``."""
    return (OutFile(f"fab/{bundle.stem}.IPC", ipc356_text(bundle).encode("utf-8")),)

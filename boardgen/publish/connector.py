"""The connector's views with signals written at the contacts: mating face, component and solder side."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

from boardgen.board.model import Board
from boardgen.catalog.model import Connector
from boardgen.export.connector_views import draw_connector_pads, draw_face
from boardgen.export.sheet import XY, Sheet
from boardgen.export.sheet_svg import sheet_svg
from boardgen.palette import FAINT, INK

WIDTH = 150.0  # mm on paper
HEAD = 8.0
SIZE, WIDE = 2.5, 0.66  # height of a signal's name, and what a letter of it is wide, of its height
LONGEST = 16  # letters; longer names stand whole in the table
ROUND = 20  # contacts that may stand in a ring
_GAP = 8.2  # from a contact's middle to its name: past the shell's edge
_SLOT = 4.6  # what the words at a key slot take
TRIAL = 120.0
_DISC = 2.6  # a contact's largest radius
_OVER = 3.6  # from a contact's middle to the base line of a name above it


def connector_pictures(
    board: Board, connector: Connector, signals: Mapping[str, str]
) -> tuple[tuple[str, str], ...]:
    """Return (caption, SVG) of the mating face, the component side and the solder side.

    *signals* is what each contact carries; contacts without one are called open.
    """
    made = [
        (
            "Mating face, as you look into the connector on the board. Hold the plug beside it.",
            _view(
                f"{connector.name}: mating face",
                connector,
                signals,
                lambda sheet, y, h: draw_face(sheet, connector, 4, y, WIDTH - 8, h),
                face=True,
            ),
        )
    ]
    for solder, words, caption in (
        (False, "component side", "Component side: the connector's pads from the side it stands on."),
        (True, "solder side", "Solder side: what you see with the iron in your hand."),
    ):
        made.append(
            (
                caption,
                _view(
                    f"{connector.name}: {words}",
                    connector,
                    signals,
                    lambda sheet, y, h, solder=solder: draw_connector_pads(  # type: ignore[misc]
                        sheet, board, connector, solder, 4, y, WIDTH - 34, h
                    ),
                ),
            )
        )
    return tuple(made)


def _view(
    title: str,
    connector: Connector,
    signals: Mapping[str, str],
    draw: Callable[[Sheet, float, float], dict[str, XY]],
    face: bool = False,
) -> str:
    """Return the drawing by *draw*, which takes the sheet, and top and height of a box on it, with names.

    It is drawn twice: where the contacts come to stand says how high the sheet has to be.
    """
    trial = draw(Sheet("", WIDTH, TRIAL), 2, TRIAL)
    names = {n: _short(signals.get(n, "open")) for n in connector.numbers() if n in trial}
    rows = sorted({round(y, 1) for _x, y in trial.values()})
    high = rows[-1] - rows[0]
    if len(rows) > 2:
        sheet = Sheet(title, WIDTH, round(high + 48, 2))
        spots = draw(sheet, 2, sheet.height - 8)
        if not face and _fit_above(spots, names):
            for number, (x, y) in spots.items():
                sheet.text(x, y - _OVER, names[number], SIZE, "middle", _ink(names[number]))
        elif len(spots) <= ROUND:
            _in_a_ring(sheet, spots, names)
        return sheet_svg(sheet, whole=False)
    longest = max((len(name) for name in names.values()), default=0) * SIZE * WIDE
    sheet = Sheet(title, WIDTH, round(high + 2 * (_GAP + longest) + _SLOT + 18, 2))
    spots = draw(sheet, 2, sheet.height - 8)
    middle = (min(y for _x, y in spots.values()) + max(y for _x, y in spots.values())) / 2
    slot = _SLOT if connector.family == "box-header" else 0.0
    for number, name in names.items():
        _beside_row(sheet, spots[number], name, middle, slot)
    return sheet_svg(sheet, whole=False)


def _fit_above(spots: Mapping[str, XY], names: Mapping[str, str]) -> bool:
    """Whether a name right above each contact touches no other contact and no other name."""
    discs = [(n, x - _DISC, y - _DISC, x + _DISC, y + _DISC) for n, (x, y) in spots.items()]
    texts = []
    for number, (x, y) in spots.items():
        half = len(names[number]) * SIZE * WIDE / 2 + 0.3
        texts.append((number, x - half, y - _OVER - SIZE, x + half, y - _OVER + 0.3))
    return not any(
        a[1] < b[3] and b[1] < a[3] and a[2] < b[4] and b[2] < a[4]
        for a in texts
        for b in (*discs, *texts)
        if a[0] != b[0]
    )


def _short(name: str) -> str:
    return name if len(name) <= LONGEST else f"{name[: LONGEST - 1]}\u2026"


def _ink(name: str) -> str:
    return FAINT if name == "open" else INK


def _beside_row(sheet: Sheet, at: XY, name: str, middle: float, slot: float) -> None:
    """Write *name* upright past the row its contact is in: above the upper row, else below."""
    x, y = at
    if y < middle - 0.01:
        sheet.text(x + SIZE * 0.36, y - _GAP - slot, name, SIZE, "start", _ink(name), 90)
    else:
        sheet.text(x + SIZE * 0.36, y + _GAP + slot, name, SIZE, "end", _ink(name), 90)


def _in_a_ring(sheet: Sheet, spots: Mapping[str, XY], names: Mapping[str, str]) -> None:
    """Write each name outward of its contact, those on one side one below the other.

    Contacts in the middle go to the side with fewer names.
    """
    xs, ys = [x for x, _y in spots.values()], [y for _x, y in spots.values()]
    cx, cy = (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2
    reach = max(math.hypot(x - cx, y - cy) for x, y in spots.values()) + 12
    sides: dict[int, list[str]] = {-1: [], 1: []}
    for number, (x, _y) in sorted(spots.items(), key=lambda item: (-abs(round(item[1][0] - cx, 2)), item[0])):
        away = round(x - cx, 2)
        sides[(1 if away > 0 else -1) if away else min((1, -1), key=lambda s: len(sides[s]))].append(number)
    step = SIZE * 1.9
    for sign, anchor in ((-1, "end"), (1, "start")):
        side = sorted(sides[sign], key=lambda number: (spots[number][1], number))
        edge = cx + sign * reach
        for place, number in enumerate(side):
            line = cy - step * (len(side) - 1) / 2 + place * step
            x, y = spots[number]
            to = (edge - sign, line)
            share = _DISC / max(math.dist((x, y), to), _DISC)
            start = (round(x + share * (to[0] - x), 3), round(y + share * (to[1] - y), 3))
            sheet.line(start, to, stroke=FAINT, width=0.12)
            words = f"{number} {names[number]}"
            sheet.text(edge, line + SIZE * 0.36, words, SIZE, anchor, _ink(names[number]))

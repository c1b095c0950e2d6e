"""The connector seen three ways: its mating face, the component side, the solder side."""

from __future__ import annotations

import math

from boardgen.board.model import Board, PartKind
from boardgen.catalog.model import Connector, Mounting
from boardgen.design.model import ContactKind
from boardgen.export.bundle import Bundle
from boardgen.export.page import MARGIN, page
from boardgen.export.sheet import XY, Sheet
from boardgen.palette import BODY, FAINT, INK, MARK


def connector_sheet(bundle: Bundle) -> Sheet:
    """Return the connector's views: mating face, component side, solder side, with the signal table."""
    connector = bundle.bound.connector
    sheet = page(
        bundle,
        "Connector views",
        "Hold the device's plug beside the mating face before anything is powered."
        " Numbers are the connector's own.",
    )
    sheet.text(
        MARGIN, 27, f"{connector.name}: {connector.manufacturer} {connector.mpn}, {connector.gender}", 3
    )
    draw_face(sheet, connector, 12, 32, 180, 46)
    draw_connector_pads(sheet, bundle.board, connector, False, 12, 84, 180, 50)
    draw_connector_pads(sheet, bundle.board, connector, True, 12, 140, 180, 50)
    _signal_table(sheet, bundle)
    return sheet


def _spread(points: list[tuple[float, float]], w: float, h: float) -> tuple[float, float, float]:
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    wide, high = max(xs) - min(xs), max(ys) - min(ys)
    scale = min(4.0, (w - 24) / max(wide, 1.0), (h - 24) / max(high, 1.0))
    return (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2, scale


def draw_face(sheet: Sheet, connector: Connector, x: float, y: float, w: float, h: float) -> dict[str, XY]:
    """Draw the mating face into a box of the sheet; return where each contact is (all in mm on paper)."""
    sheet.text(x, y + 3, "MATING FACE (looking into the connector on the board)", 3.2, bold=True)
    points = [(c.at.x.mm, c.at.y.mm) for c in connector.contacts]
    mx, my, scale = _spread(points, w, h - 6)
    cx, cy = x + w / 2, y + h / 2 + 5
    half_w = max(abs(px - mx) for px, _ in points) * scale + 7
    half_h = max(abs(py - my) for _, py in points) * scale + 7
    _shell(sheet, connector, cx, cy, half_w, half_h, points, (mx, my, scale))
    spots = {
        contact.number: (cx + (px - mx) * scale, cy + (py - my) * scale)
        for contact, (px, py) in zip(connector.contacts, points, strict=True)
    }
    for number, spot in spots.items():
        _contact(sheet, number, *spot, scale)
    return spots


def _shell(
    sheet: Sheet,
    connector: Connector,
    cx: float,
    cy: float,
    half_w: float,
    half_h: float,
    points: list[tuple[float, float]],
    fit: tuple[float, float, float],
) -> None:
    """The shell's outline by family: a D, a ring with its key, a box with its slot, else a plain box."""
    mx, my, scale = fit
    if connector.family.startswith("dsub"):
        slope = min(half_h * 0.35, 6.0)  # the D's narrow side is below, as the face is stored
        corners = (
            (cx - half_w, cy - half_h), (cx + half_w, cy - half_h),
            (cx + half_w - slope, cy + half_h), (cx - half_w + slope, cy + half_h),
        )  # fmt: skip
        sheet.ring(corners, INK, 0.5, BODY)
    elif connector.family in ("din", "mini-din"):
        radius = max(math.hypot(px, py) for px, py in points) * scale + 5
        ox, oy = cx - mx * scale, cy - my * scale
        sheet.disc(ox, oy, radius, INK, 0.5, BODY)
        sheet.box(ox - 2.2, oy - radius, 4.4, 2.6, INK, 0.35, "#ffffff")
        sheet.text(ox, oy - radius - 1.2, "key", 2.4, "middle")
    else:
        sheet.box(cx - half_w, cy - half_h, 2 * half_w, 2 * half_h, INK, 0.5, BODY)
        if connector.family == "box-header":
            low = connector.contacts[0].at.y.mm > my  # the slot is on contact 1's side
            edge = cy + half_h if low else cy - half_h
            sheet.box(cx - 2.05 * scale, edge - 0.8, 4.1 * scale, 1.6, INK, 0.35, "#ffffff")
            sheet.text(cx, edge + (3.6 if low else -1.8), "key slot", 2.4, "middle")


def _contact(sheet: Sheet, number: str, x: float, y: float, scale: float) -> None:
    first = number in ("1", "A1")
    radius = min(2.6, 0.9 * scale)
    sheet.disc(x, y, radius, MARK if first else INK, 0.5 if first else 0.2, "#ffffff")
    sheet.text(
        x, y + radius * 0.42, number, min(2.6, radius * 1.15), "middle", MARK if first else INK, bold=first
    )


def draw_connector_pads(
    sheet: Sheet, board: Board, connector: Connector, solder: bool, x: float, y: float, w: float, h: float
) -> dict[str, XY]:
    """Draw the connector's pads in its own frame into a box of the sheet; return where each is (mm on paper).

    The solder side is the same seen through the board.
    """
    part = next(p for p in board.parts if p.kind is PartKind.CONNECTOR)
    title = "SOLDER SIDE (the component side mirrored)" if solder else "COMPONENT SIDE (seen from the part)"
    edge = connector.edge
    if edge is not None:
        title += (
            ", mating edge toward you" if connector.mounting is Mounting.RIGHT_ANGLE else ", board edge below"
        )
    sheet.text(x, y + 3, title, 3.2, bold=True)
    sign = -1 if solder else 1
    pads = [(p.number, sign * p.at.x.mm, p.at.y.mm) for p in part.footprint.pads if p.number]
    wanted = set(connector.numbers())
    pads = [row for row in pads if row[0] in wanted]
    mx, my, scale = _spread([(px, py) for _n, px, py in pads], w, h)
    cx, cy = x + w / 2, y + h / 2 + 2
    spots = {number: (cx + (px - mx) * scale, cy + (py - my) * scale) for number, px, py in pads}
    for number, spot in spots.items():
        _contact(sheet, number, *spot, scale)
    half = max(abs(px - mx) for _n, px, _py in pads) * scale + 10
    low = max(py - my for _n, _px, py in pads) * scale + 5.5
    if edge is not None:
        sheet.line((cx - half, cy + low), (cx + half, cy + low), width=0.5, dash=(3.0, 1.5))
        sheet.text(cx + half + 2, cy + low + 1, "board edge", 2.4)
    return spots


def _signal_table(sheet: Sheet, bundle: Bundle) -> None:
    x, y = 200.0, 30.0
    contacts = {c.number: c for c in bundle.bound.design.contacts}
    pins = {c.request.signal: c.pin_name for c in bundle.pinmap.choices}
    numbers = bundle.bound.connector.numbers()
    step = min(4.2, 158 / max(1, len(numbers) + 1))
    size = min(2.5, step * 0.62)
    for dx, head in ((0, "contact"), (14, "signal"), (46, "wire"), (87, "pin")):
        sheet.text(x + dx, y, head, size, "end" if dx == 87 else "start", FAINT)
    for number in numbers:
        y += step
        contact = contacts.get(number)
        used = contact is not None and contact.kind is not ContactKind.UNUSED
        signal = contact.signal if contact and used else ""
        sheet.text(x, y, number, size, bold=True)
        sheet.text(x + 14, y, signal or "open", size, "start", INK if used else FAINT)
        sheet.text(x + 46, y, contact.wire if contact else "", size)
        sheet.text(x + 87, y, pins.get(signal, ""), size, "end")

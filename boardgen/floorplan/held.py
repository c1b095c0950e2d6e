"""A floorplan that stands where an earlier revision, or a person's hand, put it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from shapely import Polygon

from boardgen.board.geometry import outline_polygon
from boardgen.board.model import Keepout, Outline, Part, Placement
from boardgen.design.model import BoundDesign, HoleWish, Stays
from boardgen.floorplan import holes as hole_work
from boardgen.floorplan.frame import EDGES, placed_box, usb_rotation
from boardgen.floorplan.model import Floorplan
from boardgen.floorplan.region import outline_at_origin
from boardgen.footprint.model import Footprint


def held_floorplan(
    bound: BoundDesign,
    catalog_footprint: Callable[[str], Footprint],
    module: Placement | None,
    connector: Placement | None,
    base: Floorplan | None = None,
) -> Floorplan | None:
    """Return the floorplan with module and connector where they are said to stand.

    Outline and mounting holes come from the design's ``[stays]``; whatever is not said is taken from *base*.
    None where something is missing, and where a part is turned by other than quarters. Whether it all fits is
    for the rule check to say.
    """
    design = bound.design
    stays = design.stays
    module = module or (base.module if base is not None else None)
    connector = connector or (base.connector if base is not None else None)
    if module is None or connector is None or module.rotation % 90.0 or connector.rotation % 90.0:
        return None
    outline = _outline(bound, base)
    if outline is None:
        return None
    keepouts = list(_antenna(bound, module, outline))
    wish = design.holes
    holes = base.holes if base is not None else ()
    stood = _holes(stays, wish, catalog_footprint) if stays is not None else None
    if stood is not None:
        holes, heads = stood
        keepouts.extend(heads)
    elif wish is not None and base is None:
        return None
    elif wish is not None:
        keepouts.extend(hole_work.head_keepouts(wish, holes))
    keepouts.extend(design.keepouts)
    words = "Module, connector, outline and mounting holes stand as in the revision before."
    if stays is None:
        words = "Module and connector stand where they were put by hand."
    return Floorplan(
        outline=outline,
        module=module,
        connector=connector,
        holes=holes,
        keepouts=tuple(keepouts),
        module_edge=_edge(module),
        connector_edge=EDGES[int(connector.rotation // 90.0) % 4],
        score=0.0,
        terms=(),
        words=words,
    )


def _holes(
    stays: Stays, wish: HoleWish | None, catalog_footprint: Callable[[str], Footprint]
) -> tuple[tuple[Part, ...], tuple[Keepout, ...]] | None:
    """Return the holes that stay with what their heads keep free, None where nothing is said of them.

    Each has the diameter it had; a head of the design's own goes with holes of the design's diameter.
    """
    widths = stays.hole_diameters or ((wish.diameter,) * len(stays.holes or ()) if wish is not None else ())
    if stays.holes is None or len(widths) != len(stays.holes):
        return None
    found: list[Part] = []
    keepouts: list[Keepout] = []
    rows = sorted(zip(stays.holes, widths, strict=True), key=lambda row: (row[0].y, row[0].x))
    for number, (at, width) in enumerate(rows, 1):
        own = wish if wish is not None and wish.diameter == width else HoleWish(width)
        (part,) = hole_work.hole_parts(own, (at,), hole_work.hole_footprint(own, catalog_footprint))
        part = replace(part, ref=f"H{number}")
        found.append(part)
        keepouts.extend(hole_work.head_keepouts(own, (part,)))
    return tuple(found), tuple(keepouts)


def _outline(bound: BoundDesign, base: Floorplan | None) -> Outline | None:
    stays = bound.design.stays
    if stays is not None and stays.outline is not None:
        return stays.outline
    if base is not None:
        return base.outline
    shape = bound.design.outline.shape
    return None if shape is None else outline_at_origin(shape)


def _edge(module: Placement) -> str:
    return next(edge for edge in EDGES if usb_rotation(edge, module.side) == module.rotation % 360.0)


def _antenna(bound: BoundDesign, module: Placement, outline: Outline) -> list[Keepout]:
    board = outline_polygon(outline)
    found = []
    for area in bound.module.antenna:
        ring = placed_box(area.box, module).corners()
        if Polygon(ring).intersects(board):
            name = f"antenna of the module ({area.name}): no copper on either side"
            found.append(Keepout(tuple(ring), name))
    return found

"""A floorplan that stands where an earlier revision, or a person's hand, put it."""

from __future__ import annotations

from collections.abc import Callable

from shapely import Polygon

from boardgen.board.geometry import outline_polygon
from boardgen.board.model import Keepout, Outline, Placement
from boardgen.design.model import BoundDesign
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
    if stays is not None and stays.holes is not None and wish is not None:
        holes = hole_work.hole_parts(wish, stays.holes, hole_work.hole_footprint(wish, catalog_footprint))
    elif wish is not None and base is None:
        return None
    if wish is not None:
        keepouts.extend(hole_work.head_keepouts(wish, holes))
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

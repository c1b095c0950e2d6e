"""What outline would have done, where a board that was asked for does not route."""

from __future__ import annotations

from dataclasses import replace
from itertools import islice

from boardgen.catalog.load import Catalog
from boardgen.design.model import BoundDesign, OutlineKind
from boardgen.electrical.model import ElectricalPlan
from boardgen.errors import InputError
from boardgen.floorplan.region import outline_size
from boardgen.layout.place import PlacementFailed
from boardgen.pipeline.attempt import attempt
from boardgen.pipeline.candidates import floorplans
from boardgen.pipeline.stopwatch import Stopwatch
from boardgen.units import Size

TRIED = 6  # derived outlines: each takes what a floorplan of the board itself took


def size_that_routes(bound: BoundDesign, catalog: Catalog, plan: ElectricalPlan) -> Size | None:
    """Return the size of the first outline cut to the parts on which *bound* comes out clean.

    None where the outline was not given, where the design holds to an earlier revision's places,
    or where none of a few does. The boards made for it are dropped.
    """
    design = bound.design
    if design.outline.kind is OutlineKind.DERIVED or design.stays is not None:
        return None
    wish = replace(design.outline, kind=OutlineKind.DERIVED, width=None, height=None, shape=None)
    free = replace(bound, design=replace(design, outline=wish))
    watch = Stopwatch()
    try:
        for floorplan in islice(floorplans(free, catalog, plan, watch), TRIED):
            try:
                tried = attempt(free, catalog, plan, floorplan, watch)
            except PlacementFailed:
                continue
            if tried.badness == (0, 0):
                return outline_size(floorplan.outline)
    except InputError:  # the case or the fab class allows none
        return None
    return None

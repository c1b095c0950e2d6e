"""The floorplans worth trying, best first, on wider ground where the least does not do."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from boardgen.board.model import Side
from boardgen.catalog.load import Catalog
from boardgen.design.model import BoundDesign, OutlineKind
from boardgen.electrical.model import ElectricalPlan
from boardgen.errors import InputError
from boardgen.floorplan.job import default_margin
from boardgen.floorplan.model import Floorplan
from boardgen.floorplan.plan import plan_floor
from boardgen.pipeline.stopwatch import Stopwatch
from boardgen.units import ZERO, Nm, format_mm, mm

FLOORPLANS_TRIED = 6
# A derived outline that does not route is widened by this all round, fewer floorplans at a time: on one
# copper side wire links and detours need ground that the least board has not (3 of 10 floorplans of a
# board with two lamp drivers route at 4 mm more, 8 of 10 at 7 mm more, none at the least).
WIDENED_BY = (ZERO, mm(4), mm(7))
ONE_SIDE_WIDENED_BY = (ZERO, mm(4), mm(7), mm(12), mm(18), mm(25))
WIDENED_TRIED = 2
FAR_WIDENED = mm(12)  # from here on a board of one side gets as many: more ground alone has not helped it
BELOW_TRIED = 2  # with the module under the board, where none with it on top is clean
ONE_SIDE_TRIED = 4  # routing with wire links takes seconds


def floorplans(
    bound: BoundDesign, catalog: Catalog, plan: ElectricalPlan, watch: Stopwatch
) -> Iterator[Floorplan]:
    """Yield the floorplans worth trying, best first; those on a widened outline last.

    Raises InputError where the parts stand nowhere on the outline that is asked for.
    """
    wish = bound.design.outline
    two = bound.fab.copper_layers > 1
    if wish.kind is not OutlineKind.DERIVED:
        yield from _on_outline(bound, catalog, plan, watch, FLOORPLANS_TRIED if two else ONE_SIDE_TRIED)
        return
    for more in WIDENED_BY if two else ONE_SIDE_WIDENED_BY:
        margin = Nm((default_margin(bound) if wish.margin is None else wish.margin) + more)
        wider = replace(bound, design=replace(bound.design, outline=replace(wish, margin=margin)))
        place = wider if more else bound
        most = WIDENED_TRIED if two or more >= FAR_WIDENED else 1
        try:
            for floorplan in _on_outline(place, catalog, plan, watch, most):
                yield _said(floorplan, more)
        except InputError:
            if not more:
                raise
            return  # the case or the fab class ends it


def _on_outline(
    bound: BoundDesign, catalog: Catalog, plan: ElectricalPlan, watch: Stopwatch, most: int
) -> Iterator[Floorplan]:
    """Yield up to *most* floorplans with the module on top, then the best two with it below the board."""
    refused: InputError | None = None
    found = False
    for side, count in zip(_sides(bound), (most, BELOW_TRIED), strict=False):
        with watch.stage("floorplan"):
            try:
                candidates = plan_floor(bound, plan, catalog.footprint, (side,))
            except InputError as error:
                refused = refused or error
                continue
        found = True
        yield from candidates[:count]
    if refused is not None and not found:
        raise refused


def _said(floorplan: Floorplan, more: Nm) -> Floorplan:
    if not more:
        return floorplan
    words = (
        f"The outline is {format_mm(more)} mm wider all round than the parts need: "
        "on less, some net or part found no room."
    )
    return replace(floorplan, words=f"{floorplan.words} {words}".strip())


def _sides(bound: BoundDesign) -> tuple[Side, ...]:
    """The sides a module may stand on, the handier first; parts soldered from below stand on top."""
    return (Side.TOP, Side.BOTTOM) if bound.fab.copper_layers > 1 else (Side.TOP,)

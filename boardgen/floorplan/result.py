"""From a scored arrangement to a floorplan on the board."""

from __future__ import annotations

from boardgen.board.model import Keepout, Outline, Part, rectangle_outline
from boardgen.design.model import BoundDesign, OutlineKind
from boardgen.floorplan import holes as hole_work
from boardgen.floorplan.frame import placed_box
from boardgen.floorplan.holewords import hole_words
from boardgen.floorplan.model import Floorplan
from boardgen.floorplan.refusal import size_words
from boardgen.floorplan.region import outline_at_origin
from boardgen.floorplan.score import Scored
from boardgen.floorplan.search import Pair
from boardgen.footprint.model import Footprint
from boardgen.units import Nm


def floorplan_of(
    item: Scored,
    pair: Pair,
    bound: BoundDesign,
    radius: Nm,
    hole_print: Footprint | None,
    runner_up: Scored | None,
) -> Floorplan:
    """Return the floorplan of *item*.

    *hole_print* is the mounting holes' footprint; *runner_up* is compared with in words.
    """
    made = item.made
    turn = made.turn
    wish = bound.design.holes
    holes: tuple[Part, ...] = ()
    keepouts: list[Keepout] = []
    for area in pair.module.antenna:
        box = placed_box(area.box, made.module)
        if made.region.clear_of(box):
            continue
        ring = tuple(turn.point(corner) for corner in box.corners())
        keepouts.append(Keepout(ring, f"antenna of the module ({area.name}): no copper on either side"))
    if wish is not None and hole_print is not None:
        places = tuple(turn.point(at) for at in made.holes)
        holes = hole_work.hole_parts(wish, places, hole_print)
        keepouts.extend(hole_work.head_keepouts(wish, holes))
    keepouts.extend(bound.design.keepouts)
    words = _words(item, pair, runner_up)
    if wish is not None and made.holes:
        parts = [
            ("module", placed_box(pair.module_room.room, made.module)),
            ("connector", placed_box(pair.connector_room.room, made.connector)),
        ]
        words = f"{words} {hole_words(made.region, turn, wish, made.holes, parts)}"
    connector_edge = turn.edge("bottom") if pair.connector_edge else ""
    return Floorplan(
        outline=_outline(item, bound, radius),
        module=turn.placement(made.module),
        connector=turn.placement(made.connector),
        holes=holes,
        keepouts=tuple(keepouts),
        module_edge=turn.edge(made.front) if pair.has_jack else "",
        connector_edge=connector_edge,
        score=item.score,
        terms=item.terms,
        words=words,
    )


def _outline(item: Scored, bound: BoundDesign, radius: Nm) -> Outline:
    wish = bound.design.outline
    if wish.kind is OutlineKind.POLYGON and wish.shape is not None:
        return outline_at_origin(wish.shape)
    size = item.made.turn.board_size
    box = item.made.region.box
    if size != item.made.region.size:
        box = type(box)(box.left, box.top, size.w, size.h)
    return rectangle_outline(box, radius)


def stance(item: Scored, pair: Pair) -> str:
    """Return in words how the module stands to the connector."""
    made = item.made
    body = placed_box(pair.module.body, made.module)
    lying = body.width >= body.height
    where = "beside the connector" if made.beside else "behind the connector"
    way = "lengthwise along it" if lying is not made.beside else "at a right angle to it"
    if not pair.has_jack:
        return f"the module stands {where}, {way}"
    edge = made.turn.edge(made.front)
    return f"the module stands {where}, {way}, its USB at the {edge} edge"


def _words(item: Scored, pair: Pair, runner_up: Scored | None) -> str:
    terms = dict(item.terms)
    text = (
        f"On {size_words(item.made.turn.board_size)}, {stance(item, pair)}: "
        f"{terms.get('wire', 0.0):.0f} mm of straight wire"
    )
    if item.crossings:
        text += f", {item.crossings} crossing{'s' if item.crossings != 1 else ''} of straight lines"
    if runner_up is not None and runner_up is not item:
        text += (
            f". The next of another kind ({size_words(runner_up.made.turn.board_size)}, "
            f"{stance(runner_up, pair)}) scores {runner_up.score:.0f} against {item.score:.0f}"
        )
    return text + "."

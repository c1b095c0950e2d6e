"""Arrangements of the two big parts in a region, all rules checked (canonical frame).

The connector stands at the bottom edge with its front down (or inside, if it
is a straight one); the module is tried with its USB end at each edge.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from boardgen.board.model import Placement, Side
from boardgen.catalog.model import Connector, FabClass, Module
from boardgen.design.model import HoleWish
from boardgen.floorplan import holes
from boardgen.floorplan.frame import Turn, apart, placed_box, usb_rotation
from boardgen.floorplan.region import Region
from boardgen.floorplan.rooms import (
    GRID,
    PartRoom,
    common_residue,
    connector_room,
    edge_slack,
    mate_box,
    module_room,
    plug_box,
    snapped,
    turned_pads,
)
from boardgen.footprint.model import Footprint
from boardgen.units import ORIGIN, ZERO, Box, Nm, Point, Size, mm

NEAR_ENOUGH = mm(1)  # a range narrower than this has one place worth trying
USB_EDGES = ("left", "right", "top", "bottom")


@dataclass(frozen=True, slots=True)
class Spacing:
    """*margin*: courtyard to board edge; *channel*: between the two rooms, for tracks and small parts."""

    margin: Nm
    channel: Nm


class Pair:
    """Module and connector with everything the search asks of them, worked out once."""

    def __init__(
        self,
        module: Module,
        connector: Connector,
        fab: FabClass,
        module_print: Footprint,
        connector_print: Footprint,
        side: Side = Side.TOP,
    ) -> None:
        self.module = module
        self.connector = connector
        self.side = side
        self.module_room: PartRoom = module_room(module, module_print, fab.edge_copper_min)
        self.connector_room: PartRoom = connector_room(connector, connector_print, fab.edge_copper_min)
        self.slack: Nm = Nm(min(int(edge_slack(module, self.module_room)), int(GRID)))
        self.plug = plug_box(module, self.module_room)
        self.mate = mate_box(connector, self.connector_room)
        pads = turned_pads(connector_print, 0.0, Side.TOP)
        self.connector_residues = (common_residue(p.x for p in pads), common_residue(p.y for p in pads))
        self._module_residues: dict[str, tuple[int, int]] = {}
        for edge in USB_EDGES:
            turned = turned_pads(module_print, usb_rotation(edge, side), side)
            rests = (common_residue(p.x for p in turned), common_residue(p.y for p in turned))
            self._module_residues[edge] = rests

    @property
    def has_jack(self) -> bool:
        """Whether the module has a USB end that must stand at an edge."""
        return self.module_room.edge is not None

    @cached_property
    def connector_edge(self) -> bool:
        """Whether the connector stands at the edge."""
        return self.connector_room.edge is not None

    def module_at(self, at: Point, front: str) -> Placement:
        """Return the module's placement with its front to *front*."""
        return Placement(at, usb_rotation(front, self.side), self.side)

    def residues(self, front: str) -> tuple[int, int]:
        """Return the grid remainders of the module's pads in x and y."""
        return self._module_residues[front]


@dataclass(frozen=True, slots=True)
class Arrangement:
    """One way to stand module and connector in a region; *holes* are canonical places.

    *front* is where the module's front looks, *beside* whether it stands at the
    connector's side rather than above it.
    """

    region: Region
    turn: Turn
    module: Placement
    connector: Placement
    front: str
    beside: bool
    holes: tuple[Point, ...] = ()


def least_size(pair: Pair, front: str, beside: bool, spacing: Spacing) -> Size:
    """Return the smallest region (nm, canonical) the two rooms need, holes and small parts left out.

    The sum of depths and margins along each axis, plus one grid step for snapping.
    """
    module = placed_box(pair.module_room.inside(), pair.module_at(ORIGIN, front))
    connector = pair.connector_room.inside()
    margin = spacing.margin
    at_edge = front if pair.has_jack else ""
    side_margins = margin * (1 if at_edge in ("left", "right") else 2)
    upright_margins = margin * (1 if at_edge in ("top", "bottom") else 2)
    foot = margin * (1 if pair.connector_edge else 2)
    if beside:
        width = connector.width + spacing.channel + module.width + side_margins
        height = max(int(connector.height + foot), int(module.height + upright_margins))
    else:
        width = Nm(max(int(connector.width + margin * 2), int(module.width + side_margins)))
        height = connector.height + spacing.channel + module.height
        height += (ZERO if pair.connector_edge else margin) + (ZERO if at_edge == "top" else margin)
    return Size(Nm(int(width) + GRID), Nm(int(height) + GRID))


def _three(low: int, high: int, wanted: int | None = None) -> list[int]:
    """Low, middle and high end of a range, and a wanted place inside it; empty for an empty range."""
    if low > high:
        return []
    places = [(low + high) // 2]
    if high - low >= NEAR_ENOUGH:
        places += [low, high]
    if wanted is not None and low <= wanted <= high:
        places.append(wanted)
    return list(dict.fromkeys(places))


def _range(box: Box, whole: Box, margin: int) -> tuple[int, int, int, int]:
    """Return the least and greatest origin (x, then y) that keeps *box*, about its origin, inside."""
    return (
        int(whole.left + margin - box.left),
        int(whole.right - margin - box.right),
        int(whole.top + margin - box.top),
        int(whole.bottom - margin - box.bottom),
    )


def _connectors(
    pair: Pair, region: Region, spacing: Spacing, origin: Point, cut: bool
) -> Iterator[Placement]:
    room = pair.connector_room
    inside = room.inside()
    rest_x, rest_y = pair.connector_residues
    if room.edge is not None:
        for span in region.edges("bottom")[:3]:
            low, high = span.low + spacing.margin - inside.left, span.high - spacing.margin - inside.right
            depth = span.at - room.edge
            for x in _three(int(low), int(high)):
                yield Placement(Point(snapped(x, rest_x, int(origin.x), int(low), int(high)), depth))
        return
    low_x, high_x, low_y, high_y = _range(inside, region.box, spacing.margin)
    # On a board cut to its parts the connector always stands at the foot.
    for y in [high_y] if cut else _three(low_y, high_y)[::-1]:
        for x in _three(low_x, high_x):
            at = Point(
                snapped(x, rest_x, int(origin.x), low_x, high_x),
                snapped(y, rest_y, int(origin.y), low_y, high_y),
            )
            yield Placement(at)


def _modules(
    pair: Pair, region: Region, spacing: Spacing, origin: Point, front: str, connector: Placement
) -> Iterator[Placement]:
    unplaced = pair.module_at(ORIGIN, front)
    inside = placed_box(pair.module_room.inside(), unplaced)
    rest_x, rest_y = pair.residues(front)
    low_x, high_x, low_y, high_y = _range(inside, region.box, spacing.margin)
    other = placed_box(pair.connector_room.inside(), connector)
    near_x = int(other.centre.x - inside.centre.x)
    near_y = int(other.top - spacing.channel - inside.bottom)
    beside = (
        int(other.left - spacing.channel - inside.right),
        int(other.right + spacing.channel - inside.left),
    )

    def across(low: int, high: int) -> list[Nm]:
        wanted = _three(low, high, near_x) + [x for x in beside if low <= x <= high]
        return [snapped(x, rest_x, int(origin.x), low, high) for x in wanted]

    def down(low: int, high: int) -> list[Nm]:
        # Never snapped towards the connector: the channel is kept.
        wanted = _three(low, high, near_y)
        cap = near_y if low <= near_y <= high else high
        return [snapped(y, rest_y, int(origin.y), low, cap if y <= cap else high) for y in wanted]

    if pair.module_room.edge is None:
        for y in down(low_y, high_y):
            for x in across(low_x, high_x):
                yield pair.module_at(Point(x, y), front)
        return
    line = unplaced.place(Point(ZERO, pair.module_room.edge))
    slack = int(pair.slack)
    for span in region.edges(front)[:3]:
        if front in ("top", "bottom"):
            base = int(span.at - line.y)
            lower, upper = (base, base + slack) if front == "top" else (base - slack, base)
            y = snapped(base, rest_y, int(origin.y), lower, upper)
            low = int(span.low + spacing.margin - inside.left)
            high = int(span.high - spacing.margin - inside.right)
            for x in across(low, high):
                yield pair.module_at(Point(x, y), front)
        else:
            base = int(span.at - line.x)
            lower, upper = (base, base + slack) if front == "left" else (base - slack, base)
            x = snapped(base, rest_x, int(origin.x), lower, upper)
            low = int(span.low + spacing.margin - inside.top)
            high = int(span.high - spacing.margin - inside.bottom)
            for y in down(low, high):
                yield pair.module_at(Point(x, y), front)


def fault(pair: Pair, spacing: Spacing, made: Arrangement) -> str:
    """Return what is wrong with an arrangement, holes left aside, or "" (one sentence's part)."""
    region = made.region
    module_in = placed_box(pair.module_room.inside(), made.module)
    connector_in = placed_box(pair.connector_room.inside(), made.connector)
    if not region.takes(connector_in, "bottom" if pair.connector_edge else "", spacing.margin):
        return "the connector does not fit on the outline"
    if not region.takes(module_in, made.front if pair.has_jack else "", spacing.margin):
        return "the module does not fit on the outline"
    module = placed_box(pair.module_room.room, made.module)
    connector = placed_box(pair.connector_room.room, made.connector)
    if apart(module, connector) < 0:
        return "module and connector overlap"
    if apart(module_in, connector_in) < spacing.channel:
        return "no channel is left between module and connector"
    plug = None if pair.plug is None else placed_box(pair.plug, made.module)
    mate = None if pair.mate is None else placed_box(pair.mate, made.connector)
    if plug is not None:
        if not region.clear_of(plug):
            return "the board stands in the way of the USB plug"
        if apart(plug, connector) < 0 or (mate is not None and apart(plug, mate) < 0):
            return "the USB plug meets the connector or its mate"
    if mate is not None:
        if not region.clear_of(mate):
            return "the board stands in the way of the connector's mate"
        if apart(mate, module) < 0:
            return "the module stands in the way of the connector's mate"
    return ""


def arrangements(
    pair: Pair,
    region: Region,
    turn: Turn,
    spacing: Spacing,
    fronts: tuple[str, ...],
    faults: dict[str, int],
    cut: bool = False,
) -> Iterator[Arrangement]:
    """Yield every arrangement tried that keeps the rules, each once, holes not yet placed.

    *faults* counts what stood in the way of the others; *cut* says that the region
    was made for the parts, which needs fewer places.
    """
    origin = turn.back(ORIGIN)
    seen: set[tuple[Placement, Placement]] = set()
    for connector in _connectors(pair, region, spacing, origin, cut):
        connector_in = placed_box(pair.connector_room.inside(), connector)
        for front in fronts:
            for module in _modules(pair, region, spacing, origin, front, connector):
                if (module, connector) in seen:
                    continue
                seen.add((module, connector))
                module_in = placed_box(pair.module_room.inside(), module)
                beside = module_in.bottom > connector_in.top
                made = Arrangement(region, turn, module, connector, front, beside)
                wrong = fault(pair, spacing, made)
                if wrong:
                    faults[wrong] = faults.get(wrong, 0) + 1
                else:
                    yield made


def place_holes(pair: Pair, made: Arrangement, wish: HoleWish) -> tuple[tuple[Point, ...] | None, str]:
    """Return canonical places for the holes of *wish*, or None with the reason."""
    module = placed_box(pair.module_room.room, made.module)
    connector = placed_box(pair.connector_room.room, made.connector)
    if wish.at is None:
        places = holes.corner_places(made.region, wish, [module, connector])
        return places, "" if places is not None else "no room is left for the mounting holes"
    at = tuple(made.turn.back(point) for point in wish.at)
    wrong = holes.clash(made.region, wish, at, [("module", module), ("connector", connector)])
    return (None, wrong) if wrong else (at, "")

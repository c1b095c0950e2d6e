"""Placement of the small parts: netlist and floorplan in, a board without copper out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from boardgen.board.model import Board, NetClass, NetKind, Part, PartKind, Placement, Side
from boardgen.circuit.model import CircuitPart, Netlist
from boardgen.design.model import BoundDesign
from boardgen.electrical.rails import rail_loads
from boardgen.electrical.widths import ipc2221_width
from boardgen.errors import BoardgenError
from boardgen.floorplan.model import Floorplan
from boardgen.floorplan.rooms import SOCKET_HEIGHT
from boardgen.footprint.model import PadKind
from boardgen.layout.fronts import front_of
from boardgen.layout.held import standing
from boardgen.layout.place_grid import GRID, Grid, step_for
from boardgen.layout.place_room import Room, make_room, with_parts
from boardgen.layout.place_search import Search
from boardgen.layout.place_shape import Maker, Mover, board_part
from boardgen.layout.place_standing import Gaps
from boardgen.layout.serving import serving_of
from boardgen.units import Nm, mm

WIDE = (mm("1"), mm("0.5"))  # room for tracks beside the pad rows, and between parts
NARROW = (mm("0.5"), mm("0.25"))
# On one copper side tracks go round each part, and the pads of wire links stand between them.
ONE_SIDE = ((mm(4), mm(4)), (mm("2.5"), mm("2.5")))
RETRIES = 3  # orders tried before the distances shrink: the part that failed goes first

Pins = dict[str, list[tuple[int, int]]]


class PlacementFailed(BoardgenError):
    """A small part found no room on this floorplan; another may have it."""

    def __init__(self, ref: str, value: str) -> None:
        self.ref = ref
        super().__init__(f"there is no room for {ref} ({value}) on this outline")


def place_parts(bound: BoundDesign, netlist: Netlist, floorplan: Floorplan) -> Board:
    """Return the board with every part in place and no copper yet.

    Module and connector stand where *floorplan* says; small parts go on the
    top beside their anchors, or where they stood before, first pads on the 0.254 mm grid, courtyards
    apart, inside the outline by the fab's copper-to-edge distance. Raises
    PlacementFailed where a part finds no room.
    """
    big: dict[PartKind, Part] = {}
    small: list[CircuitPart] = []
    for item in netlist.parts:
        if item.kind is PartKind.MODULE:
            part = board_part(item, floorplan.module)
            big[item.kind] = replace(part, standoff=SOCKET_HEIGHT) if bound.design.socketed else part
        elif item.kind is PartKind.CONNECTOR:
            part = board_part(item, floorplan.connector)
            big[item.kind] = replace(part, front=front_of(bound.connector))
        else:
            small.append(item)
    module, connector = big[PartKind.MODULE], big[PartKind.CONNECTOR]
    room = make_room(bound, floorplan, module, connector)
    held = standing(bound, floorplan, (module, connector), small)
    stood = [board_part(part, held[part.ref]) for part in small if part.ref in held]
    room = with_parts(room, stood, int(bound.fab.courtyard_gap_min))
    free = [part for part in small if part.ref not in held]
    placements = held | _placements(bound, netlist, room, (module, connector), stood, free)
    parts = tuple(
        big[item.kind]
        if item.kind in big
        else replace(board_part(item, placements[item.ref]), serves=serving_of(netlist, item))
        for item in netlist.parts
    )
    design, fab = bound.design, bound.fab
    return Board(
        name=design.name,
        revision=design.revision,
        title=design.title,
        outline=floorplan.outline,
        parts=(*parts, *floorplan.holes),
        nets=netlist.nets,
        classes=net_classes(bound),
        keepouts=floorplan.keepouts,
        copper=(Side.BOTTOM,) if fab.copper_layers == 1 else (Side.TOP, Side.BOTTOM),
        plated=fab.plated,
        thickness=fab.thickness,
    )


def net_classes(bound: BoundDesign) -> tuple[NetClass, ...]:
    """Return the classes "signal", "supply" and "ground" with the fab's widths.

    Supply and ground are as wide as the fab's supply track, wider where the
    largest rail's load asks for it (IPC-2221, 10 K, outer layer).
    """
    fab = bound.fab
    total = sum(amps for _, amps in rail_loads(bound.design))
    supply = max(fab.supply_track, supply_least(bound))
    ground = max(supply, _up(ipc2221_width(total, copper_um=fab.copper_um)))
    return (
        NetClass(NetKind.SIGNAL.value, fab.track, fab.gap),
        NetClass(NetKind.SUPPLY.value, supply, fab.gap),
        NetClass(NetKind.GROUND.value, ground, fab.gap),
    )


def supply_least(bound: BoundDesign) -> Nm:
    """Return the width that the largest rail's load asks of a supply track (IPC-2221, 10 K, outer layer)."""
    load = max((amps for _, amps in rail_loads(bound.design)), default=0.0)
    return _up(ipc2221_width(load, copper_um=bound.fab.copper_um))


def _up(width: Nm) -> Nm:
    """Round up to whole hundredths of a mm, as widths are written."""
    step = mm("0.01")
    return Nm(-(-width // step) * step)


def _placements(
    bound: BoundDesign,
    netlist: Netlist,
    room: Room,
    big: tuple[Part, Part],
    stood: Sequence[Part],
    small: Sequence[CircuitPart],
) -> dict[str, Placement]:
    """Return places for the *small* parts; *big* are module and connector, *stood* small parts in place."""
    if not small:
        return {}
    module, connector = big
    poured = (net.name for net in netlist.nets if net.kind is NetKind.GROUND and bound.design.ground_pour)
    ignored = frozenset(poured)
    on_module, on_connector = _pins(module), _pins(connector)
    pins: Pins = {}
    for source in (on_module, on_connector, *map(_pins, stood)):
        for net, points in source.items():
            if net not in ignored:
                pins.setdefault(net, []).extend(points)
    wires = _straight_wires(on_module, on_connector, ignored)
    maker = Maker(ignored)
    movers = [
        maker.mover(part, _side(bound, part), anchor)
        for part in small
        for anchor in [_served(part, stood, ignored) or _anchor(part, connector, on_module, ignored)]
    ]
    index = {part.ref: i for i, part in enumerate(small)}
    movers = [replace(m, beside=index.get(m.part.beside)) for m in movers]
    floor = int(bound.fab.courtyard_gap_min)
    first = sorted(range(len(movers)), key=lambda i: (-_ties(movers[i]), -movers[i].area, i))
    failed = first[0]
    found: dict[str, Placement] = {}
    least = len(movers) + 1  # capacitors that stand far from their chips
    step = step_for(room.bounds)
    levels = [(WIDE, step), (NARROW, step), ((floor, floor), step), ((floor, floor), GRID)]
    if bound.fab.copper_layers == 1:
        levels = [*((room, step) for room in ONE_SIDE), *levels]
    for (around, between), pitch in levels:
        order = list(first)
        grid = Grid(room, pitch, wires)
        gaps = Gaps(max(int(around), floor), max(int(between), floor))
        for _ in range(RETRIES):
            search = Search(grid, gaps, pins, movers)
            missing = search.run(order)
            if missing is None:
                far = search.far_off()
                if far < least:  # narrower distances are worth it where they bring capacitors to their chips
                    least = far
                    found = {
                        movers[i].part.ref: movers[i].placement(turn, *grid.place(column, row))
                        for i, (turn, column, row) in search.spots.items()
                    }
                break
            failed = missing
            first_on = movers[missing].beside  # a capacitor is placed right after its chip
            first_on = missing if first_on is None else first_on
            if order[0] == first_on:
                break
            order.remove(first_on)
            order.insert(0, first_on)
        if least == 0:
            break
    if found:
        return found
    part = movers[failed].part
    raise PlacementFailed(part.ref, part.value)


def _ties(mover: Mover) -> int:
    """How many nets pull the part: those between two things go first."""
    return len({net for net, _, _ in mover.turns[0].pads})


def _side(bound: BoundDesign, part: CircuitPart) -> Side:
    """The top, but for a surface part where the only copper is on the bottom."""
    surface = any(pad.kind is PadKind.SURFACE for pad in part.footprint.pads)
    return Side.BOTTOM if surface and bound.fab.copper_layers == 1 else Side.TOP


def _pins(part: Part) -> Pins:
    found: Pins = {}
    for pad in part.footprint.pads:
        net = part.net_of(pad.number) if pad.kind is not PadKind.UNPLATED else None
        if net is not None:
            at = part.placement.place(pad.at)
            found.setdefault(net, []).append((int(at.x), int(at.y)))
    return found


def _straight_wires(
    one: Pins, other: Pins, ignored: frozenset[str]
) -> list[tuple[float, float, float, float]]:
    """The shortest line of each net that joins module and connector."""
    wires = []
    for net in sorted(one.keys() & other.keys() - ignored):
        pairs = [((a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2, a, b) for a in one[net] for b in other[net]]
        _, a, b = min(pairs)
        wires.append((float(a[0]), float(a[1]), float(b[0]), float(b[1])))
    return wires


def _served(part: CircuitPart, stood: Sequence[Part], ignored: frozenset[str]) -> tuple[int, int] | None:
    """The pad of the part it serves, where that stands already: of their first common net."""
    for other in stood:
        if other.ref == part.beside:
            pins = _pins(other)
            nets = [pin.net for pin in part.pins if pin.net in pins and pin.net not in ignored]
            return pins[nets[0]][0] if nets and nets[0] is not None else None
    return None


def _anchor(
    part: CircuitPart, connector: Part, on_module: Pins, ignored: frozenset[str]
) -> tuple[int, int] | None:
    """The pad of the contact the part belongs beside, or the module pin of its first net."""
    if part.near:
        for pad in connector.footprint.numbered(part.near):
            at = connector.placement.place(pad.at)
            return int(at.x), int(at.y)
    nets = sorted({pin.net for pin in part.pins if pin.net is not None and pin.net not in ignored})
    # a signal says more about where a part belongs than a rail, which many share
    nets.sort(key=lambda net: (len(on_module.get(net, ())), net))
    for net in nets:
        if on_module.get(net):
            return on_module[net][0]
    return None

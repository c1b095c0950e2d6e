"""The resistive mesh of one net, solved: what the finished copper loses on the way to each load."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from boardgen.board.model import Board
from boardgen.catalog.model import FabClass
from boardgen.matching import connected
from boardgen.measure.copper import NetCopper, net_copper, on_contacts
from boardgen.measure.material import BOARD_C, sheet_ohms
from boardgen.measure.model import Drop, Load, LoadDrop, Terminal
from boardgen.measure.nodal import Network, solve
from boardgen.measure.triangles import (
    Bools,
    Edges,
    Floats,
    Ints,
    Triangles,
    doubled_area,
    edges_of,
    halve,
    triangulate,
)
from boardgen.units import Nm, mm

PITCH = mm(4)  # of the grid the first mesh is cut by
TOLERANCE = 0.08  # share of the whole loss that may be left to extrapolation
MISSED = 0.043  # watts missed per residual, in ohms a square: 0.034 to 0.054 on the grounds of five boards
REFINED = 0.7  # share of the squared residual whose triangles are halved in one pass
BALANCED = 1e-6  # residual below which a mesh is perfect: a field that linear elements hold exactly
MOST_NODES = 60_000
LEAST_PASSES, MOST_PASSES = 4, 24  # the very first mesh may be too coarse to see what it misses


@dataclass(frozen=True, slots=True)
class _Pass:
    """One solution: volts below the sources at each load, its own ohms, and what current is unbalanced.

    *residual* is a sum of squares over edges, in squares of the whole current.
    """

    volts: Floats
    ohms: Floats
    residual: float
    worst_triangles: Bools
    nodes: int


def supply_drop(
    board: Board,
    net: str,
    sources: tuple[Terminal, ...],
    loads: tuple[Load, ...],
    fab: FabClass,
    pitch: Nm = PITCH,
    tolerance: float = TOLERANCE,
    celsius: float = BOARD_C,
) -> Drop:
    """Return what *net* loses between *sources* (one potential) and each of *loads*, all drawing at once.

    Linear finite elements on the net's exact copper (``fab.copper_um`` thick, at
    *celsius*), the barrels of plated holes between the sides. The mesh starts
    from a grid of *pitch* and is refined where the current's flow across edges
    does not balance, until what extrapolation to a perfect mesh adds is within
    *tolerance* of the whole loss. Elements can only understate a loss; the figures
    are the extrapolated ones, good to about a fifth of what was added. Ground is
    measured the same way, the loads being where current comes back. Raises
    ValueError for a terminal the net has not.
    """
    copper = net_copper(board, net, celsius)
    ends = [_end(copper, net, Terminal(load.ref, load.pad)) for load in loads]
    starts = [_end(copper, net, source) for source in sources]
    potentials = _potentials(copper, starts)
    mesh = _first_mesh(copper, float(pitch))
    ohms = sheet_ohms(fab.copper_um, celsius)
    amps = np.array([load.amps for load in loads], dtype=float)
    drive = amps if amps.any() else np.ones(len(loads))
    first: _Pass | None = None
    for count in range(1, MOST_PASSES + 1):
        edges = edges_of(mesh)
        now = _solve_once(copper, mesh, edges, potentials, (starts, ends), drive, ohms)
        first = first or now
        volts, rest = _extrapolated(now, first, drive, ohms)
        done = rest <= tolerance and (count >= LEAST_PASSES or rest == 0.0)
        if done or now.nodes > MOST_NODES or not now.worst_triangles.any():
            break
        mesh = halve(mesh, edges, now.worst_triangles)
    scale = np.divide(volts, now.volts, out=np.ones_like(volts), where=now.volts > 0)
    rows = tuple(
        LoadDrop(load, None, None)
        if np.isnan(own)
        else LoadDrop(load, float(lost) if amps.any() else 0.0, float(own * factor))
        for load, lost, own, factor in zip(loads, volts, now.ohms, scale, strict=True)
    )
    return Drop(net, rows, now.nodes, len(mesh.corners), float(rest), celsius)


def _end(copper: NetCopper, net: str, terminal: Terminal) -> int:
    number = copper.terminals.get((terminal.ref, terminal.pad))
    if number is None:
        raise ValueError(f"{terminal.ref} pad {terminal.pad} is not on net {net}")
    return number


def _potentials(copper: NetCopper, starts: list[int]) -> Ints:
    """Return a number per contact, equal where contacts are one potential; the sources are one."""
    equal = [(a, b) for a, b, ohms in copper.joins if ohms == 0.0]
    equal += [(starts[0], other) for other in starts[1:]]
    pairs = np.array(equal, dtype=np.int64).reshape(-1, 2)
    return connected(len(copper.contacts), pairs[:, 0], pairs[:, 1])


def _first_mesh(copper: NetCopper, pitch: float) -> Triangles:
    mesh = triangulate([sheet.polygon for sheet in copper.sheets], pitch)
    owner = np.zeros(len(mesh.points), dtype=np.int64)
    owner[mesh.corners] = mesh.owner[:, None]
    contact = mesh.contact.copy()
    sides = [sheet.side for sheet in copper.sheets]
    for side in dict.fromkeys(sides):
        here = np.flatnonzero(np.array([s is side for s in sides], dtype=bool)[owner])
        contact[here] = on_contacts(copper, side, mesh.points[here])
    return Triangles(mesh.points, mesh.corners, mesh.owner, contact)


def _solve_once(
    copper: NetCopper,
    mesh: Triangles,
    edges: Edges,
    potentials: Ints,
    terminals: tuple[list[int], list[int]],
    amps: Floats,
    ohms: float,
) -> _Pass:
    starts, ends = terminals
    many = int(potentials.max(initial=-1)) + 1
    free = np.cumsum(mesh.contact < 0) - 1 + many
    node = np.where(mesh.contact >= 0, potentials[mesh.contact], free)
    count = many + int((mesh.contact < 0).sum())
    first, second, weight = _sheet_conductances(mesh, ohms)
    joins = [(potentials[a], potentials[b], 1 / r) for a, b, r in copper.joins if r > 0]
    network = Network(
        count,
        np.concatenate([node[first], np.array([a for a, _, _ in joins], dtype=np.int64)]),
        np.concatenate([node[second], np.array([b for _, b, _ in joins], dtype=np.int64)]),
        np.concatenate([weight, np.array([g for _, _, g in joins], dtype=float)]),
    )
    at = potentials[np.array(ends, dtype=np.int64)]
    volts = solve(network, int(potentials[starts[0]]), at, amps)
    field = np.nan_to_num(volts.field[node])
    squares = _residual(mesh, edges, field) / (ohms * float(amps.sum())) ** 2
    order = np.argsort(-squares, kind="stable")
    total = np.cumsum(squares[order])
    worst = np.zeros(len(squares), dtype=bool)
    if len(total) and total[-1] > 0:
        worst[order[: int(np.searchsorted(total, REFINED * total[-1])) + 1]] = True
    return _Pass(volts.field[at], volts.own_ohms, float(squares.sum()), worst, count)


def _sheet_conductances(mesh: Triangles, ohms: float) -> tuple[Ints, Ints, Floats]:
    """Return pairs of points with the conductance between them; a pair may come twice, its parts add up.

    Linear elements: an edge has half the cotangent of the opposite angle from
    each triangle beside it, over the sheet's *ohms* a square.
    """
    points, corners = mesh.points, mesh.corners
    area = doubled_area(points, corners)
    first, second, weight = [], [], []
    for k in range(3):
        i, j, apex = corners[:, (k + 1) % 3], corners[:, (k + 2) % 3], corners[:, k]
        u, v = points[i] - points[apex], points[j] - points[apex]
        first.append(i)
        second.append(j)
        weight.append((u * v).sum(axis=1) / area / 2 / ohms)
    return np.concatenate(first), np.concatenate(second), np.concatenate(weight)


def _residual(mesh: Triangles, edges: Edges, field: Floats) -> Floats:
    """Return per triangle the squared current that does not balance across its edges (residual estimator).

    Across a rim nothing should flow, but at a contact anything may.
    """
    points, corners = mesh.points, mesh.corners
    area = doubled_area(points, corners)
    ends = [points[corners[:, k]] for k in range(3)]
    along = [ends[(k + 1) % 3] - ends[k] for k in range(3)]
    gx = sum(field[corners[:, k]] * -along[(k + 1) % 3][:, 1] for k in range(3)) / area
    gy = sum(field[corners[:, k]] * along[(k + 1) % 3][:, 0] for k in range(3)) / area
    out = np.zeros(len(edges.low))
    for k in range(3):
        out += np.bincount(edges.of[:, k], gx * along[k][:, 1] - gy * along[k][:, 0], len(out))
    contact = mesh.contact[edges.low]
    out[(contact >= 0) & (contact == mesh.contact[edges.high])] = 0.0
    return np.asarray((out**2)[edges.of].sum(axis=1))


def _extrapolated(now: _Pass, first: _Pass, amps: Floats, ohms: float) -> tuple[Floats, float]:
    """Return the volts a perfect mesh would give, and the share of the whole loss that this adds.

    The loss (in watts) that a mesh misses is in step with its residual by nearly
    one factor, :data:`MISSED`. It is shared among the loads as what refinement
    has brought so far.
    """
    volts = np.nan_to_num(now.volts)
    watts = float(amps @ volts)
    if now.residual < BALANCED or watts <= 0:
        return now.volts, 0.0
    missing = MISSED * now.residual * ohms * float(amps.sum()) ** 2
    gained = np.maximum(volts - np.nan_to_num(first.volts), 0.0)
    seen = float(amps @ gained)
    more = gained * (missing / seen) if seen > 0 else volts * (missing / watts)
    return now.volts + more, missing / (watts + missing)

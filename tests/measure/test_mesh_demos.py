"""The demos' own copper: against a finer mesh, balanced, and in step with the copper's thickness."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from demos import DEMOS
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon

from boardgen.board.model import NetKind, PartKind
from boardgen.measure.copper import net_copper
from boardgen.measure.mesh import PITCH, supply_drop
from boardgen.measure.model import Load, Terminal
from boardgen.measure.nodal import SMALL, Network, solve
from boardgen.measure.triangles import doubled_area, edges_of, halve, triangulate


def ends(board, net):
    """The module's pads of a net, and the connector's."""
    found = {}
    for kind in (PartKind.MODULE, PartKind.CONNECTOR):
        part = next(p for p in board.parts if p.kind is kind)
        found[kind] = [Terminal(part.ref, pad) for pad, name in part.nets if name == net]
    return found[PartKind.MODULE], found[PartKind.CONNECTOR]


@pytest.mark.parametrize("name", DEMOS)
def test_ground_agrees_with_a_much_finer_mesh(built, name):
    bundle = built(name).bundle
    sources, contacts = ends(bundle.board, "GND")
    loads = tuple(Load(t.ref, t.pad, 0.1) for t in contacts)
    args = (bundle.board, "GND", tuple(sources), loads, bundle.bound.fab)
    coarse = supply_drop(*args)
    fine = supply_drop(*args, pitch=PITCH // 4, tolerance=0.01)
    assert fine.nodes > 2 * coarse.nodes
    for here, there in zip(coarse.loads, fine.loads, strict=True):
        assert here.volts == pytest.approx(there.volts, rel=0.05)
        assert here.ohms == pytest.approx(there.ohms, rel=0.05)
    assert coarse.worst.volts == pytest.approx(fine.worst.volts, rel=0.03)


@pytest.mark.parametrize("name", DEMOS)
def test_every_net_between_module_and_connector_is_joined(built, name):
    bundle = built(name).bundle
    seen = 0
    for net in bundle.board.nets:
        sources, contacts = ends(bundle.board, net.name)
        if not sources or not contacts or net.kind is NetKind.GROUND:
            continue
        loads = tuple(Load(t.ref, t.pad, 0.01) for t in contacts)
        drop = supply_drop(bundle.board, net.name, tuple(sources), loads, bundle.bound.fab)
        tracks = [t for t in bundle.board.tracks if t.net == net.name]
        longest = sum(t.start.distance(t.end) / t.width for t in tracks) * 1.72e-8 / 35e-6
        pads = sum(name == net.name for part in bundle.board.parts for _, name in part.nets)
        # No way is longer than all the net's tracks; one without branches is shortened by its pads alone.
        assert (0.3 * longest if pads == 2 else 0.0) < drop.worst.ohms < longest + 1e-3
        seen += 1
    assert seen >= 1


def test_thicker_copper_loses_less_in_proportion(built):
    bundle = built("pointer-handset").bundle
    sources, contacts = ends(bundle.board, "3V3")
    args = (bundle.board, "3V3", tuple(sources), tuple(Load(t.ref, t.pad, 0.03) for t in contacts))
    one = supply_drop(*args, bundle.bound.fab).worst
    two = supply_drop(*args, replace(bundle.bound.fab, copper_um=70)).worst
    barrels = len(net_copper(bundle.board, "3V3").joins)
    assert barrels > 0
    assert two.ohms == pytest.approx(one.ohms / 2, rel=0.02)
    assert supply_drop(*args, bundle.bound.fab, celsius=60.0).worst.ohms == pytest.approx(
        one.ohms * 1.156, rel=1e-6
    )


def test_triangles_cover_a_pour_exactly_and_meet_edge_to_edge(built):
    board = built("lecture-keypad").bundle.board
    for sheet in net_copper(board, "GND").sheets:
        mesh = triangulate([sheet.polygon], 3e6)
        for _ in range(3):
            area = doubled_area(mesh.points, mesh.corners) / 2
            assert (area > 0).all()
            assert area.sum() == pytest.approx(sheet.polygon.area, rel=1e-6)
            edges = edges_of(mesh)
            assert edges.sides.max() <= 2
            rim = edges.sides == 1
            length = np.hypot(*(mesh.points[edges.low[rim]] - mesh.points[edges.high[rim]]).T).sum()
            assert length == pytest.approx(sheet.polygon.length, rel=1e-6)
            mesh = halve(mesh, edges, area > np.median(area))


@settings(max_examples=60)
@given(
    corners=st.lists(st.tuples(st.integers(-50, 50), st.integers(-50, 50)), min_size=3, max_size=12),
    pitch=st.integers(3, 60),
)
def test_any_polygon_is_covered(corners, pitch):
    shape = Polygon([(x * 100_000, y * 100_000) for x, y in corners]).buffer(0)
    parts = [p for p in getattr(shape, "geoms", [shape]) if p.area > 0]
    mesh = triangulate(parts, pitch * 100_000)
    area = doubled_area(mesh.points, mesh.corners) / 2
    assert area.sum() == pytest.approx(sum(p.area for p in parts), rel=1e-4, abs=1e6)


def test_a_cell_the_library_refuses_is_cut_all_the_same(monkeypatch):
    """One bad cell must not stop a run: it falls back on its corners."""
    genuine = shapely.constrained_delaunay_triangles

    def fussy(geometry):
        cells = np.atleast_1d(np.asarray(geometry, dtype=object))
        if any(shapely.get_num_coordinates(cell) > 6 for cell in cells):
            raise shapely.errors.GEOSException("IllegalStateException")
        return genuine(geometry)

    shape = Polygon([(0, 0), (9e6, 0), (9e6, 2e6), (4e6, 2.5e6), (3e6, 7e6), (1e6, 8e6), (0, 5e6)])
    whole = triangulate([shape], 30e6)
    monkeypatch.setattr(shapely, "constrained_delaunay_triangles", fussy)
    for pitch in (30e6, 4e6):
        mesh = triangulate([shape], pitch)
        area = doubled_area(mesh.points, mesh.corners).sum() / 2
        assert area == pytest.approx(shape.area, rel=0.1)
    assert len(whole.corners) == 5


@settings(max_examples=50)
@given(st.data())
def test_nodal_equations_conserve_current_and_match_a_dense_solution(data):
    count = data.draw(st.integers(2, 12))
    node = st.integers(0, count - 1)
    chain = [(i, i + 1) for i in range(count - 1)]
    pairs = chain + data.draw(st.lists(st.tuples(node, node), max_size=20))
    siemens = np.array(data.draw(st.lists(st.floats(0.01, 100), min_size=len(pairs), max_size=len(pairs))))
    first, second = np.array(pairs).T
    loads = np.array(data.draw(st.lists(node, min_size=1, max_size=4)))
    amps = np.array(data.draw(st.lists(st.floats(0, 2), min_size=len(loads), max_size=len(loads))))
    network = Network(count, first, second, siemens)
    found = solve(network, 0, loads, amps)
    # The same as a small part of a network too large for the dense way, the rest not joined to it.
    large = solve(replace(network, count=SMALL + 1), 0, loads, amps)
    assert large.field[:count] == pytest.approx(found.field, rel=1e-6, abs=1e-9)
    assert large.own_ohms == pytest.approx(found.own_ohms, rel=1e-6, abs=1e-9)
    assert np.isnan(large.field[count:]).all()
    drawn = np.zeros(count)
    np.add.at(drawn, loads, amps)
    flow = siemens * (found.field[first] - found.field[second])
    balance = np.bincount(first, flow, count) - np.bincount(second, flow, count)
    assert balance[1:] == pytest.approx(drawn[1:], abs=1e-6)
    assert -balance[0] == pytest.approx(drawn[1:].sum(), abs=1e-6)
    dense = np.zeros((count, count))
    np.add.at(dense, (first, second), -siemens)
    np.add.at(dense, (second, first), -siemens)
    np.fill_diagonal(dense, 0)
    dense -= np.diag(dense.sum(axis=1))
    dense[0] = 0
    dense[0, 0] = 1
    drawn[0] = 0
    assert found.field == pytest.approx(np.linalg.solve(dense, drawn), rel=1e-6, abs=1e-9)

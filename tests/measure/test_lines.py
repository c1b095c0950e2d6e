"""Capacitance of lines against published figures, special functions, and a field computed on a lattice."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from copper_kit import FAB, board, box, plated, pour, surface, track, via
from scipy.sparse import coo_array, csc_array
from scipy.sparse.linalg import splu
from scipy.special import ellipkm1

from boardgen.board.model import NetKind, PourPiece, Side
from boardgen.measure.lines import line_capacitance, line_capacitances
from boardgen.measure.strip import EPSILON_0, coplanar, coplanar_over_plane, microstrip, ratio

LIGHT = 299_792_458.0


def lattice(width: float, gap: float | None, height: float, plane: bool, permittivity: float) -> float:
    """F/m of the same cross-section by finite differences on half of it (mm), a graded lattice, no formula.

    Half, because the middle of the strip is a mirror. Copper beside runs to the box.
    """

    def graded(places: list[float], fine: float, end: float) -> np.ndarray:
        steps = [0.0]
        while steps[-1] < end:
            near = min(abs(steps[-1] - p) for p in places)
            steps.append(steps[-1] + min(fine + near * 0.12, 0.5))
        return np.array(steps)

    edges = [width / 2] + ([width / 2 + gap] if gap else [])
    xs = graded(edges, 0.004, 16.0)
    for edge in edges:
        xs[np.argmin(abs(xs - edge))] = edge
    up = graded([0.0], 0.004, 16.0)
    down = graded([0.0], 0.004, 16.0) if not plane else graded([0.0], 0.004, height)
    down = down * (height / down[-1]) if plane else down
    if not plane:
        down[np.argmin(abs(down - height))] = height
    ys = np.concatenate([-down[:0:-1], up])
    inside = (ys[1:] + ys[:-1]) / 2
    eps = np.where((inside < 0) & (inside > -height), permittivity, 1.0)
    n, m = len(xs), len(ys)
    hx, hy = np.diff(xs), np.diff(ys)
    index = np.arange(n * m).reshape(m, n)
    wy = np.concatenate([[0], eps * hy]) / 2 + np.concatenate([eps * hy, [0]]) / 2
    across = wy[:, None] / hx[None, :]
    wx = np.concatenate([[0], hx]) / 2 + np.concatenate([hx, [0]]) / 2
    along = (eps / hy)[:, None] * wx[None, :]
    a = np.concatenate([index[:, :-1].ravel(), index[:-1].ravel()])
    b = np.concatenate([index[:, 1:].ravel(), index[1:].ravel()])
    g = np.concatenate([across.ravel(), along.ravel()])
    table = csc_array(
        coo_array(
            (np.concatenate([-g, -g, g, g]), (np.concatenate([a, b, a, b]), np.concatenate([b, a, a, b]))),
            shape=(n * m, n * m),
        )
    )
    face = int(np.flatnonzero(ys == 0)[0])
    volts = np.full(n * m, np.nan)
    volts[index[0]] = volts[index[-1]] = volts[index[:, -1]] = 0.0
    volts[index[face, xs <= width / 2 + 1e-9]] = 1.0
    if gap:
        volts[index[face, xs >= width / 2 + gap - 1e-9]] = 0.0
    free = np.isnan(volts)
    known = np.where(free, 0.0, volts)
    volts[free] = splu(table[free][:, free]).solve(-(table[free] @ known))
    return 2 * EPSILON_0 * float(volts @ (table @ volts))


def test_elliptic_ratio_is_that_of_the_special_functions():
    k = np.array([1e-6, 0.01, 0.2, 0.5, 0.7071, 0.9, 0.999])
    assert ratio(k) == pytest.approx(ellipkm1(1 - k**2) / ellipkm1(k**2), rel=1e-9)
    assert float(ratio(2**-0.5)) == pytest.approx(1.0)


def test_the_well_known_50_ohm_line():
    """On FR-4 of 1.6 mm and 4.5 a line about 3 mm wide is 50 ohm (common tables say 2.9 to 3.1)."""
    c = float(microstrip(np.array(3.0), 1.6))
    air = float(microstrip(np.array(3.0), 1.6, 1.0))
    assert 1 / (LIGHT * np.sqrt(c * air)) == pytest.approx(50.0, rel=0.02)


def test_a_worked_figure_of_the_ipc_formula():
    """IPC-2141: C = 26.4 (er + 1.41) / ln(5.98 h / (0.8 w + t)) pF/m; itself good to 5 % for narrow lines."""
    for width in (0.25, 0.5):
        published = 26.4e-12 * (4.5 + 1.41) / np.log(5.98 * 1.6 / (0.8 * width + 0.035))
        assert float(microstrip(np.array(width), 1.6)) == pytest.approx(published, rel=0.06)


@pytest.mark.parametrize(
    ("width", "gap", "plane"),
    [(0.25, 0.25, True), (0.25, 0.25, False), (0.5, 0.25, True), (1.7, 0.3, False), (0.25, 2.0, True)],
)
def test_coplanar_forms_against_a_computed_field(width, gap, plane):
    form = coplanar_over_plane if plane else coplanar
    ours = float(form(np.array(width), np.array(gap), 1.6))
    assert ours == pytest.approx(lattice(width, gap, 1.6, plane, 4.5), rel=0.05)


def test_microstrip_against_a_computed_field():
    assert float(microstrip(np.array(0.25), 1.6)) == pytest.approx(
        lattice(0.25, None, 1.6, True, 4.5), rel=0.04
    )


def test_a_line_over_a_poured_plane_is_a_microstrip():
    made = board(
        surface("A", 0, 0, 0.25, 0.25, net="S"),
        surface("B", 50, 0, 0.25, 0.25, net="S"),
        tracks=(track(0, 0, 50, 0, net="S"),),
        pours=(pour(PourPiece(box(-40, -40, 90, 40)), side=Side.BOTTOM, net="GND"),),
    )
    line = line_capacitance(made, "S", FAB)
    per_metre = float(microstrip(np.array(0.25), 1.6)) * 1e12
    assert line.length_mm == pytest.approx(50)
    assert line.over_pour_mm == pytest.approx(50)
    assert line.pf == pytest.approx(50e-3 * per_metre, rel=0.03)  # and two tiny pads


def test_half_a_line_off_the_plane_and_copper_on_one_flank():
    bare = board(surface("A", 0, 0, 0.25, 0.25, net="S"), tracks=(track(0, 0, 48, 0, net="S"),))
    half = replace(bare, pours=(pour(PourPiece(box(24, -40, 90, 40)), side=Side.BOTTOM, net="GND"),))
    assert line_capacitance(half, "S", FAB).over_pour_mm == pytest.approx(24)
    flank = replace(half, pours=(*half.pours, pour(PourPiece(box(-9, 0.375, 90, 9)), net="GND")))
    both = replace(half, pours=(*flank.pours, pour(PourPiece(box(-9, -9, 90, -0.375)), net="GND")))
    free, none, one, two = (line_capacitance(b, "S", FAB).pf for b in (bare, half, flank, both))
    assert free < none < one < two
    assert one - none == pytest.approx(two - one, rel=0.25)  # each flank adds its half


def test_pads_and_vias_add_and_own_copper_does_not():
    pours = tuple(
        pour(PourPiece(box(-40, -40, 90, 40), (box(-0.5, -0.5, 50.5, 0.5),)), side=side, net="GND")
        for side in Side
    )
    plain = board(surface("A", 0, 0, 0.25, 0.25, net="S"), tracks=(track(0, 0, 50, 0, net="S"),), pours=pours)
    holed = replace(plain, vias=(via(20, 0, "S"),))
    padded = replace(plain, parts=(*plain.parts, plated("B", 50, 0, "S", size=0.8, hole=0.5)))
    twice = replace(plain, tracks=(*plain.tracks, track(0, 0.1, 50, 0.1, net="S")))
    alone = line_capacitance(plain, "S", FAB).pf
    assert 0.05 < line_capacitance(holed, "S", FAB).pf - alone < 0.5
    assert 0.1 < line_capacitance(padded, "S", FAB).pf - alone < 0.6
    # A second track of the same net right beside is no plate of it (the gap found is the pour's).
    assert line_capacitance(twice, "S", FAB).pf < 2.1 * alone
    assert line_capacitance(plain, "GND", FAB).length_mm == 0


def test_demo_lines_lie_in_what_practice_reports(built):
    """Boards of this kind: 0.4 to 1 pF a centimetre of track, and some tenths a pad."""
    bundle = built("slide-remote").bundle
    nets = tuple(net.name for net in bundle.board.nets if net.kind is NetKind.SIGNAL)
    lines = line_capacitances(bundle.board, nets, bundle.bound.fab)
    assert [line.net for line in lines] == list(nets)
    for line in lines:
        tracks = sum(t.start.distance(t.end) for t in bundle.board.tracks if t.net == line.net) / 1e6
        pads = sum(net == line.net for part in bundle.board.parts for _, net in part.nets)
        assert line.length_mm == pytest.approx(tracks)
        assert 0 < line.over_pour_mm <= line.length_mm
        assert 0.2 * pads + 0.03 * tracks < line.pf < 1.0 * pads + 0.1 * tracks
    assert lines[3] == line_capacitance(bundle.board, lines[3].net, bundle.bound.fab)

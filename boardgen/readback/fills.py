"""Rule ``readback-copper`` on pours: filled areas are compared outline by outline.

Two outlines are the same where their symmetric difference, shrunk by ``SAME / 2`` all round, is nothing: no
strip wider than ``SAME`` nm is copper in the one and bare in the other. That much is rounding: a hole tied to
its outline by a bridge ends up to half a nm beside the edge it is tied to.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from boardgen.board.geometry import polygons_of
from boardgen.errors import Finding, Severity
from boardgen.readback.match import XY
from boardgen.readback.model import SAME, FabLayer, Fill, Kind, Wanted
from boardgen.readback.things import limited, spot
from boardgen.units import format_mm, nm

MOST_PIECES, MOST_CORNERS = 20, 500  # of what differs: looked at for the worst place
ALIKE = 0.5  # of two areas' union: what they must share to be taken for one pour with a fault


@dataclass(frozen=True, slots=True)
class Apart:
    """Where two outlines differ: the *place* and how far (nm) the one stands off the other there, at the
    worst of all *places*.
    """

    at: XY
    off: float
    places: int

    @property
    def words(self) -> str:
        """The difference in words, in mm."""
        more = f", and differs at {self.places - 1} more places" if self.places > 1 else ""
        return f"has an outline {format_mm(nm(self.off), 4)} mm off{more}"


def fills_apart(wanted: BaseGeometry, found: BaseGeometry) -> Apart | None:
    """Return how *found* differs from *wanted* (nm, both valid); None where both are the same within SAME."""
    if shapely.equals_exact(shapely.normalize(wanted), shapely.normalize(found), tolerance=1.0):
        return None
    pieces = polygons_of(shapely.symmetric_difference(wanted, found))
    told = [p for p in pieces if not p.buffer(-SAME / 2, quad_segs=1).is_empty]
    if not told:
        return None
    # Each corner of what differs lies on the one outline or on the other: how far it is from both says how
    # far they are apart there.
    largest = sorted(told, key=lambda p: -p.area)[:MOST_PIECES]
    corners = shapely.get_coordinates(largest)[:MOST_CORNERS]
    points = shapely.points(corners)
    gaps = np.asarray(shapely.distance(points, wanted.boundary)) + shapely.distance(points, found.boundary)
    worst = int(gaps.argmax())
    at = (float(corners[worst][0]), float(corners[worst][1]))
    return Apart(at, float(gaps[worst]), len(told))


def _overlap(a: BaseGeometry, b: BaseGeometry) -> float:
    """Return the share of their union that two areas have in common."""
    shared = float(a.intersection(b).area) if a.intersects(b) else 0.0
    return shared / max(1.0, float(a.area) + float(b.area) - shared)


def _boxes_alike(a: BaseGeometry, b: BaseGeometry) -> bool:
    return all(abs(x - y) <= SAME for x, y in zip(a.bounds, b.bounds, strict=True))


def pairs_of_fills(
    wanted: Sequence[BaseGeometry], found: Sequence[BaseGeometry]
) -> tuple[list[tuple[int, int]], list[int], list[int]]:
    """Return which of *found* is which of *wanted*, by what they share; then what is left of each.

    Those of one size in one place first; then the largest of *wanted* takes what shares most with it, if that
    is more than half of both.
    """
    pairs: list[tuple[int, int]] = []
    left = list(range(len(found)))
    missing: list[int] = []
    for i, area in enumerate(wanted):
        slack = max(1e-6 * area.area, 1e6)
        twin = next(
            (j for j in left if abs(found[j].area - area.area) <= slack and _boxes_alike(found[j], area)),
            None,
        )
        if twin is None:
            missing.append(i)
        else:
            left.remove(twin)
            pairs.append((i, twin))
    lost: list[int] = []
    for i in sorted(missing, key=lambda n: (-wanted[n].area, n)):
        shares = [(_overlap(wanted[i], found[j]), -j) for j in left]
        share, twin = max(shares, default=(0.0, 0))
        if share <= ALIKE:
            lost.append(i)
            continue
        left.remove(-twin)
        pairs.append((i, -twin))
    return sorted(pairs), sorted(lost), left


def _finding(
    message: str, at: XY, layer: str, item: str, path: str, measured: float | None = None
) -> Finding:
    off = None if measured is None else nm(measured)
    return Finding("readback-copper", Severity.ERROR, message, spot(at), layer, (item, path), off)


def _inside(area: BaseGeometry) -> XY:
    point = area.representative_point()
    return point.x, point.y


def _size(area: BaseGeometry) -> str:
    return f"{area.area / 1e12:.3f} mm2"


def compare_fills(
    wanted: Sequence[Fill], found: Sequence[BaseGeometry], source: str, path: str, layer: str
) -> tuple[list[Finding], int]:
    """Compare the areas *found* on a *layer* of the file *path* with the *wanted* fills of it.

    Returns the findings and how many agree.
    """
    fills = [fill for fill in wanted if not fill.shape.is_empty]
    pairs, missing, extra = pairs_of_fills([fill.shape for fill in fills], found)
    told: list[Finding] = []
    agreed = 0
    for i, j in pairs:
        apart = fills_apart(fills[i].shape, found[j])
        if apart is None:
            agreed += 1
            continue
        item = f"pour of {fills[i].net or 'no net'}"
        message = f"{path}: the {item} on the {layer} {apart.words}"
        told.append(_finding(message, apart.at, layer, item, path, apart.off))
    for i in missing:
        item = f"pour of {fills[i].net or 'no net'}"
        message = f"{path}: a {item} of {_size(fills[i].shape)} of the {source} is missing on the {layer}"
        told.append(_finding(message, _inside(fills[i].shape), layer, item, path))
    for j in extra:
        message = f"{path}: a filled area of {_size(found[j])} on the {layer} that the {source} has not"
        told.append(_finding(message, _inside(found[j]), layer, "filled area", path))
    return limited(told), agreed


def check_fills(layer: FabLayer, fills: Sequence[Fill], source: str) -> tuple[list[Finding], int]:
    """Compare the filled areas of *layer* with the wanted *fills* of its side."""
    there: list[BaseGeometry] = []
    for thing in layer.things:
        if thing.kind is Kind.AREA and thing.parts:
            bodies = [shape.skeleton for shape in thing.parts]
            there.append(bodies[0] if len(bodies) == 1 else shapely.union_all(bodies))
    mine = [fill for fill in fills if fill.side is layer.side]
    return compare_fills(mine, there, source, layer.path, layer.name)


def check_table_fills(first: Wanted, other: Wanted) -> list[Finding]:
    """Compare the fills of one source with those of another, net by net."""
    if first.fills is None or other.fills is None:
        return []
    told: list[Finding] = []
    for side, net in sorted({(fill.side, fill.net or "") for fill in (*first.fills, *other.fills)}):
        mine, theirs = (
            [fill for fill in source.fills or () if (fill.side, fill.net or "") == (side, net)]
            for source in (first, other)
        )
        areas = [fill.shape for fill in theirs if not fill.shape.is_empty]
        told += compare_fills(mine, areas, first.body, other.name, f"{side.value} copper")[0]
    return told

"""The profile's strokes tied end to end into loops, and the area they enclose."""

from __future__ import annotations

from collections.abc import Sequence

import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

XY = tuple[float, float]


def area_of_paths(paths: Sequence[Sequence[XY]]) -> tuple[BaseGeometry, tuple[XY, ...]]:
    """Return the area inside the closed loops (loops in loops are cut out), and the loose ends.

    Each path is a run of points (nm) with both ends; ends join where they are equal. An end that meets no
    other one, or more than one, is loose.
    """
    ends: dict[XY, list[int]] = {}
    for number, path in enumerate(paths):
        if len(path) > 1 and path[0] != path[-1]:
            ends.setdefault(path[0], []).append(number)
            ends.setdefault(path[-1], []).append(number)
    loose = tuple(sorted(place for place, users in ends.items() if len(users) != 2))
    rings: list[list[XY]] = [list(path) for path in paths if len(path) > 3 and path[0] == path[-1]]
    used: set[int] = set()
    for first, path in enumerate(paths):
        if first in used or len(path) < 2 or path[0] == path[-1]:
            continue
        ring = list(path)
        used.add(first)
        while ring[-1] != ring[0]:
            follower = next((n for n in ends[ring[-1]] if n not in used), None)
            if follower is None:
                break
            used.add(follower)
            piece = list(paths[follower])
            ring += (piece if piece[0] == ring[-1] else piece[::-1])[1:]
        if ring[-1] == ring[0] and len(ring) > 3:
            rings.append(ring)
    area: BaseGeometry = Polygon()
    for polygon in sorted((Polygon(ring) for ring in rings), key=lambda p: (-p.area, p.bounds)):
        whole = polygon if polygon.is_valid else shapely.make_valid(polygon)
        area = area.symmetric_difference(whole) if not area.is_empty else whole
    return area, loose

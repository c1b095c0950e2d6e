"""Rule ``readback-profile``: the profile's strokes close, and enclose the board that is wanted."""

from __future__ import annotations

import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from boardgen.errors import Finding, Severity
from boardgen.readback.model import CHORD, FabLayer, Kind
from boardgen.readback.profile_in import area_of_paths
from boardgen.readback.things import spot
from boardgen.units import Point, format_mm, nm

# Arc centres are written in whole nm, and each of two curves is drawn with chords within CHORD of it.
SLACK = 2 * CHORD + 1_000.0


def profile_area(layer: FabLayer) -> tuple[BaseGeometry, tuple[tuple[float, float], ...]]:
    """Return the area the profile's strokes enclose, and their loose ends."""
    paths: list[list[tuple[float, float]]] = []
    for thing in layer.things:
        if thing.kind is Kind.STROKE:
            points = [(x, y) for x, y in shapely.get_coordinates(thing.parts[0].skeleton).tolist()]
            if len(points) > 1:
                paths.append([thing.start, *points[1:-1], thing.end])
    return area_of_paths(paths)


def _find(message: str, at: Point | None, path: str, measured: float | None = None) -> Finding:
    off = None if measured is None else nm(measured)
    return Finding("readback-profile", Severity.ERROR, message, at, "profile", ("outline", path), off)


def check_profile(layer: FabLayer, outline: BaseGeometry | None) -> tuple[BaseGeometry, list[Finding]]:
    """Return the area the profile encloses, and what is wrong with it against the wanted *outline*."""
    area, loose = profile_area(layer)
    found = []
    for at in loose[:2]:
        found.append(_find(f"{layer.path}: the profile is open", spot(at), layer.path))
    if area.is_empty:
        if not found:
            found.append(_find(f"{layer.path}: the profile encloses nothing", None, layer.path))
        return Polygon(), found
    if outline is not None and not outline.is_empty and not found:
        apart = float(shapely.hausdorff_distance(area.boundary, outline.boundary))
        if apart > SLACK:
            other = area.symmetric_difference(outline).representative_point()
            message = (
                f"{layer.path}: the profile is up to {format_mm(nm(apart), 3)} mm off the outline wanted"
            )
            found.append(_find(message, spot((other.x, other.y)), layer.path, apart))
    return area, found

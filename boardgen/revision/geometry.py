"""What the fabrication and CAD files of a run hold, in the board's axes."""

from __future__ import annotations

from dataclasses import dataclass

import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from boardgen.board.geometry import polygons_of
from boardgen.board.model import Side
from boardgen.errors import InputError
from boardgen.export.files import OutFile
from boardgen.readback import read
from boardgen.readback.from_cad import tree_of, wanted_by_cad
from boardgen.readback.model import FabGeometry, Role, Wanted
from boardgen.readback.place import on_board
from boardgen.readback.profile import profile_area
from boardgen.revision.model import Change, CopperChange
from boardgen.revision.runs import OpenedRun, guarded
from boardgen.units import NM_PER_MM

_SLIVER = 1_000.0  # nm: what is thinner than twice this is two roundings of one edge, not copper


@dataclass(frozen=True, slots=True)
class BoardFiles:
    """A run with its geometry (nm, board axes): *source* is its CAD board, *copper* each side's area."""

    run: OpenedRun
    source: Wanted
    outline: BaseGeometry
    copper: tuple[tuple[Side, BaseGeometry], ...]

    def side(self, side: Side) -> BaseGeometry:
        """Return the copper of *side*, empty where the board has none."""
        return dict(self.copper).get(side, Polygon())


@dataclass(frozen=True, slots=True)
class SidePicture:
    """Copper of one side of two revisions, nm: kept, gone and new."""

    side: Side
    kept: BaseGeometry
    gone: BaseGeometry
    new: BaseGeometry


def board_files(run: OpenedRun) -> BoardFiles:
    """Read the fabrication and CAD files of *run*; raises InputError for one that cannot be read."""
    record = run.record
    cad = run.path(".kicad_pcb")

    def source() -> Wanted:
        return wanted_by_cad(tree_of(run.files[cad], cad), cad, *record.origin, record.copper)

    wanted = guarded(run, source)
    geometry = on_board(
        read([OutFile(path, data) for path, data in sorted(run.files.items())]), *record.origin
    )
    damaged = [finding.message for finding in geometry.findings if finding.rule == "readback-file"]
    if damaged:
        raise InputError(f"a fabrication file of the run cannot be read: {damaged[0]}", run.where)
    profile = geometry.layer(Role.PROFILE, None)
    outline = profile_area(profile)[0] if profile is not None else Polygon()
    sides = tuple((side, _area(geometry, side)) for side in record.copper)
    return BoardFiles(run, wanted, outline, sides)


def _area(geometry: FabGeometry, side: Side) -> BaseGeometry:
    """Return the copper of one side as one area; round ends are drawn with chords inside them."""
    layer = geometry.layer(Role.COPPER, side)
    if layer is None:
        return Polygon()
    return shapely.union_all([part.polygon(outside=False) for thing in layer.things for part in thing.parts])


def _clean(area: BaseGeometry) -> BaseGeometry:
    """Return *area* without slivers; the rest keeps its true edge."""
    whole = [polygon for polygon in polygons_of(area) if not polygon.buffer(-_SLIVER).is_empty]
    return shapely.union_all(whole) if whole else Polygon()


def side_pictures(a: BoardFiles, b: BoardFiles) -> tuple[SidePicture, ...]:
    """Return kept, gone and new copper of each side that either board has."""
    found = []
    for side in (Side.TOP, Side.BOTTOM):
        if side not in (*a.run.record.copper, *b.run.record.copper):
            continue
        one, two = a.side(side), b.side(side)
        kept = one if one.equals(two) else one.intersection(two)
        found.append(SidePicture(side, kept, _clean(one.difference(two)), _clean(two.difference(one))))
    return tuple(found)


def copper_changes(pictures: tuple[SidePicture, ...]) -> tuple[tuple[CopperChange, ...], list[Change]]:
    """Return the areas in mm2, and a change for each side that differs."""
    areas = tuple(
        CopperChange(picture.side.value, *(round(area.area / NM_PER_MM**2, 3) for area in _three(picture)))
        for picture in pictures
    )
    found = []
    for area in areas:
        if area.gone_mm2 or area.new_mm2:
            before, after = (
                f"{value:.2f} mm2 of its own" if value else "nothing of its own"
                for value in (area.gone_mm2, area.new_mm2)
            )
            found.append(Change("copper", f"{area.side} copper", before, after))
    return areas, found


def _three(picture: SidePicture) -> tuple[BaseGeometry, BaseGeometry, BaseGeometry]:
    return picture.kept, picture.gone, picture.new

"""What a revision takes over from the one before, from the file's form to frozen values."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from boardgen.board.model import Keepout, Outline, OutlineLine, Placement, Side, Via, rectangle_outline
from boardgen.catalog.tomlfile import TomlFile
from boardgen.design import model, schema
from boardgen.units import ZERO, Box, Nm, Point, mm


def _point(pair: tuple[float, float]) -> Point:
    return Point(mm(pair[0]), mm(pair[1]))


def _length(value: float | None) -> Nm | None:
    return None if value is None else mm(value)


def _pad(name: str) -> tuple[str, str]:
    ref, _, number = name.partition(".")
    return ref, number


def errata_of(form: schema.DesignForm, file: TomlFile) -> tuple[model.Erratum, ...]:
    """Return the known faults with their rework and the checks they became."""
    return tuple(
        model.Erratum(
            revision=item.revision,
            symptom=item.symptom,
            cause=item.cause,
            fixed_in=item.fixed_in,
            workaround=item.workaround,
            cuts=tuple(model.Cut(cut.net, _point(cut.at_mm), Side(cut.side)) for cut in item.cut),
            wires=tuple((_pad(wire.between[0]), _pad(wire.between[1])) for wire in item.wire),
            checks=tuple(
                _condition(check, file.line(("errata", n, "check", k))) for k, check in enumerate(item.check)
            ),
            line=file.line(("errata", n)),
        )
        for n, item in enumerate(form.errata)
    )


def _condition(form: schema.ConditionForm, line: int | None) -> model.Condition:
    return model.Condition(
        line=line,
        net=form.net,
        joins=tuple(map(_pad, form.joins or ())),
        apart=tuple(map(_pad, form.apart or ())),
        signal=form.signal,
        pins=form.pins or (),
        not_pins=form.not_pins or (),
        way=form.way,
        margin_v=form.margin_v,
        part=form.part,
        edge=_length(form.edge_mm),
        inside=bool(form.inside),
        other=form.other,
        distance=_length(form.distance_mm),
        hole=_length(form.hole_mm),
        at=None if form.at_mm is None else _point(form.at_mm),
    )


def placed_of(form: schema.PlacedForm, line: int | None) -> model.PlacedPart:
    """Return where a part stands."""
    place = Placement(Point(mm(form.x_mm), mm(form.y_mm)), form.turn % 360.0, Side(form.side))
    return model.PlacedPart(form.ref, place, tuple(sorted(set(form.nets))), line)


def stays_of(form: schema.StaysForm | None, file: TomlFile) -> model.Stays | None:
    """Return what stays of an earlier revision; None where the file has no such table."""
    if form is None:
        return None
    outline: Outline | None = None
    if form.points_mm is not None:
        outline = Outline(_loop(form.points_mm))
    elif form.width_mm is not None and form.height_mm is not None:
        radius = ZERO if form.corner_radius_mm is None else mm(form.corner_radius_mm)
        outline = rectangle_outline(Box(ZERO, ZERO, mm(form.width_mm), mm(form.height_mm)), radius)
    if outline is not None and form.cutouts_mm:
        outline = replace(outline, cutouts=tuple(_loop(ring) for ring in form.cutouts_mm))
    holes = None if form.holes_mm is None else tuple(map(_point, form.holes_mm))
    parts = tuple(placed_of(part, file.line(("stays", "parts", n))) for n, part in enumerate(form.parts))
    widths = tuple(map(mm, form.hole_diameters_mm))
    return model.Stays(form.revision, outline, holes, parts, file.line(("stays",)), widths)


def _loop(ring: Sequence[tuple[float, float]]) -> tuple[OutlineLine, ...]:
    corners = [_point(pair) for pair in ring]
    return tuple(OutlineLine(a, b) for a, b in zip(corners, (*corners[1:], corners[0]), strict=True))


def tracks_of(form: schema.DesignForm, file: TomlFile) -> tuple[model.LockedTrack, ...]:
    """Return the tracks a person locked."""
    return tuple(
        model.LockedTrack(
            item.net,
            Side(item.side),
            mm(item.width_mm),
            tuple(map(_point, item.points_mm)),
            file.line(("tracks", n)),
        )
        for n, item in enumerate(form.tracks)
    )


def vias_of(form: schema.DesignForm) -> tuple[Via, ...]:
    """Return the vias a person locked."""
    return tuple(
        Via(item.net, _point((item.x_mm, item.y_mm)), mm(item.diameter_mm), mm(item.hole_mm))
        for item in form.vias
    )


def legend_of(form: schema.DesignForm, file: TomlFile) -> tuple[model.LegendWish, ...]:
    """Return the texts a person put on the legend."""
    return tuple(
        model.LegendWish(
            item.text,
            _point((item.x_mm, item.y_mm)),
            mm(item.height_mm),
            item.turn % 360.0,
            Side(item.side),
            file.line(("legend", n)),
            item.instead_of,
        )
        for n, item in enumerate(form.legend)
    )


def strokes_of(form: schema.DesignForm, file: TomlFile) -> tuple[model.StrokeWish, ...]:
    """Return what a person drew on the legend."""
    return tuple(
        model.StrokeWish(
            Side(item.side),
            mm(item.width_mm),
            tuple(map(_point, item.points_mm)),
            item.filled,
            file.line(("strokes", n)),
        )
        for n, item in enumerate(form.strokes)
    )


def keepouts_of(form: schema.DesignForm) -> tuple[Keepout, ...]:
    """Return the areas a person keeps free of copper."""
    return tuple(
        Keepout(tuple(map(_point, item.points_mm)), item.reason, item.parts_too) for item in form.keepouts
    )

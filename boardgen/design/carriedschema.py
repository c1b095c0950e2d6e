"""The form of the tables of a design's history: errata, and what a revision takes over."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from boardgen.design.formtypes import (
    Flag,
    Length,
    Line,
    Net,
    NotNegative,
    PadName,
    PartRef,
    Pin,
    Place,
    PlacePair,
    Revision,
    Short,
    Side,
    Signal,
    Table,
    Volts,
)


class CutForm(Table):
    """A track to cut through by hand."""

    net: Net
    at_mm: PlacePair
    side: Side = "top"


class WireForm(Table):
    """Two pads to join with a wire by hand."""

    between: Annotated[tuple[PadName, PadName], Field(description='two pads, such as "R1.2"')]


class ConditionForm(Table):
    """One ``[[errata.check]]`` table: what every revision from ``fixed_in`` on must keep.

    It states one condition. *joins* and *apart* list pads: all on one net (*net*, where given), or no two
    of them on one. With *signal*: pins it must or must not stand on, its way, its least margin. With *part*:
    its distance from the board's edge, that it stands inside it, its distance from another part. *hole_mm*
    is a hole's diameter, at *at_mm*.
    """

    net: Net | None = None
    joins: Annotated[tuple[PadName, ...] | None, Field(min_length=1, max_length=64)] = None
    apart: Annotated[tuple[PadName, ...] | None, Field(min_length=2, max_length=64)] = None
    signal: Signal | None = None
    pins: Annotated[tuple[Pin, ...] | None, Field(min_length=1, max_length=64)] = None
    not_pins: Annotated[tuple[Pin, ...] | None, Field(min_length=1, max_length=64)] = None
    way: Annotated[Short | None, Field(min_length=1)] = None
    margin_v: Volts | None = None
    part: PartRef | None = None
    edge_mm: NotNegative | None = None
    inside: Annotated[Flag | None, Field(description="true: the part's room lies within the outline")] = None
    other: Annotated[PartRef | None, Field(description="with part and distance_mm: another part")] = None
    distance_mm: NotNegative | None = None
    hole_mm: Length | None = None
    at_mm: PlacePair | None = None


class ErratumForm(Table):
    """One ``[[errata]]`` table: a known fault of a revision, how to live with it, what must not return."""

    revision: Revision
    symptom: Annotated[Line, Field(min_length=3)]
    cause: Line = ""
    workaround: Annotated[Line, Field(description="what firmware does about it")] = ""
    cut: Annotated[tuple[CutForm, ...], Field(max_length=40, description="tracks to cut by hand")] = ()
    wire: Annotated[tuple[WireForm, ...], Field(max_length=40, description="wires to add by hand")] = ()
    fixed_in: Annotated[str, Field(pattern=r"^([A-Z]{1,2})?$")] = ""
    check: Annotated[tuple[ConditionForm, ...], Field(max_length=40)] = ()


class KeepForm(Table):
    """One ``[[keep]]`` table: a signal that stays on its pin unless a change forces or asks otherwise."""

    signal: Signal
    pin: Pin


class PlacedForm(Table):
    """One ``[[placed]]`` table: a part that stands where a person put it.

    *turn* is in degrees, counter-clockwise as seen from the top. *nets* tell which part is meant where
    references were given out anew.
    """

    ref: PartRef
    x_mm: Place
    y_mm: Place
    turn: Annotated[float, Field(ge=-360, le=360, allow_inf_nan=False)] = 0.0
    side: Side = "top"
    nets: Annotated[tuple[Net, ...], Field(max_length=400)] = ()


class StaysForm(Table):
    """The ``[stays]`` table: what stays as it was in an earlier revision unless a change forces otherwise.

    The outline is a rectangle or points; left out, the design's own holds.
    """

    revision: Revision
    width_mm: Length | None = None
    height_mm: Length | None = None
    corner_radius_mm: NotNegative | None = None
    points_mm: Annotated[tuple[PlacePair, ...] | None, Field(min_length=3, max_length=500)] = None
    holes_mm: Annotated[
        tuple[PlacePair, ...] | None, Field(max_length=40, description="where the mounting holes stand")
    ] = None
    hole_diameters_mm: Annotated[
        tuple[Annotated[float, Field(ge=1, le=10, allow_inf_nan=False, strict=True)], ...],
        Field(max_length=40, description="of each of holes_mm in turn; left out, [holes] has the diameter"),
    ] = ()
    cutouts_mm: Annotated[
        tuple[Annotated[tuple[PlacePair, ...], Field(min_length=3, max_length=500)], ...],
        Field(max_length=40, description="cut-outs of that outline, each by its corners"),
    ] = ()
    parts: Annotated[tuple[PlacedForm, ...], Field(max_length=400)] = ()


class TracksForm(Table):
    """One ``[[tracks]]`` table: a track that a person locked."""

    net: Net
    side: Side = "top"
    width_mm: Length
    points_mm: Annotated[tuple[PlacePair, ...], Field(min_length=2, max_length=200)]


class ViasForm(Table):
    """One ``[[vias]]`` table: a via that a person locked, together with tracks that meet it on both sides."""

    net: Net
    x_mm: Place
    y_mm: Place
    diameter_mm: Length
    hole_mm: Length


class LegendForm(Table):
    """One ``[[legend]]`` table: a text that a person put on the legend, centred on its place.

    ``{revision}`` and ``{pins}`` in the text stand for the revision and the pin map's digest. The text takes
    the place of the nearest one of the board's own that says the same, or that says *instead_of*; with no
    text, that one is left out.
    """

    text: Line = ""
    instead_of: Annotated[Line, Field(description="a text of the board's own, such as a signal's name")] = ""
    x_mm: Place
    y_mm: Place
    height_mm: Annotated[Length, Field(le=20)] = 1.0
    turn: Annotated[float, Field(ge=-360, le=360, allow_inf_nan=False)] = 0.0
    side: Side = "top"


class StrokesForm(Table):
    """One ``[[strokes]]`` table: what a person drew on the legend, a pen's way through points.

    A closed line ends where it begins. *filled* prints the area inside too.
    """

    side: Side = "top"
    width_mm: Annotated[Length, Field(le=20)] = 0.15
    filled: Flag = False
    points_mm: Annotated[tuple[PlacePair, ...], Field(min_length=2, max_length=500)]


class KeepoutsForm(Table):
    """One ``[[keepouts]]`` table: an area without copper on either side, by its corners."""

    reason: Annotated[Line, Field(min_length=1, description="what the area is for")]
    parts_too: Annotated[Flag, Field(description="no parts either")] = False
    points_mm: Annotated[tuple[PlacePair, ...], Field(min_length=3, max_length=500)]

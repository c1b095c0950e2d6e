"""The form of a design file, checked with pydantic; what each key means stands at the key.

Lengths are in mm (keys end in ``_mm``, x right, y down from the board's top left),
voltages in V, currents in A, resistances in ohm.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field

from boardgen.design.carriedschema import (
    ConditionForm,
    CutForm,
    ErratumForm,
    KeepForm,
    KeepoutsForm,
    LegendForm,
    PlacedForm,
    StaysForm,
    StrokesForm,
    TracksForm,
    ViasForm,
    WireForm,
)
from boardgen.design.deviceschema import CableForm, ContactForm, LogicForm, MatrixForm
from boardgen.design.formtypes import (
    MOST_CONTACTS,
    NAME_PATTERN,
    REVISION_PATTERN,
    RULE_PATTERN,
    SIGNAL_PATTERN,
    WORDS,
    Edge,
    Flag,
    Id,
    Length,
    Line,
    NotNegative,
    Pin,
    PlacePair,
    Prose,
    Resistance,
    Revision,
    Signal,
    Table,
)

__all__ = [
    "MOST_BITS",
    "REVISION_PATTERN",
    "SIGNAL_PATTERN",
    "WORDS",
    "BoardForm",
    "CableForm",
    "ConditionForm",
    "ContactForm",
    "CutForm",
    "DesignForm",
    "EnclosureForm",
    "ErratumForm",
    "FixedForm",
    "GroupForm",
    "HolesForm",
    "IdentityForm",
    "KeepForm",
    "KeepoutsForm",
    "LegendForm",
    "LogicForm",
    "MatrixForm",
    "OutlineForm",
    "PlacedForm",
    "StaysForm",
    "StrokesForm",
    "TracksForm",
    "WaiverForm",
    "WireForm",
    "json_schema",
]

MOST_BITS = 8  # of an identification code


class GroupForm(Table):
    """One ``[[groups]]`` table: signals that want neighbouring GPIO numbers."""

    name: Signal
    signals: Annotated[tuple[Signal, ...], Field(min_length=2, max_length=64)]
    consecutive: Flag = True
    ordered: Flag = True


class FixedForm(Table):
    """One ``[[fixed]]`` table: a signal tied to a module pin.

    *pin* is the name printed on the module, or ``#N`` for pin number N.
    """

    signal: Signal
    pin: Pin


class WaiverForm(Table):
    """One ``[[waivers]]`` table: leave to use a boot-strap or shared pin, or to let a finding pass.

    It names a *pin* or a *rule*, never both. A finding passes where its rule is
    the one named, and every one of *items* is among its own.
    """

    pin: Annotated[Pin | None, Field(description="a boot-strap or shared pin that may be used")] = None
    rule: Annotated[str | None, Field(pattern=RULE_PATTERN, description="a rule's id, as findings say")] = (
        None
    )
    items: Annotated[tuple[Line, ...], Field(max_length=8, description="with rule: whose findings pass")] = ()
    until: Annotated[Revision | None, Field(description="with rule: the last revision it holds for")] = None
    reason: Annotated[Line, Field(min_length=3)]


class OutlineForm(Table):
    """The ``[outline]`` table: by margin, by size, by points, or from a DXF file; all may be left out."""

    margin_mm: NotNegative | None = None
    width_mm: Length | None = None
    height_mm: Length | None = None
    corner_radius_mm: NotNegative | None = None
    points_mm: Annotated[
        tuple[PlacePair, ...] | None, Field(min_length=3, max_length=500, description="corners in order")
    ] = None
    dxf: Annotated[Line | None, Field(description="a file beside the design, in mm")] = None


class HolesForm(Table):
    """The ``[holes]`` table: mounting holes, in the corners or where they are put."""

    diameter_mm: Annotated[float, Field(ge=1, le=10, allow_inf_nan=False, strict=True)] = 3.2
    count: Annotated[int, Field(ge=0, le=12, strict=True)] = 4
    at_mm: Annotated[tuple[PlacePair, ...] | None, Field(min_length=1, max_length=40)] = None
    head_mm: Annotated[Length | None, Field(description="diameter of the screw's head or washer")] = None


class EnclosureForm(Table):
    """The ``[enclosure]`` table: limits of the case."""

    max_width_mm: Length | None = None
    max_height_mm: Length | None = None
    max_component_height_mm: Length | None = None
    connector_edge: Edge = ""
    usb_edge: Edge = ""


class BoardForm(Table):
    """The ``[board]`` table: how it is built."""

    supply_fuse: Annotated[Flag, Field(description="a resettable fuse in each outgoing supply")] = False
    socketed: Annotated[Flag, Field(description="the module in sockets, else soldered down")] = True
    ground_pour: Flag = True
    track_angles: Annotated[
        Literal["45", "any"],
        Field(description="tracks in 45-degree steps, or pulled straight at any angle, which is shorter"),
    ] = "45"


class IdentityForm(Table):
    """The ``[identity]`` table: resistors on pins with internal pulls that tell firmware the revision.

    Bit 0 is the least. A bit is 1 where its resistor holds the pin against the pull, 0 where it holds it
    the way of the pull; a board without straps reads 0.
    """

    bits: Annotated[int, Field(ge=1, le=MOST_BITS, strict=True, description="how many pins the code takes")]
    code: Annotated[
        int | None,
        Field(
            ge=0,
            le=2**MOST_BITS - 1,
            strict=True,
            description="this revision's; left out: the lowest that no earlier revision in history/ has. "
            "0 is kept for boards without straps",
        ),
    ] = None
    pull: Annotated[
        Literal["up", "down"], Field(description="the internal pull that firmware switches on to read")
    ] = "up"
    ohms: Annotated[Resistance, Field(description="of each resistor")] = 2200.0
    part: Annotated[Id, Field(description="catalogue id of the resistor")] = "resistor-axial-quarter"


class DesignForm(Table):
    """A design file."""

    name: Annotated[str, Field(pattern=NAME_PATTERN, description="short name, also that of the run folder")]
    title: Line = ""
    revision: Revision = "A"
    description: Prose = ""
    device: Annotated[Line, Field(description="what the old device is")] = ""
    module: Annotated[Id, Field(description="catalogue id of the module, or auto")] = "auto"
    connector: Annotated[Id, Field(description="catalogue id of the board's connector")]
    fab: Annotated[Id, Field(description="catalogue id of the fab class")] = "economy-2l"
    cautions: Annotated[tuple[Line, ...], Field(max_length=40)] = ()
    licence: Annotated[Line, Field(description="under which others may use the design")] = ""
    attribution: Annotated[Line, Field(description="who is to be named with it")] = ""
    contacts: Annotated[tuple[ContactForm, ...], Field(min_length=1, max_length=MOST_CONTACTS)]
    matrices: Annotated[tuple[MatrixForm, ...], Field(max_length=8)] = ()
    groups: Annotated[tuple[GroupForm, ...], Field(max_length=40)] = ()
    fixed: Annotated[tuple[FixedForm, ...], Field(max_length=MOST_CONTACTS)] = ()
    waivers: Annotated[tuple[WaiverForm, ...], Field(max_length=40)] = ()
    outline: OutlineForm = OutlineForm()
    holes: HolesForm | None = None
    enclosure: EnclosureForm = EnclosureForm()
    board: BoardForm = BoardForm()
    errata: Annotated[tuple[ErratumForm, ...], Field(max_length=100)] = ()
    logic: Annotated[tuple[LogicForm, ...], Field(max_length=16)] = ()
    cable: CableForm = CableForm()
    keep: Annotated[tuple[KeepForm, ...], Field(max_length=MOST_CONTACTS)] = ()
    placed: Annotated[tuple[PlacedForm, ...], Field(max_length=400)] = ()
    stays: StaysForm | None = None
    tracks: Annotated[tuple[TracksForm, ...], Field(max_length=1000)] = ()
    vias: Annotated[tuple[ViasForm, ...], Field(max_length=400)] = ()
    legend: Annotated[tuple[LegendForm, ...], Field(max_length=200)] = ()
    strokes: Annotated[tuple[StrokesForm, ...], Field(max_length=400)] = ()
    keepouts: Annotated[tuple[KeepoutsForm, ...], Field(max_length=40)] = ()
    identity: IdentityForm | None = None


def json_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of the design file."""
    schema = DesignForm.model_json_schema()
    tables = schema["$defs"]
    for table, key in (
        ("ContactForm", "number"),
        ("FixedForm", "pin"),
        ("WaiverForm", "pin"),
        ("KeepForm", "pin"),
    ):
        said = tables[table]["properties"][key]
        note = {name: said.pop(name) for name in ("title", "description") if name in said}
        whole = {"type": "integer", "minimum": 0, "maximum": 9999}
        tables[table]["properties"][key] = {**note, "anyOf": [said, whole]}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **schema,
        "title": "boardgen design file",
    }

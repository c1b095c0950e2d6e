"""The form of a design file, checked with pydantic; what each key means stands at the key.

Lengths are in mm (keys end in ``_mm``, x right, y down from the board's top left),
voltages in V, currents in A, resistances in ohm.
"""

from __future__ import annotations

import unicodedata
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field

NAME_PATTERN = r"^[a-z0-9]([a-z0-9-]{0,46}[a-z0-9])?$"
REVISION_PATTERN = r"^[A-Z]{1,2}$"
SIGNAL_PATTERN = r"^[A-Za-z][A-Za-z0-9_]{0,23}$"
ID_PATTERN = r"^[a-z0-9][a-z0-9.-]{0,63}$"
PIN_PATTERN = r"^#?[A-Za-z0-9_+./-]{1,24}$"
NUMBER_PATTERN = r"^[A-Za-z0-9]{1,8}$"
RAIL_PATTERN = r"^([A-Za-z0-9_.+-]{1,16})?$"
RULE_PATTERN = r"^[a-z][a-z0-9-]{1,39}$"
FUNCTION_PATTERN = r"^([a-z0-9]{1,8}(\.[a-z0-9]{1,8})?)?$"
NET_PATTERN = r"^[A-Za-z0-9_.+/-]{1,48}$"
REF_PATTERN = r"^[A-Z]{1,3}[0-9]{1,4}$"
PAD_PATTERN = r"^[A-Z]{1,3}[0-9]{1,4}\.[A-Za-z0-9_+-]{1,8}$"
MOST_CONTACTS = 200

WORDS = {
    NAME_PATTERN: "lower-case letters, digits and hyphens, at most 48, no path",
    REVISION_PATTERN: "one or two capital letters",
    SIGNAL_PATTERN: "a letter, then letters, digits and underscores, at most 24",
    ID_PATTERN: "a catalogue id: lower-case letters, digits, hyphens and points",
    PIN_PATTERN: "a pin's name, or #N for its number",
    NUMBER_PATTERN: "a contact's number or letter, at most 8 characters",
    RAIL_PATTERN: "a rail's name, such as 3V3",
    RULE_PATTERN: "a rule's id, such as mask-web",
    FUNCTION_PATTERN: "a function such as i2c.sda, uart.rx or pwm",
    NET_PATTERN: "a net's name, such as GND or ROW1",
    REF_PATTERN: "a part's reference, such as R1",
    PAD_PATTERN: "a part's reference and pad, such as R1.2",
}


def _clean(text: str) -> str:
    for letter in text:
        if letter != "\n" and unicodedata.category(letter) in ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"):
            raise ValueError(f"the text holds a character that cannot be printed (U+{ord(letter):04X})")
    return text


def _one_line(text: str) -> str:
    if "\n" in text:
        raise ValueError("the text must stand on one line")
    return _clean(text)


def _contact_number(value: object) -> object:
    if isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= 9999:
        return str(value)
    return value


Line = Annotated[str, Field(max_length=120), AfterValidator(_one_line)]
Short = Annotated[str, Field(max_length=40), AfterValidator(_one_line)]
Prose = Annotated[str, Field(max_length=4000), AfterValidator(_clean)]
Signal = Annotated[str, Field(pattern=SIGNAL_PATTERN)]
Id = Annotated[str, Field(pattern=ID_PATTERN)]
Revision = Annotated[str, Field(pattern=REVISION_PATTERN)]
Pin = Annotated[str, BeforeValidator(_contact_number), Field(pattern=PIN_PATTERN)]
Number = Annotated[str, BeforeValidator(_contact_number), Field(pattern=NUMBER_PATTERN)]
Rail = Annotated[str, Field(pattern=RAIL_PATTERN)]
Length = Annotated[float, Field(gt=0, le=500, allow_inf_nan=False, strict=True)]
NotNegative = Annotated[float, Field(ge=0, le=100, allow_inf_nan=False, strict=True)]
Place = Annotated[float, Field(ge=-1000, le=1000, allow_inf_nan=False, strict=True)]
Current = Annotated[float, Field(gt=0, le=5, allow_inf_nan=False, strict=True)]
Resistance = Annotated[float, Field(gt=0, le=1e8, allow_inf_nan=False, strict=True)]
Volts = Annotated[float, Field(ge=0, le=60, allow_inf_nan=False, strict=True)]
Flag = Annotated[bool, Field(strict=True)]
Edge = Literal["", "left", "right", "top", "bottom"]
PlacePair = tuple[Place, Place]
Side = Literal["top", "bottom"]
Net = Annotated[str, Field(pattern=NET_PATTERN)]
PartRef = Annotated[str, Field(pattern=REF_PATTERN)]
PadName = Annotated[str, Field(pattern=PAD_PATTERN)]


class Table(BaseModel):
    """A table in which an unknown key is an error."""

    model_config = ConfigDict(extra="forbid", frozen=True, str_strip_whitespace=True)


class ContactForm(Table):
    """One ``[[contacts]]`` table: one contact of the device's plug."""

    number: Annotated[Number, Field(description="its number on the board's connector, as on the mating face")]
    kind: Annotated[
        Literal[
            "row",
            "column",
            "switch",
            "analog",
            "digital",
            "lamp",
            "relay",
            "buzzer",
            "supply",
            "ground",
            "shield",
            "unused",
        ],
        Field(
            description="row, column: lines of a key matrix; switch: closes to ground; analog: a voltage "
            "to measure; digital: logic, needs a direction; lamp, relay, buzzer: loads switched to ground; "
            "supply: a rail the board gives; ground; shield; unused: left open on purpose"
        ),
    ]
    signal: Annotated[
        Signal | None, Field(description="its name; ground, shield, supply and unused may go without")
    ] = None
    direction: Annotated[
        Literal["in", "out", "both"] | None, Field(description="for digital: as seen from the module")
    ] = None
    wire: Annotated[Short, Field(description="colour of its wire")] = ""
    sure: Annotated[
        Literal["measured", "documented", "guessed"], Field(description="how its role was found")
    ] = "measured"
    rail: Annotated[
        Rail,
        Field(
            description="supply: the rail given, or auto: the lowest that the device's logic tables allow "
            "and on which every signal proves safe; lamp, relay, buzzer: where it hangs; else its level"
        ),
    ] = ""
    current_a: Annotated[
        Current | None, Field(description="supply, lamp, relay, buzzer: steady current in A")
    ] = None
    ohms: Annotated[
        Resistance | None,
        Field(description="analog: resistance of the pot; else of the load, a lamp's when cold"),
    ] = None
    function: Annotated[str, Field(pattern=FUNCTION_PATTERN, description="i2c.sda, uart.rx, pwm")] = ""
    logic: Annotated[
        Signal | None, Field(description="digital: the [[logic]] table of the chip behind it")
    ] = None
    way: Annotated[
        Literal["auto", "direct", "series", "pull-up", "divider", "buffer", "open-drain"],
        Field(
            description="how it is carried; auto takes the cheapest that proves safe. direct; series: "
            "a resistor in line; pull-up: one to a rail; divider: two resistors; buffer: a chip between; "
            "open-drain: a FET between two pull-ups"
        ),
    ] = "auto"
    source: Annotated[
        Literal["board", "device", "feeds"],
        Field(
            description="supply: board where the board feeds it; device where the device brings its own and "
            "the board leaves it apart; feeds where that also feeds the module, through a diode"
        ),
    ] = "board"
    inductive: Annotated[
        Flag | None, Field(description="a load: whether it is a coil; relays, buzzers are")
    ] = None
    flyback: Annotated[
        Literal["auto", "fitted"], Field(description="a coil: fitted where the device has its own diode")
    ] = "auto"
    note: Line = ""


class LogicForm(Table):
    """One ``[[logic]]`` table: the chips of the device that some contacts lead to.

    Levels that a person measured go before those of the family.
    """

    name: Signal = "device"
    family: Annotated[
        Annotated[str, Field(pattern=ID_PATTERN)] | None,
        Field(description="catalogue id of the logic family: `boardgen catalog logic`"),
    ] = None
    rail: Annotated[
        Rail,
        Field(
            description="what it runs from: a rail of the module, or a voltage such as 5V; left out, the "
            "rail that the board gives, whichever that is"
        ),
    ] = ""
    own_supply: Annotated[Flag, Field(description="the device has a supply of its own")] = False
    supply_min_v: Annotated[Volts | None, Field(description="least supply of the device as a whole")] = None
    supply_max_v: Annotated[Volts | None, Field(description="most supply of the device as a whole")] = None
    output: Annotated[
        Literal["push-pull", "open-drain"] | None, Field(description="open-drain: pulls low only")
    ] = None
    pull_up_ohms: Annotated[
        Resistance | None, Field(description="a pull-up to its rail inside the device")
    ] = None
    high_v: Annotated[Volts | None, Field(description="measured: its high level, loaded with 10 kohm")] = None
    low_v: Annotated[Volts | None, Field(description="measured: its low level, loaded with 10 kohm")] = None
    reads_high_v: Annotated[Volts | None, Field(description="measured: least level it takes as high")] = None
    reads_low_v: Annotated[Volts | None, Field(description="measured: most level it takes as low")] = None
    takes_v: Annotated[Volts | None, Field(description="stated: most volts its inputs take")] = None
    note: Line = ""


class CableForm(Table):
    """The ``[cable]`` table: the lead between board and device."""

    length_m: Annotated[float | None, Field(gt=0, le=100, allow_inf_nan=False, strict=True)] = None
    pf_per_m: Annotated[
        float | None,
        Field(gt=0, le=1000, allow_inf_nan=False, description="33 to 66 a pair, 50 ribbon, 75 fine ribbon"),
    ] = None


class MatrixForm(Table):
    """One ``[[matrices]]`` table; rows and columns may be left out where there is one matrix only."""

    name: Signal = "keys"
    rows: Annotated[tuple[Signal, ...], Field(max_length=64)] = ()
    columns: Annotated[tuple[Signal, ...], Field(max_length=64)] = ()
    drive: Annotated[Literal["rows", "columns"], Field(description="which lines the module strobes")] = (
        "columns"
    )
    diodes: Literal["none", "cathode-to-row", "cathode-to-column"] = "none"
    keys: Annotated[
        tuple[Annotated[tuple[Short, ...], Field(max_length=64)], ...],
        Field(max_length=64, description='names of the keys, a list a row; "" where no key is'),
    ] = ()
    diode_keys: Annotated[
        tuple[Short, ...] | None,
        Field(
            min_length=1,
            max_length=4096,
            description="the only keys that have a diode, the way diodes says; left out: every key has one",
        ),
    ] = None
    together: Annotated[
        tuple[Annotated[tuple[Short, ...], Field(min_length=2, max_length=16)], ...],
        Field(max_length=64, description="groups of keys that are held together and must read right"),
    ] = ()
    key_kind: Annotated[
        Literal["metal", "worn", "membrane", "elastomer"],
        Field(description="what closes: metal contacts, worn ones, a membrane, carbon on rubber"),
    ] = "metal"
    contact_ohms: Annotated[
        Resistance | None, Field(description="a closed key at its worst; left out: by key_kind")
    ] = None
    diode_vf_v: Annotated[
        float | None,
        Field(
            gt=0,
            le=3,
            allow_inf_nan=False,
            strict=True,
            description="drop of a diode; left out: that of the catalogue's 1N4148 at the current that flows",
        ),
    ] = None


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
    parts: Annotated[tuple[PlacedForm, ...], Field(max_length=400)] = ()


class TracksForm(Table):
    """One ``[[tracks]]`` table: a track that a person locked."""

    net: Net
    side: Side = "top"
    width_mm: Length
    points_mm: Annotated[tuple[PlacePair, ...], Field(min_length=2, max_length=200)]


class LegendForm(Table):
    """One ``[[legend]]`` table: a text that a person put on the legend, centred on its place."""

    text: Annotated[Line, Field(min_length=1)]
    x_mm: Place
    y_mm: Place
    height_mm: Annotated[Length, Field(le=20)] = 1.0
    turn: Annotated[float, Field(ge=-360, le=360, allow_inf_nan=False)] = 0.0
    side: Side = "top"


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
    legend: Annotated[tuple[LegendForm, ...], Field(max_length=200)] = ()


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

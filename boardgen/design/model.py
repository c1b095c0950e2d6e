"""A design as frozen values, as the design file says it, before anything is decided."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from boardgen.board.model import Keepout, Outline, Placement, Side, Via
from boardgen.catalog.model import Connector, FabClass, Module
from boardgen.units import Nm, Point


class ContactKind(StrEnum):
    """What a contact of the device's plug is for."""

    ROW = "row"  # matrix line, read by the module unless the matrix says otherwise
    COLUMN = "column"  # matrix line, driven by the module
    SWITCH = "switch"  # closes to ground
    ANALOG = "analog"  # a voltage for an ADC (a pot's wiper)
    DIGITAL = "digital"  # logic; needs a direction
    LAMP = "lamp"  # a load the module switches to ground through a driver
    RELAY = "relay"  # the same for a coil
    BUZZER = "buzzer"  # the same for a sounder
    SUPPLY = "supply"  # a rail the board gives to the device
    GROUND = "ground"
    SHIELD = "shield"  # joined to ground at the connector
    UNUSED = "unused"  # left open on purpose


LOADS = (ContactKind.LAMP, ContactKind.RELAY, ContactKind.BUZZER)


class Direction(StrEnum):
    """Which way a signal runs, seen from the module."""

    IN = "in"
    OUT = "out"
    BOTH = "both"


class Confidence(StrEnum):
    """How a contact's role was found."""

    MEASURED = "measured"
    DOCUMENTED = "documented"
    GUESSED = "guessed"


@dataclass(frozen=True, slots=True)
class Contact:
    """One contact of the device's plug.

    *number* is the number on the board's connector. *rail* names a rail for
    SUPPLY, the rail a LAMP hangs on, or the one whose level a DIGITAL or ANALOG
    contact reaches. *current_a* per load or supply.
    *function* asks for a pin with a function ("i2c.sda", "uart.rx", "pwm").
    *logic* names the device's chips behind a DIGITAL contact, *way* how it
    is to be carried ("auto": the cheapest that proves safe). *source* is "device"
    for a SUPPLY the device brings itself, "feeds" where that feeds the module too.
    *inductive* says that a load is a coil
    (None: relays and buzzers are), *flyback* that it has its own diode ("fitted").
    *line* is the line in the design file.
    """

    number: str
    signal: str
    kind: ContactKind
    direction: Direction | None = None
    wire: str = ""
    sure: Confidence = Confidence.MEASURED
    rail: str = ""
    current_a: float | None = None
    ohms: float | None = None
    function: str = ""
    note: str = ""
    line: int | None = None
    logic: str = ""
    way: str = "auto"
    source: str = "board"
    inductive: bool | None = None
    flyback: str = "auto"

    @property
    def coil(self) -> bool:
        """Whether switching the load off drives a voltage up: a coil, where nothing else is said."""
        if self.inductive is None:
            return self.kind in (ContactKind.RELAY, ContactKind.BUZZER)
        return self.inductive


@dataclass(frozen=True, slots=True)
class DeviceLogic:
    """Chips of the device that some contacts lead to.

    *family* is the catalogue id of their logic family ("" where none is
    known), *rail* what they run from, *own_supply* says that the device feeds
    them itself. Levels in V a person measured are None where nobody did, and
    go before those of the family.
    """

    name: str
    family: str = ""
    rail: str = ""
    own_supply: bool = False
    supply_min_v: float | None = None
    supply_max_v: float | None = None
    output: str | None = None
    pull_up_ohms: float | None = None
    high_v: float | None = None
    low_v: float | None = None
    reads_high_v: float | None = None
    reads_low_v: float | None = None
    takes_v: float | None = None
    note: str = ""
    line: int | None = None


@dataclass(frozen=True, slots=True)
class Cable:
    """The lead between board and device; None where the design does not say."""

    length_m: float | None = None
    pf_per_m: float | None = None


TO_ROW, TO_COLUMN, BOTH_WAYS = "cathode-to-row", "cathode-to-column", "both-ways"


@dataclass(frozen=True, slots=True)
class Matrix:
    """A key matrix: which signals are rows and columns; *drive* says which are strobed.

    *diodes* is "none", "cathode-to-row" or "cathode-to-column". *keys* lists
    (row signal, column signal, key name); empty means every crossing, named
    "ROW/COLUMN". *diode_keys* are the only keys with a diode (None: all have
    one where there are any); *cathode_to_row* and *cathode_to_column* are keys
    with a diode of their own direction. *together* are groups of keys held at once that
    must read right. *key_kind* is "metal", "worn", "membrane" or "elastomer";
    *contact_ohms* a closed key at its worst and *diode_vf_v* a diode's drop,
    None where the design does not say.
    """

    name: str
    rows: tuple[str, ...]
    columns: tuple[str, ...]
    drive: str = "columns"
    diodes: str = "none"
    keys: tuple[tuple[str, str, str], ...] = ()
    diode_keys: tuple[str, ...] | None = None
    together: tuple[tuple[str, ...], ...] = ()
    key_kind: str = "metal"
    contact_ohms: float | None = None
    diode_vf_v: float | None = None
    cathode_to_row: tuple[str, ...] = ()
    cathode_to_column: tuple[str, ...] = ()

    def key_places(self) -> tuple[tuple[str, str, str], ...]:
        """Return (row, column, key name) of every key, crossings without a list included."""
        return self.keys or tuple((r, c, f"{r}/{c}") for r in self.rows for c in self.columns)

    def key_diodes(self) -> dict[str, str]:
        """Return which way each diode points, "cathode-to-row" or "cathode-to-column", by key in their order.

        Keys without a diode are left out.
        """
        own = dict.fromkeys(self.cathode_to_row, TO_ROW) | dict.fromkeys(self.cathode_to_column, TO_COLUMN)
        fitted = None if self.diode_keys is None else set(self.diode_keys)
        found = {}
        for _, _, name in self.key_places():
            common = self.diodes if fitted is None or name in fitted else "none"
            if (way := own.get(name, common)) != "none":
                found[name] = way
        return found

    def diode_ways(self) -> str:
        """Return how all diodes point: "none", "cathode-to-row", "cathode-to-column" or "both-ways"."""
        ways = set(self.key_diodes().values())
        return BOTH_WAYS if len(ways) > 1 else next(iter(ways), "none")


@dataclass(frozen=True, slots=True)
class Group:
    """Signals that want neighbouring GPIO numbers; *ordered* in the order given."""

    name: str
    signals: tuple[str, ...]
    consecutive: bool = True
    ordered: bool = True


@dataclass(frozen=True, slots=True)
class FixedPin:
    """A signal tied to a module pin (by name or number)."""

    signal: str
    pin: str
    line: int | None = None


@dataclass(frozen=True, slots=True)
class Waiver:
    """Leave to use a pin the catalogue marks as strap or shared, with the reason."""

    pin: str
    reason: str
    line: int | None = None


@dataclass(frozen=True, slots=True)
class FindingWaiver:
    """Leave to let findings of *rule* pass that name all of *items*, up to revision *until*."""

    rule: str
    items: tuple[str, ...]
    until: str
    reason: str
    line: int | None = None


class OutlineKind(StrEnum):
    """How the outline is asked for."""

    DERIVED = "derived"  # from the parts, plus margin
    SIZE = "size"  # a rectangle
    POLYGON = "polygon"  # ring or DXF loop


@dataclass(frozen=True, slots=True)
class OutlineWish:
    """The outline as the design asks for it. *shape* is set for POLYGON."""

    kind: OutlineKind = OutlineKind.DERIVED
    width: Nm | None = None
    height: Nm | None = None
    margin: Nm | None = None
    corner_radius: Nm | None = None
    shape: Outline | None = None


@dataclass(frozen=True, slots=True)
class HoleWish:
    """Mounting holes: *at* places them (board's top left is 0,0); None asks for corners."""

    diameter: Nm
    at: tuple[Point, ...] | None = None
    count: int = 4
    head: Nm | None = None


@dataclass(frozen=True, slots=True)
class Enclosure:
    """Limits of the case; None where it sets none."""

    max_width: Nm | None = None
    max_height: Nm | None = None
    max_component_height: Nm | None = None
    connector_edge: str = ""  # "", "left", "right", "top", "bottom"
    usb_edge: str = ""


@dataclass(frozen=True, slots=True)
class Cut:
    """A track of *net* to cut through by hand at *at* on *side*."""

    net: str
    at: Point
    side: Side


@dataclass(frozen=True, slots=True)
class Condition:
    """One condition a fixed fault became; keys as in the design file, None where they say nothing.

    Pads are (reference, pad number).
    """

    line: int | None
    net: str | None = None
    joins: tuple[tuple[str, str], ...] = ()
    apart: tuple[tuple[str, str], ...] = ()
    signal: str | None = None
    pins: tuple[str, ...] = ()
    not_pins: tuple[str, ...] = ()
    way: str | None = None
    margin_v: float | None = None
    part: str | None = None
    edge: Nm | None = None
    inside: bool = False
    other: str | None = None
    distance: Nm | None = None
    hole: Nm | None = None
    at: Point | None = None


@dataclass(frozen=True, slots=True)
class Erratum:
    """A known fault of a revision.

    *cuts* and *wires* (pairs of pads) are the rework by hand, *checks* what every
    revision from *fixed_in* on must keep.
    """

    revision: str
    symptom: str
    cause: str = ""
    fixed_in: str = ""
    workaround: str = ""
    cuts: tuple[Cut, ...] = ()
    wires: tuple[tuple[tuple[str, str], tuple[str, str]], ...] = ()
    checks: tuple[Condition, ...] = ()
    line: int | None = None


@dataclass(frozen=True, slots=True)
class KeptPin:
    """A signal that stays on module pin *pin* unless a change forces or asks otherwise."""

    signal: str
    pin: str
    line: int | None = None


@dataclass(frozen=True, slots=True)
class PlacedPart:
    """Where a part stands (nm, board axes), and the nets that tell which part is meant."""

    ref: str
    placement: Placement
    nets: tuple[str, ...] = ()
    line: int | None = None


@dataclass(frozen=True, slots=True)
class Stays:
    """What stays as it was in *revision* unless a change forces otherwise; None where nothing is said.

    *hole_diameters* go with *holes* one by one; () leaves the diameter to the design's mounting holes.
    """

    revision: str
    outline: Outline | None = None
    holes: tuple[Point, ...] | None = None
    parts: tuple[PlacedPart, ...] = ()
    line: int | None = None
    hole_diameters: tuple[Nm, ...] = ()


@dataclass(frozen=True, slots=True)
class LockedTrack:
    """A track a person locked: its corners, from end to end."""

    net: str
    side: Side
    width: Nm
    points: tuple[Point, ...]
    line: int | None = None


@dataclass(frozen=True, slots=True)
class LegendWish:
    """A text a person put on the legend, centred on *at*.

    It takes the place of the board's own text nearest to it that says *instead_of* ("": the same); with no
    *text* that one is left out.
    """

    text: str
    at: Point
    height: Nm
    rotation: float
    side: Side
    line: int | None = None
    instead_of: str = ""


@dataclass(frozen=True, slots=True)
class StrokeWish:
    """What a person drew on the legend: a pen *width* wide through *points*, the area inside if *filled*."""

    side: Side
    width: Nm
    points: tuple[Point, ...]
    filled: bool = False
    line: int | None = None


NO_STRAPS = 0  # the code read on a board without straps: no pin is held against its pull


def identity_signals(bits: int) -> tuple[str, ...]:
    """Return the signals of an identification code of *bits* bits, the least bit first."""
    return tuple(f"BOARD_ID{bit}" for bit in range(bits))


@dataclass(frozen=True, slots=True)
class Identity:
    """Identification straps: *code* tells firmware which revision it sits on.

    A bit is 1 where a resistor of *ohms* (catalogue id *part*) holds its pin against *pull* ("up" or
    "down"), the internal pull that firmware switches on. *earlier* are (revision, code) of the others.
    """

    bits: int
    code: int
    pull: str = "up"
    ohms: float = 2200.0
    part: str = "resistor-axial-quarter"
    earlier: tuple[tuple[str, int], ...] = ()
    line: int | None = None

    @property
    def signals(self) -> tuple[str, ...]:
        """The signals of the bits, the least first."""
        return identity_signals(self.bits)

    def bit(self, place: int) -> int:
        """Return bit *place* of the code, 0 or 1."""
        return self.code >> place & 1


@dataclass(frozen=True, slots=True)
class Design:
    """Everything a design file says. *module* is "auto" where boardgen chooses.

    *origin* is the file as the user named it; *digest* the sha256 of its bytes
    (and of the DXF file's, where the outline comes from one).
    """

    name: str
    title: str
    revision: str
    description: str
    device: str
    contacts: tuple[Contact, ...]
    matrices: tuple[Matrix, ...]
    groups: tuple[Group, ...]
    fixed: tuple[FixedPin, ...]
    waivers: tuple[Waiver, ...]
    module: str
    connector: str
    fab: str
    outline: OutlineWish
    holes: HoleWish | None
    enclosure: Enclosure
    errata: tuple[Erratum, ...]
    supply_fuse: bool = False  # a resettable fuse in each outgoing supply
    socketed: bool = True  # module in sockets (else soldered down)
    ground_pour: bool = True
    any_angle: bool = False  # tracks run straight at any angle (else in 45-degree steps)
    cautions: tuple[str, ...] = ()
    origin: str = ""
    digest: str = ""
    logic: tuple[DeviceLogic, ...] = ()
    cable: Cable = Cable()
    accepted: tuple[FindingWaiver, ...] = ()  # waivers of findings; those of pins are `waivers`
    lines: tuple[tuple[str, int], ...] = ()  # of the top keys and tables, by name
    keep: tuple[KeptPin, ...] = ()
    placed: tuple[PlacedPart, ...] = ()
    stays: Stays | None = None
    tracks: tuple[LockedTrack, ...] = ()
    vias: tuple[Via, ...] = ()  # that a person locked
    legend: tuple[LegendWish, ...] = ()
    strokes: tuple[StrokeWish, ...] = ()
    keepouts: tuple[Keepout, ...] = ()
    identity: Identity | None = None
    licence: str = ""  # under which others may use the design, and who is to be named with it
    attribution: str = ""

    def line_of(self, key: str) -> int | None:
        """Return the line of the top key or table called *key*, None where the file leaves it out."""
        return dict(self.lines).get(key)

    def contact(self, signal: str) -> Contact:
        """Return the (first) contact that carries *signal*; raises KeyError."""
        for contact in self.contacts:
            if contact.signal == signal:
                return contact
        raise KeyError(signal)

    def logic_of(self, contact: Contact) -> DeviceLogic | None:
        """Return the chips behind *contact*: those it names, else the only ones there are, else None."""
        if contact.logic:
            return next(item for item in self.logic if item.name == contact.logic)
        return self.logic[0] if len(self.logic) == 1 else None


@dataclass(frozen=True, slots=True)
class BoundDesign:
    """A design with its catalogue entries in hand: what every later floor works from."""

    design: Design
    module: Module
    connector: Connector
    fab: FabClass

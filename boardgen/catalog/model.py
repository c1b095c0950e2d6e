"""Catalogue entries as frozen values, with every figure's source kept beside it.

Lengths in nm, voltages in V, currents in A, resistances in ohm.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from boardgen.catalog.errata import ChipErratum
from boardgen.catalog.logic import Gate, Logic
from boardgen.catalog.making import PanelLimits
from boardgen.catalog.power import Adc, Onboard, Power
from boardgen.units import ZERO, Box, Nm, Point, Size


@dataclass(frozen=True, slots=True)
class Source:
    """Where figures come from: a document and the place in it; *what* it was used for."""

    document: str
    place: str = ""
    what: str = ""


class PinKind(StrEnum):
    """What a module's pin is."""

    GPIO = "gpio"
    SUPPLY = "supply"
    GROUND = "ground"
    CONTROL = "control"  # reset, enable, boot: never assigned
    UNUSED = "unused"  # not connected on the module


@dataclass(frozen=True, slots=True)
class SupplyPin:
    """A rail at a module's pin.

    *rail* is the name nets get ("3V3", "5V", "VIN"); *role* is "out" (the
    module supplies it), "in" (the module takes it) or "both" (a USB rail).
    *budget_a* is what the module can spare for the outside, None where no
    source states it.
    """

    rail: str
    volts: float
    role: str
    budget_a: float | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class ModulePin:
    """One pin of a module. *number* is the pad number of its footprint.

    *functions* are lower-case words such as "adc0.1", "i2c0.sda", "uart0.tx",
    "spi0.sck", "pwm"; *can_read*/*can_drive* say what the pin can do; *pulls*
    lists internal pulls ("up", "down"). *strap* says what the pin decides at
    boot, *shared* what on the module also uses it ("LED", "flash", "radio",
    "supply sense"); both empty for a free pin. *max_volts* is the highest
    voltage the pin takes while powered; *idle_max_volts* while unpowered.
    *caution* is a remark that does not forbid the pin. *logic* names the class
    of the module's levels the pin belongs to ("": the first).

    *strap_needs* is the level the pin must have at reset for the program to
    start, and to be loaded where the loader asks for one ("high", "low", ""
    where either will do or no source says), *strap_for* is "load" where that matters to the loader
    alone, *strap_pull* the internal pull then. *pull_up_ohms* and
    *pull_down_ohms* (least, most) and *drive_a* hold where they differ from the
    module's; *onboard* lists parts on the module that hang on the pin.
    """

    number: str
    name: str
    kind: PinKind
    functions: tuple[str, ...] = ()
    can_read: bool = False
    can_drive: bool = False
    pulls: tuple[str, ...] = ()
    strap: str = ""
    shared: str = ""
    max_volts: float | None = None
    idle_max_volts: float | None = None
    supply: SupplyPin | None = None
    caution: str = ""
    logic: str = ""
    strap_needs: str = ""
    strap_pull: str = ""
    pull_up_ohms: tuple[float, float] | None = None
    pull_down_ohms: tuple[float, float] | None = None
    drive_a: float | None = None
    onboard: tuple[Onboard, ...] = ()
    strap_for: str = ""

    @property
    def analog(self) -> bool:
        """Whether the pin has an ADC input."""
        return any(f.startswith("adc") for f in self.functions)


@dataclass(frozen=True, slots=True)
class UsbPort:
    """The module's USB jack, centred on the front end; lengths in nm.

    *overhang*: how far the jack stands out past the module's own board edge.
    *plug* is the envelope (w across, h high) of a cable's plug body, *plug_length*
    the room it needs in front of the jack.
    """

    kind: str
    overhang: Nm
    plug: Size
    plug_length: Nm


@dataclass(frozen=True, slots=True)
class Area:
    """A named area in the part's own frame."""

    name: str
    box: Box


@dataclass(frozen=True, slots=True)
class Module:
    """A microcontroller module that plugs in or is soldered on, front (USB) to -y.

    *body* is the module's own board in the footprint's frame, *height* what it
    needs above the carrier when socketed, *antenna* areas that must stay free
    of copper (or hang over the edge). *logic_volts* is the I/O supply;
    *logics* are the classes of pin levels by name. *pull_up_ohms* and
    *pull_down_ohms* are the chip's pulls as least, typical and most; *drive_a*
    is the most a pin should give or take, *io_total_a* all of them together,
    *errata* known faults of the chip.
    """

    id: str
    name: str
    maker_part: str
    description: str
    mcu: str
    footprint: str
    logic_volts: float
    pins: tuple[ModulePin, ...]
    body: Box
    height: Nm
    usb: UsbPort | None
    antenna: tuple[Area, ...]
    sources: tuple[Source, ...]
    origin: str = ""  # file the entry was read from
    cautions: tuple[str, ...] = ()
    price_hint: str = ""
    logics: tuple[tuple[str, Logic], ...] = ()
    pull_up_ohms: tuple[float, float, float] | None = None
    pull_down_ohms: tuple[float, float, float] | None = None
    adc: Adc | None = None
    power: Power | None = None
    drive_a: float | None = None
    io_total_a: float | None = None
    errata: tuple[ChipErratum, ...] = ()

    def pin(self, name_or_number: str) -> ModulePin:
        """Return the pin with that number, else with that name; raises KeyError."""
        for pin in self.pins:
            if pin.number == name_or_number:
                return pin
        for pin in self.pins:
            if pin.name == name_or_number:
                return pin
        raise KeyError(name_or_number)

    def logic_of(self, pin: ModulePin) -> Logic:
        """Return the levels of *pin*; raises KeyError where the entry states none."""
        if not self.logics:
            raise KeyError(pin.number)
        return dict(self.logics)[pin.logic or self.logics[0][0]]

    def pull_ohms(self, pin: ModulePin, way: str) -> tuple[float, float] | None:
        """Return least and most ohm of *pin*'s internal pull; *way* is "up" or "down".

        None where the pin has no such pull, or no source states its resistance.
        """
        if way not in pin.pulls:
            return None
        up = way == "up"
        own = pin.pull_up_ohms if up else pin.pull_down_ohms
        common = self.pull_up_ohms if up else self.pull_down_ohms
        if own is not None:
            return own
        return (common[0], common[2]) if common is not None else None

    def drive_of(self, pin: ModulePin) -> float | None:
        """Return the most A *pin* should give or take; None where no source states it."""
        return pin.drive_a if pin.drive_a is not None else self.drive_a


class Gender(StrEnum):
    """Which half of a mating pair, by its contacts."""

    PLUG = "plug"  # pins
    SOCKET = "socket"  # receptacles
    NEUTRAL = "neutral"  # screw terminals


class Mounting(StrEnum):
    """How a connector meets the board."""

    STRAIGHT = "straight"  # mates away from the board's face
    RIGHT_ANGLE = "right-angle"  # mates past the board's edge
    STRADDLE = "straddle"  # holds the board's edge between its contact rows


@dataclass(frozen=True, slots=True)
class FaceContact:
    """One contact as seen looking at the mating face: x right, y down, nm from its middle."""

    number: str
    at: Point


@dataclass(frozen=True, slots=True)
class Connector:
    """A connector as a real part. Contact numbers are kept as on the mating face.

    *edge* (right-angle and straddle): y in the footprint's frame where the
    board's edge lies; the part hangs over beyond it. *body* in the footprint's
    frame. *shell* lists pad numbers of the shell or board locks. *mate* is the
    envelope a mating plug needs (w across, h high; ZERO where unknown).
    """

    id: str
    name: str
    family: str
    gender: Gender
    mounting: Mounting
    footprint: str
    contacts: tuple[FaceContact, ...]
    shell: tuple[str, ...]
    edge: Nm | None
    body: Box
    height: Nm
    mate: Size
    current_a: float | None
    manufacturer: str
    mpn: str
    description: str
    sources: tuple[Source, ...]
    origin: str = ""
    cautions: tuple[str, ...] = ()

    def numbers(self) -> tuple[str, ...]:
        """Return the contact numbers in face order."""
        return tuple(contact.number for contact in self.contacts)


@dataclass(frozen=True, slots=True)
class Component:
    """A small part: resistor, capacitor, diode, transistor, fuse, LED.

    *pins* maps function to pad number ("anode" -> "2"). *figures* holds ratings
    by name with the unit in the name ("max_w", "hold_a", "vf_v", "hfe_min").
    *value* is fixed for a typed part ("1N4148"), empty for a range by value.
    A chip that carries logic has *gates*, control pins tied to "supply" or
    "ground" in *ties*, and the id of its logic family in *logic*.
    """

    id: str
    kind: str
    name: str
    value: str
    footprint: str
    pins: tuple[tuple[str, str], ...]
    figures: tuple[tuple[str, float], ...]
    manufacturer: str
    mpn: str
    description: str
    sources: tuple[Source, ...]
    origin: str = ""
    height: Nm = ZERO
    gates: tuple[Gate, ...] = ()
    ties: tuple[tuple[str, str], ...] = ()
    logic: str = ""

    def pad(self, function: str) -> str:
        """Return the pad number that carries *function*; raises KeyError."""
        return dict(self.pins)[function]

    def figure(self, name: str) -> float:
        """Return the rating called *name*; raises KeyError."""
        return dict(self.figures)[name]


@dataclass(frozen=True, slots=True)
class FabClass:
    """What a fab (or a kitchen table) can make; all lengths in nm.

    ``copper_layers`` is 2, or 1 for a class whose only copper is on the bottom.
    *plated* says whether holes get plated. *drills* lists the only finished
    hole diameters there are, empty where any within the limits will do.
    ``track``/``gap`` are preferred, ``*_min`` the limits that are checked.
    *panel* is None where the fab makes none; *files* are file name patterns by
    kind (see :data:`boardgen.catalog.making.FILE_KINDS`).
    """

    id: str
    name: str
    description: str
    copper_layers: int
    plated: bool
    track: Nm
    track_min: Nm
    gap: Nm
    gap_min: Nm
    supply_track: Nm
    ring_min: Nm
    hole_min: Nm
    hole_max: Nm
    drills: tuple[Nm, ...]
    hole_gap_min: Nm
    via_diameter: Nm
    via_hole: Nm
    via_diameter_min: Nm
    edge_copper_min: Nm
    npth_copper_min: Nm
    mask_web_min: Nm
    mask_margin: Nm
    legend: bool
    legend_stroke_min: Nm
    legend_height_min: Nm
    legend_pad_gap_min: Nm
    courtyard_gap_min: Nm
    thermal_gap: Nm
    thermal_spoke: Nm
    pour_gap: Nm
    pour_min_width: Nm
    hole_tolerance: Nm
    rout_tolerance: Nm
    thickness: Nm
    copper_um: int
    board_min: Size
    board_max: Size
    mask_colour: str
    legend_colour: str
    finish: str
    sources: tuple[Source, ...]
    origin: str = ""
    panel: PanelLimits | None = None
    files: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class LogicFamily:
    """A family of logic chips: what every member's inputs and outputs guarantee."""

    id: str
    name: str
    description: str
    levels: Logic
    sources: tuple[Source, ...]
    origin: str = ""
    cautions: tuple[str, ...] = ()


Entry = Module | Connector | Component | FabClass | LogicFamily

"""The form of a catalogue file, checked with pydantic, and its way into frozen values.

One TOML file is one entry; its ``kind`` key ("module", "connector", "part",
"fab", "logic") picks the form. Lengths are written in mm (keys end in ``_mm``), other
units are spelled in the key as well. ``family`` tells the footprint families
how to draw the entry's footprint; entries with a foreign ``.kicad_mod`` leave it out.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field, model_validator

from boardgen.catalog import logic, model
from boardgen.catalog.formtypes import (
    Amperes,
    Four,
    Id,
    Millimetres,
    NotNegative,
    Positive,
    Strict,
    Two,
    Volts,
    Word,
)
from boardgen.catalog.logicschema import LogicForm
from boardgen.catalog.makingschema import MakingForm
from boardgen.catalog.powerschema import (
    AdcForm,
    ErratumForm,
    OnboardForm,
    PowerForm,
    PullsForm,
    Range,
    rising,
)
from boardgen.units import Box, Nm, Point, Size, mm


class SourceForm(Strict):
    """One ``[[sources]]`` table."""

    document: Word
    place: str = ""
    what: str = ""

    def frozen(self) -> model.Source:
        """Return the value the rest of the program uses."""
        return model.Source(self.document, self.place, self.what)


class EntryForm(Strict):
    """Keys that every entry has."""

    id: Id
    name: Word
    description: str = ""
    footprint: Annotated[str, Field(pattern=r"^[A-Za-z0-9_.-]+$")]
    family: dict[str, Any] | None = None
    sources: Annotated[tuple[SourceForm, ...], Field(min_length=1)]

    def origins(self) -> tuple[model.Source, ...]:
        """Return the sources as frozen values."""
        return tuple(item.frozen() for item in self.sources)


def _box(four: Four) -> Box:
    left, top, right, bottom = (mm(value) for value in four)
    return Box(left, top, right, bottom)


class SupplyForm(Strict):
    """A module pin's ``supply`` table."""

    rail: Word
    volts: Volts
    role: Literal["in", "out", "both"]
    budget_a: Amperes | None = None
    note: str = ""


class PinForm(Strict):
    """One ``[[pins]]`` table of a module."""

    number: Word
    name: Word
    kind: Literal["gpio", "supply", "ground", "control", "unused"]
    functions: tuple[Annotated[str, Field(pattern=r"^[a-z0-9.]+$")], ...] = ()
    read: bool = True
    drive: bool = True
    pulls: tuple[Literal["up", "down"], ...] = ()
    strap: str = ""
    shared: str = ""
    max_volts: Volts | None = None
    idle_max_volts: Volts | None = None
    supply: SupplyForm | None = None
    caution: str = ""
    logic: str = ""
    strap_needs: Literal["", "high", "low"] = ""
    strap_pull: Literal["", "up", "down"] = ""
    strap_for: Literal["", "load"] = ""
    pull_up_ohms: Range | None = None
    pull_down_ohms: Range | None = None
    drive_a: Amperes | None = None
    onboard: tuple[OnboardForm, ...] = ()

    @model_validator(mode="after")
    def _sensible(self) -> PinForm:
        if (self.strap_needs or self.strap_pull) and not self.strap:
            raise ValueError("strap_needs and strap_pull belong to a pin with a strap")
        if self.strap_for and not self.strap_needs:
            raise ValueError("strap_for belongs to a pin with strap_needs")
        rising(self.pull_up_ohms, "pull_up_ohms")
        rising(self.pull_down_ohms, "pull_down_ohms")
        return self

    def frozen(self) -> model.ModulePin:
        """Return the value the rest of the program uses."""
        gpio = self.kind == "gpio"
        supply = model.SupplyPin(**self.supply.model_dump()) if self.supply else None
        return model.ModulePin(
            number=self.number,
            name=self.name,
            kind=model.PinKind(self.kind),
            functions=self.functions,
            can_read=gpio and self.read,
            can_drive=gpio and self.drive,
            pulls=self.pulls,
            strap=self.strap,
            shared=self.shared,
            max_volts=self.max_volts,
            idle_max_volts=self.idle_max_volts,
            supply=supply,
            caution=self.caution,
            logic=self.logic,
            strap_needs=self.strap_needs,
            strap_pull=self.strap_pull,
            strap_for=self.strap_for,
            pull_up_ohms=self.pull_up_ohms,
            pull_down_ohms=self.pull_down_ohms,
            drive_a=self.drive_a,
            onboard=tuple(item.frozen() for item in self.onboard),
        )


class UsbForm(Strict):
    """A module's ``[usb]`` table."""

    kind: Literal["usb-c", "micro-b", "mini-b"]
    overhang_mm: Millimetres
    plug_mm: Two
    plug_length_mm: Positive = 20.0


class AreaForm(Strict):
    """One ``[[antenna]]`` table; box is left, top, right, bottom in the footprint's frame."""

    name: Word
    box_mm: Four


class ModuleForm(EntryForm):
    """A file with ``kind = "module"``."""

    kind: Literal["module"]
    maker_part: Word
    mcu: Word
    logic_volts: Volts
    body_mm: Four
    height_mm: Positive
    usb: UsbForm | None = None
    antenna: tuple[AreaForm, ...] = ()
    pins: Annotated[tuple[PinForm, ...], Field(min_length=2)]
    cautions: tuple[str, ...] = ()
    levels: tuple[LogicForm, ...] = ()
    pulls: PullsForm = PullsForm()
    adc: AdcForm | None = None
    power: PowerForm | None = None
    drive_a: Amperes | None = None
    io_total_a: Amperes | None = None
    errata: tuple[ErratumForm, ...] = ()

    @model_validator(mode="after")
    def _levels_named(self) -> ModuleForm:
        names = [item.name for item in self.levels]
        if len(set(names)) != len(names) or (len(names) > 1 and "" in names):
            raise ValueError("each [[levels]] table needs a name of its own")
        strange = sorted({pin.logic for pin in self.pins if pin.logic} - set(names))
        if strange:
            raise ValueError(f"no [[levels]] table is called {strange[0]!r}, which a pin names")
        rails = {pin.supply.rail for pin in self.pins if pin.supply is not None}
        lost = sorted(self.power.rails() - rails) if self.power else []
        if lost:
            raise ValueError(f"no supply pin carries the rail {lost[0]!r}, which [power] names")
        unknown = sorted({p for item in self.errata for p in item.pins} - {pin.number for pin in self.pins})
        if unknown:
            raise ValueError(f"no pin has the number {unknown[0]!r}, which an erratum names")
        return self

    def frozen(self, origin: str) -> model.Module:
        """Return the value the rest of the program uses; *origin* is the file's name."""
        usb = None
        if self.usb:
            plug = Size(mm(self.usb.plug_mm[0]), mm(self.usb.plug_mm[1]))
            usb = model.UsbPort(self.usb.kind, mm(self.usb.overhang_mm), plug, mm(self.usb.plug_length_mm))
        return model.Module(
            id=self.id,
            name=self.name,
            maker_part=self.maker_part,
            description=self.description,
            mcu=self.mcu,
            footprint=self.footprint,
            logic_volts=self.logic_volts,
            pins=tuple(pin.frozen() for pin in self.pins),
            body=_box(self.body_mm),
            height=mm(self.height_mm),
            usb=usb,
            antenna=tuple(model.Area(a.name, _box(a.box_mm)) for a in self.antenna),
            sources=self.origins(),
            origin=origin,
            cautions=self.cautions,
            logics=tuple((item.name, item.frozen()) for item in self.levels),
            pull_up_ohms=self.pulls.up_ohms,
            pull_down_ohms=self.pulls.down_ohms,
            adc=self.adc.frozen() if self.adc else None,
            power=self.power.frozen() if self.power else None,
            drive_a=self.drive_a,
            io_total_a=self.io_total_a,
            errata=tuple(item.frozen() for item in self.errata),
        )


class ContactForm(Strict):
    """One contact on the mating face: number, x, y in mm from the face's middle (y down)."""

    number: Word
    x_mm: Millimetres
    y_mm: Millimetres


class ConnectorForm(EntryForm):
    """A file with ``kind = "connector"``.

    ``contacts`` may be left out where ``family`` derives the mating face.
    """

    kind: Literal["connector"]
    group: Word
    gender: Literal["plug", "socket", "neutral"]
    mounting: Literal["straight", "right-angle", "straddle"]
    contacts: tuple[ContactForm, ...] = ()
    shell: tuple[str, ...] = ()
    edge_mm: Millimetres | None = None
    body_mm: Four
    height_mm: Positive
    mate_mm: Two = (0.0, 0.0)
    current_a: Amperes | None = None
    manufacturer: Word
    mpn: Word
    cautions: tuple[str, ...] = ()

    def frozen(self, origin: str, face: tuple[model.FaceContact, ...] = ()) -> model.Connector:
        """Return the frozen value; *face* is the family's mating face where none is written."""
        contacts = face
        if self.contacts:
            contacts = tuple(
                model.FaceContact(c.number, Point(mm(c.x_mm), mm(c.y_mm))) for c in self.contacts
            )
        return model.Connector(
            id=self.id,
            name=self.name,
            family=self.group,
            gender=model.Gender(self.gender),
            mounting=model.Mounting(self.mounting),
            footprint=self.footprint,
            contacts=contacts,
            shell=self.shell,
            edge=None if self.edge_mm is None else mm(self.edge_mm),
            body=_box(self.body_mm),
            height=mm(self.height_mm),
            mate=Size(mm(self.mate_mm[0]), mm(self.mate_mm[1])),
            current_a=self.current_a,
            manufacturer=self.manufacturer,
            mpn=self.mpn,
            description=self.description,
            sources=self.origins(),
            origin=origin,
            cautions=self.cautions,
        )


class GateForm(Strict):
    """One of a part's ``[[gates]]``: input and output by pin function, control pins of this gate."""

    input: Word
    output: Word
    ties: dict[str, Literal["supply", "ground"]] = Field(default_factory=dict)


class PartForm(EntryForm):
    """A file with ``kind = "part"``; ``part`` says what it is ("resistor", "diode", ...)."""

    kind: Literal["part"]
    part: Literal["resistor", "capacitor", "diode", "led", "transistor", "mosfet", "fuse", "link", "ic"]
    value: str = ""
    pins: dict[str, str]
    figures: dict[str, Annotated[float, Field(allow_inf_nan=False)]] = Field(default_factory=dict)
    manufacturer: str = ""
    mpn: str = ""
    height_mm: NotNegative = 0.0
    logic: Annotated[str, Field(pattern=r"^([a-z0-9][a-z0-9.-]{0,63})?$")] = ""
    gates: tuple[GateForm, ...] = ()
    ties: dict[str, Literal["supply", "ground"]] = Field(default_factory=dict)

    @model_validator(mode="after")
    def _pins_there(self) -> PartForm:
        named = [name for gate in self.gates for name in (gate.input, gate.output, *gate.ties)]
        strange = sorted({*named, *self.ties} - set(self.pins))
        if strange:
            raise ValueError(f"[pins] has no {strange[0]!r}, which a gate or tie names")
        if self.gates and not (self.logic and {"supply", "ground"} <= set(self.pins)):
            raise ValueError("a part with gates needs logic, and pins called supply and ground")
        return self

    def frozen(self, origin: str) -> model.Component:
        """Return the value the rest of the program uses."""
        return model.Component(
            id=self.id,
            kind=self.part,
            name=self.name,
            value=self.value,
            footprint=self.footprint,
            pins=tuple(sorted(self.pins.items())),
            figures=tuple(sorted(self.figures.items())),
            manufacturer=self.manufacturer,
            mpn=self.mpn,
            description=self.description,
            sources=self.origins(),
            origin=origin,
            height=mm(self.height_mm),
            gates=tuple(
                logic.Gate(gate.input, gate.output, tuple(sorted(gate.ties.items()))) for gate in self.gates
            ),
            ties=tuple(sorted(self.ties.items())),
            logic=self.logic,
        )


class LogicFamilyForm(Strict):
    """A file with ``kind = "logic"``: a family of logic chips."""

    kind: Literal["logic"]
    id: Id
    name: Word
    description: str = ""
    levels: LogicForm
    sources: Annotated[tuple[SourceForm, ...], Field(min_length=1)]
    cautions: tuple[str, ...] = ()

    def frozen(self, origin: str) -> model.LogicFamily:
        """Return the value the rest of the program uses."""
        return model.LogicFamily(
            self.id,
            self.name,
            self.description,
            self.levels.frozen(),
            tuple(item.frozen() for item in self.sources),
            origin,
            self.cautions,
        )


class FabForm(MakingForm):
    """A file with ``kind = "fab"``."""

    kind: Literal["fab"]
    id: Id
    name: Word
    description: str = ""
    copper_layers: Literal[1, 2]
    plated: bool
    track_mm: Positive
    track_min_mm: Positive
    gap_mm: Positive
    gap_min_mm: Positive
    supply_track_mm: Positive
    ring_min_mm: Positive
    hole_min_mm: Positive
    hole_max_mm: Positive
    drills_mm: tuple[Positive, ...] = ()
    hole_gap_min_mm: Positive
    via_diameter_mm: Positive
    via_hole_mm: Positive
    via_diameter_min_mm: Positive
    edge_copper_min_mm: Positive
    npth_copper_min_mm: Positive
    mask_web_min_mm: NotNegative
    mask_margin_mm: NotNegative
    legend: bool
    legend_stroke_min_mm: Positive
    legend_height_min_mm: Positive
    legend_pad_gap_min_mm: NotNegative
    courtyard_gap_min_mm: NotNegative
    thermal_gap_mm: Positive
    thermal_spoke_mm: Positive
    pour_gap_mm: Positive
    pour_min_width_mm: Positive
    hole_tolerance_mm: NotNegative
    rout_tolerance_mm: NotNegative
    thickness_mm: Positive
    copper_um: Annotated[int, Field(ge=5, le=210)]
    board_min_mm: Two
    board_max_mm: Two
    mask_colour: str = "green"
    legend_colour: str = "white"
    finish: str = "lead-free HASL"
    sources: Annotated[tuple[SourceForm, ...], Field(min_length=1)]

    def frozen(self, origin: str) -> model.FabClass:
        """Return the value the rest of the program uses."""
        lengths: dict[str, Nm] = {
            name.removesuffix("_mm"): mm(value)
            for name, value in self.model_dump().items()
            if name.endswith("_mm") and isinstance(value, float)
        }
        return model.FabClass(
            id=self.id,
            name=self.name,
            description=self.description,
            copper_layers=self.copper_layers,
            plated=self.plated,
            drills=tuple(sorted(mm(value) for value in self.drills_mm)),
            board_min=Size(mm(self.board_min_mm[0]), mm(self.board_min_mm[1])),
            board_max=Size(mm(self.board_max_mm[0]), mm(self.board_max_mm[1])),
            copper_um=self.copper_um,
            legend=self.legend,
            mask_colour=self.mask_colour,
            legend_colour=self.legend_colour,
            finish=self.finish,
            sources=tuple(item.frozen() for item in self.sources),
            origin=origin,
            panel=None if self.panel is None else self.panel.frozen(),
            files=tuple(sorted(self.files.items())),
            **lengths,
        )


Form = ModuleForm | ConnectorForm | PartForm | FabForm | LogicFamilyForm
FORMS: dict[str, type[Form]] = {
    "module": ModuleForm,
    "connector": ConnectorForm,
    "part": PartForm,
    "fab": FabForm,
    "logic": LogicFamilyForm,
}

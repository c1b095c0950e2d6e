"""The form of the tables about the device: contacts, logic, cable, matrices."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from boardgen.design.formtypes import (
    FUNCTION_PATTERN,
    ID_PATTERN,
    Current,
    Flag,
    Line,
    Number,
    Rail,
    Resistance,
    Short,
    Signal,
    Table,
    Volts,
)


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
    diodes: Annotated[
        Literal["none", "cathode-to-row", "cathode-to-column"],
        Field(description="which way the keys' diodes point, but for those that cathode_to_... names"),
    ] = "none"
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
    cathode_to_row: Annotated[
        tuple[Short, ...],
        Field(
            max_length=4096,
            description="keys whose own diode has its cathode on the row, whatever diodes says",
        ),
    ] = ()
    cathode_to_column: Annotated[
        tuple[Short, ...],
        Field(
            max_length=4096,
            description="keys whose own diode has its cathode on the column, whatever diodes says",
        ),
    ] = ()
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

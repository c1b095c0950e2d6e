"""The command line: words in, words and an exit code out. Commands load what they need when called."""

from __future__ import annotations

import gc
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer
import typer.main

from boardgen import __version__
from boardgen.cli.guard import CLEAN, INPUT, guarded, open_streams
from boardgen.errors import InputError

app = typer.Typer(
    name="boardgen",
    help="Carrier boards for old input devices: from a measured plug to fabrication files, checked.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)

Json = Annotated[bool, typer.Option("--json", help="Answer on standard output as JSON.")]
Catalogs = Annotated[
    list[Path] | None,
    typer.Option("--catalog", metavar="DIR", help="A folder of your own entries; may be given again."),
]
Revision = Annotated[
    str | None, typer.Option("--revision", metavar="R", help="Revision letter in place of the design's.")
]


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"boardgen {__version__}")
        raise typer.Exit


@app.callback()
def _root(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Show the version.")
    ] = False,
) -> None:
    """Carrier boards for old input devices: from a measured plug to fabrication files, checked."""


@app.command("catalog")
def catalog_command(
    what: Annotated[
        str | None,
        typer.Argument(metavar="[modules|connectors|parts|fabs|show]", help="A kind of entry, or show ID."),
    ] = None,
    words: Annotated[
        list[str] | None, typer.Argument(metavar="[WORDS]...", help="Words that must all occur; or the ID.")
    ] = None,
    svg: Annotated[
        Path | None, typer.Option("--svg", metavar="FILE", help="With show: write the drawing to FILE.")
    ] = None,
    catalog: Catalogs = None,
    as_json: Json = False,
) -> int:
    """List, filter and show what boards can be built from.

    catalog connectors dsub 25 lists; catalog show ID shows one entry with its drawing.
    """
    from boardgen.cli import catalog as command

    given = [what, *(words or ())] if what is not None else []
    return command.run(given, svg, catalog or [], as_json)


@app.command("schema")
def schema_command(as_json: Json = False) -> int:
    """Print the design file's JSON Schema (it is JSON with or without --json)."""
    from boardgen.cli.out import write_json
    from boardgen.design.schema import json_schema

    write_json(json_schema())
    return CLEAN


@app.command("generate")
def generate_command(
    path: Annotated[Path, typer.Argument(metavar="PATH", help="A design folder or its design.toml.")],
    out: Annotated[
        Path, typer.Option("--out", metavar="DIR", help="Where the run folder goes.", show_default="out")
    ] = Path("out"),
    revision: Revision = None,
    catalog: Catalogs = None,
    as_json: Json = False,
) -> int:
    """Generate a board: route it, check it, and write every file of the run."""
    from boardgen.cli import generate as command

    return command.run(path, out, revision, catalog or [], as_json)


@app.command("check")
def check_command(
    path: Annotated[
        Path,
        typer.Argument(
            metavar="PATH",
            help="A design folder, its design.toml, a run's folder, or a .kicad_pcb file edited by hand.",
        ),
    ],
    revision: Revision = None,
    catalog: Catalogs = None,
    form: Annotated[
        str | None,
        typer.Option("--format", metavar="text|json|junit|sarif", help="The findings in this form."),
    ] = None,
    design: Annotated[
        Path | None,
        typer.Option("--design", metavar="PATH", help="The design a board file is held against."),
    ] = None,
    fab: Annotated[
        str | None, typer.Option("--fab", metavar="ID", help="Check a board file at this fab class.")
    ] = None,
    as_json: Json = False,
) -> int:
    """List the findings on a design, whose board is built in memory, on a finished run, or on a board file.

    Of a run, every file is held against the record, and the fabrication and CAD files are read back. A
    board file edited by hand is held against its run, or against the design given.
    """
    from boardgen.cli import check as command

    return command.run(path, revision, catalog or [], form, as_json, command.Against(design, fab))


@app.command("compare")
def compare_command(
    a: Annotated[Path, typer.Argument(metavar="A", help="A run's folder.")],
    b: Annotated[Path, typer.Argument(metavar="B", help="The run's folder it is compared with.")],
    form: Annotated[
        str | None, typer.Option("--format", metavar="text|json|html|changelog", help="The answer's form.")
    ] = None,
    to: Annotated[
        Path | None,
        typer.Option(
            "--to", metavar="FILE", help="Write to FILE (form by its ending), not to standard output."
        ),
    ] = None,
    prices: Annotated[
        Path | None, typer.Option("--prices", metavar="FILE", help="Compare costs by this price table.")
    ] = None,
    quantity: Annotated[
        int, typer.Option("--quantity", "-n", metavar="N", help="With --prices: for so many boards.")
    ] = 10,
    as_json: Json = False,
) -> int:
    """Say what changed from run A to run B, and whether firmware and enclosure of A still fit.

    Both runs are taken from their files alone, each held to its digest first.
    """
    from boardgen.cli import compare as command

    priced = None if prices is None else command.Priced(prices, quantity)
    return command.run(a, b, form, to, as_json, priced)


@app.command("revise")
def revise_command(
    path: Annotated[
        Path, typer.Argument(metavar="RUN_OR_DESIGN", help="A run's folder, or a design folder or its file.")
    ],
    to: Annotated[
        Path | None,
        typer.Option("--to", metavar="DIR", help="Make a copy of the design at DIR, and revise that."),
    ] = None,
    design: Annotated[
        Path | None, typer.Option("--design", metavar="PATH", help="With a run: the design it is of.")
    ] = None,
    run: Annotated[
        Path | None, typer.Option("--run", metavar="DIR", help="With a design: the run of its revision.")
    ] = None,
    catalog: Catalogs = None,
    as_json: Json = False,
) -> int:
    """Open the next revision: pins, places and work done by hand in the CAD file stay.

    The design keeps every word of its text; its revision changes, and tables are added at its end. The
    record of the revision before is kept beside it, under history/.
    """
    from boardgen.cli import revise as command

    return command.run(path, to, command.Beside(design, run), catalog or [], as_json)


@app.command("readings")
def readings_command(
    files: Annotated[list[Path], typer.Argument(metavar="FILE...", help="Readings as comma-separated text.")],
    connector: Annotated[
        str | None, typer.Option("--connector", metavar="ID", help="Catalogue id of the board's connector.")
    ] = None,
    view: Annotated[
        str | None,
        typer.Option(
            "--view", metavar="mating-face|solder-side", help="What was looked at while counting contacts."
        ),
    ] = None,
    half: Annotated[
        str | None,
        typer.Option("--half", metavar="plug|socket", help="Which half of the mating pair was looked at."),
    ] = None,
    numbers: Annotated[
        str | None,
        typer.Option(
            "--numbers",
            metavar="printed|position|ribbon",
            help="Contacts by printed number, or counted row by row from top left (wide side or key up), "
            "or by the conductors of a flat cable from its marked edge.",
        ),
    ] = None,
    to: Annotated[
        Path | None, typer.Option("--to", metavar="FILE", help="Write the device part into FILE.")
    ] = None,
    replace: Annotated[bool, typer.Option("--replace", help="With --to: replace the file.")] = False,
    catalog: Catalogs = None,
    as_json: Json = False,
) -> int:
    """Turn readings from the bench into the device part of a design file.

    A file begins with lines such as "view, solder-side" (also half, numbers,
    connector, device, rail, meter, rows), or options say so for all files.
    Then a line names the columns of a table; each line below is a reading.
    A # at the start of a line begins a comment.

    contact, wire [, signal, note]: signal only where known (GND, 5V, LAMP)

    plus, minus, reading [, at, note]: no key held; at: where a control stood

    key, plus, minus, reading [, note]: with that key held

    A reading is open, closed, ohms (12.5, 4k7) or a diode's drop (0.61 V).
    Plus is the positive lead; "meter, pointer" exchanges them.

    Without --to the device is printed, and what the readings say of it goes
    to standard error. Exit code 1: there are contradictions.
    """
    from boardgen.cli import readings as command

    given = {"connector": connector, "view": view, "half": half, "numbers": numbers}
    return command.run(files, given, catalog or [], to, replace, as_json)


@app.command("cost")
def cost_command(
    path: Annotated[Path, typer.Argument(metavar="RUN", help="A finished run's folder.")],
    prices: Annotated[Path, typer.Option("--prices", metavar="FILE", help="Your price table (TOML).")],
    quantities: Annotated[
        str | None,
        typer.Option("--quantities", metavar="N,N...", help="Numbers of boards (by default 1,5,10,50)."),
    ] = None,
    need: Annotated[
        int | None,
        typer.Option("--need", metavar="N", help="How many boards you need: its bill is told line by line."),
    ] = None,
    plot: Annotated[
        Path | None, typer.Option("--plot", metavar="FILE.svg", help="Draw the costs into this file.")
    ] = None,
    catalog: Catalogs = None,
    as_json: Json = False,
) -> int:
    """Say what boards cost by your price table: cheapest order, break-even, respin, what each thing adds.

    Exit code 1: something has no price; it is named, and the totals are marked incomplete.
    """
    from boardgen.cli import cost as command

    return command.run(path, prices, quantities, need, plot, catalog or [], as_json)


@app.command("order")
def order_command(
    path: Annotated[Path, typer.Argument(metavar="RUN", help="A finished run's folder.")],
    quantity: Annotated[int, typer.Option("--quantity", "-n", metavar="N", help="How many boards.")],
    out: Annotated[
        Path, typer.Option("--out", metavar="DIR", help="Where the package goes.", show_default="out")
    ] = Path("out"),
    bom: Annotated[
        str,
        typer.Option(
            "--bom",
            metavar="PROFILE",
            help="Form of the lists: plain, assembly-house, distributor, FILE.toml.",
        ),
    ] = "plain",
    panel: Annotated[
        str,
        typer.Option(
            "--panel", metavar="auto|none|RxC", help="Boards on panels: the best, none, or rows x columns."
        ),
    ] = "none",
    design: Annotated[
        Path | None,
        typer.Option("--design", metavar="PATH", help="The run's design (by default designs/NAME)."),
    ] = None,
    prices: Annotated[
        Path | None, typer.Option("--prices", metavar="FILE", help="Estimate by this price table of yours.")
    ] = None,
    catalog: Catalogs = None,
    as_json: Json = False,
) -> int:
    """Make a finished run into what a fab and a supplier are sent.

    Refuses a run with findings of severity error, with files that were changed or do not read back clean,
    and one whose design has changed since.
    """
    from boardgen.cli import order as command

    return command.run(path, quantity, out, bom, panel, design, prices, catalog or [], as_json)


@app.command("publish")
def publish_command(
    path: Annotated[Path, typer.Argument(metavar="RUN", help="A finished run's folder.")],
    to: Annotated[Path, typer.Option("--to", metavar="FILE.html", help="The page; one there is replaced.")],
    design: Annotated[
        Path | None,
        typer.Option("--design", metavar="PATH", help="The run's design (by default designs/NAME)."),
    ] = None,
    catalog: Catalogs = None,
    as_json: Json = False,
) -> int:
    """Make one self-contained page to put beside a run's files, for whoever builds the board.

    Pinout with views, parts, assembly step by step, known faults with their rework, which firmware runs on
    which revision. Refuses a run with findings of severity error, with files that were changed, and one whose
    design has changed since.
    """
    from boardgen.cli import publish as command

    return command.run(path, to, design, catalog or [], as_json)


@app.command("bringup")
def bringup_command(
    path: Annotated[Path, typer.Argument(metavar="RUN", help="A finished run's folder.")],
    serial: Annotated[
        str | None, typer.Option("--serial", metavar="S", help="The board these readings are of.")
    ] = None,
    readings: Annotated[
        Path | None, typer.Option("--readings", metavar="FILE", help="Its readings, as comma-separated text.")
    ] = None,
    log: Annotated[
        Path | None,
        typer.Option("--log", metavar="FILE", help="The batch log (by default beside the run's folder)."),
    ] = None,
    again: Annotated[
        bool, typer.Option("--again", help="The serial is in the log already: measured once more.")
    ] = False,
    batch: Annotated[
        bool, typer.Option("--batch", help="Show the yield and the faults by class over the log.")
    ] = False,
    as_json: Json = False,
) -> int:
    """Say where the sheets for the bench are; with readings, judge one board and log it.

    FILE is bringup/readings.csv of the run with a column named as the serial, or a table with columns test
    (or a and b: two places such as J1.5 and U1.20) and value. Values are open, ohms (0.4, 4k7), V, mA, or
    yes and no. Exit code 1: the board is faulty, or not measured to the end.
    """
    from boardgen.cli import bringup as command

    return command.run(path, serial, readings, log, again, batch, as_json)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line on *arguments* (``sys.argv`` by default) and return its exit code."""
    given = list(sys.argv[1:] if arguments is None else arguments)
    return guarded(lambda: _command(given), "--json" in given)


def _command(given: list[str]) -> int:
    command = typer.main.get_command(app)
    try:
        with command.make_context("boardgen", given) as context:
            code = command.invoke(context)
    except typer.Exit as error:
        return error.exit_code
    except Exception as error:
        # wrong usage: the base class stands in different modules from one typer to the next
        if not hasattr(error, "format_message"):
            raise
        message = str(error.format_message())
        if type(error).__name__ == "NoArgsIsHelpError":
            sys.stderr.write(message + "\n")
            return INPUT
        raise InputError(" ".join(message.split())) from None
    return code if isinstance(code, int) else CLEAN


def run() -> None:
    """Run as the console script."""
    # One command, then the process ends: looking for garbage cycles costs a tenth of a run.
    gc.set_threshold(500_000, 50, 100)
    open_streams()
    sys.exit(main())

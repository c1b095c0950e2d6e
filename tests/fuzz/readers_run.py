"""The readers of what comes after a run (plans, readings, logs, lists, prices, records); and all readers."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path

from readers import BOARD, DATA, ROOT, SMALL, Reader, _design, _entry, _files, catalogue, desk_files
from readers import READERS as FIRST

JSON = (b"1e999", b"NaN", b"\\ud800", b"[[[[", b"null", b"-1", b"true", b'"a": {')
PRICES = b"""\
kind = "prices"
name = "a table"
currency = "EUR"
[[boards]]
name = "a shop"
sizes = [{up_to_mm = [200, 200], per_order = 3, each = [[1, 9.5], [5, 4]]}]
[[parts]]
mpn = "R-10K"
breaks = [[1, 0.1], [10, 0.04]]
[[freight]]
name = "post"
goods = "boards"
flat = 3
[[fees]]
name = "duty"
percent = 3.5
share_of = ["boards"]
[work]
rate = 20
board_hours = 0.5
[respin]
boards = 5
weeks = 3
[sale]
factor = 2.5
fixed = [{name = "drawing", amount = 5}]
"""
WAIVERS = """
[[waivers]]
rule = "courtyard"
items = ["R1", "R2"]
reason = "they are soldered by hand"
until = "B"

[[errata]]
revision = "A"
symptom = "dark"
cause = "turned"
[[keep]]
signal = "A"
pin = "GP2"
[stays]
revision = "A"
"""


def _named(ending: str) -> bytes:
    return next(data for path, data in desk_files().items() if path.endswith(ending))


@cache
def plan():  # type: ignore[no-untyped-def]
    """Return the plan of the small board's bring-up, and that board's run in memory."""
    from boardgen.batch.openrun import parsed_plan

    return parsed_plan(_named("bringup/plan.json"), "plan")


@cache
def opened():  # type: ignore[no-untyped-def]
    """Return the small board's run as ``compare`` and ``revise`` open it."""
    import tempfile

    from boardgen.revision.runs import open_run

    with tempfile.TemporaryDirectory() as name:
        for path, data in desk_files().items():
            place = Path(name) / path
            place.parent.mkdir(parents=True, exist_ok=True)
            place.write_bytes(data)
        return replace(open_run(Path(name)), where="file")


def _log(data: bytes, folder: Path) -> object:
    from boardgen.batch.log import read_log
    from boardgen.batch.yields import batch_yield

    (folder / "file").write_bytes(data)
    return batch_yield(read_log(folder / "file", plan()))


def _log_seeds() -> tuple[bytes, ...]:
    about = {"design": plan().design, "revision": plan().revision, "pin_map": plan().pin_map}
    rest = {
        "faults": ["open joint"],
        "words": "w",
        "places": ["J1.1"],
        "off": ["S01"],
        "missing": 0,
        "readings": 3,
    }
    rows = [
        {**about, "serial": serial, "attempt": 1, "verdict": verdict, **rest}
        for serial, verdict in (("1", "good"), ("2", "faulty"), ("3", "incomplete"))
    ]
    return ("".join(json.dumps(row) + "\n" for row in rows).encode(),)


def _sheet(data: bytes, folder: Path) -> object:
    from boardgen.batch.judge import judge
    from boardgen.batch.readings import read_readings

    (folder / "file").write_bytes(data)
    return judge(plan(), read_readings(folder / "file", plan(), "1"), "1")


def _sheet_seeds() -> tuple[bytes, ...]:
    form = _named("bringup/readings.csv")
    test = plan().tests[-1]
    return (form, f"test,value\n{test.id},0.1\n".encode(), b"a,b,value\nJ1.1,U1.1,4k7\nJ1.1,J1.1/pad,OL\n")


def _plan(data: bytes, _folder: Path) -> object:
    from boardgen.batch.judge import judge
    from boardgen.batch.model import Reading
    from boardgen.batch.openrun import parsed_plan

    found = parsed_plan(data, "file")
    spots = [spot.name for spot in found.circuit.spots[:2]]
    return judge(found, [Reading("", "ohms", *spots, 10.0, "10", 1)] if len(spots) == 2 else [], "1")


def _profile(data: bytes, folder: Path) -> object:
    from boardgen.order.lists import bom_file, parts_of, position_file, positions_of
    from boardgen.order.profiles import load_profile

    (folder / "file.toml").write_bytes(data)
    profile = load_profile((folder / "file.toml").as_posix())
    made = bom_file("a", parts_of(_list("bom.csv")), profile, 7)
    return made, position_file("b", positions_of(_list("positions.csv")), profile)


def _list(name: str, data: bytes | None = None):  # type: ignore[no-untyped-def]
    from boardgen.export.files import OutFile

    return OutFile("file", _named(f"assembly/{name}") if data is None else data)


def _prices(data: bytes, _folder: Path) -> object:
    from boardgen.catalog.tomlfile import parse_toml
    from boardgen.order.cost import estimate
    from boardgen.order.cost_data import estimate_data
    from boardgen.order.cost_plot import cost_plot
    from boardgen.order.prices import prices_from

    prices = prices_from(parse_toml(data, "file"))
    found = estimate(_facts(), prices)
    json.dumps(estimate_data(found), allow_nan=False)
    return cost_plot(_facts(), prices, found, found.quotes[-1]) if found.quotes else None


@cache
def _facts():  # type: ignore[no-untyped-def]
    return _run_facts(json.loads(_named("summary.json")), _named("assembly/bom.csv"))


def _run_facts(summary: object, bom: bytes):  # type: ignore[no-untyped-def]
    from boardgen.catalog.tomlfile import parse_toml
    from boardgen.order.cost_facts import run_facts
    from boardgen.order.prices import prices_from

    prices = prices_from(parse_toml(PRICES, "prices"))
    fab = catalogue().fab("economy-2l")
    return run_facts(opened().record, summary, _list("bom.csv", bom), fab, prices, catalogue(), "file")  # type: ignore[arg-type]


def _bom(data: bytes, _folder: Path) -> object:
    from boardgen.order.lists import bom_file, parts_of
    from boardgen.order.profiles import load_profile

    bom_file("a", parts_of(_list("bom.csv", data)), load_profile("distributor"), 100_000)
    return _run_facts(json.loads(_named("summary.json")), data)


def _positions(data: bytes, _folder: Path) -> object:
    from boardgen.order.lists import position_file, positions_of
    from boardgen.order.profiles import load_profile

    return position_file("a", positions_of(_list("positions.csv", data)), load_profile("assembly-house"))


def _pins(ending: str) -> Callable[[bytes, Path], object]:
    def take(data: bytes, _folder: Path) -> object:
        from boardgen.revision.firmware import firmware_verdict
        from boardgen.revision.runs import guarded
        from boardgen.revision.wiring import wiring_changes

        files = {path: data if path.endswith(ending) else kept for path, kept in opened().files.items()}
        run = replace(opened(), files=files)
        guarded(run, lambda: wiring_changes(opened(), run))
        return guarded(run, lambda: firmware_verdict(opened(), run))

    return take


def _history(data: bytes, folder: Path) -> object:
    """The record, as ``compare``, ``revise``, ``cost`` and ``check`` of a CAD board go on to read it."""
    from boardgen.order.cost_facts import _BOM
    from boardgen.pipeline.cad_intent import intent_of_run
    from boardgen.pipeline.record import read_record
    from boardgen.revision.body import enclosure_verdict, places
    from boardgen.revision.hand import hand_work
    from boardgen.revision.runs import guarded
    from boardgen.revision.wiring import finding_changes, wiring_changes

    (folder / "summary.json").write_bytes(data)
    record, summary = read_record(folder / "summary.json")
    intent_of_run(folder / "cad/x.kicad_pcb", None, ())
    _run_facts(summary, opened().files[_BOM])
    run = replace(opened(), record=record, data=summary)
    guarded(run, lambda: finding_changes(opened(), run))
    guarded(run, lambda: enclosure_verdict(opened(), run, wiring_changes(opened(), run)))
    guarded(run, lambda: places(run))
    return guarded(run, lambda: hand_work(run, catalogue().fab("economy-2l")))


def _revised(data: bytes, _folder: Path) -> object:
    """A CAD board edited by hand, as the next revision's design takes it up."""
    from boardgen.catalog.tomlfile import parse_toml
    from boardgen.design.load import design_from
    from boardgen.revision.entries import revised_text, tables
    from boardgen.revision.hand import hand_work
    from boardgen.revision.runs import guarded

    files = {path: data if path.endswith(".kicad_pcb") else kept for path, kept in opened().files.items()}
    run = replace(opened(), files=files)
    work = guarded(run, lambda: hand_work(run, catalogue().fab("economy-2l")))
    text = revised_text(parse_toml(SMALL.encode(), "file"), "B", tables(work, (), "A", None))
    return design_from(parse_toml(text.encode("utf-8"), "file"), Path("file"))


def _project(data: bytes, _folder: Path) -> object:
    from boardgen.readback.cad_board import read_cad_board

    fab = catalogue().fab("economy-2l")
    return read_cad_board(BOARD.encode(), "file", fab, project=data)


def _archive(data: bytes, _folder: Path) -> object:
    from boardgen.export.files import OutFile
    from boardgen.readback.archive import check_zip

    beside = [OutFile(path, kept) for path, kept in desk_files().items() if path.startswith("fab/")]
    own = [file for file in beside if not file.path.endswith(".zip")]
    return check_zip((*own, OutFile("fab/file-fab.zip", data)))


def _design_with(data: bytes, folder: Path) -> object:
    return _design(SMALL.encode() + data, folder)


def _seed(ending: str) -> Callable[[], tuple[bytes, ...]]:
    return lambda: (_named(ending),)


TABLE = (b"R1 R2,3,10k", b'"', b"\n", b",", b"=cmd", b"99999")
MORE = (
    Reader("log", _log, _log_seeds, (*JSON, b'"serial": "1"', b'"attempt": 1')),
    Reader(
        "sheet",
        _sheet,
        _sheet_seeds,
        (b"test,value\n", b"a,b,value\n", b"OL", b"4k7", b"J1.1", b"U1.1", b";"),
    ),
    Reader("plan", _plan, _seed("bringup/plan.json"), JSON, longest=65_536),
    Reader(
        "profile",
        _profile,
        lambda: _files(ROOT / "boardgen/order/data/profiles", "*.toml"),
        (b"holds = ", b"[[bom.columns]]", b"percent = ", b"[[positions.turns]]", b"1e999", b"nan"),
        file="file.toml",
    ),
    Reader(
        "prices",
        _prices,
        lambda: (PRICES, (ROOT / "designs/prices.toml").read_bytes()),
        (b"[[1, 9.5], [5, 4]]", b"1e999", b"nan", b"[respin]", b"percent = ", b"1e-999", b"decimals = "),
    ),
    Reader("bom", _bom, _seed("assembly/bom.csv"), TABLE),
    Reader("positions", _positions, _seed("assembly/positions.csv"), (*TABLE, b"270.0", b"Top")),
    Reader("pins", _pins("_pins.json"), _seed("_pins.json"), JSON),
    Reader("pins-c", _pins("_pins.h"), _seed("_pins.h"), (b"/*", b"*/", b"#define ", b"\n")),
    Reader("history", _history, _seed("summary.json"), JSON, file="", longest=65_536),
    Reader(
        "revised",
        _revised,
        _seed(".kicad_pcb"),
        (b"(locked yes)", b"(segment", b"(gr_text", b"(at ", b"e99"),
        longest=131_072,
    ),
    Reader("project", _project, _seed(".kicad_pro"), (*JSON, b"net_settings", b"classes", b"patterns")),
    Reader(
        "archive", _archive, _seed("-fab.zip"), (b"PK\x01\x02", b"PK\x05\x06", b"PK\x03\x04"), longest=65_536
    ),
    Reader(
        "fab",
        _entry,
        lambda: _files(DATA / "fabs", "*.toml", 8),
        (b"kind = ", b"[files]", b"{name}", b"_mm = ", b"nan", b"1e999"),
    ),
    Reader(
        "waivers",
        _design_with,
        lambda: (WAIVERS.encode(),),
        (
            b"[[waivers]]",
            b"[[placed]]",
            b"[[tracks]]",
            b"[[legend]]",
            b"[stays]",
            b"points_mm = ",
            b"nan",
            b"1e999",
        ),
    ),
)
READERS = FIRST | {reader.name: reader for reader in MORE}


def main() -> int:
    """Write the seeds of the reader named first into the folder named second, a small run into the third."""
    name, folder, desk = sys.argv[1:]
    for path, data in desk_files().items():
        (Path(desk) / path).parent.mkdir(parents=True, exist_ok=True)
        (Path(desk) / path).write_bytes(data)
    for number, seed in enumerate(READERS[name].seeds()):
        (Path(folder) / f"{number:04d}").write_bytes(seed)
    return 0


if __name__ == "__main__":
    sys.exit(main())

"""What a board file is meant to be: taken from a design built anew, or from the run it lies in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from shapely.geometry.base import BaseGeometry

from boardgen.board.geometry import outline_polygon
from boardgen.board.model import Front, PartKind, Serving
from boardgen.catalog.load import Catalog, load_catalog
from boardgen.catalog.model import FabClass
from boardgen.circuit.build import CONNECTOR_REF, MODULE_REF
from boardgen.design.load import design_catalogs, load_design
from boardgen.design.model import FindingWaiver
from boardgen.errors import BoardgenError, InputError
from boardgen.export.bundle import Bundle
from boardgen.export.files import OutFile
from boardgen.export.run_folder import RECORD
from boardgen.footprint.model import Footprint
from boardgen.layout.fronts import front_of
from boardgen.pipeline.choose import choose_module
from boardgen.pipeline.record import read_record
from boardgen.pipeline.stages import build
from boardgen.pipeline.stopwatch import Stopwatch
from boardgen.readfile import leads_out, read_bytes
from boardgen.units import ZERO, Nm, mm

if TYPE_CHECKING:
    from boardgen.readback.cad_board import Intent

_WIDTHS = (6, 4)  # characters of reference and pin that the test netlist keeps
MAX_FILE = 16_000_000
MOST_STANDOFF = 100  # mm


def intent_of_design(
    path: Path, revision: str | None, fab: str | None, catalogs: Sequence[Path], watch: Stopwatch
) -> Intent:
    """Return what the design at *path* wants: it is built in memory, as ``check PATH`` does.

    Raises what building raises.
    """
    design = load_design(path)
    if revision is not None:
        design = replace(design, revision=revision)
    catalog = load_catalog(design_catalogs(path, catalogs))
    if fab is not None:
        catalog.fab(fab)
    bundle = build(choose_module(design, catalog), catalog, watch).bundle
    return intent_of_bundle(bundle, None if fab is None else catalog.fab(fab))


def intent_of_bundle(bundle: Bundle, fab: FabClass | None = None) -> Intent:
    """Return what a finished board's own design wants, at its fab class or at another."""
    from boardgen.readback.cad_board import Intent, WantedPart  # noqa: PLC0415

    board = bundle.board
    nets: dict[tuple[str, str], str | None] = {
        (part.ref, number): part.net_of(number) for part in board.parts for number in part.footprint.numbers()
    }
    nets |= {(part.ref, pin.number): pin.net for part in bundle.netlist.parts for pin in part.pins}
    outline = outline_polygon(board.outline, 100.0)
    left, _top, _right, bottom = outline_polygon(board.outline).bounds
    return Intent(
        name=board.name,
        revision=board.revision,
        source="design",
        fab=fab or bundle.bound.fab,
        parts=tuple(
            WantedPart(
                part.ref,
                part.kind,
                part.footprint,
                part.placement.side,
                part.standoff,
                part.front,
                part.serves,
            )
            for part in board.parts
        ),
        nets=nets,
        outline=outline,
        origin=(round(left), round(bottom)),
        accepted=bundle.bound.design.accepted,
    )


def intent_of_run(path: Path, fab: str | None, catalogs: Sequence[Path]) -> Intent:
    """Return what the run around *path* wants: its record, its test netlist and its profile.

    What the run let pass passes here too. Raises InputError, with what to pass instead, where the file
    lies in no run.
    """
    from boardgen.readback.cad_board import Intent, WantedPart  # noqa: PLC0415

    folder = path.resolve().parent.parent
    if not (folder / RECORD).is_file():
        raise InputError(
            "the board lies in no run, so there is nothing to hold it against",
            path.as_posix(),
            allowed="--design PATH with its design, or the file under cad/ of a run's folder",
        )
    record, data = read_record(folder / RECORD)
    catalog = load_catalog(tuple(catalogs))
    nets = _nets(folder, data, record.origin)
    known = dict.fromkeys((MODULE_REF, CONNECTOR_REF))
    drilled = catalog.drilled(catalog.fab(record.fab))  # the holes as the run has them
    refs = sorted({ref for ref, _ in nets} | set(known))
    entries = {
        MODULE_REF: (PartKind.MODULE, _entry(drilled, "module", data)),
        CONNECTOR_REF: (PartKind.CONNECTOR, _entry(drilled, "connector", data)),
    }
    serving = _serving(data)
    parts = []
    for ref in refs:
        kind, footprint = entries.get(ref, (PartKind.COMPONENT, None))
        if ref.startswith("W") and ref[1:].isdigit() and len(record.copper) == 1:
            kind = PartKind.LINK
        standoff = _standoff(data) if kind is PartKind.MODULE else ZERO
        front = _front(drilled, data) if kind is PartKind.CONNECTOR else None
        serves = serving.get(ref)
        parts.append(WantedPart(ref, kind, footprint, standoff=standoff, front=front, serves=serves))
    return Intent(
        name=record.design,
        revision=record.revision,
        source="the run's record",
        fab=catalog.fab(fab if fab is not None else record.fab),
        parts=tuple(parts),
        nets=nets,
        outline=_outline(folder, data, record.origin),
        origin=record.origin,
        accepted=tuple(
            FindingWaiver(f.rule, f.items, f.waived, record.revision) for f in record.findings if f.waived
        ),
        ref_width=_WIDTHS[0],
        pad_width=_WIDTHS[1],
    )


def _entry(catalog: Catalog, kind: str, data: Any) -> Footprint | None:
    """Return the footprint of the record's module or connector; None where the catalogue lacks it."""
    named = data.get(kind)
    if not isinstance(named, str):
        return None
    try:
        entry = catalog.module(named) if kind == "module" else catalog.connector(named)
        return catalog.footprint(entry.footprint)
    except BoardgenError:
        return None


def _front(catalog: Catalog, data: Any) -> Front | None:
    """Return where the record's connector needs the board's edge; None where the catalogue lacks it."""
    named = data.get("connector")
    try:
        return front_of(catalog.connector(named)) if isinstance(named, str) else None
    except BoardgenError:
        return None


def _serving(data: Any) -> dict[str, Serving]:
    """Return which parts stand by a chip's supply pin by the record; rows that do not tell are left out."""
    found = {}
    places = data.get("places")
    for row in places if isinstance(places, list) else []:
        serves = row.get("serves") if isinstance(row, dict) else None
        if not isinstance(serves, dict) or not isinstance(row.get("ref"), str):
            continue
        own, fed = (_words(serves.get(key)) for key in ("own", "fed"))
        if isinstance(serves.get("ref"), str) and own and fed:
            found[row["ref"]] = Serving(serves["ref"], own, fed)
    return found


def _words(value: Any) -> tuple[str, ...]:
    return tuple(v for v in value if isinstance(v, str)) if isinstance(value, list) else ()


def _standoff(data: Any) -> Nm:
    """Return how high the record's module stands over the board; nothing where the record does not tell."""
    board = data.get("board")
    height = board.get("module_standoff_mm") if isinstance(board, dict) else None
    try:
        return mm(repr(height)) if isinstance(height, int | float) and 0 < height <= MOST_STANDOFF else ZERO
    except ValueError:
        return ZERO


def _file(folder: Path, data: Any, ending: str) -> OutFile | None:
    """Return the run's recorded file that ends so; None where there is none to read."""
    rows = data.get("files")
    for row in rows if isinstance(rows, list) else []:
        name = row.get("path") if isinstance(row, dict) else None
        if not isinstance(name, str) or not name.endswith(ending):
            continue
        place = folder / name
        try:
            if leads_out(place, folder):
                return None
            return OutFile(name, read_bytes(place, place.as_posix(), MAX_FILE))
        except BoardgenError:
            return None
    return None


def _nets(folder: Path, data: Any, origin: tuple[float, float]) -> dict[tuple[str, str], str | None]:
    """Return the net of each pad by the run's test netlist; without one, of each contact and module pin."""
    from boardgen.readback.from_ipc import wanted_by_ipc  # noqa: PLC0415

    file = _file(folder, data, ".IPC")
    if file is not None:
        try:
            pads = wanted_by_ipc(file.data, file.path, *origin).pads
            return {(pad.ref, pad.number): pad.net for pad in pads}
        except (ValueError, UnicodeDecodeError) as error:
            raise InputError(f"the run's test netlist is damaged: {error}", file.path) from None
    nets: dict[tuple[str, str], str | None] = {}
    rows = data.get("signals")
    for row in rows if isinstance(rows, list) else []:
        if not isinstance(row, dict):
            continue
        for ref, pad, net in (
            (CONNECTOR_REF, row.get("contact"), row.get("net")),
            (MODULE_REF, row.get("module_pin"), row.get("module_net")),
        ):
            if isinstance(pad, str) and pad and isinstance(net, str) and net:
                nets[ref, pad] = net
    return nets


def _outline(folder: Path, data: Any, origin: tuple[float, float]) -> BaseGeometry | None:
    """Return the area that the run's profile file encloses, in board axes; None where it cannot be read."""
    from boardgen.readback import read  # noqa: PLC0415
    from boardgen.readback.model import Role  # noqa: PLC0415
    from boardgen.readback.place import on_board  # noqa: PLC0415
    from boardgen.readback.profile import profile_area  # noqa: PLC0415

    file = _file(folder, data, ".GKO")
    if file is None:
        return None
    layer = on_board(read([file]), *origin).layer(Role.PROFILE, None)
    if layer is None:
        return None
    area, loose = profile_area(layer)
    return None if loose or area.is_empty else area

"""Reading a design: the file's form first, then what its tables say about each other."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from pathlib import Path

from boardgen.catalog.formerrors import validate
from boardgen.catalog.tomlfile import TomlFile, read_toml
from boardgen.design import model, schema
from boardgen.design.carried import (
    errata_of,
    keepouts_of,
    legend_of,
    placed_of,
    stays_of,
    strokes_of,
    tracks_of,
    vias_of,
)
from boardgen.design.cross import cross_problems
from boardgen.design.identity import PastCode, identity_of, past_codes
from boardgen.design.outline import outline_wish
from boardgen.errors import InputError, InputErrors
from boardgen.units import Point, mm

FILE = "design.toml"
CATALOG = "catalog"


def design_file(path: Path) -> Path:
    """Return the design's file for *path*, a design folder or the file itself."""
    return path / FILE if path.is_dir() else path


def design_catalogs(path: Path, more: Sequence[Path] = ()) -> tuple[Path, ...]:
    """Return the catalogue folders for the design at *path*: *more*, then ``catalog/`` beside it."""
    beside = design_file(path).parent / CATALOG
    return (*more, beside) if beside.is_dir() else tuple(more)


def load_design(path: Path, revision: str | None = None) -> model.Design:
    """Read the design at *path*, a design folder or its ``design.toml``; *revision* goes before the file's.

    Raises InputError or InputErrors that name file, key and line; MachineError
    where reading is forbidden.
    """
    target = design_file(path)
    return design_from(read_toml(target, target.as_posix()), target.parent, revision)


def design_from(file: TomlFile, folder: Path, revision: str | None = None) -> model.Design:
    """Return the design that *file* says; *folder* is where its DXF file and its history are looked for.

    *revision* takes the place of the file's own.
    """
    form = validate(schema.DesignForm, file, schema.WORDS)
    if revision is not None:
        form = form.model_copy(update={"revision": revision})
    past = past_codes(folder, form.revision) if form.identity is not None else ()
    problems = list(cross_problems(form, file, past))
    digest = hashlib.sha256(file.raw)
    wish = model.OutlineWish()
    try:
        wish, drawing = outline_wish(form.outline, file, folder)
        digest.update(drawing)
    except InputError as error:
        problems.append(error)
    except InputErrors as error:
        problems.extend(error.errors)
    if problems:
        raise InputErrors(sorted(problems, key=lambda item: item.line or 0))
    if past:  # the code follows from them
        digest.update(repr([(item.revision, item.code, item.pull) for item in past]).encode())
    return _frozen(form, file, wish, digest.hexdigest(), past)


def _frozen(
    form: schema.DesignForm, file: TomlFile, wish: model.OutlineWish, digest: str, past: tuple[PastCode, ...]
) -> model.Design:
    contacts = tuple(_contact(item, file.line(("contacts", n))) for n, item in enumerate(form.contacts))
    return model.Design(
        name=form.name,
        title=form.title or form.name,
        revision=form.revision,
        description=form.description,
        device=form.device,
        contacts=contacts,
        matrices=_matrices(form),
        groups=tuple(model.Group(g.name, g.signals, g.consecutive, g.ordered) for g in form.groups),
        fixed=tuple(
            model.FixedPin(item.signal, item.pin, file.line(("fixed", n)))
            for n, item in enumerate(form.fixed)
        ),
        waivers=tuple(
            model.Waiver(item.pin, item.reason, file.line(("waivers", n)))
            for n, item in enumerate(form.waivers)
            if item.pin is not None
        ),
        accepted=tuple(
            model.FindingWaiver(
                item.rule, item.items, item.until or "", item.reason, file.line(("waivers", n))
            )
            for n, item in enumerate(form.waivers)
            if item.rule is not None
        ),
        module=form.module,
        connector=form.connector,
        fab=form.fab,
        outline=wish,
        holes=_holes(form.holes),
        enclosure=_enclosure(form.enclosure),
        errata=errata_of(form, file),
        supply_fuse=form.board.supply_fuse,
        socketed=form.board.socketed,
        ground_pour=form.board.ground_pour,
        any_angle=form.board.track_angles == "any",
        cautions=form.cautions,
        logic=tuple(
            model.DeviceLogic(
                **{**item.model_dump(), "family": item.family or ""}, line=file.line(("logic", n))
            )
            for n, item in enumerate(form.logic)
        ),
        cable=model.Cable(form.cable.length_m, form.cable.pf_per_m),
        origin=file.where,
        digest=digest,
        keep=tuple(
            model.KeptPin(item.signal, item.pin, file.line(("keep", n))) for n, item in enumerate(form.keep)
        ),
        placed=tuple(placed_of(item, file.line(("placed", n))) for n, item in enumerate(form.placed)),
        stays=stays_of(form.stays, file),
        tracks=tracks_of(form, file),
        vias=vias_of(form),
        legend=legend_of(form, file),
        strokes=strokes_of(form, file),
        keepouts=keepouts_of(form),
        identity=identity_of(form, past, file),
        licence=form.licence,
        attribution=form.attribution,
        lines=tuple((key, line) for key in sorted(file.data) if (line := file.lines.get((key,))) is not None),
    )


def signal_of(form: schema.ContactForm) -> str:
    """Return the contact's signal, derived where the file leaves it out ("" for an unused one)."""
    if form.signal is not None:
        return form.signal
    return {"ground": "GND", "shield": "SHIELD", "supply": form.rail}.get(form.kind, "")


def _contact(form: schema.ContactForm, line: int | None) -> model.Contact:
    return model.Contact(
        number=form.number,
        signal=signal_of(form),
        kind=model.ContactKind(form.kind),
        direction=model.Direction(form.direction) if form.direction else None,
        wire=form.wire,
        sure=model.Confidence(form.sure),
        rail=form.rail,
        current_a=form.current_a,
        ohms=form.ohms,
        function=form.function,
        note=form.note,
        line=line,
        logic=form.logic or "",
        way=form.way,
        source=form.source,
        inductive=form.inductive,
        flyback=form.flyback,
    )


def _matrices(form: schema.DesignForm) -> tuple[model.Matrix, ...]:
    """Return the matrices; lines left out, or the whole table, come from the contacts' kinds."""
    every = {
        kind: tuple(c.signal for c in form.contacts if c.kind == kind and c.signal)
        for kind in ("row", "column")
    }
    tables = form.matrices
    if not tables and every["row"] and every["column"]:
        tables = (schema.MatrixForm(),)
    found = []
    for table in tables:
        rows, columns = table.rows or every["row"], table.columns or every["column"]
        keys = tuple(
            (row, column, key)
            for row, names in zip(rows, table.keys, strict=False)
            for column, key in zip(columns, names, strict=False)
            if key
        )
        found.append(
            model.Matrix(
                table.name,
                rows,
                columns,
                table.drive,
                table.diodes,
                keys,
                diode_keys=table.diode_keys,
                together=table.together,
                key_kind=table.key_kind,
                contact_ohms=table.contact_ohms,
                diode_vf_v=table.diode_vf_v,
                cathode_to_row=table.cathode_to_row,
                cathode_to_column=table.cathode_to_column,
            )
        )
    return tuple(found)


def _holes(form: schema.HolesForm | None) -> model.HoleWish | None:
    if form is None or (form.count == 0 and form.at_mm is None):
        return None
    at = None
    if form.at_mm is not None:
        at = tuple(Point(mm(x), mm(y)) for x, y in form.at_mm)
    head = None if form.head_mm is None else mm(form.head_mm)
    return model.HoleWish(mm(form.diameter_mm), at, len(at) if at else form.count, head)


def _enclosure(form: schema.EnclosureForm) -> model.Enclosure:
    lengths = (form.max_width_mm, form.max_height_mm, form.max_component_height_mm)
    width, height, parts = (None if value is None else mm(value) for value in lengths)
    return model.Enclosure(width, height, parts, form.connector_edge, form.usb_edge)


def json_schema() -> dict[str, object]:
    """Return the JSON Schema of the design file (as :func:`boardgen.design.schema.json_schema`)."""
    return schema.json_schema()

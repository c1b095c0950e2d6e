"""The page itself: words and pictures set in HTML, every word from a file escaped."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from importlib import resources

from jinja2 import Environment, StrictUndefined

from boardgen.board.geometry import outline_polygon
from boardgen.errors import InputError
from boardgen.export.board_view import BoardArt
from boardgen.export.rework_view import rework_svg
from boardgen.publish.compat import fits
from boardgen.publish.connector import connector_pictures
from boardgen.publish.drawings import finished_pictures, pictures_art, step_picture
from boardgen.publish.facts import cautions, connector_name, facts, faults, open_here, pinout, signals
from boardgen.publish.history import order_of
from boardgen.publish.model import Edition, Fault, Step, Subject
from boardgen.publish.steps import assembly_steps
from boardgen.units import Nm, Point

MOST_REWORKS = 12  # drawn, the newest first; the others are told in words
MAX_PAGE = 8_000_000  # bytes


def page_html(subject: Subject) -> bytes:
    """Return the page; raises InputError where it grows beyond MAX_PAGE."""
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    text = resources.files("boardgen.publish").joinpath("page.html.j2").read_text("utf-8")
    art = pictures_art(subject.board)
    editions = sorted((*subject.earlier, subject.edition), key=lambda item: order_of(item.revision))
    design = subject.design
    html = environment.from_string(text).render(
        name=subject.record.design,
        revision=subject.record.revision,
        title=str(subject.data["title"]),
        device=design.device if design else "",
        description=design.description if design else "",
        licence=design.licence if design else "",
        attribution=design.attribution if design else "",
        facts=facts(subject),
        finished=finished_pictures(art),
        connector=subject.connector,
        connector_name=connector_name(subject.connector),
        views=connector_pictures(subject.board, subject.connector, signals(subject)),
        pinout=pinout(subject),
        steps=_steps(subject, art),
        parts=_parts(subject),
        faults=_faults(subject, editions),
        revisions=[(item.revision, item.digest) for item in editions],
        fits=_table(editions),
        whys=[fit for fit in fits(editions) if fit.reasons],
        cautions=cautions(subject),
        files=_files(subject),
        tool=str(subject.data["tool"]),
        digest=subject.edition.digest,
    )
    page = html.encode("utf-8")
    if len(page) > MAX_PAGE:
        raise InputError(
            "the page would be too large",
            subject.record.design,
            found=f"{len(page)} bytes",
            allowed=f"{MAX_PAGE} bytes",
        )
    return page


def strips(subject: Subject) -> tuple[str, ...]:
    """Return the module's socket strips in words, as the parts list has them."""
    return tuple(
        f"{row['Qty']} {'strip' if row['Qty'] == '1' else 'strips'} {row['Value']}"
        for row in subject.parts_list
        if "socket" in row["Designator"]
    )


def steps_of(subject: Subject) -> tuple[Step, ...]:
    """Return the assembly of the run's board, step by step."""
    one = subject.connector
    words = " ".join(filter(None, (one.manufacturer, one.mpn)))
    face = (
        f"It is {words}, or one of the same land pattern." if words else "Its land pattern must be this one."
    )
    if one.edge is not None:
        face += " Its face hangs over the board's edge."
    return assembly_steps(subject.board, subject.components, strips(subject), face)


def _steps(subject: Subject, art: BoardArt) -> list[dict[str, object]]:
    rows: list[dict[str, object]] = []
    before: set[str] = set()
    values = {part.ref: part.value for part in subject.board.parts}
    for number, step in enumerate(steps_of(subject), 1):
        rows.append(
            {
                "number": number,
                "title": step.title,
                "words": step.words,
                "parts": [] if step.sockets else _by_value(step.refs, values),
                "picture": step_picture(art, step, number, before) if step.refs else "",
            }
        )
        if not step.sockets:
            before.update(step.refs)
    return rows


def _by_value(refs: Sequence[str], values: dict[str, str]) -> list[tuple[str, str]]:
    groups: dict[str, list[str]] = {}
    for ref in refs:
        groups.setdefault(values[ref], []).append(ref)
    return [(", ".join(group), value) for value, group in groups.items()]


def _parts(subject: Subject) -> list[dict[str, str]]:
    rows = []
    for row in subject.parts_list:
        maker, number = row.get("Manufacturer", ""), row.get("MPN", "")
        supplier = row.get("Supplier part", "")
        rows.append(
            {
                "refs": row["Designator"],
                "quantity": row["Qty"],
                "value": row["Value"],
                "note": row.get("Note", ""),
                "package": row.get("Footprint", ""),
                "source": " ".join(filter(None, (maker, number))),
                "supplier": supplier,
            }
        )
    return rows


def _faults(subject: Subject, editions: Sequence[Edition]) -> list[dict[str, object]]:
    boards = {item.revision: item for item in editions if item.board is not None}
    told = faults(subject)
    drawn = [item for item in reversed(told) if item.erratum and item.revision in boards][:MOST_REWORKS]
    return [
        {
            "revision": item.revision,
            "symptom": item.symptom,
            "cause": item.cause,
            "workaround": item.workaround,
            "fixed_in": item.fixed_in,
            "steps": item.steps,
            "here": open_here(item, subject.record.revision),
            "picture": _rework(item, boards[item.revision]) if item in drawn else "",
        }
        for item in told
    ]


def _rework(fault: Fault, edition: Edition) -> str:
    """Return the rework drawn on the board of *edition*, its cuts moved to where the CAD file has them."""
    board, erratum = edition.board, fault.erratum
    if board is None or erratum is None:
        return ""
    left, _top, _right, bottom = outline_polygon(board.outline).bounds
    by = Point(Nm(round(left - edition.origin[0])), Nm(round(bottom - edition.origin[1])))
    cuts = tuple(replace(cut, at=cut.at.plus(by)) for cut in erratum.cuts)
    return rework_svg(board, replace(erratum, cuts=cuts))


def _table(editions: Sequence[Edition]) -> list[tuple[str, str, list[tuple[str, str]]]]:
    """Return (revision, pin map, what its firmware does on each revision's board) of each edition."""
    verdicts = {(fit.built, fit.board): fit.verdict for fit in fits(editions)}
    return [
        (
            item.revision,
            item.digest,
            [(other.revision, verdicts[item.revision, other.revision]) for other in editions],
        )
        for item in editions
    ]


def _files(subject: Subject) -> list[tuple[str, str]]:
    """Return the folders of the run that a maker needs, and what each is for."""
    known = (
        ("fab/", "what a board maker is sent: Gerber, drill and test netlist files, and one zip of them"),
        ("assembly/", "parts list, positions, drawings"),
        ("firmware/", "pin files for C, Python and JSON: they carry the pin map's digest"),
        ("bringup/", "sheets for the bench, and the form for readings"),
        ("cad/", "the project to go on with by hand"),
    )
    paths = [row.path for row in subject.record.files]
    return [(folder, words) for folder, words in known if any(path.startswith(folder) for path in paths)]

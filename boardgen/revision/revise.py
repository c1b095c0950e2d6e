"""Revision B opened from A: the design with what stays, and the record of A beside it."""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from boardgen.catalog.load import load_catalog
from boardgen.catalog.tomlfile import parse_toml, read_toml
from boardgen.design.identity import HISTORY
from boardgen.design.load import design_catalogs, design_file, design_from
from boardgen.design.model import Design, Erratum, OutlineKind
from boardgen.errors import InputError, MachineError
from boardgen.export.run_folder import RECORD
from boardgen.filing import reason, scratch_folder, write_new, write_whole
from boardgen.pipeline.check_run import is_run
from boardgen.pipeline.record import MAX_RECORD
from boardgen.readfile import read_bytes
from boardgen.revision.entries import revised_text, tables
from boardgen.revision.hand import HandWork, hand_work
from boardgen.revision.letters import next_revision
from boardgen.revision.nextcode import alike, next_code, text_with_code
from boardgen.revision.remark import Remark
from boardgen.revision.runs import OpenedRun, guarded, open_run


@dataclass(frozen=True, slots=True)
class Revised:
    """What ``revise`` did: the file written, from which revision to which, and what it carried."""

    path: Path
    before: str
    after: str
    kept: tuple[tuple[str, str], ...]
    parts: int
    remarks: tuple[Remark, ...]
    errata: tuple[Erratum, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Source:
    run: OpenedRun
    design: Path
    notes: tuple[str, ...]


def revise(
    path: Path,
    to: Path | None = None,
    design: Path | None = None,
    run: Path | None = None,
    catalogs: Sequence[Path] = (),
) -> Revised:
    """Open the next revision from the run or design at *path*.

    With a run, its design is *design*, else the one found by name (``designs/NAME``, ``NAME``); with a
    design, its run is *run*, else ``out/NAME-REVISION``, else it is built anew. The design's file is changed
    where it stands, or a copy of its folder is made at *to*, which must not be there. Raises InputError or
    MachineError; then nothing was written.
    """
    if to is not None and (to.exists() or to.is_symlink()):
        raise InputError("there is something of that name already", to.as_posix(), "--to")
    if is_run(path):
        opened = open_run(path, changed=(".kicad_pcb",))
        place = design_file(design) if design is not None else _design_of(opened)
        return _revise(_Source(opened, place, ()), to, catalogs)
    if design is not None:
        raise InputError("goes with a run; this is a design", key="--design", found=design.as_posix())
    place = design_file(path)
    loaded = _load(place)
    folder = run or Path("out") / f"{loaded.name}-{loaded.revision}"
    if is_run(folder):
        return _revise(_Source(open_run(folder, changed=(".kicad_pcb",)), place, ()), to, catalogs)
    if run is not None:
        raise InputError("this is no run", run.as_posix(), "--run")
    from boardgen.pipeline import generate  # noqa: PLC0415 - loads every stage

    with scratch_folder("boardgen-revise") as scratch:
        made = generate(place, scratch, catalogs=catalogs)
        note = (
            f"no run at {folder.as_posix()}: revision {loaded.revision} was built anew, without work by hand"
        )
        return _revise(_Source(open_run(made.folder), place, (note,)), to, catalogs)


def _load(place: Path) -> Design:
    return design_from(read_toml(place, place.as_posix()), place.parent)


def _design_of(run: OpenedRun) -> Path:
    """Return the design a run was made from: looked for by name, known by its digest or its name."""
    name = run.record.design
    for folder in (Path("designs") / name, Path(name), Path()):
        place = folder / "design.toml"
        if place.is_file() and _load(place).name == name:
            return place
    raise InputError(
        "the design of this run was not found",
        run.where,
        "--design",
        found=name,
        allowed=f"--design PATH, or designs/{name} below the folder you stand in",
    )


def _revise(source: _Source, to: Path | None, catalogs: Sequence[Path]) -> Revised:
    run, place = source.run, source.design
    file = read_toml(place, place.as_posix())
    design = design_from(file, place.parent)
    before = run.record.revision
    if design.name != run.record.design:
        raise InputError(
            "the run is of another design", run.where, "design", found=run.record.design, allowed=design.name
        )
    if design.revision != before:
        raise InputError(
            "the design is at another revision than the run",
            place.as_posix(),
            "revision",
            design.line_of("revision"),
            design.revision,
            before,
        )
    notes = list(source.notes)
    if run.data["inputs"].get("design.toml") != design.digest:
        notes.append("the design was edited since the run: pins and places are those of the run")
    fab = load_catalog(design_catalogs(place, catalogs)).fab(run.record.fab)
    work = guarded(run, lambda: hand_work(run, fab, design))
    if not _new_frame(design, work):
        work = replace(work, frame=None)
    try:
        after = next_revision(before)
    except ValueError as error:
        raise InputError(str(error), place.as_posix(), "revision", design.line_of("revision")) from None
    fixed = {item.signal for item in design.fixed}
    keep = tuple(
        (str(row["signal"]), str(row["pin"]))
        for row in run.data["pin_map"]["pins"]
        if row["signal"] not in fixed
    )
    codes = guarded(run, lambda: next_code(design, run.data))
    if codes is not None:
        notes.append(f"the board's code was {codes[0]}, that of revision {after} is {codes[1]}")
        file = replace(file, text=text_with_code(file, codes[1]))
    text = revised_text(file, after, tables(work, keep, before, design.holes))
    _check(design, text, place)
    history = {RECORD: _record(run), **_pin_files(run)}
    target = _write(place, text, history, before, to)
    return Revised(
        path=target,
        before=before,
        after=after,
        kept=keep,
        parts=len(work.parts),
        remarks=work.remarks,
        errata=tuple(item for item in design.errata if item.revision == before),
        notes=tuple(notes),
    )


def _new_frame(design: Design, work: HandWork) -> bool:
    """Whether the outline must be written down: it was derived, or a person changed it."""
    return work.frame is not None and (work.frame.hand or design.outline.kind is OutlineKind.DERIVED)


def _check(design: Design, text: str, place: Path) -> None:
    """Raise InputError where the new text does not say what the old one did, and what was added."""
    again = design_from(parse_toml(text.encode("utf-8"), place.as_posix()), place.parent)
    own = (
        "revision",
        "keep",
        "placed",
        "stays",
        "tracks",
        "vias",
        "legend",
        "digest",
        "lines",
        "strokes",
        "keepouts",
    )
    for field in Design.__dataclass_fields__:
        if field == "identity" and alike(design.identity, again.identity):
            continue
        if field in own:
            continue
        if _plain(getattr(design, field)) != _plain(getattr(again, field)):
            raise InputError(
                "the file cannot be changed without changing what it says; tables of an earlier revision "
                "that are not between our comment lines have to go first",
                place.as_posix(),
                field,
            )


def _plain(value: object) -> str:
    """Return *value* as text without the lines in the file, which move."""
    import re  # noqa: PLC0415

    return re.sub(r"\bline=(?:\d+|None)", "line", repr(value))


def _record(run: OpenedRun) -> bytes:
    place = Path(run.where) / RECORD
    return read_bytes(place, place.as_posix(), MAX_RECORD, "record")


def _pin_files(run: OpenedRun) -> dict[str, bytes]:
    return {
        path.removeprefix("firmware/"): data
        for path, data in sorted(run.files.items())
        if path.startswith("firmware/") and "_pins." in path
    }


def _write(place: Path, text: str, history: dict[str, bytes], before: str, to: Path | None) -> Path:
    """Write history and design, whole or not at all; returns the design file written."""
    if to is not None:
        return _write_copy(place, text, history, before, to)
    folder = place.parent / HISTORY / before
    made = _fill(folder, history)
    try:
        write_whole(place, text.encode("utf-8"))
    except BaseException:
        for path in made:
            path.unlink(missing_ok=True)
        raise
    return place


def _write_copy(place: Path, text: str, history: dict[str, bytes], before: str, to: Path) -> Path:
    if not to.parent.is_dir():
        raise InputError("there is no such folder to write into", to.parent.as_posix(), "--to")
    aside = to.with_name(f".{to.name}.boardgen-part")
    try:
        shutil.rmtree(aside, ignore_errors=True)
        shutil.copytree(place.parent, aside)
        write_whole(aside / place.name, text.encode("utf-8"))
        _fill(aside / HISTORY / before, history)
        aside.rename(to)
    except OSError as error:
        shutil.rmtree(aside, ignore_errors=True)
        raise MachineError(f"{to.as_posix()}: {reason(error)}") from None
    except BaseException:
        shutil.rmtree(aside, ignore_errors=True)
        raise
    return to / place.name


def _same(path: Path, data: bytes) -> bool:
    try:
        return read_bytes(path, path.as_posix(), len(data)) == data
    except InputError:  # longer, or no file
        return False


def _fill(folder: Path, files: dict[str, bytes]) -> list[Path]:
    """Write the record of an earlier revision; what is there already must be the same."""
    made: list[Path] = []
    for name, data in sorted(files.items()):  # all of them before any is written
        path = folder / name
        if path.exists() and not _same(path, data):
            raise InputError(
                "there is another record of this revision already", path.as_posix(), allowed="the same one"
            )
    for name, data in sorted(files.items()):
        path = folder / name
        if path.exists():
            continue
        try:
            folder.mkdir(parents=True, exist_ok=True)
            write_new(path, data)
        except OSError as error:
            raise MachineError(f"{path.as_posix()}: {reason(error)}") from None
        made.append(path)
    return made

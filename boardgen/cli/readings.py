"""The ``readings`` command: readings from the bench become the device part of a design file."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from boardgen.cli.guard import CLEAN, FINDINGS
from boardgen.cli.out import write_json, write_lines
from boardgen.errors import Finding, InputError, InputErrors, Severity
from boardgen.filing import write_whole

if TYPE_CHECKING:
    from boardgen.bench.model import Inference, Stated

MOST_FILES = 50
_MUST = {
    "view": ("mating-face", "solder-side"),
    "half": ("plug", "socket"),
    "numbers": ("printed", "position", "ribbon"),
}


def run(
    files: Sequence[Path],
    given: dict[str, str | None],
    catalogs: Sequence[Path],
    to: Path | None,
    replace: bool,
    as_json: bool,
) -> int:
    """Turn the readings in *files* into a device; *given* are the options that state something of them."""
    from boardgen.bench.csvform import read_sheet
    from boardgen.bench.gather import connector_of, gather
    from boardgen.bench.infer import infer
    from boardgen.bench.tomltext import device_toml
    from boardgen.catalog.load import load_catalog

    if to is not None:
        _check_target(to, replace)
    if len(files) > MOST_FILES:
        raise InputError("too many files", "FILE", found=f"{len(files)}", allowed=f"at most {MOST_FILES}")
    stated = _stated(given)
    catalog = load_catalog(catalogs)
    sheets = []
    problems: list[InputError] = []
    for path in files:
        try:
            sheets.append(read_sheet(path))
        except InputError as error:
            problems.append(error)
    if problems:
        raise InputErrors(problems)
    connector = catalog.connector(connector_of(sheets, stated))
    found = infer(gather(sheets, stated, connector), connector)
    text = device_toml(found)
    code = FINDINGS if found.contradictions else CLEAN
    if to is not None:
        write_whole(to, text.encode("utf-8"), replace, "--to")
    elif not as_json:
        write_lines(_escaped(text, sys.stdout.encoding or "utf-8").splitlines())
    lines = _lines(found)
    if to is not None:
        lines.append(f"device in {to.as_posix()}")
    write_lines(lines, as_json or to is None)
    if as_json:
        write_json({**_record(found), "toml": text, "file": to.as_posix() if to else None, "exit_code": code})
    return code


def _escaped(text: str, encoding: str) -> str:
    """Return TOML *text* with letters that *encoding* has not as TOML escapes (they stand in strings)."""
    try:
        text.encode(encoding)
    except UnicodeEncodeError:
        return "".join(c if c.isascii() else f"\\U{ord(c):08X}" for c in text)
    return text


def _stated(given: dict[str, str | None]) -> Stated:
    from boardgen.bench.model import Half, Numbers, Stated, View

    for name, allowed in _MUST.items():
        value = given.get(name)
        if value is not None and value not in allowed:
            raise InputError(
                "the value is not allowed",
                key=f"--{name}",
                found=repr(value[:40]),
                allowed=", ".join(allowed),
            )
    view, half, numbers = (given.get(name) for name in _MUST)
    return Stated(
        View(view) if view else None,
        Half(half) if half else None,
        Numbers(numbers) if numbers else None,
        given.get("connector") or "",
    )


def _lines(found: Inference) -> list[str]:
    """Return the findings for people, worst first, each with its readings below it."""
    lines: list[str] = []
    for finding in found.findings:
        lines.append(f"{finding.severity}: {finding.rule}: {finding.message}")
        lines += [f"    {item}" for item in finding.items]
    lines.append(_headline(found))
    return lines


def _headline(found: Inference) -> str:
    kinds: dict[str, int] = {}
    for contact in found.contacts:
        kinds[contact.kind] = kinds.get(contact.kind, 0) + 1
    parts = [f"{count} {kind}" for kind, count in kinds.items()]
    keys = sum(len(matrix.keys) for matrix in found.matrices)
    if keys:
        parts.append(
            f"{keys} keys in {len(found.matrices)} matri{'x' if len(found.matrices) == 1 else 'ces'}"
        )
    clashes = len(found.contradictions)
    told = "no contradictions" if not clashes else f"{clashes} contradiction{'' if clashes == 1 else 's'}"
    steps = sum(finding.rule == "measure-next" for finding in found.findings)
    more = f"{steps} thing{'' if steps == 1 else 's'} to measure next"
    return f"{found.connector}: {', '.join(parts)}; {told}, {more}"


def _record(found: Inference) -> dict[str, Any]:
    return {
        "device": found.device,
        "connector": found.connector,
        "contacts": [
            {
                "number": c.number,
                "kind": str(c.kind),
                "signal": c.signal,
                "wire": c.wire,
                "sure": str(c.sure),
                "rail": c.rail,
                "current_a": c.current_a,
                "ohms": c.ohms,
                "note": c.note,
            }
            for c in found.contacts
        ],
        "matrices": [
            {
                "name": m.name,
                "rows": m.rows,
                "columns": m.columns,
                "drive": m.drive,
                "diodes": m.diodes,
                "diode_keys": m.diode_keys,
                "cathode_to_row": m.cathode_to_row,
                "cathode_to_column": m.cathode_to_column,
                "key_kind": m.key_kind,
                "contact_ohms": m.contact_ohms,
                "diode_vf_v": m.diode_vf_v,
                "keys": [{"row": row, "column": column, "key": key} for row, column, key in m.keys],
            }
            for m in found.matrices
        ],
        "findings": [_finding(finding) for finding in found.findings],
        "measure_next": [f.message for f in found.findings if f.rule == "measure-next"],
        "contradictions": sum(f.severity is Severity.ERROR for f in found.findings),
    }


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "rule": finding.rule,
        "severity": str(finding.severity),
        "message": finding.message,
        "readings": list(finding.items),
    }


def _check_target(to: Path, replace: bool) -> None:
    """Raise where *to* cannot be written, before any work is done."""
    where = to.as_posix()
    if to.is_dir():
        raise InputError("a file is wanted, this is a folder", where, "--to")
    if not to.parent.is_dir():
        raise InputError("there is no such folder to write into", to.parent.as_posix(), "--to")
    if (to.exists() or to.is_symlink()) and not replace:
        raise InputError("the file is there already", where, "--to", allowed="with --replace it is replaced")

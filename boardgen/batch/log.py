"""The batch log: one line of JSON for each board judged, only ever grown by whole lines.

A new line is written with all earlier ones to a file beside the log, which then
takes its name: a killed process leaves the log as it was. A lock beside it
keeps two at once apart.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from boardgen.batch.model import Judgement, Verdict
from boardgen.errors import InputError, MachineError
from boardgen.export.bringup_model import Plan
from boardgen.filing import Lock, reason, take_lock, write_whole
from boardgen.readfile import read_bytes

MOST_BYTES = 16_000_000  # some 40,000 boards
MOST_SERIAL = 40


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the log. *attempt* counts from 1 for each serial; *places* are where to look."""

    serial: str
    attempt: int
    verdict: Verdict
    faults: tuple[str, ...]
    words: str
    places: tuple[str, ...]
    off: tuple[str, ...]
    missing: int
    readings: int


def log_path(folder: Path) -> Path:
    """Return where the log of the run in *folder* stands: beside it, named as it."""
    whole = folder.resolve()
    parent = folder.parent if folder.name not in ("", "..") else whole.parent
    return parent / f"{whole.name}.bringup.jsonl"


def checked_serial(serial: str) -> str:
    """Return *serial*; raises InputError for one that is empty, too long or does not print."""
    if (
        not serial.strip()
        or serial != serial.strip()
        or len(serial) > MOST_SERIAL
        or not serial.isprintable()
    ):
        raise InputError(
            "this is no serial",
            key="--serial",
            found=repr(serial[:60]),
            allowed=f"1 to {MOST_SERIAL} printing characters, none but spaces at its ends",
        )
    return serial


def read_log(path: Path, plan: Plan) -> tuple[Entry, ...]:
    """Return the entries of the log at *path*, oldest first; none where there is no log yet.

    Raises InputError for a line that is no entry or is of another board revision, MachineError where reading
    is forbidden.
    """
    text = _text(path)
    return tuple(_entry(path, plan, number, line) for number, line in enumerate(text.splitlines(), 1))


def _text(path: Path) -> str:
    where = path.as_posix()
    try:
        if not path.exists():
            return ""
    except OSError as error:
        raise MachineError(f"{where}: {reason(error)}") from None
    try:
        text = read_bytes(path, where, MOST_BYTES, "log").decode("utf-8")
    except UnicodeDecodeError:
        raise InputError("the log is not text in UTF-8", where) from None
    if text and not text.endswith("\n"):
        raise InputError("the log ends in the middle of a line", where, line=text.count("\n") + 1)
    return text


def _entry(path: Path, plan: Plan, number: int, line: str) -> Entry:
    where = path.as_posix()
    try:
        row: dict[str, Any] = json.loads(line)
        about = (str(row["design"]), str(row["revision"]), str(row["pin_map"]))
        entry = Entry(
            serial=str(row["serial"]),
            attempt=int(row["attempt"]),
            verdict=Verdict(row["verdict"]),
            faults=tuple(str(item) for item in row["faults"]),
            words=str(row["words"]),
            places=tuple(str(item) for item in row["places"]),
            off=tuple(str(item) for item in row["off"]),
            missing=int(row["missing"]),
            readings=int(row["readings"]),
        )
    except (KeyError, TypeError, ValueError, AttributeError, ArithmeticError, RecursionError) as error:
        words = f"{type(error).__name__}: {str(error)[:80]}"
        raise InputError("the line is no entry of a batch log", where, line=number, found=words) from None
    if about != (plan.design, plan.revision, plan.pin_map):
        raise InputError(
            "the log is of another board revision than the run",
            where,
            line=number,
            found=" ".join(about)[:100],
            allowed=f"{plan.design} {plan.revision} {plan.pin_map}",
        )
    return entry


def check_serial_new(entries: Iterable[Entry], serial: str, where: str, again: bool) -> int:
    """Return the number of this attempt; raises InputError where *serial* is in the log and not *again*."""
    seen = [entry for entry in entries if entry.serial == serial]
    if seen and not again:
        raise InputError(
            f"serial {serial} is in the log already, as {seen[-1].verdict}",
            where,
            "--serial",
            allowed="a new serial, or --again for the same board once more",
        )
    return len(seen) + 1


def append(path: Path, plan: Plan, found: Judgement, again: bool) -> Entry:
    """Add *found* to the log at *path*, which is made where it is not there; returns the new entry.

    Raises InputError as :func:`read_log` does, and for a serial that is there already (unless *again*);
    MachineError where the machine refuses or another process is writing. The log is then as it was.
    """
    lock = _locked(path)
    try:
        entries = read_log(path, plan)
        attempt = check_serial_new(entries, found.serial, path.as_posix(), again)
        first = found.suspects[0] if found.suspects else None
        entry = Entry(
            found.serial,
            attempt,
            found.verdict,
            found.faults,
            first.words if first is not None else "",
            first.places if first is not None else (),
            tuple(miss.name for miss in found.misses),
            len(found.missing),
            found.readings,
        )
        line = json.dumps(_row(plan, entry), sort_keys=True)
        write_whole(path, (_text(path) + line + "\n").encode(), key="--log")
    finally:
        lock.release()
    return entry


def _locked(path: Path) -> Lock:
    place = path.with_name(f".{path.name}.lock")
    try:
        lock = take_lock(place)
    except FileNotFoundError:
        raise InputError("there is no such folder to write into", path.parent.as_posix(), "--log") from None
    except OSError as error:
        raise MachineError(f"{path.as_posix()}: {reason(error)}") from None
    if lock is None:
        raise MachineError(
            f"{path.as_posix()}: another boardgen is writing this log; try again when it is done"
        )
    return lock


def _row(plan: Plan, entry: Entry) -> dict[str, object]:
    return {
        "design": plan.design,
        "revision": plan.revision,
        "pin_map": plan.pin_map,
        "serial": entry.serial,
        "attempt": entry.attempt,
        "verdict": str(entry.verdict),
        "faults": list(entry.faults),
        "words": entry.words,
        "places": list(entry.places),
        "off": list(entry.off),
        "missing": entry.missing,
        "readings": entry.readings,
    }

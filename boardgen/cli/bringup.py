"""The ``bringup`` command: where the sheets are, one board's readings judged, the batch so far."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from boardgen.cli.guard import CLEAN, FINDINGS
from boardgen.cli.out import write_json, write_lines
from boardgen.errors import InputError

if TYPE_CHECKING:
    from boardgen.batch.log import Entry
    from boardgen.batch.model import Judgement
    from boardgen.export.bringup_model import Plan

_SHEETS = (
    ("sheets.pdf", "to print and tick"),
    ("sheets.html", "the same for a screen"),
    ("readings.csv", "to type the readings into"),
)


def run(
    path: Path,
    serial: str | None,
    readings: Path | None,
    log: Path | None,
    again: bool,
    batch: bool,
    as_json: bool,
) -> int:
    """Do one of the three things; returns the exit code."""
    if batch and (serial is not None or readings is not None or again):
        raise InputError("--batch stands alone", key="--batch", allowed="RUN --batch [--log FILE]")
    if (serial is None) != (readings is None):
        raise InputError("--serial and --readings go together", key="--serial, --readings")
    if again and serial is None:
        raise InputError("--again needs a serial and its readings", key="--again")
    from boardgen.batch.log import log_path
    from boardgen.batch.openrun import open_plan, run_folder

    opened = open_plan(path)
    place = log if log is not None else log_path(run_folder(path))
    if batch:
        return _batch(opened.plan, place, as_json)
    if serial is None or readings is None:
        return _sheets(opened.plan, opened.where, as_json)
    return _judge(opened.plan, serial, readings, place, again, as_json)


def _sheets(plan: Plan, where: str, as_json: bool) -> int:
    lines = [f"{plan.design}-{plan.revision}: {len(plan.tests)} tests in {len(plan.stages)} stages"]
    for number, stage in enumerate(plan.stages, 1):
        lines.append(f"  {number}. {stage.title}: {len(plan.of_stage(stage.id))}")
    lines += [f"{where}/bringup/{name}: {words}" for name, words in _SHEETS]
    write_lines(lines, as_json)
    if as_json:
        write_json(
            {
                "design": plan.design,
                "revision": plan.revision,
                "pin_map": plan.pin_map,
                "stages": [
                    {"id": s.id, "title": s.title, "stop": s.stop, "tests": len(plan.of_stage(s.id))}
                    for s in plan.stages
                ],
                "files": [f"{where}/bringup/{name}" for name, _words in _SHEETS],
                "exit_code": CLEAN,
            }
        )
    return CLEAN


def _judge(plan: Plan, serial: str, readings: Path, log: Path, again: bool, as_json: bool) -> int:
    from boardgen.batch.judge import judge
    from boardgen.batch.log import append, check_serial_new, checked_serial, read_log
    from boardgen.batch.readings import read_readings

    checked_serial(serial)
    check_serial_new(read_log(log, plan), serial, log.as_posix(), again)
    found = judge(plan, read_readings(readings, plan, serial), serial)
    if not found.readings:
        raise InputError(f"there is no reading of board {serial}", readings.as_posix(), "--readings")
    entry = append(log, plan, found, again)
    code = CLEAN if found.verdict == "good" else FINDINGS
    write_lines([*judgement_lines(plan, found), f"logged in {log.as_posix()}"], as_json)
    if as_json:
        write_json({**_data(found), "attempt": entry.attempt, "log": log.as_posix(), "exit_code": code})
    return code


def judgement_lines(plan: Plan, found: Judgement) -> list[str]:
    """Return the judgement for people: verdict, what is off, then the suspects with where to look."""
    lines = [f"{plan.design}-{plan.revision} board {found.serial}: {str(found.verdict).upper()}"]
    for miss in found.misses:
        lines.append(f"  {miss.name}: read {miss.read}, expected {miss.expected}; {miss.label}".rstrip("; "))
    if found.verdict == "good":
        lines.append(f"  all {found.readings} readings within their ranges")
    for number, item in enumerate(found.suspects):
        head = "likeliest fault" if number == 0 else "explains as much"
        lines.append(f"{head}: {item.fault}: {item.words}")
        lines += [f"    {place}" for place in item.places if place not in item.words]
        if item.check:
            lines.append(f"    to be sure: {item.check}")
    if found.suspects and found.suspects[0].unexplained:
        lines.append(f"{found.suspects[0].unexplained} readings are not explained by it: measure them again")
    if found.misses and not found.suspects:
        lines.append(
            "no single fault and no pair of faults explains this: measure again from the first stage"
        )
    if found.missing:
        few = ", ".join(found.missing[:8]) + (" ..." if len(found.missing) > 8 else "")
        lines.append(f"not measured: {len(found.missing)} tests ({few})")
    return lines


def _data(found: Judgement) -> dict[str, Any]:
    return {
        "serial": found.serial,
        "verdict": str(found.verdict),
        "faults": list(found.faults),
        "readings": found.readings,
        "off": [
            {"test": m.name, "what": m.label, "read": m.read, "expected": m.expected} for m in found.misses
        ],
        "not_measured": list(found.missing),
        "suspects": [
            {
                "fault": s.fault,
                "words": s.words,
                "places": list(s.places),
                "check": s.check,
                "measure": [name for name in s.pair if name],
                "unexplained": s.unexplained,
            }
            for s in found.suspects
        ],
    }


def _batch(plan: Plan, log: Path, as_json: bool) -> int:
    from boardgen.batch.log import read_log
    from boardgen.batch.yields import batch_yield

    if not log.exists():
        raise InputError("there is no log of this batch yet", log.as_posix(), "--log")
    entries = read_log(log, plan)
    found = batch_yield(entries)

    def percent(share: float | None) -> str:
        return "not known yet" if share is None else f"{share:.0%}"

    lines = [
        f"{plan.design}-{plan.revision}: {found.boards} boards, {found.good} good,"
        f" {len(found.faulty)} faulty, {len(found.incomplete)} not measured to the end",
        f"yield {percent(found.share)}, at the first attempt {percent(found.first_share)}",
    ]
    lines += [f"  {count} x {fault}" for fault, count in found.faults]
    lines += [f"  on {count} boards: {place}" for place, count in found.often]
    lines += [f"still faulty: {', '.join(found.faulty)}"] if found.faulty else []
    lines += [f"still to measure: {', '.join(found.incomplete)}"] if found.incomplete else []
    write_lines(lines, as_json)
    if as_json:
        write_json(
            {
                "design": plan.design,
                "revision": plan.revision,
                "boards": found.boards,
                "good": found.good,
                "first_good": found.first_good,
                "yield": found.share,
                "first_yield": found.first_share,
                "faulty": list(found.faulty),
                "incomplete": list(found.incomplete),
                "faults": dict(found.faults),
                "often": [{"place": place, "boards": count} for place, count in found.often],
                "entries": [_entry(entry) for entry in entries],
                "log": log.as_posix(),
                "exit_code": CLEAN,
            }
        )
    return CLEAN


def _entry(entry: Entry) -> dict[str, Any]:
    return {
        "serial": entry.serial,
        "attempt": entry.attempt,
        "verdict": str(entry.verdict),
        "faults": list(entry.faults),
        "words": entry.words,
    }

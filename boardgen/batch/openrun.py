"""The plan of a finished run, taken only where every file is the one recorded."""

from __future__ import annotations

import json
from pathlib import Path

from boardgen.batch.model import RunPlan
from boardgen.errors import InputError, Severity
from boardgen.export.bringup_data import plan_from
from boardgen.export.bringup_model import Plan
from boardgen.export.bringup_out import PLAN
from boardgen.export.run_folder import RECORD
from boardgen.pipeline.check_run import recorded_files
from boardgen.pipeline.record import read_record


def run_folder(path: Path) -> Path:
    """Return the folder of the run at *path* (the folder or the record in it)."""
    return path.parent if path.name == RECORD else path


def open_plan(path: Path) -> RunPlan:
    """Return the plan of the run at *path*.

    Raises InputError for a folder that is no run, for files that are missing or
    changed, and for a run without a plan this tool reads; MachineError where
    reading is forbidden.
    """
    folder = run_folder(path)
    where = folder.as_posix()
    record, _data = read_record(folder / RECORD)
    files, found = recorded_files(folder, record.files)
    bad = [finding.message for finding in found if finding.severity is Severity.ERROR]
    if bad:
        more = f", and {len(bad) - 1} more" if len(bad) > 1 else ""
        raise InputError(
            f"the run is not as it was recorded: {bad[0]}{more}",
            where,
            allowed="a run as `generate` left it; `check` tells of every file",
        )
    data = next((file.data for file in files if file.path == PLAN), None)
    if data is None:
        raise InputError(
            "the run has no plan for bring-up",
            where,
            PLAN,
            allowed="a run of this version: generate it again",
        )
    plan = parsed_plan(data, f"{where}/{PLAN}")
    if (plan.design, plan.revision) != (record.design, record.revision):
        raise InputError(
            "the plan is of another run",
            f"{where}/{PLAN}",
            found=f"{plan.design} {plan.revision}",
            allowed=f"{record.design} {record.revision}",
        )
    return RunPlan(where, plan)


def parsed_plan(data: bytes, where: str) -> Plan:
    """Return the plan that the bytes of ``bringup/plan.json`` hold; raises InputError."""
    try:
        return plan_from(json.loads(data))
    except (LookupError, TypeError, ValueError, AttributeError, ArithmeticError, RecursionError) as error:
        words = f"{type(error).__name__}: {str(error)[:120]}"
        raise InputError("this is no plan for bring-up", where, found=words) from None

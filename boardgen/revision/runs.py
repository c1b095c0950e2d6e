"""A finished run opened for comparison: its record and its files, each held to its digest first."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from boardgen import __version__
from boardgen.errors import InputError, Severity
from boardgen.export.run_folder import RECORD
from boardgen.pipeline.check_run import recorded_files
from boardgen.pipeline.record import Record, read_record
from boardgen.revision.model import RunName

_T = TypeVar("_T")
# what reading a table or a JSON file that holds something else raises
_DAMAGE = (
    LookupError,
    TypeError,
    ValueError,
    AttributeError,
    ArithmeticError,
    RecursionError,
    csv.Error,
)
_NEEDED = ("module", "connector", "pin_map", "signals", "rails", "errata", "places", "legend")


@dataclass(frozen=True, slots=True)
class OpenedRun:
    """A run in memory. *data* is its record, *files* every file by path; *where* names it in errors."""

    where: str
    record: Record
    data: Mapping[str, Any]
    files: Mapping[str, bytes]

    @property
    def name(self) -> RunName:
        """Which run it is."""
        pin_map = str(self.data["pin_map"]["digest"])
        return RunName(self.record.design, self.record.revision, pin_map, str(self.data["tool"]))

    def path(self, ending: str) -> str:
        """Return the first path that ends so; raises InputError where there is none."""
        for path in sorted(self.files):
            if path.endswith(ending):
                return path
        raise InputError(f"the run has no file *{ending}", self.where)

    def text(self, ending: str) -> str:
        """Return the first file that ends so, as text; raises InputError."""
        return self.files[self.path(ending)].decode("utf-8")

    def table(self, path: str) -> list[dict[str, str]]:
        """Return a CSV file's rows by column name; raises InputError."""
        return list(csv.DictReader(io.StringIO(self.text(path))))

    def pins(self) -> dict[str, Any]:
        """Return the JSON pin file."""
        found = json.loads(self.text("_pins.json"))
        if not isinstance(found, dict):
            raise InputError("the pin file is not an object", f"{self.where}/{self.path('_pins.json')}")
        return found


def open_run(path: Path, changed: tuple[str, ...] = ()) -> OpenedRun:
    """Read the run at *path* (its folder or its record); every file must be the one recorded.

    Files that end so as *changed* says may have been edited, and are taken as they are.

    Raises InputError for a folder that is no run, for a run of an older tool version and for one whose files
    are missing or changed; MachineError where reading is forbidden.
    """
    folder = path.parent if path.name == RECORD else path
    where = folder.as_posix()
    record, data = read_record(folder / RECORD)
    _check_version(data, where)
    files, found = recorded_files(folder, record.files)
    bad = [
        finding.message
        for finding in found
        if finding.severity is Severity.ERROR
        and not ("is not the file" in finding.message and finding.items[0].endswith(changed))
    ]
    if bad:
        more = f", and {len(bad) - 1} more" if len(bad) > 1 else ""
        raise InputError(
            f"the run is not as it was recorded: {bad[0]}{more}",
            where,
            allowed="a run as `generate` left it; `check` tells of every file",
        )
    run = OpenedRun(where, record, data, {file.path: file.data for file in files})
    held = guarded(run, lambda: str(run.pins()["pin_map"]))
    if held != run.name.pin_map:
        raise InputError("the record's pin map is not that of its pin file", where, "pin_map.digest")
    return run


def guarded(run: OpenedRun, work: Callable[[], _T]) -> _T:
    """Return what *work* reads out of *run*; whatever a damaged file does to it becomes an InputError."""
    try:
        return work()
    except _DAMAGE as error:
        words = f"{type(error).__name__}: {str(error)[:120]}"
        raise InputError("a file of the run does not say what it should", run.where, found=words) from None


def _version(text: str) -> tuple[int, ...]:
    found = re.search(r"(\d+)\.(\d+)", text)
    return tuple(int(part) for part in found.groups()) if found else ()


def _check_version(data: Mapping[str, Any], where: str) -> None:
    """Raise InputError for a run that another version wrote, or one that lacks what this one compares."""
    tool = str(data.get("tool", ""))
    lacks = [key for key in _NEEDED if key not in data]
    if _version(tool) == _version(__version__) and not lacks:
        return
    message = "the run was written by another version of the tool"
    if lacks:
        message += f" (its record has no {lacks[0]!r})"
    raise InputError(
        message,
        where,
        "tool",
        found=tool[:60],
        allowed=f"a run of boardgen {__version__}: generate it again",
    )


def check_alike(a: OpenedRun, b: OpenedRun) -> None:
    """Raise InputError where *a* and *b* are runs of different designs."""
    if a.record.design != b.record.design:
        raise InputError(
            "the runs are of different designs, so there is nothing to compare",
            b.where,
            "design",
            found=b.record.design,
            allowed=a.record.design,
        )

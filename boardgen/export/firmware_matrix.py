"""What the firmware's scan of a matrix needs: waits, order, and which key sits where."""

from __future__ import annotations

import json
import re

from boardgen.electrical.matrix.model import MatrixStudy
from boardgen.export.matrix_data import diode_ways, key_map, rests_on


def _string(text: str) -> str:
    """Return *text* as a literal of C and Python alike; letters beyond ASCII become "_" (no trigraphs)."""
    return json.dumps(re.sub(r"[^\x20-\x7e]", "_", text))


def _c_string(text: str) -> str:
    """Return *text* as a string of C, in which two question marks in a row begin a trigraph (C99 5.2.1.1)."""
    return re.sub(r"(?<=\?)\?", r"\\?", _string(text))


def _comment(text: str) -> str:
    return re.sub(r"[^\x20-\x7e]", "?", text).replace("*/", "* /").replace("\\", "/")


def _order(study: MatrixStudy) -> range:
    return range(len(study.wiring.driven))


def c_matrix(name: str, study: MatrixStudy | None) -> list[str]:
    """Return the lines of a C header for the matrix called *name* there."""
    if study is None:
        return []
    timing, keys = study.timing, key_map(study)
    lines = ["/* The timing rests on:", *(f" *   {_comment(text)}" for text in rests_on(study)), " */"]
    lines += [
        f"#define {name}_SETTLE_US {timing.wait_us} /* from pulling a line low to reading the others */",
        f"#define {name}_SCAN_HZ {int(timing.scan_hz)} /* whole scans a second with that wait */",
        f"#define {name}_DEBOUNCE_MS {timing.debounce_ms} /* for {_comment(study.key_kind)} contacts */",
        f"#define {name}_SCAN_ORDER {{ {', '.join(map(str, _order(study)))} }} "
        f"/* places in {name}_{study.drive.upper()[:-1]}_PINS: pull one low, let the others go */",
        f"#define {name}_KEYS {len(keys)}",
        f"/* row, column, name: places in {name}_ROW_PINS and {name}_COLUMN_PINS */",
    ]
    rows = [f"    {{ {row}, {column}, {_c_string(key)} }}" for row, column, key in keys]
    return [*lines, f"#define {name}_KEY_MAP {{ \\", *(f"{row}, \\" for row in rows), "}"]


def python_matrix(name: str, study: MatrixStudy | None) -> list[str]:
    """Return the lines of a Python module for the matrix called *name* there."""
    if study is None:
        return []
    timing = study.timing
    lines = ["# The timing rests on:", *(f"#   {_comment(text)}" for text in rests_on(study))]
    lines += [
        f"{name}_SETTLE_US = {timing.wait_us}  # from pulling a line low to reading the others",
        f"{name}_SCAN_HZ = {int(timing.scan_hz)}  # whole scans a second with that wait",
        f"{name}_DEBOUNCE_MS = {timing.debounce_ms}  # for {_comment(study.key_kind)} contacts",
        f"{name}_SCAN_ORDER = ({''.join(f'{n}, ' for n in _order(study))})"
        f"  # places in {name}_{study.drive.upper()[:-1]}_PINS",
        f"{name}_KEY_MAP = (  # row, column, name: places in {name}_ROW_PINS and {name}_COLUMN_PINS",
    ]
    lines += [f"    ({row}, {column}, {_string(key)})," for row, column, key in key_map(study)]
    return [*lines, ")"]


def json_matrix(study: MatrixStudy | None) -> dict[str, object]:
    """Return what the JSON file adds to the matrix's own table."""
    if study is None:
        return {}
    timing = study.timing
    return {
        **diode_ways(study),
        "settle_us": timing.wait_us,
        "scan_hz": round(timing.scan_hz, 1),
        "debounce_ms": timing.debounce_ms,
        "scan_order": list(_order(study)),
        "key_map": [{"row": row, "column": column, "key": key} for row, column, key in key_map(study)],
        "rests_on": list(rests_on(study)),
    }

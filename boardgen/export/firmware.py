"""Pin definitions for firmware: C header, Python module, JSON, each with the pin map's digest."""

from __future__ import annotations

import json
import re

from boardgen.circuit.model import PinChoice
from boardgen.design.model import ContactKind
from boardgen.electrical.matrix.model import MatrixStudy
from boardgen.export.bundle import Bundle
from boardgen.export.files import OutFile, text_file
from boardgen.export.firmware_guard import c_guard, python_guard
from boardgen.export.firmware_identity import c_identity, json_identity, python_identity
from boardgen.export.firmware_matrix import c_matrix, json_matrix, python_matrix
from boardgen.export.firmware_power import c_power, json_power, python_power
from boardgen.export.identity_data import board_code, identity_data


def identifier(signal: str) -> str:
    """Return *signal* as an upper-case C and Python name."""
    name = re.sub(r"[^A-Za-z0-9]+", "_", signal).strip("_").upper() or "SIGNAL"
    return name if name[0].isalpha() else f"N{name}"


def pin_expression(pin_name: str) -> tuple[int | None, str]:
    """Return (number, name) of a pin: "GP12" gives 12, "PA5" gives None and "PA5"."""
    match = re.fullmatch(r"(?:GP|GPIO|IO|D)(\d+)", pin_name)
    return (int(match.group(1)) if match else None), pin_name


def _string(text: str) -> str:
    return json.dumps(text, ensure_ascii=True)


def _comment(text: str) -> str:
    return re.sub(r"[^\x20-\x7e]", "?", text).replace("*/", "* /").replace("\\", "/")


def _rows(bundle: Bundle) -> list[tuple[str, PinChoice, str, str]]:
    """(identifier, choice, contact number, wire) in the order of the contacts."""
    contacts = {contact.signal: contact for contact in bundle.bound.design.contacts}
    rows = []
    for choice in bundle.pinmap.choices:
        contact = contacts.get(choice.request.signal)
        number = contact.number if contact else choice.request.anchor
        rows.append((identifier(choice.request.signal), choice, number, contact.wire if contact else ""))
    return rows


def _leads(contact: str) -> str:
    """Where a pin leads, in words: a pin without a contact is one of the board's code."""
    return f"contact {contact}" if contact else "strap of the board's code"


def _matrix_lists(bundle: Bundle) -> list[tuple[str, tuple[str, ...], tuple[str, ...], str]]:
    return [
        (identifier(m.name), tuple(map(identifier, m.rows)), tuple(map(identifier, m.columns)), m.drive)
        for m in bundle.bound.design.matrices
    ]


def _studies(bundle: Bundle) -> dict[str, MatrixStudy]:
    return {identifier(study.name): study for study in bundle.plan.matrices}


def _active_low(bundle: Bundle, choice: PinChoice) -> bool:
    kinds = {c.signal: c.kind for c in bundle.bound.design.contacts}
    kind = kinds.get(choice.request.signal)
    return kind in (ContactKind.SWITCH, ContactKind.ROW, ContactKind.COLUMN)


def c_header(bundle: Bundle) -> str:
    """Return the C header; a number where the module's names carry one, else the name itself."""
    guard = f"BOARD_{identifier(bundle.stem)}_PINS_H"
    board = bundle.board
    lines = [
        f"/* Pin definitions for {_comment(board.title)}, revision {_comment(board.revision)}.",
        f" * Written by {bundle.tool} for the module {_comment(bundle.bound.module.name)}. */",
        f"#ifndef {guard}",
        f"#define {guard}",
        "",
        f"#define BOARD_NAME {_string(board.name)}",
        f"#define BOARD_REVISION {_string(board.revision)}",
        f"#define BOARD_PIN_MAP {_string(bundle.pinmap.digest())}",
        *c_guard(bundle.pinmap.digest()),
        *c_power(bundle.plan.power),
        "",
    ]
    for name, choice, contact, wire in _rows(bundle):
        number, pin = pin_expression(choice.pin_name)
        note = _leads(contact) + (f", {wire} wire" if wire else "")
        value = str(number) if number is not None else pin
        lines.append(f"#define PIN_{name} {value} /* module pin {choice.pin_number}; {_comment(note)} */")
    lines += c_identity(board_code(bundle))
    studies = _studies(bundle)
    for name, rows, columns, drive in _matrix_lists(bundle):
        lines.append("")
        lines.append(f"#define {name}_ROWS {len(rows)}")
        lines.append(f"#define {name}_COLUMNS {len(columns)}")
        lines.append(f"#define {name}_ROW_PINS {{ {', '.join(f'PIN_{r}' for r in rows)} }}")
        lines.append(f"#define {name}_COLUMN_PINS {{ {', '.join(f'PIN_{c}' for c in columns)} }}")
        lines.append(f"#define {name}_DRIVES_ROWS {1 if drive == 'rows' else 0}")
        lines += c_matrix(name, studies.get(name))
    lines += ["", f"#endif /* {guard} */"]
    return "\n".join(lines)


def python_module(bundle: Bundle) -> str:
    """Return the Python module (also for small-device Pythons: constants, and one plain function)."""
    board = bundle.board
    lines = [
        f"# Pin definitions for {_comment(board.title)}, revision {_comment(board.revision)}.",
        f"# Written by {bundle.tool} for the module {_comment(bundle.bound.module.name)}.",
        f"BOARD_NAME = {_string(board.name)}",
        f"BOARD_REVISION = {_string(board.revision)}",
        f"BOARD_PIN_MAP = {_string(bundle.pinmap.digest())}",
        *python_power(bundle.plan.power),
        *python_guard(),
    ]
    for name, choice, contact, _wire in _rows(bundle):
        number, pin = pin_expression(choice.pin_name)
        value = str(number) if number is not None else _string(pin)
        lines.append(f"PIN_{name} = {value}  # module pin {choice.pin_number}; {_leads(contact)}")
    lines += python_identity(board_code(bundle))
    studies = _studies(bundle)
    for name, rows, columns, drive in _matrix_lists(bundle):
        lines.append("")
        lines.append(f"{name}_ROW_PINS = ({''.join(f'PIN_{r}, ' for r in rows)})")
        lines.append(f"{name}_COLUMN_PINS = ({''.join(f'PIN_{c}, ' for c in columns)})")
        lines.append(f"{name}_DRIVES = {_string(drive)}")
        lines += python_matrix(name, studies.get(name))
    return "\n".join(lines)


def pin_json(bundle: Bundle) -> str:
    """Return the pin map as JSON for any other tool."""
    studies = _studies(bundle)
    data = {
        "board": bundle.board.name,
        "revision": bundle.board.revision,
        "pin_map": bundle.pinmap.digest(),
        "check": "refuse to start unless pin_map is the one the firmware was written for",
        "module": bundle.bound.module.id,
        **json_power(bundle.plan.power),
        **json_identity(identity_data(bundle)),
        "pins": [
            {
                "signal": choice.request.signal,
                "name": name,
                "pin": choice.pin_name,
                "module_pin": choice.pin_number,
                "contact": contact,
                "wire": wire,
                "reads": choice.request.reads,
                "drives": choice.request.drives,
                "analog": choice.request.analog,
                "pull": choice.request.pull,
                "active_low": _active_low(bundle, choice),
            }
            for name, choice, contact, wire in _rows(bundle)
        ],
        "matrices": [
            {"name": m.name, "rows": list(m.rows), "columns": list(m.columns), "drive": m.drive,
             "diodes": m.diode_ways(), "keys": [list(key) for key in m.keys],
             **json_matrix(studies.get(identifier(m.name)))}
            for m in bundle.bound.design.matrices
        ],
    }  # fmt: skip
    return json.dumps(data, indent=2, ensure_ascii=False)


def firmware_files(bundle: Bundle) -> tuple[OutFile, ...]:
    """Return the pin definitions under ``firmware/``."""
    stem = bundle.board.name.replace("-", "_")
    return (
        text_file(f"firmware/{stem}_pins.h", c_header(bundle)),
        text_file(f"firmware/{stem}_pins.py", python_module(bundle)),
        text_file(f"firmware/{stem}_pins.json", pin_json(bundle)),
    )

"""What firmware needs to tell at its start which revision it sits on, from the straps of the board's code."""

from __future__ import annotations

import json
from typing import Any

from boardgen.design.model import NO_STRAPS
from boardgen.export.identity_data import Code


def c_identity(code: Code | None) -> list[str]:
    """Return the lines of a C header; none for a board without straps. PIN_... are defined before it."""
    if code is None:
        return []
    known = " || ".join(f"(code) == {number}" for number, _ in code.revisions)
    levels = "~(levels)" if code.pull == "up" else "(levels)"
    return [
        "",
        f"/* The board's code. Make the pins inputs, switch each pin's pull-{code.pull} on, wait, and read:",
        " * levels holds the first pin's level in bit 0. A board made before there were straps gives",
        f" * {NO_STRAPS}, and no revision with straps has that code. */",
        f"#define BOARD_ID_BITS {code.bits}",
        f"#define BOARD_ID_PINS {{ {', '.join(f'PIN_{signal}' for signal in code.signals)} }}",
        f"#define BOARD_ID_PULL_UP {int(code.pull == 'up')}",
        f"#define BOARD_ID_SETTLE_US {code.settle_us}",
        f"#define BOARD_ID_NO_STRAPS {NO_STRAPS}u",
        *(f"#define BOARD_ID_OF_{name} {number}u" for number, name in code.revisions),
        f"#define BOARD_ID_CODE {code.code}u /* of this revision */",
        f"#define BOARD_ID_LEVELS {code.levels}u /* what this revision's pins read */",
        f"#define BOARD_ID_FROM(levels) ({levels} & {code.mask}u)",
        "#define BOARD_ID_IS_OURS(levels) (BOARD_ID_FROM(levels) == BOARD_ID_CODE)",
        f"#define BOARD_ID_IS_KNOWN(code) ({known})",
        "/* Firmware that wants one code says so before it includes this file: #define CODE_WRITTEN_FOR N */",
        "#if defined(CODE_WRITTEN_FOR)",
        "#if CODE_WRITTEN_FOR != BOARD_ID_CODE",
        '#error "this firmware was written for boards of another code than BOARD_ID_CODE"',
        "#endif",
        "#endif",
    ]


def python_identity(code: Code | None) -> list[str]:
    """Return the lines of a Python module: constants and two plain functions; none without straps."""
    if code is None:
        return []
    condition = "not level" if code.pull == "up" else "level"  # held against the pull
    names = "".join(f"{number}: {json.dumps(name)}, " for number, name in code.revisions)
    return [
        "",
        f"# The board's code: each pin's pull-{code.pull} on, wait, read 0 or 1 from each in turn.",
        f"# A board made before there were straps gives {NO_STRAPS}; no revision with straps has that code.",
        f"BOARD_ID_PINS = ({''.join(f'PIN_{signal}, ' for signal in code.signals)})",
        f"BOARD_ID_PULL = {json.dumps(code.pull)}",
        f"BOARD_ID_SETTLE_US = {code.settle_us}",
        f"BOARD_ID_NO_STRAPS = {NO_STRAPS}",
        f"BOARD_ID_CODE = {code.code}",
        f"BOARD_ID_REVISIONS = {{{names}}}",
        "",
        "",
        "def code_of(levels):",
        '    """Return the board\'s code from what its pins read, in the order of BOARD_ID_PINS."""',
        "    if len(levels) != len(BOARD_ID_PINS):",
        '        raise ValueError("%d levels are wanted" % len(BOARD_ID_PINS))',
        "    code = 0",
        "    for bit, level in enumerate(levels):",
        f"        if {condition}:",
        "            code += 1 << bit",
        "    return code",
        "",
        "",
        "def check_board(levels, *codes):",
        '    """Return the board\'s code; stop where it is none of codes (left out: this revision\'s)."""',
        "    code = code_of(levels)",
        "    if code not in (codes or (BOARD_ID_CODE,)):",
        '        text = "this board has code %d (revision %s), the firmware was not written for it"',
        '        raise RuntimeError(text % (code, BOARD_ID_REVISIONS.get(code, "unknown")))',
        "    return code",
    ]


def json_identity(data: dict[str, Any] | None) -> dict[str, object]:
    """Return what the JSON file adds; *data* is that of the record, None without straps."""
    if data is None:
        return {}
    return {"identity": {key: value for key, value in data.items() if key != "straps"} | {
        "pins": [row["pin"] for row in data["straps"]],
    }}  # fmt: skip

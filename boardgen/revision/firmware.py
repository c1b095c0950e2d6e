"""What firmware written against one revision needs on another, from the pin files of both runs."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping
from typing import Any

from boardgen.design.model import identity_signals
from boardgen.revision.model import Firmware, FirmwareVerdict, PinLine
from boardgen.revision.rows import natural
from boardgen.revision.runs import OpenedRun

# Which board it is may change without a change of what firmware does.
_IDENTITY = re.compile(r"^\s*#\s*(?:ifndef|define|endif)\s*(?:/\*.*)?(?:BOARD_|$)")
_USED = ("reads", "drives", "analog", "pull", "active_low")
_WORDS = {
    "reads": "is read",
    "drives": "is driven",
    "analog": "is analog",
    "pull": "pull",
    "active_low": "is active low",
}


def _by_signal(data: Mapping[str, Any]) -> dict[str, Mapping[str, Any]]:
    return {str(row["signal"]): row for row in data["pins"]}


def _code_reasons(a: Mapping[str, Any], b: Mapping[str, Any]) -> list[str]:
    """What no compiler mends: signals that came or went, or that are used otherwise."""
    found = []
    if a["module"] != b["module"]:
        found.append(f"another module: {a['module']} before, {b['module']} now")
    one, two = _by_signal(a), _by_signal(b)
    for signal in sorted({*one, *two}, key=lambda text: (natural(text), text)):
        if signal not in two:
            found.append(f"{signal} is gone")
        elif signal not in one:
            found.append(f"{signal} is new")
        else:
            for key in _USED:
                before, after = one[signal].get(key), two[signal].get(key)
                if before != after:
                    found.append(f"{signal} {_WORDS[key]}: {_plain(before)} before, {_plain(after)} now")
    matrices = [{str(m["name"]): _keys(m) for m in data["matrices"]} for data in (a, b)]
    for name in sorted({*matrices[0], *matrices[1]}):
        if matrices[0].get(name) != matrices[1].get(name):
            found.append(f"matrix {name} is another one")
    return found


def _plain(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value) if value else "none"


def _keys(matrix: Mapping[str, Any]) -> tuple[object, ...]:
    read = ("rows", "columns", "drive", "diodes", "cathode_to_row", "cathode_to_column", "keys")
    return tuple(str(matrix.get(key)) for key in read)


def _rebuild_reasons(a: Mapping[str, Any], b: Mapping[str, Any]) -> list[str]:
    """What compiling against the new pin file mends: numbers."""
    found = []
    one, two = _by_signal(a), _by_signal(b)
    straps = identity_signals(max(int((data.get("identity") or {}).get("bits", 0)) for data in (a, b)))
    for signal in sorted({*one, *two}, key=lambda text: (natural(text), text)):
        if signal in one and signal in two and one[signal]["pin"] != two[signal]["pin"]:
            text = f"{signal} moved from {one[signal]['pin']} to {two[signal]['pin']}"
            if signal in straps:
                text = f"strap {text}: firmware built before reads the board's code from the wrong pin"
            found.append(text)
    codes = [(data.get("identity") or {}).get("code") for data in (a, b)]
    if codes[0] is not None and codes[0] != codes[1]:
        now = "no straps now" if codes[1] is None else f"{codes[1]} now"
        found.append(f"the board's code is another: {codes[0]} before, {now}")
    return found


def pin_lines(before: str, after: str) -> tuple[PinLine, ...]:
    """Return the lines of two C pin files whose code differs; comments and the board's name do not count."""
    one, two = (_code(text) for text in (before, after))
    matcher = difflib.SequenceMatcher(None, [code for _, code, _ in one], [code for _, code, _ in two], False)
    found = []
    for what, i1, i2, j1, j2 in matcher.get_opcodes():
        if what == "equal":
            continue
        for k in range(max(i2 - i1, j2 - j1)):
            x = one[i1 + k] if i1 + k < i2 else (0, "", "")
            y = two[j1 + k] if j1 + k < j2 else (0, "", "")
            found.append(PinLine(x[0], x[2], y[0], y[2]))
    return tuple(found)


def _code(text: str) -> list[tuple[int, str, str]]:
    """Return (line, what a compiler sees of it, the line) of each line that counts."""
    bare = re.sub(r"/\*.*?\*/", lambda found: "\n" * found[0].count("\n"), text, flags=re.DOTALL)
    rows = []
    for place, (seen, line) in enumerate(zip(bare.split("\n"), text.split("\n"), strict=False), 1):
        code = " ".join(seen.split())
        if code and not _IDENTITY.match(code):
            rows.append((place, code, line.strip()))
    return rows


def firmware_verdict(a: OpenedRun, b: OpenedRun) -> FirmwareVerdict:
    """Return what firmware for run *a* needs on run *b*.

    ``same pins``: a binary of *a* runs; ``needs rebuild``: numbers of the pin file changed, and nothing else;
    ``needs code change``: signals came, went, or are used otherwise. Raises what a damaged file does.
    """
    ending = "_pins.h"
    one, two = a.pins(), b.pins()
    lines = pin_lines(a.text(ending), b.text(ending))
    reasons = _code_reasons(one, two)
    verdict = Firmware.CODE if reasons else Firmware.SAME
    reasons += _rebuild_reasons(one, two)
    if verdict is Firmware.SAME and (reasons or lines):
        verdict = Firmware.REBUILD
        reasons = reasons or ["values of the pin file changed"]
    return FirmwareVerdict(verdict, tuple(reasons), b.path(ending), lines)

"""The code that the next revision's straps carry: the lowest that no board so far has."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from boardgen.catalog.tomlfile import TomlFile
from boardgen.design.identity import free_code
from boardgen.design.model import Design, Identity
from boardgen.design.schema import MOST_BITS
from boardgen.errors import InputError

_LINE = re.compile(r"^(\s*code\s*=\s*)([0-9]+)(\s*(?:#.*)?)$")


def next_code(design: Design, record: Mapping[str, Any]) -> tuple[int, int] | None:
    """Return (code of the run, code of the next revision); None where the run or the design has no straps.

    *record* is the run's. Raises InputError where no code is left.
    """
    identity, told = design.identity, record.get("identity")
    if identity is None or told is None:
        return None
    own = int(told["code"])
    taken = {**{code: name for name, code in identity.earlier}, own: str(record["revision"])}
    code = free_code(identity.bits, taken)
    if code is None:
        bits = identity.bits
        raise InputError(
            f"the revisions so far have every code of {bits} bit{'' if bits == 1 else 's'}",
            design.origin,
            "identity.bits",
            identity.line,
            str(bits),
            f"{bits + 1} to {MOST_BITS}" if bits < MOST_BITS else "none: [identity] has to go",
        )
    return own, code


def text_with_code(file: TomlFile, code: int) -> str:
    """Return the design's text with *code* where it states one; one that leaves it open stays as it is.

    Raises InputError where the code does not stand on a line of its own.
    """
    line = file.lines.get(("identity", "code"))
    if line is None:
        return file.text
    rows = file.text.split("\n")
    found = _LINE.match(rows[line - 1])
    if found is None:
        raise InputError(
            "the code does not stand on a line of its own", file.where, "identity.code", line, rows[line - 1]
        )
    rows[line - 1] = f"{found[1]}{code}{found[3]}"
    return "\n".join(rows)


def alike(before: Identity | None, after: Identity | None) -> bool:
    """Whether two revisions' straps are the same but for the code."""
    if before is None or after is None:
        return before is after
    return (before.bits, before.pull, before.ohms, before.part) == (
        after.bits,
        after.pull,
        after.ohms,
        after.part,
    )

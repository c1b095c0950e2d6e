"""Which code a board is to carry: the codes of the revisions before it, and the one this revision takes.

A bit of a code is 1 where a resistor holds its pin against the pin's internal pull. A board without straps
therefore reads 0 whatever the pull, and no revision with straps ever has that code.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from boardgen.catalog.tomlfile import TomlFile
from boardgen.design import schema
from boardgen.design.formtypes import REVISION_PATTERN
from boardgen.design.keys import Say
from boardgen.design.model import NO_STRAPS, Identity, identity_signals
from boardgen.errors import InputError
from boardgen.readfile import leads_out, read_json

HISTORY = "history"  # folder beside the design, with a folder for each earlier revision
RECORD = "summary.json"  # of an earlier revision's run
MAX_RECORD = 16_000_000  # bytes


@dataclass(frozen=True, slots=True)
class PastCode:
    """The code that boards of *revision* carry; read with *pull* switched on."""

    revision: str
    code: int
    pull: str


def past_codes(folder: Path, own: str) -> tuple[PastCode, ...]:
    """Return the codes of all revisions but *own* that the history beside the design in *folder* records.

    Revisions without straps are left out. They come in the order of their names, A to Z, then AA. Raises
    InputError for a record that is none, MachineError where reading is forbidden.
    """
    there = folder / HISTORY
    if not there.is_dir():
        return ()
    names = [path.name for path in there.iterdir() if re.fullmatch(REVISION_PATTERN, path.name)]
    found = []
    for name in sorted(names, key=lambda text: (len(text), text)):
        path = there / name / RECORD
        if name == own or not path.exists():
            continue
        if leads_out(path, folder):
            raise InputError("the record leads out of the design's folder", path.as_posix())
        past = _past(name, path)
        if past is not None:
            found.append(past)
    return tuple(found)


def _past(revision: str, path: Path) -> PastCode | None:
    where = path.as_posix()
    data = read_json(path, where, MAX_RECORD, "record")
    if not isinstance(data, dict):
        raise InputError("not the record of a run", where)
    told = data.get("identity")
    if told is None:
        return None
    if not isinstance(told, dict):
        raise InputError("the record's identity is no table", where, "identity")
    code, pull = told.get("code"), told.get("pull")
    if not isinstance(code, int) or isinstance(code, bool) or not NO_STRAPS < code < 2**schema.MOST_BITS:
        raise InputError(
            "the record has no such code",
            where,
            "identity.code",
            found=repr(code)[:40],
            allowed=f"1 to {2**schema.MOST_BITS - 1}",
        )
    if pull not in ("up", "down"):
        raise InputError(
            "the record has no such pull",
            where,
            "identity.pull",
            found=repr(pull)[:40],
            allowed="up, down",
        )
    return PastCode(revision, code, pull)


def free_code(bits: int, taken: Mapping[int, str]) -> int | None:
    """Return the lowest code of *bits* bits that is neither *taken* nor that of no straps, or None."""
    return next((code for code in range(NO_STRAPS + 1, 2**bits) if code not in taken), None)


def _taken(past: tuple[PastCode, ...]) -> dict[int, str]:
    taken: dict[int, str] = {}
    for item in past:
        taken.setdefault(item.code, item.revision)
    return taken


def free_words(bits: int, taken: Mapping[int, str]) -> str:
    """Return the codes that are left, in few words."""
    left = [str(code) for code in range(NO_STRAPS + 1, 2**bits) if code not in taken]
    more = f" and {len(left) - 8} more" if len(left) > 8 else ""
    return (", ".join(left[:8]) + more) or "none: more bits are needed"


def identity_problems(form: schema.DesignForm, past: tuple[PastCode, ...], say: Say) -> Iterator[InputError]:
    """Yield what is wrong with the ``[identity]`` table; *past* are the codes of other revisions."""
    table = form.identity
    if table is None:
        return
    bits, code, taken = table.bits, table.code, _taken(past)
    names = set(identity_signals(bits))
    for n, contact in enumerate(form.contacts):
        if contact.signal is not None and contact.signal.upper() in names:
            yield say(f"{contact.signal} is the name of an identification strap", ("contacts", n, "signal"))
    for item in past:
        if item.pull != table.pull:
            yield say(
                f"boards of revision {item.revision} are read with the pull-{item.pull}s on; with the others "
                "firmware would read another code there",
                ("identity", "pull"),
                table.pull,
                item.pull,
            )
            break
    at = ("identity", "code")
    if code is None:
        if free_code(bits, taken) is None:
            yield say(
                f"earlier revisions have every code of {bits} bit{'' if bits == 1 else 's'}",
                ("identity", "bits"),
                str(bits),
                f"{bits + 1} to {schema.MOST_BITS}" if bits < schema.MOST_BITS else "none",
            )
    elif code == NO_STRAPS:
        yield say(
            "that code is read on boards without straps and kept for them",
            at,
            str(code),
            free_words(bits, taken),
        )
    elif code >= 2**bits:
        yield say(
            f"the code does not fit in {bits} bit{'' if bits == 1 else 's'}",
            at,
            str(code),
            free_words(bits, taken),
        )
    elif code in taken:
        yield say(f"revision {taken[code]} has that code already", at, str(code), free_words(bits, taken))


def identity_of(form: schema.DesignForm, past: tuple[PastCode, ...], file: TomlFile) -> Identity | None:
    """Return the straps that a form without :func:`identity_problems` asks for; None without the table."""
    table = form.identity
    if table is None:
        return None
    taken = _taken(past)
    code = free_code(table.bits, taken) if table.code is None else table.code
    if code is None:
        raise ValueError("no code is left")
    return Identity(
        bits=table.bits,
        code=code,
        pull=table.pull,
        ohms=table.ohms,
        part=table.part,
        earlier=tuple((item.revision, item.code) for item in past),
        line=file.line(("identity",)),
    )

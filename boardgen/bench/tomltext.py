"""A device as the part of a design file that tells of it."""

from __future__ import annotations

from boardgen.bench.model import Inference
from boardgen.design.model import Contact, ContactKind, Matrix


def device_toml(found: Inference) -> str:
    """Return *found* as TOML: the device line, contacts, matrices; contradictions stand above as comments.

    With ``name``, ``connector`` (and ``module``) put before it, it is a design file.
    """
    lines = [
        "# From readings at the bench. Put before it: name = ..., "
        f'connector = "{found.connector}" and, if wanted, module = ...',
    ]
    clashes = found.contradictions
    if clashes:
        lines.append(
            f"# NOT SETTLED: {len(clashes)} contradiction{'' if len(clashes) == 1 else 's'} in the readings"
        )
        for clash in clashes:
            lines.append(f"#   {_plain(clash.message)}")
            lines += [f"#     {_plain(item)}" for item in clash.items]
    lines += ["", f"device = {_text(found.device)}"]
    for contact in found.contacts:
        lines += ["", "[[contacts]]", *_contact(contact)]
    for matrix in found.matrices:
        lines += ["", "[[matrices]]", *_matrix(matrix)]
    return "\n".join(lines) + "\n"


def _plain(text: str) -> str:
    """Return *text* for a comment: a file's name may hold what would end the line."""
    return "".join(c if c.isprintable() else "?" for c in text)


def _text(text: str) -> str:
    """Return *text* as a TOML string; what a basic string may not hold is escaped."""
    escapes = {'"': '\\"', "\\": "\\\\"}
    return '"' + "".join(escapes.get(c) or (c if c.isprintable() else f"\\U{ord(c):08X}") for c in text) + '"'


def _list(items: tuple[str, ...] | list[str]) -> str:
    return "[" + ", ".join(_text(item) for item in items) + "]"


def _number(value: float) -> str:
    whole = round(value)
    return str(whole) if value == whole and abs(value) < 1e15 else repr(value)


def _contact(contact: Contact) -> list[str]:
    plain = contact.number.isascii() and contact.number.isdecimal() and not contact.number.startswith("0")
    lines = [f"number = {contact.number if plain or contact.number == '0' else _text(contact.number)}"]
    lines.append(f'kind = "{contact.kind}"')
    if contact.signal and contact.kind is not ContactKind.UNUSED:
        lines.append(f"signal = {_text(contact.signal)}")
    if contact.wire:
        lines.append(f"wire = {_text(contact.wire)}")
    lines.append(f'sure = "{contact.sure}"')
    if contact.rail:
        lines.append(f"rail = {_text(contact.rail)}")
    if contact.current_a is not None:
        lines.append(f"current_a = {_number(contact.current_a)}")
    if contact.ohms is not None:
        lines.append(f"ohms = {_number(contact.ohms)}")
    if contact.note:
        lines.append(f"note = {_text(contact.note)}")
    return lines


def _matrix(matrix: Matrix) -> list[str]:
    at = {(row, column): key for row, column, key in matrix.keys}
    lines = [
        f"name = {_text(matrix.name)}",
        f"rows = {_list(matrix.rows)}",
        f"columns = {_list(matrix.columns)}",
        f'drive = "{matrix.drive}"',
        f'diodes = "{matrix.diodes}"',
        "keys = [",
        *(f"  {_list([at.get((row, column), '') for column in matrix.columns])}," for row in matrix.rows),
        "]",
    ]
    if matrix.diode_keys is not None:
        lines.append(f"diode_keys = {_list(matrix.diode_keys)}")
    for key in ("cathode_to_row", "cathode_to_column"):
        if names := getattr(matrix, key):
            lines.append(f"{key} = {_list(names)}")
    if matrix.key_kind != "metal":
        lines.append(f'key_kind = "{matrix.key_kind}"')
    if matrix.contact_ohms is not None:
        lines.append(f"contact_ohms = {_number(matrix.contact_ohms)}")
    if matrix.diode_vf_v is not None:
        lines.append(f"diode_vf_v = {_number(matrix.diode_vf_v)}")
    return lines

"""What the schematic shows: which small parts stand together, and the notes on why."""

from __future__ import annotations

import re
from collections.abc import Iterable

from boardgen.board.model import PartKind
from boardgen.circuit.model import CircuitPart
from boardgen.design.model import Contact, Direction
from boardgen.export.bundle import Bundle
from boardgen.export.cad_blocks import Job
from boardgen.export.cad_parts import Sheet

_BIG = (PartKind.MODULE, PartKind.CONNECTOR, PartKind.HOLE)


def natural(text: str) -> tuple[tuple[int, int, str], ...]:
    """Sort key that puts R2 before R10."""
    return tuple(
        (0, int(bit), "") if bit.isdigit() else (1, 0, bit) for bit in re.split(r"(\d+)", text) if bit
    )


def small_parts(bundle: Bundle) -> list[CircuitPart]:
    """Return the parts that go into blocks, by reference."""
    parts = [part for part in bundle.netlist.parts if part.kind not in _BIG]
    return sorted(parts, key=lambda part: natural(part.ref))


def outside_nets(bundle: Bundle, sheet: Sheet, parts: Iterable[CircuitPart]) -> frozenset[str]:
    """Return the nets that also meet a part which is not one of *parts*."""
    inside = {part.ref for part in parts}
    return frozenset(net for (ref, _), net in sheet.nets.items() if ref not in inside)


def jobs(bundle: Bundle, sheet: Sheet) -> list[Job]:
    """Return the blocks in reading order: signals as the contacts run, then supplies.

    Parts of one signal stand together, and so do parts that share a net no other
    part and no module or connector meets.
    """
    parts = small_parts(bundle)
    group: dict[str, str] = {part.ref: part.ref for part in parts}

    def top(ref: str) -> str:
        while group[ref] != ref:
            ref = group[ref]
        return ref

    def join(refs: list[str]) -> None:
        known = [ref for ref in refs if ref in group]
        for ref in known[1:]:
            group[top(ref)] = top(known[0])

    for plan in bundle.plan.signals:
        join(list(plan.parts))
    outer = outside_nets(bundle, sheet, parts)
    members: dict[str, list[str]] = {}
    for part in parts:
        for pin in part.pins:
            net = sheet.net(part, pin.number)
            if net is not None and net not in outer and not sheet.is_power(net):
                members.setdefault(net, []).append(part.ref)
    for shared in members.values():
        join(shared)
    blocks: dict[str, list[CircuitPart]] = {}
    for part in parts:
        blocks.setdefault(top(part.ref), []).append(part)
    made: list[tuple[tuple[object, ...], Job]] = []
    for found in blocks.values():
        refs = {part.ref for part in found}
        plans = [plan for plan in bundle.plan.signals if refs & set(plan.parts)]
        if plans:
            plan = plans[0]
            inward = plan.contact.direction is Direction.IN
            start = plan.net if inward or not plan.module_net else plan.module_net
            title = ", ".join(dict.fromkeys(f"{plan.contact.signal}: {plan.way}" for plan in plans))
            place = bundle.plan.signals.index(plan)
            made.append(((0, place, ()), Job(title, tuple(found), start)))
        else:
            supply = all(sheet.is_power(sheet.net(part, pin.number)) for part in found for pin in part.pins)
            made.append(((2 if supply else 1, 0, natural(found[0].ref)), Job("", tuple(found), None)))
    return [job for _, job in sorted(made, key=lambda row: row[0])]


def _runs(names: list[str]) -> str:
    """Return names with counted neighbours drawn together: ROW0 to ROW7, LAMP."""
    made: list[list[str]] = []
    for name in names:
        if made:
            last = made[-1][-1]
            head, tail = re.fullmatch(r"(.*?)(\d*)", last, re.DOTALL).groups()  # type: ignore[union-attr]
            if tail and name == f"{head}{int(tail) + 1}":
                made[-1].append(name)
                continue
        made.append([name])
    return ", ".join(run[0] if len(run) == 1 else f"{run[0]} to {run[-1]}" for run in made)


def notes(bundle: Bundle) -> list[str]:
    """Return the sheet's notes: how each kind of signal is carried, and why; then the rails."""
    ways: dict[tuple[str, str], list[str]] = {}
    for plan in bundle.plan.signals:
        ways.setdefault((plan.way, _general(plan.why)), []).append(_who(plan.contact))
    lines = []
    for (way, why), names in ways.items():
        who = _runs(list(dict.fromkeys(names)))
        lines.append(f"{who}: {way}. {_sentence(why)}".rstrip())
    for use in bundle.plan.rails:
        able = f" of {use.budget_a * 1000:g} mA" if use.budget_a is not None else ""
        load = f"loaded with {use.load_a * 1000:g} mA{able}"
        lines.append(f"Rail {use.rail} ({use.volts:g} V, net {use.net}): {load}.")
    return lines


def _who(contact: Contact) -> str:
    return contact.signal or f"contact {contact.number}"


def _general(why: str) -> str:
    """Drop references from *why*, so that like signals share a note."""
    return re.sub(r"\b[A-Z]\d+(, [A-Z]\d+)* (of|serves)\b", r"a part \2", why)


def _sentence(text: str) -> str:
    text = text.strip()
    if not text:
        return ""
    return text[0].upper() + text[1:] + ("" if text.endswith((".", "!", "?")) else ".")

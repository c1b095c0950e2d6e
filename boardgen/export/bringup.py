"""What a person takes to the bench: the continuity sheet as text, and the sheets of the whole bring-up."""

from __future__ import annotations

from boardgen.board.model import NetKind
from boardgen.design.model import ContactKind
from boardgen.export.bringup_out import plan_files
from boardgen.export.bringup_plan import plan_of
from boardgen.export.bundle import Bundle
from boardgen.export.cautions import cautions
from boardgen.export.files import OutFile, text_file
from boardgen.export.identity_data import board_code


def neighbour_pairs(bundle: Bundle) -> list[tuple[str, str]]:
    """Return contact pairs that stand next to each other and must be open, nearest first."""
    contacts = bundle.bound.connector.contacts
    nets = dict(bundle.plan.contact_nets)
    pairs: list[tuple[float, str, str]] = []
    for index, a in enumerate(contacts):
        for b in contacts[index + 1 :]:
            net_a, net_b = nets.get(a.number), nets.get(b.number)
            if net_a is not None and net_a == net_b:
                continue
            pairs.append((round(a.at.distance(b.at)), a.number, b.number))
    if not pairs:
        return []
    pitch = min(distance for distance, _a, _b in pairs)
    return [(a, b) for distance, a, b in pairs if distance <= 1.3 * pitch]


def _tick(*cells: str, widths: tuple[int, ...]) -> str:
    return "  ".join(f"{cell:<{width}}" for cell, width in zip(cells, widths, strict=True)).rstrip()


def continuity_sheet(bundle: Bundle) -> str:
    """Return the sheet as text: rails first, then each contact to its pin, then pairs that must be open."""
    board, plan = bundle.board, bundle.plan
    widths = (9, 22, 18, 14, 9, 10, 4)
    nets = dict(plan.contact_nets)
    module_pins = {choice.request.net: choice for choice in bundle.pinmap.choices}
    lines = [
        f"CONTINUITY SHEET  {board.name} revision {board.revision}  pin map {bundle.pinmap.digest()}",
        f"{board.title}",
        "",
        "Measure with the board unpowered, device and module unplugged.",
        "Serial: ______  Date: ______  By: ______",
        "",
        "1. RAILS (stop here if one reads below 100 ohm)",
    ]
    supplies = [net.name for net in board.nets if net.kind is NetKind.SUPPLY]
    for name in supplies:
        lines.append(
            f"   [ ] {name:<12} to GND           expected: open or above 1 kohm      measured ______ ohm"
        )
    for index, name in enumerate(supplies):
        for other in supplies[index + 1 :]:
            lines.append(
                f"   [ ] {name:<12} to {other:<12}  expected: not a short              measured ______ ohm"
            )
    lines += [
        "",
        "2. CONTACT TO MODULE PIN (expected: below 1 ohm unless a part stands between)",
        _tick("contact", "signal", "wire", "net", "module", "measured", "ok", widths=widths),
    ]
    contacts = {contact.number: contact for contact in bundle.bound.design.contacts}
    signals = {item.contact.number: item for item in plan.signals}
    for number in bundle.bound.connector.numbers():
        contact = contacts.get(number)
        net = nets.get(number)
        used = contact is not None and contact.kind is not ContactKind.UNUSED
        signal = contact.signal if contact and used else "(open)"
        wire = contact.wire if contact else ""
        item = signals.get(number)
        choice = module_pins.get(item.module_net if item and item.module_net else (net or ""))
        pin = f"{choice.pin_number} {choice.pin_name}" if choice else ("GND" if net == "GND" else "-")
        lines.append(_tick(number, signal, wire, net or "open", pin, "______", "[ ]", widths=widths))
        if item and item.parts:
            lines.append(f"           through {', '.join(item.parts)}: {item.way}")
    code = board_code(bundle)
    if code is not None:
        lines += [
            "",
            f"   THE BOARD'S CODE IS {code.code} (resistors to the logic rail or to ground, no power needed)",
        ]
        pins = {choice.request.signal: choice for choice in bundle.pinmap.choices}
        for strap in plan.straps:
            pin = f"module pin {pins[strap.signal].pin_number} {pins[strap.signal].pin_name}"
            lines.append(f"   [ ] {strap.signal} at {pin} to {strap.to}: through {strap.ref}  ______ ohm")
    lines += ["", "3. NEIGHBOURS THAT MUST BE OPEN (expected: above 1 Mohm)"]
    row: list[str] = []
    for a, b in neighbour_pairs(bundle):
        row.append(f"[ ] {a:>3} - {b:<3}")
        if len(row) == 6:
            lines.append("   " + "   ".join(row))
            row = []
    if row:
        lines.append("   " + "   ".join(row))
    lines += ["", "CAUTIONS"]
    for text in cautions(bundle):
        lines.append(f" - {text}")
    return "\n".join(lines)


def bringup_files(bundle: Bundle) -> tuple[OutFile, ...]:
    """Return what stands under ``bringup/``: sheets, the form for readings, the plan that judges them."""
    text = text_file("bringup/continuity.txt", continuity_sheet(bundle))
    return (text, *plan_files(plan_of(bundle), bundle.tool))

"""The finished board as a meter meets it: spots, parts that conduct, ways to fit a part wrongly."""

from __future__ import annotations

import re

from boardgen.board.model import PartKind
from boardgen.catalog.model import Connector
from boardgen.circuit.model import CircuitPart
from boardgen.electrical.model import PlannedPart
from boardgen.export.bringup_model import Circuit, Element, Leak, Spot, Turn
from boardgen.export.bringup_near import close_pairs
from boardgen.export.bundle import Bundle

RESISTOR_SHARE = 0.05  # tolerance of the resistors in the catalogue
FUSE_OHMS = (0.01, 5.0)  # where a fuse's entry states none


def circuit_of(bundle: Bundle) -> Circuit:
    """Return the board without device and module; parts, spots and pairs in a stable order."""
    spots = tuple(spot for part in bundle.netlist.parts for spot in _spots(bundle, part))
    elements: list[Element] = []
    leaks: list[Leak] = []
    for part in bundle.plan.parts:
        elements += _elements(part)
        leaks += _leaks(part)
    turns = (*face_turns(bundle.bound.connector), *_module_turns(bundle))
    return Circuit(spots, tuple(elements), tuple(leaks), turns, close_pairs(bundle))


def ohms_of(text: str) -> float | None:
    """Return the ohms that a value such as "820", "4k7" or "10k" says; None where it says none."""
    found = re.fullmatch(r"(\d+)(?:([RkM.])(\d*))?([kM]?)", text.strip())
    if found is None:
        return None
    scale = {"k": 1e3, "M": 1e6}.get(found[4] or found[2] or "", 1.0)
    return float(f"{found[1]}.{found[3] or 0}") * scale


def _spots(bundle: Bundle, part: CircuitPart) -> list[Spot]:
    if part.kind is PartKind.LINK:
        return []  # a wire link is copper here: what it joins is one net
    contacts = {c.number: c for c in bundle.bound.design.contacts}
    found = []
    for pin in part.pins:
        name = f"{part.ref}.{pin.number}"
        words = f"{part.ref} leg {pin.number}"
        if part.kind is PartKind.CONNECTOR:
            contact = contacts.get(pin.number)
            bits = [f"contact {pin.number}"]
            if contact is not None:
                bits += [bit for bit in (contact.signal, contact.wire) if bit]
            words = ", ".join(bits)
        elif part.kind is PartKind.MODULE:
            words = f"module pin {pin.number}" + (f" ({pin.name})" if pin.name != pin.number else "")
        elif pin.name not in ("a", "b", pin.number):
            words = f"{part.ref} leg {pin.number} ({pin.name})"
        found.append(Spot(name, pin.net or name, words))
    return found


def _pads(part: PlannedPart) -> dict[str, str]:
    return {function: f"{part.ref}.{pad}" for function, pad in part.component.pins}


def _elements(part: PlannedPart) -> list[Element]:
    pads, figures = _pads(part), dict(part.component.figures)
    if part.component.kind == "resistor":
        ohms = ohms_of(part.value)
        if ohms is None:
            return []
        share = RESISTOR_SHARE
        return [Element(part.ref, "resistor", pads["a"], pads["b"], ohms * (1 - share), ohms * (1 + share))]
    if part.component.kind == "fuse":
        least, most = figures.get("min_ohms", FUSE_OHMS[0]), figures.get("max_ohms", FUSE_OHMS[1])
        return [Element(part.ref, "fuse", pads["a"], pads["b"], least, most)]
    return []


def _leaks(part: PlannedPart) -> list[Leak]:
    """Junctions of *part*, each from its anode to its cathode."""
    pads = _pads(part)
    ways: list[tuple[str, str]] = []
    if part.component.kind in ("diode", "led"):
        ways = [("anode", "cathode")]
    elif part.component.kind == "transistor":
        ways = [("base", "emitter"), ("base", "collector")]
    elif part.component.kind == "mosfet":
        ways = [("source", "drain")]  # the body diode of an N-channel part
    elif {"positive", "negative"} <= pads.keys():
        ways = [("positive", "negative"), ("negative", "positive")]  # an electrolytic leaks for minutes
    elif {"supply", "ground"} <= pads.keys():
        # protection of an unpowered chip: from ground up to every pin, from every pin to the supply
        rest = sorted(pads.keys() - {"supply", "ground"})
        ways = [("ground", "supply"), ("supply", "ground")]
        ways += [("ground", name) for name in rest] + [(name, "supply") for name in rest]
    return [Leak(part.ref, pads[a], pads[b]) for a, b in ways if a in pads and b in pads]


Places = dict[str, tuple[int, int]]
MEET = 300_000  # nm; contacts this near each other meet


def _mapped(places: Places, how: tuple[int, int]) -> dict[str, str] | None:
    """Return which number each one falls on when *places* are turned over; None where they do not meet."""
    xs, ys = [x for x, _ in places.values()], [y for _, y in places.values()]
    sum_x, sum_y = min(xs) + max(xs), min(ys) + max(ys)
    found = {}
    for number, (x, y) in places.items():
        at = (sum_x - x if how[0] < 0 else x, sum_y - y if how[1] < 0 else y)
        far = {n: abs(px - at[0]) + abs(py - at[1]) for n, (px, py) in places.items()}
        found[number] = min(places, key=lambda n: (far[n], n))
        if far[found[number]] > MEET:
            return None
    return found if len(set(found.values())) == len(found) else None


def _by_rows(places: Places, how: tuple[int, int]) -> dict[str, str] | None:
    """Return the same counted along rows, which may be staggered; None where rows differ in length."""
    rows: dict[int, list[str]] = {}
    for number, (_x, y) in sorted(places.items(), key=lambda item: (item[1][1], item[1][0])):
        rows.setdefault(next((at for at in rows if abs(at - y) <= MEET), y), []).append(number)
    ordered = list(rows.values())
    others = ordered[::-1] if how[1] < 0 else ordered
    if [len(row) for row in others] != [len(row) for row in ordered]:
        return None
    turned = [row[::-1] if how[0] < 0 else row for row in others]
    return {a: b for row, other in zip(ordered, turned, strict=True) for a, b in zip(row, other, strict=True)}


_FLIPS = {
    (-1, 1): "left and right exchanged on the mating face: the other gender, or fitted on the other side",
    (1, -1): "the two rows exchanged",
    (-1, -1): "the plug turned by half a turn",
}


def face_turns(connector: Connector) -> list[Turn]:
    """Return the ways a plug meets *connector*, or is counted, the wrong way round."""
    places = {c.number: (int(c.at.x), int(c.at.y)) for c in connector.contacts}
    return _distinct("J1", "mirrored plug", places, _FLIPS)


def _module_turns(bundle: Bundle) -> list[Turn]:
    land = bundle.netlist.part("U1").footprint
    places = {pad.number: (int(pad.at.x), int(pad.at.y)) for pad in land.pads if pad.number}
    flips = {
        (-1, -1): "the module, or the count of its pins, turned by half a turn",
        (-1, 1): "the module's two rows exchanged, as from the other side of the board",
    }
    return _distinct("U1", "module turned", places, flips)


def _distinct(ref: str, fault: str, places: Places, flips: dict[tuple[int, int], str]) -> list[Turn]:
    found: list[Turn] = []
    for how, words in flips.items():
        if len(places) < 2:
            break
        whole = _mapped(places, how) or _by_rows(places, how) or {}
        moves = tuple((f"{ref}.{a}", f"{ref}.{b}") for a, b in whole.items() if a != b)
        if moves and all(moves != other.moves for other in found):
            found.append(Turn(ref, fault, words, moves))
    return found

"""Rule ``erratum-returned``: a fault that was fixed must stay fixed in every later revision."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from shapely.geometry.base import BaseGeometry

from boardgen.board.geometry import outline_polygon, pad_shape, part_courtyard
from boardgen.board.model import Board, Part
from boardgen.circuit.model import PinMap
from boardgen.design.carried_cross import later
from boardgen.design.model import Condition, Design, Erratum
from boardgen.electrical.model import ElectricalPlan
from boardgen.errors import Finding, InputError, InputErrors, Severity, suggestion
from boardgen.footprint.model import PadKind
from boardgen.units import Nm, Point, format_mm, nm

HOLE_NEAR = 10_000.0  # nm: a hole this near its place stands at it
SLACK = 1_000.0  # nm: geometry drawn with chords


@dataclass(frozen=True, slots=True)
class _Case:
    """One condition with all it may ask about; *say* makes an input error at its line."""

    board: Board
    plan: ElectricalPlan
    pins: Mapping[str, tuple[str, str]]  # signal to (pin name, pin number)
    condition: Condition
    say: Callable[[str, str, str], InputError]

    def part(self, ref: str) -> Part:
        """Return the part *ref*; raises InputError."""
        found = next((part for part in self.board.parts if part.ref == ref), None)
        if found is None:
            hint = suggestion(ref, [part.ref for part in self.board.parts])
            raise self.say(f"there is no part {ref!r} on the board{hint}", "part", ref)
        return found

    def net_of(self, pad: tuple[str, str], key: str) -> str | None:
        """Return the net a pad is on; raises InputError where there is no such pad."""
        ref, number = pad
        part = next((part for part in self.board.parts if part.ref == ref), None)
        if part is None or number not in part.footprint.numbers():
            raise self.say(f"there is no pad {ref}.{number} on the board", key, f"{ref}.{number}")
        return part.net_of(number)


_Told = Iterator[tuple[str, Point | None, Nm | None, Nm | None]]


def check_errata(
    design: Design, board: Board, plan: ElectricalPlan, pinmap: PinMap
) -> tuple[tuple[Finding, ...], int]:
    """Return a finding for every condition of a fixed fault that *board* breaks, and how many were looked at.

    A fault's conditions hold from the revision it is fixed in. Raises InputError or InputErrors, with the
    line, for conditions and rework that name a part, pad or net the board has not.
    """
    found: list[Finding] = []
    wrong: list[InputError] = []
    looked = 0
    pins = {c.request.signal: (c.pin_name, c.pin_number) for c in pinmap.choices}
    for erratum in design.errata:
        if erratum.revision == design.revision:
            wrong += _rework(design, board, erratum)
        if not erratum.fixed_in or later(erratum.fixed_in, design.revision):
            continue
        for condition in erratum.checks:
            looked += 1
            case = _Case(board, plan, pins, condition, _speaker(design, condition.line))
            try:
                found += [_finding(erratum, *told) for told in _broken(case)]
            except InputError as error:
                wrong.append(error)
    if wrong:
        raise InputErrors(wrong) if len(wrong) > 1 else wrong[0]
    return tuple(found), looked


def _speaker(design: Design, line: int | None) -> Callable[[str, str, str], InputError]:
    def say(message: str, key: str, found: str) -> InputError:
        return InputError(message, design.origin, f"errata.check.{key}", line, found)

    return say


def _finding(
    erratum: Erratum, message: str, at: Point | None, measured: Nm | None, limit: Nm | None
) -> Finding:
    words = f"{message}; a fault of revision {erratum.revision} fixed in {erratum.fixed_in} is back: "
    words += erratum.symptom
    return Finding("erratum-returned", Severity.ERROR, words, at, "", (), measured, limit)


def _rework(design: Design, board: Board, erratum: Erratum) -> list[InputError]:
    """Return what the rework names that is not on this revision's board."""
    nets = {net.name for net in board.nets}
    pads = {(part.ref, number) for part in board.parts for number in part.footprint.numbers()}
    wrong = []
    for cut in erratum.cuts:
        if cut.net not in nets:
            hint = suggestion(cut.net, nets)
            message = f"there is no net {cut.net!r} on the board{hint}"
            wrong.append(InputError(message, design.origin, "errata.cut.net", erratum.line, cut.net))
    for pair in erratum.wires:
        for pad in pair:
            if pad not in pads:
                name = ".".join(pad)
                message = f"there is no pad {name} on the board"
                wrong.append(InputError(message, design.origin, "errata.wire.between", erratum.line, name))
    return wrong


def _broken(case: _Case) -> _Told:
    want = case.condition
    if want.joins:
        yield from _joins(case)
    if want.apart:
        yield from _apart(case)
    if want.signal is not None:
        yield from _signal(case, want.signal)
    if want.part is not None:
        yield from _geometry(case, want.part)
    if want.hole is not None and want.at is not None:
        yield from _hole(case, want.hole, want.at)


def _names(pads: tuple[tuple[str, str], ...]) -> str:
    return ", ".join(".".join(pad) for pad in pads)


def _joins(case: _Case) -> _Told:
    want = case.condition
    if want.net is not None and want.net not in {net.name for net in case.board.nets}:
        hint = suggestion(want.net, [net.name for net in case.board.nets])
        raise case.say(f"there is no net {want.net!r} on the board{hint}", "net", want.net)
    nets = {pad: case.net_of(pad, "joins") for pad in want.joins}
    wanted = want.net if want.net is not None else nets[want.joins[0]]
    off = tuple(pad for pad, net in nets.items() if net is None or net != wanted)
    if off:
        on = f"net {wanted}" if wanted is not None else "one net"
        yield f"{_names(off)} {'is' if len(off) == 1 else 'are'} not on {on}", None, None, None


def _apart(case: _Case) -> _Told:
    by_net: dict[str, list[tuple[str, str]]] = {}
    for pad in case.condition.apart:
        net = case.net_of(pad, "apart")
        if net is not None:
            by_net.setdefault(net, []).append(pad)
    for net, pads in sorted(by_net.items()):
        if len(pads) > 1:
            yield f"{_names(tuple(pads))} are joined by net {net}", None, None, None


def _signal(case: _Case, signal: str) -> _Told:
    want = case.condition
    if want.pins or want.not_pins:
        pin = case.pins.get(signal)
        if pin is None:
            yield f"{signal} has no module pin", None, None, None
            return
        named = {pin[0], pin[1], f"#{pin[1]}"}
        if want.pins and not named & set(want.pins):
            yield f"{signal} is on {pin[0]}, not on {' or '.join(want.pins)}", None, None, None
        if named & set(want.not_pins):
            yield f"{signal} is on {pin[0]}", None, None, None
    plans = [plan for plan in case.plan.signals if plan.contact.signal == signal]
    if want.way is not None:
        for plan in plans:
            if plan.way != want.way:
                yield f"{signal} is carried as {plan.way!r}, not as {want.way!r}", None, None, None
    if want.margin_v is not None:
        margins = [
            margin
            for plan in plans
            for proof in plan.proofs
            for margin in (proof.margin_high_v, proof.margin_low_v)
            if margin is not None and math.isfinite(margin)
        ]
        if not margins:
            yield f"no margin of {signal} is proved", None, None, None
        elif min(margins) < want.margin_v - 1e-9:
            yield (
                f"{signal} has a margin of {min(margins):.3f} V, {want.margin_v:g} V are asked",
                None,
                None,
                None,
            )


def _room(part: Part) -> BaseGeometry:
    """The part's courtyard, or its pads where it draws none."""
    yard = part_courtyard(part, part.placement.side)
    if not yard.is_empty:
        return yard
    area: BaseGeometry = pad_shape(part, part.footprint.pads[0]).polygon()
    for pad in part.footprint.pads[1:]:
        area = area.union(pad_shape(part, pad).polygon())
    return area


def _geometry(case: _Case, ref: str) -> _Told:
    want = case.condition
    part = case.part(ref)
    area = _room(part)
    board = outline_polygon(case.board.outline)
    at = part.placement.at
    if want.inside and not board.buffer(SLACK).covers(area):
        yield f"{ref} reaches past the edge of the board", at, None, None
    if want.edge is not None:
        inside = board.covers(area)
        gap = float(area.distance(board.boundary)) if inside else 0.0
        if gap < want.edge - SLACK:
            yield f"{ref} is {format_mm(nm(gap), 3)} mm from the edge", at, nm(gap), want.edge
    if want.distance is not None and want.other is not None:
        gap = float(area.distance(_room(case.part(want.other))))
        if gap < want.distance - SLACK:
            yield f"{ref} is {format_mm(nm(gap), 3)} mm from {want.other}", at, nm(gap), want.distance


def _hole(case: _Case, diameter: Nm, at: Point) -> _Told:
    for part in case.board.parts:
        for pad in part.footprint.pads:
            if pad.hole is None or pad.kind is not PadKind.UNPLATED:
                continue
            if part.placement.place(pad.at).distance(at) <= HOLE_NEAR and abs(pad.hole.w - diameter) <= SLACK:
                return
    where = f"{format_mm(at.x)}, {format_mm(at.y)} mm"
    yield f"there is no {format_mm(diameter)} mm hole at {where}", at, None, None

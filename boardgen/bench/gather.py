"""Files of readings put together: what was stated, and every contact by its one true number."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

from boardgen.bench.model import (
    LEAST_OHMS,
    LEAST_VOLTS,
    MOST_OHMS,
    MOST_VOLTS,
    Kind,
    Meter,
    Numbers,
    PairLine,
    Place,
    Reading,
    Sheet,
    Stated,
    WireLine,
    contradiction,
    ohms_text,
    taken,
)
from boardgen.bench.views import as_seen, by_conductor, mirrored
from boardgen.catalog.model import Connector
from boardgen.design.bind import span
from boardgen.errors import Finding, InputError, InputErrors

MUST = ("view", "half", "numbers")
_WORDS = {
    "view": "mating-face, solder-side",
    "half": "plug, socket",
    "numbers": "printed, position, ribbon",
}
_MOST_ERRORS = 20


@dataclass(frozen=True, slots=True)
class Gathered:
    """All readings, contacts by their true numbers; what could not be used is among *findings*."""

    sheet: Sheet
    findings: tuple[Finding, ...]


def stated_with(sheet: Sheet, given: Stated) -> Stated:
    """Return what holds for *sheet*: its own statements and those *given* for all.

    Raises InputErrors where the two differ, or view, half or numbers are stated nowhere.
    """
    lines = dict(sheet.lines)
    problems: list[InputError] = []
    chosen: dict[str, Any] = {}
    for field in fields(Stated):
        own, other = getattr(sheet.stated, field.name), getattr(given, field.name)
        if own and other and own != other:
            message = f"{field.name} is stated as {_said(own)} here, and as {_said(other)} for all files"
            problems.append(InputError(message, sheet.where, line=lines.get(field.name)))
        chosen[field.name] = own or other
    for name in MUST:
        if not chosen[name]:
            message = f"the {name} is not stated, so contacts cannot be told apart from their mirror image"
            allowed = f"a line {name!r} with one of {_WORDS[name]}, or the option --{name}"
            problems.append(InputError(message, sheet.where, allowed=allowed))
    if problems:
        raise InputErrors(problems)
    return replace(Stated(), **chosen)


def _said(value: object) -> str:
    return ", ".join(value) if isinstance(value, tuple) else str(value)


def connector_of(sheets: Sequence[Sheet], given: Stated) -> str:
    """Return the catalogue id of the connector; raises InputError where it is not stated, or twice over."""
    found: dict[str, str] = {given.connector: "--connector"} if given.connector else {}
    for sheet in sheets:
        name = sheet.stated.connector
        line = dict(sheet.lines).get("connector")
        if name and found and name not in found:
            other, place = next(iter(found.items()))
            message = f"the connector is stated as {name} here, and as {other} by {place}"
            raise InputError(message, sheet.where, line=line)
        if name:
            found.setdefault(name, f"{sheet.where}:{line}")
    if not found:
        raise InputError(
            "the board's connector is not stated",
            sheets[0].where if sheets else "",
            allowed="a line 'connector' with its catalogue id, or the option --connector",
        )
    return next(iter(found))


def gather(sheets: Sequence[Sheet], given: Stated, connector: Connector) -> Gathered:
    """Return the *sheets* as one, in the contact numbers of *connector*.

    Raises InputError or InputErrors: statements missing or clashing, places that
    are no numbers. Contacts that the connector has not, and readings that no
    meter shows, become findings and are left out.
    """
    findings: list[Finding] = []
    wires: list[WireLine] = []
    pairs: list[PairLine] = []
    whole = replace(given, connector=connector.id)
    lines: dict[str, int] = {}
    for sheet in sheets:
        said = stated_with(sheet, replace(given, connector=""))
        names = _Names(connector, said, sheet.where)
        for wire in sheet.wires:
            number = names.number(wire.contact, wire.place)
            if number is None:
                findings.append(names.lost(wire.contact, wire))
            else:
                wires.append(replace(wire, contact=number))
        for pair in sheet.pairs:
            fit = _fit(pair, names, findings)
            if fit is not None:
                pairs.append(_by_meter(fit, said.meter))
        if names.problems:
            raise InputErrors(names.problems[:_MOST_ERRORS])
        whole = _merged(whole, _by_number(said, names, sheet, dict(sheet.lines).get("rows")), sheet)
        lines |= dict(sheet.lines)
        findings += names.told()
    findings += _polarity(pairs, whole)
    merged = Sheet(
        ", ".join(s.where for s in sheets), whole, tuple(wires), tuple(pairs), tuple(lines.items())
    )
    return Gathered(merged, tuple(findings))


def _by_number(said: Stated, names: _Names, sheet: Sheet, line: int | None) -> Stated:
    numbers = []
    for contact in said.rows:
        number = names.number(contact, Place(sheet.where, line or 1))
        if number is None:
            raise InputError(
                f"contact {contact} is not on connector {said.connector or names.connector.id}",
                sheet.where,
                "rows",
                line,
                allowed=span(names.connector.numbers()),
            )
        numbers.append(number)
    return replace(said, rows=tuple(numbers))


def _merged(whole: Stated, said: Stated, sheet: Sheet) -> Stated:
    """Add what one file says of the device; each file keeps a view of its own."""
    for name in ("device", "rail", "rows"):
        here, before = getattr(said, name), getattr(whole, name)
        if here and before and here != before:
            raise InputError(
                f"{name} is stated as {_said(here)} here, and as {_said(before)} before",
                sheet.where,
                line=dict(sheet.lines).get(name),
            )
        whole = replace(whole, **{name: here or before})
    return replace(whole, meter=whole.meter or said.meter)


class _Names:
    """Turns the contacts of one file into true numbers."""

    def __init__(self, connector: Connector, said: Stated, where: str) -> None:
        self.connector = connector
        self.problems: list[InputError] = []
        self._said, self._where = said, where
        self._known: Mapping[str, str] = {
            number.casefold(): number for number in (*connector.shell, *connector.numbers())
        }
        assert said.view is not None
        assert said.half is not None
        self._places: tuple[str, ...] | None = None
        if said.numbers is Numbers.POSITION:
            self._places = as_seen(connector, said.view, said.half)
        elif said.numbers is Numbers.RIBBON:
            self._places = by_conductor(connector)

    def number(self, contact: str, place: Place) -> str | None:
        """Return the true number of what the file calls *contact*, None where the connector has none."""
        plain = contact.lstrip("0") if contact.isdecimal() and contact.isascii() else contact
        shell = self._known.get(contact.casefold())
        if self._places is None:
            return shell or self._known.get(plain.casefold())
        if shell in self.connector.shell:
            return shell
        if not (plain.isdecimal() and plain.isascii()):
            self.problems.append(
                InputError(
                    "a place is counted in whole numbers from 1",
                    place.file,
                    line=place.line,
                    found=repr(contact[:40]),
                    allowed=", ".join((f"1 to {len(self._places)}", *self.connector.shell)),
                )
            )
            return None
        at = int(plain)
        return self._places[at - 1] if 0 < at <= len(self._places) else None

    def lost(self, contact: str, line: WireLine | PairLine) -> Finding:
        """Return the finding for a contact that the connector has not."""
        allowed = span(self.connector.numbers())
        if self._places is not None:
            allowed = f"places 1 to {len(self._places)}"
        message = (
            f"contact {contact} is not on {self.connector.id}, which has {allowed}; the line is not used"
        )
        return contradiction(message, line)

    def told(self) -> list[Finding]:
        """Say what places were turned into; nothing for printed numbers."""
        if self._places is None:
            return []
        said = self._said
        assert said.view is not None
        assert said.half is not None
        how = "mirrored" if mirrored(self.connector, said.view, said.half) else "as drawn in the catalogue"
        order = " ".join(self._places)
        if said.numbers is Numbers.RIBBON:
            message = (
                f"{self._where}: conductors of the flat cable, from the marked edge on, are contacts {order}"
            )
            return [taken(message)]
        return [
            taken(
                f"{self._where}: places on the {said.view.replace('-', ' ')} of the {said.half}, counted row "
                f"by row from top left, wide side or key up ({how}), are contacts {order}"
            )
        ]


def _fit(pair: PairLine, names: _Names, findings: list[Finding]) -> PairLine | None:
    """Return *pair* by true numbers, None (and a finding) where it says nothing that can be used."""
    ends = []
    for contact in (pair.plus, pair.minus):
        number = names.number(contact, pair.place)
        if number is None:
            findings.append(names.lost(contact, pair))
        else:
            ends.append(number)
    if len(ends) < 2:
        return None
    fit = replace(pair, plus=ends[0], minus=ends[1], reading=_near_zero(pair.reading))
    if ends[0] == ends[1]:
        findings.append(contradiction("a contact is measured against itself; the line is not used", fit))
        return None
    wrong = _absurd(fit.reading)
    if wrong:
        findings.append(contradiction(f"{wrong}; the line is not used", fit))
        return None
    return fit


def _near_zero(reading: Reading) -> Reading:
    if reading.kind is Kind.OHMS and LEAST_OHMS <= reading.value < 0:
        return replace(reading, value=0.0)
    return reading


def _absurd(reading: Reading) -> str:
    value = reading.value
    if reading.kind is Kind.OHMS:
        if value < 0:
            return f"{ohms_text(value)} is negative: a voltage or a charge stands on the pair"
        if value > MOST_OHMS:
            return f"{ohms_text(value)} is more than a meter shows: open, or a slip of the unit"
    if reading.kind is Kind.VOLTS and not LEAST_VOLTS <= value <= MOST_VOLTS:
        return (
            f"{value:.3g} V is no drop that a meter's diode range shows ({LEAST_VOLTS:g} to {MOST_VOLTS:g} V)"
        )
    return ""


def _by_meter(pair: PairLine, meter: Meter | None) -> PairLine:
    """Return *pair* with plus on the lead that is positive."""
    if meter is Meter.POINTER:
        return replace(pair, plus=pair.minus, minus=pair.plus)
    return pair


def _polarity(pairs: Sequence[PairLine], said: Stated) -> list[Finding]:
    if said.meter is not None or all(pair.reading.kind is not Kind.VOLTS for pair in pairs):
        return []
    return [
        taken(
            "the lead called plus is taken to be the positive one, as on a digital meter; a pointer meter's "
            "ohm range has it the other way round: state 'meter, pointer' then"
        )
    ]

"""What the tables of a design file say about each other, before any catalogue is looked at."""

from __future__ import annotations

from collections.abc import Iterator

from boardgen.catalog.formerrors import dotted
from boardgen.catalog.tomlfile import KeyPath, TomlFile
from boardgen.design import schema
from boardgen.design.carried_cross import carried_problems
from boardgen.design.identity import PastCode, identity_problems
from boardgen.design.keys import key_problems
from boardgen.design.model import identity_signals
from boardgen.errors import InputError, suggestion
from boardgen.ruleids import RULES

SHARED_KINDS = ("ground", "supply", "shield", "unused")
LOAD_KINDS = ("lamp", "relay", "buzzer")
PROOFS = ("readback-", "run-", "cad-", "waiver-")  # rules that a person's word cannot settle
GROUND_NAMES = ("GND",)

_ONLY_FOR = {
    "direction": ("digital",),
    "rail": ("supply", *LOAD_KINDS, "digital", "analog"),
    "function": ("digital", "analog", *LOAD_KINDS),
    "logic": ("digital",),
}


def cross_problems(
    form: schema.DesignForm, file: TomlFile, past: tuple[PastCode, ...] = ()
) -> Iterator[InputError]:
    """Yield every clash inside *form*, each with its line in *file*; *past* are codes of other revisions."""
    say = _Speaker(file)
    yield from _contacts(form, say)
    yield from _signals(form, say)
    yield from _logic(form, say)
    yield from _matrices(form, say)
    yield from _groups(form, say)
    yield from _fixed(form, say)
    yield from _waivers(form, say)
    yield from _holes(form, say)
    yield from carried_problems(form, say, _kinds(form))
    yield from identity_problems(form, past, say)


class _Speaker:
    """Makes errors that know their place."""

    def __init__(self, file: TomlFile) -> None:
        self._file = file

    def __call__(self, message: str, path: KeyPath, found: str = "", allowed: str = "") -> InputError:
        return InputError(message, self._file.where, dotted(path), self._file.line(path), found, allowed)

    def line(self, path: KeyPath) -> str:
        """Return "line N" for the key *path*."""
        return f"line {self._file.line(path)}"


def _contacts(form: schema.DesignForm, say: _Speaker) -> Iterator[InputError]:
    numbers: dict[str, int] = {}
    for n, contact in enumerate(form.contacts):
        at: KeyPath = ("contacts", n)
        if contact.number in numbers:
            first = say.line(("contacts", numbers[contact.number]))
            yield say(f"contact {contact.number} is already given in {first}", (*at, "number"))
        numbers.setdefault(contact.number, n)
        kind = contact.kind
        if contact.signal is None and kind not in SHARED_KINDS:
            yield say(f"a {kind} contact needs a signal", at)
        if kind == "digital" and contact.direction is None:
            yield say("a digital contact needs a direction", at, allowed="in, out, both")
        if kind == "supply" and not contact.rail:
            yield say("a supply contact needs a rail, the one the board gives", at)
        if kind in LOAD_KINDS and contact.current_a is None and (kind == "lamp" or contact.ohms is None):
            yield say(f"a {kind} contact needs current_a, its steady current in A", at)
        for key, plain in (("inductive", None), ("flyback", "auto")):
            if getattr(contact, key) != plain and kind not in LOAD_KINDS:
                yield say(
                    f"a {kind} contact has no {key}", (*at, key), allowed=f"for {', '.join(LOAD_KINDS)}"
                )
        for key, kinds in _ONLY_FOR.items():
            if getattr(contact, key) and kind not in kinds:
                yield say(f"a {kind} contact has no {key}", (*at, key), allowed=f"for {', '.join(kinds)}")


def _signals(form: schema.DesignForm, say: _Speaker) -> Iterator[InputError]:
    first: dict[str, int] = {}
    for n, contact in enumerate(form.contacts):
        if contact.signal is None:
            continue
        at: KeyPath = ("contacts", n, "signal")
        if contact.signal in GROUND_NAMES and contact.kind not in ("ground", "shield"):
            yield say(f"{contact.signal} is the name of ground; a {contact.kind} needs another", at)
        # firmware names are upper case, so two signals may not differ by case alone
        known = first.setdefault(contact.signal.upper(), n)
        if known == n:
            continue
        other = form.contacts[known]
        place = f"contact {other.number} ({say.line(('contacts', known))})"
        if other.signal != contact.signal:
            yield say(f"the signal differs only in case from {other.signal} of {place}", at)
        elif other.kind != contact.kind:
            yield say(f"signal {contact.signal} is a {contact.kind} here but a {other.kind} at {place}", at)
        elif contact.kind not in SHARED_KINDS:
            yield say(f"signal {contact.signal} is already on {place}", at)
        elif other.rail != contact.rail:
            yield say(f"signal {contact.signal} is rail {contact.rail} here but {other.rail} at {place}", at)


def _logic(form: schema.DesignForm, say: _Speaker) -> Iterator[InputError]:
    names: set[str] = set()
    for n, logic in enumerate(form.logic):
        at: KeyPath = ("logic", n)
        if logic.name in names:
            yield say(f"there are two logic tables called {logic.name}", (*at, "name"))
        names.add(logic.name)
        for low, high in (
            ("supply_min_v", "supply_max_v"),
            ("low_v", "high_v"),
            ("reads_low_v", "reads_high_v"),
        ):
            least, most = getattr(logic, low), getattr(logic, high)
            if least is not None and most is not None and least >= most:
                yield say(f"{low} must lie under {high}", (*at, low), f"{least:g}", f"less than {most:g}")
    for n, contact in enumerate(form.contacts):
        if contact.logic is not None and contact.logic not in names:
            hint = suggestion(contact.logic, names)
            yield say(f"there is no logic table {contact.logic!r}{hint}", ("contacts", n, "logic"))
        if contact.way != "auto" and contact.kind not in ("digital", "analog"):
            at = ("contacts", n, "way")
            yield say(f"a {contact.kind} contact has no way", at, allowed="for digital, analog")
        if contact.source != "board" and contact.kind != "supply":
            yield say(
                f"a {contact.kind} contact has no source", ("contacts", n, "source"), allowed="for supply"
            )


def _kinds(form: schema.DesignForm) -> dict[str, str]:
    found: dict[str, str] = {
        c.signal: c.kind for c in form.contacts if c.signal is not None and c.kind != "unused"
    }
    straps = identity_signals(form.identity.bits) if form.identity is not None else ()
    return {**dict.fromkeys(straps, "identification strap"), **found}


def _matrices(form: schema.DesignForm, say: _Speaker) -> Iterator[InputError]:
    kinds = _kinds(form)
    names: dict[str, int] = {}
    lines: dict[str, str] = {}
    for n, matrix in enumerate(form.matrices):
        at: KeyPath = ("matrices", n)
        if matrix.name in names:
            yield say(f"there are two matrices called {matrix.name}", (*at, "name"))
        names.setdefault(matrix.name, n)
        for key, kind in (("rows", "row"), ("columns", "column")):
            said: tuple[str, ...] = getattr(matrix, key)
            if not said:
                if len(form.matrices) > 1:
                    yield say(f"{key} may be left out only where there is one matrix", at)
                elif kind not in kinds.values():
                    yield say(f"there is no {kind} contact for the matrix", at)
            for place, signal in enumerate(said):
                here = (*at, key, place)
                if signal not in kinds:
                    yield _unknown(signal, kinds, here, say)
                elif kinds[signal] != kind:
                    yield say(f"{signal} is a {kinds[signal]} contact, not a {kind}", here)
                if signal in lines:
                    yield say(f"{signal} already stands in {lines[signal]}", here)
                lines.setdefault(signal, f"matrix {matrix.name}, {key}")
        yield from _keys(form, matrix, at, say)
        yield from key_problems(form, matrix, at, say)


def _keys(
    form: schema.DesignForm, matrix: schema.MatrixForm, at: KeyPath, say: _Speaker
) -> Iterator[InputError]:
    if not matrix.keys:
        return
    rows = len(matrix.rows) or sum(c.kind == "row" for c in form.contacts)
    columns = len(matrix.columns) or sum(c.kind == "column" for c in form.contacts)
    if len(matrix.keys) != rows:
        yield say(
            "keys needs one list a row", (*at, "keys"), f"{len(matrix.keys)} lists", f"{rows}, one a row"
        )
    for place, names in enumerate(matrix.keys):
        if len(names) != columns:
            yield say(
                "a list of keys needs one name a column",
                (*at, "keys", place),
                f"{len(names)} names",
                f'{columns}, "" where no key is',
            )


def _unknown(signal: str, kinds: dict[str, str], path: KeyPath, say: _Speaker) -> InputError:
    return say(f"there is no signal {signal!r} on the contacts{suggestion(signal, kinds)}", path)


def _groups(form: schema.DesignForm, say: _Speaker) -> Iterator[InputError]:
    kinds = _kinds(form)
    names: set[str] = set()
    member: dict[str, str] = {}
    for n, group in enumerate(form.groups):
        if group.name in names:
            yield say(f"there are two groups called {group.name}", ("groups", n, "name"))
        names.add(group.name)
        for place, signal in enumerate(group.signals):
            here: KeyPath = ("groups", n, "signals", place)
            if signal not in kinds:
                yield _unknown(signal, kinds, here, say)
            elif kinds[signal] in SHARED_KINDS:
                yield say(f"{signal} is a {kinds[signal]} contact and gets no pin", here)
            if signal in member:
                yield say(f"{signal} already stands in group {member[signal]}", here)
            member.setdefault(signal, group.name)


def _fixed(form: schema.DesignForm, say: _Speaker) -> Iterator[InputError]:
    kinds = _kinds(form)
    pins: dict[str, int] = {}
    signals: dict[str, int] = {}
    for n, fixed in enumerate(form.fixed):
        here: KeyPath = ("fixed", n, "signal")
        if fixed.signal not in kinds:
            yield _unknown(fixed.signal, kinds, here, say)
        elif kinds[fixed.signal] in SHARED_KINDS:
            yield say(f"{fixed.signal} is a {kinds[fixed.signal]} contact and gets no pin", here)
        if fixed.signal in signals:
            yield say(
                f"{fixed.signal} is already fixed in {say.line(('fixed', signals[fixed.signal]))}", here
            )
        elif fixed.pin in pins:
            other = form.fixed[pins[fixed.pin]].signal
            yield say(
                f"pin {fixed.pin} is fixed for both {other} ({say.line(('fixed', pins[fixed.pin]))})"
                f" and {fixed.signal}",
                ("fixed", n, "pin"),
            )
        signals.setdefault(fixed.signal, n)
        pins.setdefault(fixed.pin, n)


def _waivers(form: schema.DesignForm, say: _Speaker) -> Iterator[InputError]:
    pins: dict[str, int] = {}
    for n, waiver in enumerate(form.waivers):
        if (waiver.pin is None) == (waiver.rule is None):
            yield say("a waiver names a pin or a rule, and not both", ("waivers", n), allowed="pin, rule")
        if waiver.rule is None:
            for key in ("items", "until"):
                if getattr(waiver, key):
                    yield say(f"a waiver of a pin has no {key}", ("waivers", n, key), allowed="with rule")
        elif waiver.rule not in RULES:
            hint = suggestion(waiver.rule, RULES)
            yield say(f"there is no rule {waiver.rule!r}{hint}", ("waivers", n, "rule"))
        elif waiver.rule.startswith(PROOFS):
            yield say(
                f"{waiver.rule} is about what the files say and cannot be waived",
                ("waivers", n, "rule"),
                allowed="rules of the board itself",
            )
        elif waiver.until is None:
            yield say(
                "a waiver of a rule needs until, the last revision it holds for",
                ("waivers", n),
                allowed=f"until = {form.revision!r}",
            )
        if waiver.pin is None:
            continue
        if waiver.pin in pins:
            first = say.line(("waivers", pins[waiver.pin]))
            yield say(f"pin {waiver.pin} is already waived in {first}", ("waivers", n, "pin"))
        pins.setdefault(waiver.pin, n)


def _holes(form: schema.DesignForm, say: _Speaker) -> Iterator[InputError]:
    holes = form.holes
    if holes is not None and holes.head_mm is not None and holes.head_mm < holes.diameter_mm:
        yield say(
            "the screw's head is smaller than its hole",
            ("holes", "head_mm"),
            f"{holes.head_mm:g}",
            f"at least {holes.diameter_mm:g}",
        )

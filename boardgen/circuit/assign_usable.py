"""Which module pins a request may use, and in words why not."""

from __future__ import annotations

import re

from boardgen.catalog.model import Module, ModulePin, PinKind
from boardgen.circuit.model import PinExclusion
from boardgen.design.model import Waiver
from boardgen.electrical.model import ElectricalPlan, PinRequest

_INDEX = re.compile(r"([A-Za-z]*)[ _-]?(\d+)")
_HEAD = re.compile(r"([a-z]+[0-9]*[a-z]+|[a-z]+)(\d*)")


def pin_index(name: str) -> tuple[str, int] | None:
    """Return the port prefix and number of a pin name ("GP5" gives ("GP", 5)), or None."""
    match = _INDEX.match(name)
    return (match.group(1).upper(), int(match.group(2))) if match else None


def _parts(function: str) -> tuple[str, str, str]:
    """Split "i2c0.sda" into peripheral "i2c", instance "0" and role "sda"."""
    head, _, role = function.partition(".")
    match = _HEAD.fullmatch(head)
    return (match.group(1), match.group(2), role) if match else (head, "", role)


def serving(pin: ModulePin, function: str) -> tuple[str, ...]:
    """Return the pin's functions that satisfy the wish *function*.

    A wish without an instance number ("i2c.sda") takes any instance; one
    without a role ("pwm", "adc") takes any role.
    """
    name, instance, role = _parts(function)
    found = []
    for own in pin.functions:
        own_name, own_instance, own_role = _parts(own)
        if own_name == name and instance in ("", own_instance) and role in ("", own_role):
            found.append(own)
    return tuple(found)


def instance_of(function: str) -> str:
    """Return the peripheral instance a function belongs to ("i2c0"), "" where it has no number."""
    name, instance, _ = _parts(function)
    return f"{name}{instance}" if instance else ""


def waived(pin: ModulePin, waivers: tuple[Waiver, ...]) -> bool:
    """Whether the design gives leave to use *pin* despite its strap or sharing.

    Waivers of a bound design name pins by number; some modules print digits
    that are another pin's number, so names are not looked at here.
    """
    return any(waiver.pin == pin.number for waiver in waivers)


def why_reserved(pin: ModulePin, waivers: tuple[Waiver, ...]) -> str:
    """Return why *pin* is not given to any signal ("" where it may be)."""
    if pin.kind is PinKind.CONTROL:
        return "a control pin (reset, enable or boot), never given to a signal"
    if pin.kind is not PinKind.GPIO:
        return f"a {pin.kind.value} pin, not a GPIO"
    if waived(pin, waivers):
        return ""
    if pin.strap:
        return f"decides at boot: {pin.strap}"
    if pin.shared:
        return f"also used on the module: {pin.shared}"
    return ""


def why_unfit(pin: ModulePin, request: PinRequest, module: Module) -> str:
    """Return what *pin* lacks for *request* ("" where it fits), straps and sharing left aside."""
    if request.reads and not pin.can_read:
        return "cannot be read"
    if request.drives and not pin.can_drive:
        return "is an input only and cannot be driven"
    if request.analog and not pin.analog:
        return "has no ADC input"
    if request.pull and request.pull not in pin.pulls:
        return f"has no internal pull-{request.pull}"
    if request.function and not serving(pin, request.function):
        return f"has no {request.function}"
    limit = module.logic_volts if pin.max_volts is None else pin.max_volts
    if limit + 1e-9 < request.min_max_volts:
        return f"takes {limit:g} V, less than the {request.min_max_volts:g} V that may come"
    if request.pins is not None and pin.number not in request.pins:
        return f"does not prove safe ({request.pins_why})" if request.pins_why else "does not prove safe"
    return ""


def usable_pins(
    module: Module, request: PinRequest, waivers: tuple[Waiver, ...] = ()
) -> tuple[ModulePin, ...]:
    """Return the pins of *module* that *request* may use, in the catalogue's order."""
    return tuple(
        pin for pin in module.pins if not why_reserved(pin, waivers) and not why_unfit(pin, request, module)
    )


def exclusions(module: Module, plan: ElectricalPlan, waivers: tuple[Waiver, ...]) -> tuple[PinExclusion, ...]:
    """Return every GPIO and control pin that was kept from some or all signals, with the sentence why."""
    found = []
    for pin in module.pins:
        if pin.kind not in (PinKind.GPIO, PinKind.CONTROL):
            continue
        reason = why_reserved(pin, waivers)
        if not reason:
            reasons: dict[str, list[str]] = {}
            for request in plan.requests:
                unfit = why_unfit(pin, request, module)
                if unfit:
                    reasons.setdefault(unfit, []).append(request.signal)
            reason = "; ".join(f"{unfit}: not for {_listed(names)}" for unfit, names in reasons.items())
        if reason:
            found.append(PinExclusion(pin.number, pin.name, f"{pin.name} {_verb(reason)}."))
    return tuple(found)


def _verb(reason: str) -> str:
    return (
        f"is {reason}" if reason.startswith("a ") else f"is {reason}" if reason.startswith("also") else reason
    )


def _listed(names: list[str], most: int = 6) -> str:
    shown = ", ".join(names[:most])
    return shown if len(names) <= most else f"{shown} and {len(names) - most} more"

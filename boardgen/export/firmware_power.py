"""What the firmware tells a USB host: the current to declare, and what that figure rests on."""

from __future__ import annotations

import re

from boardgen.electrical.power.model import PowerTree


def _comment(text: str) -> str:
    return re.sub(r"[^\x20-\x7e]", "?", text).replace("*/", "* /").replace("\\", "/")


def rests_on_power(tree: PowerTree) -> tuple[str, ...]:
    """Return the loads behind the declared current and what was assumed, a line each."""
    loads = tuple(
        f"{load.name}: {load.amps * 1000:.0f} mA on {load.node}" for load in tree.loads if load.amps
    )
    radio = (
        (f"a radio would add {tree.radio_a * 1000:.0f} mA in bursts, left out here",) if tree.radio_a else ()
    )
    return (*loads, *radio, *(text for text in tree.assumed if " uF " not in text))


def _declared(tree: PowerTree | None) -> int | None:
    return None if tree is None else tree.usb_ma


def c_power(tree: PowerTree | None) -> list[str]:
    """Return the lines of a C header; none where the draw is not known."""
    declared = _declared(tree)
    if tree is None or declared is None:
        return []
    rests = [f" *   {_comment(text)}" for text in rests_on_power(tree)]
    return [
        "",
        "/* What the device declares to a USB host; bMaxPower counts in 2 mA. It rests on:",
        *rests,
        " */",
        f"#define USB_MAX_POWER_MA {declared}",
    ]


def python_power(tree: PowerTree | None) -> list[str]:
    """Return the lines of a Python module; none where the draw is not known."""
    declared = _declared(tree)
    if tree is None or declared is None:
        return []
    rests = [f"#   {_comment(text)}" for text in rests_on_power(tree)]
    return [
        "",
        "# What the device declares to a USB host; bMaxPower counts in 2 mA. It rests on:",
        *rests,
        f"USB_MAX_POWER_MA = {declared}",
    ]


def json_power(tree: PowerTree | None) -> dict[str, object]:
    """Return what the JSON file adds; nothing where the draw is not known."""
    declared = _declared(tree)
    if tree is None or declared is None:
        return {}
    return {"usb_max_power_ma": declared, "usb_power_rests_on": list(rests_on_power(tree))}

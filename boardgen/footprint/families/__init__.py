"""Parametric footprints: one small module per family, found by the ``name`` of a ``family`` table."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

from boardgen.errors import InputError, suggestion
from boardgen.footprint.families import din, discrete, dsub, headers, modular, module, surface
from boardgen.footprint.families.params import Params
from boardgen.footprint.families.sketch import Drawn
from boardgen.units import Nm, format_mm, mm

FAMILIES: dict[str, Callable[[Params, str], Drawn]] = {
    "axial": discrete.axial,
    "box-header": headers.box_header,
    "chip": surface.chip,
    "din": din.din,
    "dip": surface.dip,
    "disc": discrete.disc,
    "dsub": dsub.build,
    "dsub-hd15": dsub.build_hd,
    "header-396": headers.header_396,
    "hole": discrete.hole,
    "led-round": discrete.led_round,
    "link": discrete.link,
    "mini-din-6": din.mini_din_6,
    "modular-8p8c": modular.build,
    "module": module.build,
    "pin-row": headers.pin_row,
    "ptc": discrete.ptc,
    "radial-polar": discrete.radial_polar,
    "screw-terminal": headers.screw_terminal,
    "soic": surface.soic,
    "sot23": surface.sot23,
    "to92": discrete.to92,
}


def build(params: Mapping[str, object], name: str = "") -> Drawn:
    """Draw the footprint that a ``family`` table describes; *name* is what it is called.

    Figures are in mm, keys end in ``_mm``. Raises InputError for an unknown
    family, an unknown or missing key, and figures that make no possible part.
    """
    family = params.get("name")
    if not isinstance(family, str) or family not in FAMILIES:
        hint = suggestion(family, FAMILIES) if isinstance(family, str) else ""
        raise InputError(
            f"there is no such family{hint}",
            key="family.name",
            found=repr(family)[:80],
            allowed=", ".join(sorted(FAMILIES)),
        )
    drawn = FAMILIES[family](Params(params, family), name or family)
    return replace(drawn, footprint=replace(drawn.footprint, name=name or family))


def mounting_hole(diameter: Nm, head: Nm | None = None) -> Drawn:
    """Draw a bare screw hole, called "hole-3.2" and the like.

    *head* is what the screw's head and washer cover; where it is left out, that
    of the metric screw the hole clears (ISO 7045 pan head and a little), else
    1.9 times the hole.
    """
    head = head or SCREW_HEADS.get(diameter) or diameter * 19 // 10
    return build(
        {"name": "hole", "diameter_mm": diameter.mm, "head_mm": head.mm}, f"hole-{format_mm(diameter)}"
    )


SCREW_HEADS = {mm("2.2"): mm("4.0"), mm("2.7"): mm("5.0"), mm("3.2"): mm("6.0"), mm("4.3"): mm("8.0")}


__all__ = ["FAMILIES", "SCREW_HEADS", "Drawn", "build", "mounting_hole"]

"""What the readers of footprints and boards share: lengths, places and layers out of S-expressions."""

from __future__ import annotations

from collections import Counter

from boardgen.errors import InputError
from boardgen.footprint.model import Face, PartLayer
from boardgen.footprint.sexpr import Node, child, head, to_degrees, to_length, words
from boardgen.units import ZERO, Nm, Point, Size

_LAYERS: dict[str, tuple[PartLayer, Face]] = {
    "F.SilkS": (PartLayer.LEGEND, Face.NEAR),
    "F.Silkscreen": (PartLayer.LEGEND, Face.NEAR),
    "B.SilkS": (PartLayer.LEGEND, Face.FAR),
    "B.Silkscreen": (PartLayer.LEGEND, Face.FAR),
    "F.Fab": (PartLayer.DRAWING, Face.NEAR),
    "B.Fab": (PartLayer.DRAWING, Face.FAR),
    "F.CrtYd": (PartLayer.COURTYARD, Face.NEAR),
    "F.Courtyard": (PartLayer.COURTYARD, Face.NEAR),
    "B.CrtYd": (PartLayer.COURTYARD, Face.FAR),
    "B.Courtyard": (PartLayer.COURTYARD, Face.FAR),
}
_NOTES = ("Dwgs.User", "Cmts.User", "Eco1.User", "Eco2.User")  # remarks among designers, no loss


class Reader:
    """One reading: the file's name for errors, and what had to be left out.

    *sides* are the outer copper layers the board is made with. Of the *warnings*, those in *astray* are about
    copper or holes that are not as the file has them.
    """

    def __init__(self, where: str, sides: tuple[str, ...] = ("F.Cu", "B.Cu")) -> None:
        self.where = where
        self.sides = frozenset(sides)
        self.warnings: list[str] = []
        self.astray: list[str] = []
        self.skipped: Counter[tuple[str, str]] = Counter()

    def lose(self, text: str) -> None:
        """Take down that copper or a hole is not taken over as it is."""
        self.warnings.append(text)
        self.astray.append(text)

    def fail(self, message: str, key: str, found: str = "", allowed: str = "") -> InputError:
        """Return the error *message* about *key*, in this file."""
        return InputError(message, self.where, key, found=found, allowed=allowed)

    def point(self, node: Node, name: str, key: str) -> Point:
        """Return the place under *name*."""
        given = child(node, name)
        values = [] if given is None else given[1:3]
        if len(values) != 2:
            raise self.fail(f"'{name}' needs an x and a y", key)
        return Point(self.length(values[0], key), self.length(values[1], key))

    def length(self, text: object, key: str) -> Nm:
        """Return mm text as a length."""
        try:
            return to_length(text)
        except ValueError as error:
            raise self.fail(str(error), key, allowed="a length in mm") from None

    def angle(self, node: Node, key: str) -> float:
        """Return the angle of the place, in degrees; 0 where there is none."""
        given = child(node, "at") or []
        if len(given) < 4 or str(given[3]) == "unlocked":
            return 0.0
        try:
            return to_degrees(given[3])
        except ValueError as error:
            raise self.fail(str(error), key, allowed="an angle in degrees") from None

    def size(self, values: list[object], key: str, name: str) -> Size:
        """Return a width and a height, larger than 0; one number stands for both."""
        if len(values) == 1:
            values = values * 2
        if len(values) < 2:
            raise self.fail(f"'{name}' needs a width and a height", key)
        size = Size(self.length(values[0], key), self.length(values[1], key))
        if size.w <= 0 or size.h <= 0:
            raise self.fail(f"'{name}' must be larger than 0", key, found=f"{size.w.mm} x {size.h.mm} mm")
        return size

    def layer(self, node: Node) -> tuple[PartLayer, Face] | None:
        """Return where a graphic belongs; None, and noted, where we have no such layer."""
        named = words(child(node, "layer"))
        name = named[0] if named else ""
        if name in _LAYERS:
            return _LAYERS[name]
        if name not in _NOTES:
            self.skipped[head(node).removeprefix("fp_"), name or "no layer"] += 1
        return None

    def stroke(self, node: Node, key: str) -> Nm:
        """Return the width of a stroke; 0 where there is none."""
        given = child(node, "width") or child(child(node, "stroke") or [], "width")
        width = ZERO if given is None or len(given) < 2 else self.length(given[1], key)
        if width < 0:
            raise self.fail("a stroke cannot be narrower than 0", key, found=f"{width.mm} mm")
        return width

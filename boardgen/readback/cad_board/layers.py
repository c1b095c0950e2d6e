"""The layers of a CAD board by their names in the file."""

from __future__ import annotations

from boardgen.board.model import Side
from boardgen.footprint.sexpr import Node, child, words

COPPER = {"F.Cu": Side.TOP, "B.Cu": Side.BOTTOM}
_ALL = ("*.Cu", "F&B.Cu")
LEGEND = {
    "F.SilkS": Side.TOP,
    "F.Silkscreen": Side.TOP,
    "B.SilkS": Side.BOTTOM,
    "B.Silkscreen": Side.BOTTOM,
}
EDGE = "Edge.Cuts"


def layer_of(node: Node) -> str:
    """Return the one layer a thing lies on, "" where it names none."""
    return " ".join(words(child(node, "layer")))


def layers_of(node: Node) -> tuple[str, ...]:
    """Return every layer a thing names, those for both outer copper sides spelled out."""
    named: list[str] = []
    for name in ("layers", "layer"):
        for word in words(child(node, name)):
            named += ["F.Cu", "B.Cu"] if word in _ALL else [word]
    return tuple(dict.fromkeys(named))


def is_copper(layer: str) -> bool:
    """Return whether *layer* is of copper, inner ones included."""
    return layer.endswith(".Cu")


def turned_over(layer: str) -> str:
    """Return the layer on the other side of the board; one without sides stays."""
    sides = {"F.": "B.", "B.": "F."}
    return sides[layer[:2]] + layer[2:] if layer[:2] in sides else layer

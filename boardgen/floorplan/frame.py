"""The search's own frame, and the turn from it onto the board.

The search always works with the connector at the bottom edge, its front down
("canonical" frame, region's top left at 0,0). A finished arrangement is then
turned by whole quarters so that the connector looks out of the edge wanted.
"""

from __future__ import annotations

from dataclasses import dataclass

from boardgen.board.model import Placement, Side
from boardgen.units import Box, Nm, Point, Size

#: Edges in the order a quarter turn counter-clockwise takes them.
EDGES = ("bottom", "right", "top", "left")
OPPOSITE = {"bottom": "top", "top": "bottom", "left": "right", "right": "left"}


@dataclass(frozen=True, slots=True)
class Turn:
    """The turn from the canonical frame onto the board: *quarters* counter-clockwise.

    *size* is the region's size in the canonical frame; both frames have the
    region's top left at 0,0.
    """

    quarters: int
    size: Size

    @property
    def degrees(self) -> float:
        """The turn in degrees counter-clockwise."""
        return 90.0 * self.quarters

    @property
    def board_size(self) -> Size:
        """The region's size on the board."""
        return self.size if self.quarters % 2 == 0 else Size(self.size.h, self.size.w)

    def _shift(self) -> Point:
        far = Point(self.size.w, self.size.h).turned(self.degrees)
        return Point(Nm(max(0, -far.x)), Nm(max(0, -far.y)))

    def point(self, at: Point) -> Point:
        """Return the board position of a canonical point."""
        return at.turned(self.degrees).plus(self._shift())

    def back(self, at: Point) -> Point:
        """Return the canonical position of a board point."""
        return at.minus(self._shift()).turned(-self.degrees)

    def placement(self, placement: Placement) -> Placement:
        """Return *placement* on the board."""
        return Placement(
            self.point(placement.at), (placement.rotation + self.degrees) % 360.0, placement.side
        )

    def edge(self, name: str) -> str:
        """Return the board's name of a canonical edge ("" stays "")."""
        return EDGES[(EDGES.index(name) + self.quarters) % 4] if name else ""


def placed_box(box: Box, placement: Placement) -> Box:
    """Return *box* of a part's frame in its place (quarter turns only)."""
    left, top, right, bottom = (int(side) for side in box)
    if placement.side is Side.BOTTOM:
        top, bottom = -bottom, -top
    for _ in range(int(placement.rotation // 90.0) % 4):
        left, top, right, bottom = top, -right, bottom, -left
    x, y = int(placement.at.x), int(placement.at.y)
    return Box(Nm(left + x), Nm(top + y), Nm(right + x), Nm(bottom + y))


def union(boxes: list[Box]) -> Box:
    """Return the smallest box round all *boxes*; raises ValueError for none."""
    return Box.around([corner for box in boxes for corner in (Point(box.left, box.top), box_end(box))])


def box_end(box: Box) -> Point:
    """Return the bottom right corner."""
    return Point(box.right, box.bottom)


def apart(a: Box, b: Box) -> int:
    """Return the gap between two boxes in nm along the axis that parts them most; < 0 if they overlap."""
    a_left, a_top, a_right, a_bottom = map(int, a)
    b_left, b_top, b_right, b_bottom = map(int, b)
    return max(b_left - a_right, a_left - b_right, b_top - a_bottom, a_top - b_bottom)


def holds(outer: Box, inner: Box) -> bool:
    """Whether *inner* lies in *outer*, borders touching allowed."""
    return (
        outer.left <= inner.left
        and outer.top <= inner.top
        and inner.right <= outer.right
        and inner.bottom <= outer.bottom
    )


def usb_rotation(edge: str, side: Side) -> float:
    """Return the rotation that turns a module's front (-y) to the canonical *edge*.

    A part on the bottom is turned over about its x axis first, so its front
    starts out at +y.
    """
    order = ("top", "left", "bottom", "right") if side is Side.TOP else EDGES
    return 90.0 * order.index(edge)

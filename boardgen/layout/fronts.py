"""Where a connector's mating face needs the board's edge."""

from __future__ import annotations

from boardgen.board.model import Front
from boardgen.catalog.model import Connector, Mounting
from boardgen.units import Nm


def front_of(connector: Connector) -> Front | None:
    """Return the front of an edge connector, by its entry alone; None for one that stands upright.

    The edge is where the entry has it (the body's end where it does not say), the width that of the mate or
    of the body, whichever is wider.
    """
    if connector.mounting is Mounting.STRAIGHT:
        return None
    edge = connector.body.bottom if connector.edge is None else connector.edge
    half = max(int(connector.mate.w), int(connector.body.width)) // 2
    middle = connector.body.centre.x
    return Front(edge, Nm(middle - half), Nm(middle + half))

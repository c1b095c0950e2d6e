"""A floorplan as frozen values: the big parts in place on an outline."""

from __future__ import annotations

from dataclasses import dataclass

from boardgen.board.model import Keepout, Outline, Part, Placement


@dataclass(frozen=True, slots=True)
class Floorplan:
    """One candidate. *score* in mm-equivalents, smaller is better, *terms* its parts.

    *holes* are parts of kind HOLE. *module_edge*/*connector_edge* name the board
    edges ("left", "right", "top", "bottom", "" for none) that the USB end and
    the mating face look out of. *words* says in a sentence why this one won.
    """

    outline: Outline
    module: Placement
    connector: Placement
    holes: tuple[Part, ...]
    keepouts: tuple[Keepout, ...]
    module_edge: str
    connector_edge: str
    score: float
    terms: tuple[tuple[str, float], ...]
    words: str = ""

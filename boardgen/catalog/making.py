"""How a fab wants its files named, and the panels it makes: frozen values, lengths in nm."""

from __future__ import annotations

from dataclasses import dataclass

from boardgen.units import Nm, Size

# What a fabrication package holds, by the trade's names: the keys of a class's file name patterns.
FILE_KINDS = (
    "top-copper",
    "bottom-copper",
    "top-mask",
    "bottom-mask",
    "top-legend",
    "bottom-legend",
    "top-paste",
    "bottom-paste",
    "profile",
    "score-lines",
    "plated-holes",
    "unplated-holes",
    "netlist",
    "readme",
)


@dataclass(frozen=True, slots=True)
class PanelLimits:
    """What a fab says of panels.

    *largest* may be turned. *rail* is the strip left round or between boards. Scoring: only where
    *score*; the board at least *score_board_min*, the panel at least *score_panel_min*, copper
    *score_copper_min* off the line, *score_web* of the thickness left. Routed: a slot *cutter* wide,
    held by tabs of *tab* (the least) with holes of *bite_hole*, *bite_pitch* apart. *tooling_hole* is
    unplated; *fiducial* is a dot of copper in an opening of *fiducial_opening*.
    """

    largest: Size
    rail: Nm
    score: bool
    score_board_min: Size
    score_panel_min: Size
    score_copper_min: Nm
    score_web: Nm
    cutter: Nm
    tab: Nm
    bite_hole: Nm
    bite_pitch: Nm
    tooling_hole: Nm
    fiducial: Nm
    fiducial_opening: Nm

"""A board of a CAD program read whole, as a board model; and held against its design."""

from boardgen.readback.cad_board.against import against_design
from boardgen.readback.cad_board.model import CadBoard, Intent, WantedPart
from boardgen.readback.cad_board.reader import read_cad_board

__all__ = ["CadBoard", "Intent", "WantedPart", "against_design", "read_cad_board"]

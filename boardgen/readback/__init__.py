"""Floor 11: the written files read back by independent readers, and compared with what was meant.

Importing this loads gerbonara; callers do so only when there is something to read.
"""

from boardgen.readback.case import Case, case_of_board
from boardgen.readback.compare import compare
from boardgen.readback.examine import examine_board, examine_run
from boardgen.readback.model import FabGeometry, ReadbackReport, Wanted
from boardgen.readback.reader import read

__all__ = [
    "Case",
    "FabGeometry",
    "ReadbackReport",
    "Wanted",
    "case_of_board",
    "compare",
    "examine_board",
    "examine_run",
    "read",
]

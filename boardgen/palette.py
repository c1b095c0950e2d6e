"""The colours every drawing shares.

Chosen to differ in lightness as well as hue, so that they stay apart for
colour-blind eyes; top and bottom copper differ in hatch too.
"""

PAPER = "#fbf8f0"
INK = "#22262b"
FAINT = "#8b8f94"
BOARD = "#efe9d8"
TOP = "#0e6f78"  # teal
BOTTOM = "#b4501f"  # rust
LEGEND = "#5c5470"
HOLE = "#ffffff"
BODY = "#d9dde3"
FITTED = "#f2c14e"  # amber: what is fitted in a step of the assembly
MARK = "#8e1b62"  # pin 1, findings
GOOD = "#2d6a2f"
TOP_HATCH_DEGREES = 45.0
BOTTOM_HATCH_DEGREES = 135.0

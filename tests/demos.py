"""Where the demo designs lie, and their names."""

from pathlib import Path

DESIGNS = Path(__file__).parent.parent / "designs"
DEMOS = ("lecture-keypad", "pointer-handset", "slide-remote", "dome-fader", "chart-ball")

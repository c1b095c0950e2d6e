"""The report's part about what was measured on the finished copper."""

from __future__ import annotations

from importlib import resources

from jinja2 import Environment, StrictUndefined

from boardgen.measure.material import BOARD_C
from boardgen.measure.model import Measures
from boardgen.measure.strip import FR4


def measured_html(measures: Measures) -> str:
    """Return the tables of losses per load and of lines ("" for none); every name is escaped."""
    if not measures.supplies and not measures.lines:
        return ""
    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True)
    text = resources.files("boardgen.export").joinpath("report_measured.html.j2").read_text("utf-8")
    supplies = [
        {
            "rail": row.rail,
            "load": row.load,
            "amps": f"{row.amps * 1000:.3g} mA",
            "there": f"{row.copper_volts * 1000:.2f} mV",
            "back": f"{row.return_volts * 1000:.2f} mV" if row.return_volts else "none",
            "share": f"{row.share:.2%}",
            "parts": f"{row.part_volts * 1000:.0f} mV" if row.part_volts else "none",
        }
        for row in measures.supplies
    ]
    lines = [
        {
            "net": line.net,
            "length": f"{line.length_mm:.1f} mm",
            "over": f"{line.over_pour_mm:.1f} mm",
            "pf": f"{line.pf:.1f} pF",
        }
        for line in measures.lines
    ]
    return environment.from_string(text).render(
        supplies=supplies, lines=lines, celsius=f"{BOARD_C:g}", permittivity=f"{FR4:g}"
    )

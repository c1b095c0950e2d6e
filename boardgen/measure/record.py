"""What was measured as plain data, rounded so that the last bits of a machine's arithmetic do not show."""

from __future__ import annotations

from boardgen.measure.material import BOARD_C, PLATING_UM
from boardgen.measure.model import Measures
from boardgen.measure.strip import FR4


def rounded(value: float, digits: int = 4) -> float:
    """Return *value* with that many significant digits."""
    return float(f"{value:.{digits - 1}e}")


def measured_data(measures: Measures) -> dict[str, object]:
    """Return "supplies" and "lines" as lists of rows, and what both assume."""
    return {
        "assumed": {
            "copper_celsius": BOARD_C,
            "plating_um": PLATING_UM,
            "laminate_permittivity": FR4,
        },
        "supplies": [
            {
                "rail": row.rail,
                "load": row.load,
                "amps": rounded(row.amps),
                "copper_volts": rounded(row.copper_volts),
                "return_volts": rounded(row.return_volts),
                "part_volts": rounded(row.part_volts),
                "share": rounded(row.share),
            }
            for row in measures.supplies
        ],
        "lines": [
            {
                "net": line.net,
                "pf": round(line.pf, 2),
                "length_mm": round(line.length_mm, 3),
                "over_pour_mm": round(line.over_pour_mm, 1),
            }
            for line in measures.lines
        ],
    }


def drop_evidence(measures: Measures) -> dict[str, object]:
    """Return what the check of voltage drops looked at."""
    worst = measures.supplies[0] if measures.supplies else None
    return {
        "loads": len(measures.supplies),
        "nets": len(measures.drops),
        "nodes": sum(drop.nodes for drop in measures.drops),
        "loads not joined": len(measures.unjoined),
        "worst": "no supply current"
        if worst is None
        else f"{worst.share:.2%} of {worst.rail} to {worst.load}",
    }

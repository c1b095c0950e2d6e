"""What each load loses in the finished copper, and whether that is too much: rule ``voltage-drop``."""

from __future__ import annotations

from boardgen.board.model import Board
from boardgen.design.model import BoundDesign
from boardgen.electrical.model import ElectricalPlan
from boardgen.errors import Finding, Severity
from boardgen.measure.mesh import supply_drop
from boardgen.measure.model import Drop, SupplyDrop, Terminal
from boardgen.measure.ways import Way, supply_ways

RULE = "voltage-drop"
# Shares of the rail lost in our own copper, there and back. 5 V logic of the time is specified from
# 4.75 V, 5 % below: a board that takes all of that leaves nothing for source, fuse and cable. Two
# fifths of it is worth a wider track.
WARNING_SHARE, ERROR_SHARE = 0.02, 0.05


def measure_supplies(
    board: Board, bound: BoundDesign, plan: ElectricalPlan
) -> tuple[tuple[SupplyDrop, ...], tuple[Drop, ...], tuple[str, ...]]:
    """Return a row per load, the largest share first; the solved nets; loads that copper does not reach.

    Only nets that carry supply current are solved.
    """
    ways = supply_ways(board, bound, plan)
    drops = tuple(supply_drop(board, hop.net, hop.sources, hop.loads, bound.fab) for hop in ways.hops)
    lost: dict[tuple[str, str, Terminal], float] = {}
    unjoined: list[str] = []
    for hop, drop in zip(ways.hops, drops, strict=True):
        for item in drop.loads:
            if item.volts is None:
                unjoined.append(f"{item.load.ref} pad {item.load.pad} on {drop.net}")
            else:
                lost[hop.scene, drop.net, item.load.terminal] = item.volts
    rows = [row for way in ways.ways if (row := _row(way, ways.ground, lost)) is not None]
    rows.sort(key=lambda row: (-row.share, row.rail, row.load))
    return tuple(rows), drops, tuple(dict.fromkeys(unjoined))


def _row(way: Way, ground: str, lost: dict[tuple[str, str, Terminal], float]) -> SupplyDrop | None:
    legs = [(way.scene, *leg) for leg in way.legs]
    ends = [(way.scene, ground, end) for end in way.back]
    if not set(legs) | set(ends) <= lost.keys():
        return None
    there = sum(lost[leg] for leg in legs)
    back = max((lost[end] for end in ends), default=0.0)
    share = (there + back) / way.volts
    return SupplyDrop(way.rail, way.volts, way.load, way.amps, there, back, way.part_volts, share)


def drop_findings(rows: tuple[SupplyDrop, ...]) -> tuple[Finding, ...]:
    """Return a finding of rule ``voltage-drop`` for each load that loses too much in copper."""
    found = []
    for row in rows:
        if row.share <= WARNING_SHARE:
            continue
        bad = row.share > ERROR_SHARE
        lost, there, back = (
            f"{volts * 1000:.0f} mV"
            for volts in (row.copper_volts + row.return_volts, row.copper_volts, row.return_volts)
        )
        message = (
            f"{row.load} loses {lost} of {row.rail} in copper at {row.amps:.2f} A "
            f"({there} there, {back} back): "
            f"{row.share:.1%}, more than {ERROR_SHARE if bad else WARNING_SHARE:.0%}; "
            "a wider track or a nearer pin would help"
        )
        severity = Severity.ERROR if bad else Severity.WARNING
        found.append(Finding(RULE, severity, message, items=(row.rail, row.load)))
    return tuple(found)

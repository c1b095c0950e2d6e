"""The report's part about supply: the tree as a picture, rails, heat, ways back, what USB is told."""

from __future__ import annotations

from boardgen.electrical.power.model import BackPath, Heat, Node, PowerTree
from boardgen.export.sheet_svg import sheet_svg
from boardgen.export.signal_report import part_html
from boardgen.export.supply_view import supply_sheet

LEAST_W = 0.0005  # a regulator that gives next to nothing is not worth a row


def power_html(tree: PowerTree | None) -> str:
    """Return the part of the report about *tree* ("" for none)."""
    if tree is None:
        return ""
    return part_html(
        "power",
        picture=sheet_svg(supply_sheet(tree), whole=False),
        rails=[_rail(node, tree) for node in tree.nodes],
        heats=[_heat(heat) for heat in tree.heats if heat.watts >= LEAST_W],
        ways=[_way(path) for path in tree.back_paths],
        usb=_usb(tree),
    )


def _milli(amps: float) -> str:
    return f"{amps * 1000:.0f} mA" if amps >= 0.0005 else "none"


def _rail(node: Node, tree: PowerTree) -> dict[str, object]:
    limit = next((s.limit_a for s in tree.sources if s.node == node.name), None)
    spare = "not stated" if node.budget_a is None else _milli(node.budget_a)
    feeder = next((s for s in tree.steps if s.end == node.name and s.on_board), None)
    if feeder is not None and node.budget_a is None:
        spare = f"what {feeder.start} can, through {feeder.through}"
    over = node.budget_a is not None and node.outside_a > node.budget_a + 1e-9
    return {
        "name": node.name,
        "volts": f"{node.volts:g} V",
        "span": f"{node.least_v:.2f} to {node.most_v:.2f} V",
        "amps": _milli(node.amps),
        "outside": _milli(node.outside_a),
        "budget": spare if limit is None else f"the source gives {_milli(limit)}",
        "over": over,
    }


def _heat(heat: Heat) -> dict[str, object]:
    known = heat.junction_c is not None
    return {
        "part": heat.part,
        "watts": f"{heat.watts * 1000:.0f} mW",
        "junction": f"{heat.junction_c:.0f} °C"
        if known
        else "not known: no source states its thermal resistance",
        "most": f"{heat.most_c:.0f} °C",
        "over": heat.junction_c is not None and heat.junction_c > heat.most_c,
    }


def _way(path: BackPath) -> dict[str, object]:
    return {
        "source": path.source,
        "target": path.target,
        "through": ", ".join(path.steps),
        "blocked": path.blocked_by or "NOT BLOCKED",
        "open": not path.blocked_by,
    }


def _usb(tree: PowerTree) -> list[tuple[str, str]]:
    """What a host meets, a line each."""
    rows = []
    if tree.usb_a is None or tree.usb_ma is None:
        rows.append(
            ("Drawn from USB", "not known: no source states the module's own draw; firmware must state it")
        )
    else:
        rows.append(
            ("Drawn from USB at most", f"{tree.usb_a * 1000:.0f} mA; a host gives 500 mA once configured")
        )
        rows.append(
            ("The firmware declares", f"bMaxPower {tree.usb_ma // 2} ({tree.usb_ma} mA, it counts in 2 mA)")
        )
    if tree.radio_a > 0:
        rows.append(("A radio adds in bursts", f"{tree.radio_a * 1000:.0f} mA"))
    if tree.inrush_uf is not None:
        own = any("puts across USB is not known" in text for text in tree.assumed)
        more = " on this board, the module's own is not known" if own else ""
        rows.append(("Charged when plugged in", f"{tree.inrush_uf:.3g} µF{more}; USB allows 10 µF in all"))
    rows += [("Bulk capacitor chosen", text.replace(" uF", " µF")) for text in tree.bulk]
    return rows

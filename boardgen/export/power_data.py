"""The power tree as plain data for the record: volts, amperes, uF, watts and degrees C as the names say."""

from __future__ import annotations

from boardgen.electrical.power.model import PowerTree


def _r(value: float | None, digits: int = 4) -> float | None:
    return None if value is None else round(value, digits)


def power_data(tree: PowerTree | None) -> dict[str, object] | None:
    """Return *tree* for ``summary.json``; None where the plan has none."""
    if tree is None:
        return None
    return {
        "sources": [
            {
                "name": s.name,
                "rail": s.node,
                "volts": s.volts,
                "least_v": _r(s.least_v),
                "most_v": _r(s.most_v),
                "limit_a": s.limit_a,
            }
            for s in tree.sources
        ],
        "rails": [
            {
                "rail": n.name,
                "volts": _r(n.volts),
                "least_v": _r(n.least_v),
                "most_v": _r(n.most_v),
                "amps": _r(n.amps),
                "outside_a": _r(n.outside_a),
                "budget_a": n.budget_a,
            }
            for n in tree.nodes
        ],
        "steps": [
            {
                "from": s.start,
                "to": s.end,
                "through": s.through,
                "lets_current_back": s.back,
                "drop_v": _r(s.drop_v),
                "on_this_board": s.on_board,
            }
            for s in tree.steps
        ],
        "loads": [{"rail": load.node, "load": load.name, "amps": _r(load.amps, 6)} for load in tree.loads],
        "back_paths": [
            {"from": p.source, "into": p.target, "through": list(p.steps), "blocked_by": p.blocked_by}
            for p in tree.back_paths
        ],
        "heats": [
            {"part": h.part, "watts": _r(h.watts), "junction_c": _r(h.junction_c, 1), "most_c": h.most_c}
            for h in tree.heats
        ],
        "usb_a": _r(tree.usb_a, 6),
        "usb_ma": tree.usb_ma,
        "radio_a": _r(tree.radio_a, 6),
        "inrush_uf": _r(tree.inrush_uf),
        "assumed": list(tree.assumed),
        **({"bulk": list(tree.bulk)} if tree.bulk else {}),
    }

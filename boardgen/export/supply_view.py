"""The power tree as a picture: sources at the left, rails, what stands between them, loads at the right."""

from __future__ import annotations

from dataclasses import dataclass

from boardgen.electrical.power.model import Load, Node, PowerTree, Step
from boardgen.export.sheet import Sheet
from boardgen.palette import BODY, FAINT, GOOD, INK, MARK, PAPER

COLUMN, ROW, BOX_W, BOX_H = 82.0, 13.0, 44.0, 10.0
EDGE = 6.0


@dataclass(slots=True)
class _Pen:
    """Where the next row goes, and how far right anything reaches."""

    sheet: Sheet
    y: float = EDGE
    right: float = 0.0


def supply_sheet(tree: PowerTree) -> Sheet:
    """Return the picture of *tree*, as large as it needs."""
    sheet = Sheet("Power tree", 0.0, 0.0)
    pen = _Pen(sheet)
    seen: set[str] = set()
    nodes = {node.name: node for node in tree.nodes}
    for source in tree.sources:
        if source.node in nodes:
            words = source.name if source.node == source.name else f"{source.node}: {source.name}"
            _node(pen, tree, nodes, source.node, 0, seen, words)
    pen.y += 2.0
    for text in _notes(tree):
        pen.y += 4.6
        sheet.text(EDGE, pen.y, text, 2.7, colour=INK)
        pen.right = max(pen.right, EDGE + 1.55 * len(text))
    sheet.width, sheet.height = pen.right + EDGE, pen.y + EDGE
    return sheet


def _notes(tree: PowerTree) -> list[str]:
    found = []
    if tree.usb_a is not None and tree.usb_ma is not None:
        found.append(f"from USB {tree.usb_a * 1000:.0f} mA at most; the firmware declares {tree.usb_ma} mA")
    if tree.inrush_uf is not None and tree.inrush_uf >= 0.05:
        found.append(f"{tree.inrush_uf:.1f} uF are charged when USB is plugged in")
    for heat in tree.heats:
        if heat.watts < 0.0005:
            continue
        warm = "" if heat.junction_c is None else f", {heat.junction_c:.0f} C of {heat.most_c:.0f} C allowed"
        found.append(f"{heat.part}: {heat.watts * 1000:.0f} mW of heat{warm}")
    for path in tree.back_paths:
        how = f"blocked by {path.blocked_by}" if path.blocked_by else "NOT BLOCKED"
        found.append(f"from {path.source} back into {path.target}: {how}")
    return found


def _node(
    pen: _Pen,
    tree: PowerTree,
    nodes: dict[str, Node],
    name: str,
    depth: int,
    seen: set[str],
    title: str = "",
) -> float:
    """Draw a rail and all behind it; returns the height of its middle."""
    seen.add(name)
    node = nodes[name]
    x, top = EDGE + depth * COLUMN, pen.y
    middle = top + BOX_H / 2
    _box(pen.sheet, x, top, node, title or name)
    pen.right = max(pen.right, x + BOX_W)
    first = True
    for load in tree.loads:
        if load.node == name:
            first = _row(pen, first)
            _load(pen, x + BOX_W, middle, load)
    for step in tree.steps:
        if step.start == name and step.end not in seen and step.end in nodes:
            first = _row(pen, first)
            y = pen.y + BOX_H / 2
            _step(pen.sheet, x + BOX_W, middle, x + COLUMN, y, step)
            _node(pen, tree, nodes, step.end, depth + 1, seen)
        elif step.start == name and step.end in seen and step.end != name:
            first = _row(pen, first)
            _joins(pen, x + BOX_W, middle, step)
    if first:
        pen.y = top
    pen.y = max(pen.y, top)
    if depth == 0:
        pen.y += ROW
    return middle


def _row(pen: _Pen, first: bool) -> bool:
    """Go to the next row, unless this is the first thing beside the box."""
    if not first:
        pen.y += ROW
    return False


def _box(sheet: Sheet, x: float, y: float, node: Node, title: str) -> None:
    sheet.box(x, y, BOX_W, BOX_H, INK, 0.4, BODY)
    sheet.text(x + 2, y + 3.9, title, 2.8, bold=True)
    span = f"{node.least_v:.2f} to {node.most_v:.2f} V"
    sheet.text(x + 2, y + 8.2, span, 2.5)
    sheet.text(x + BOX_W - 2, y + 8.2, f"{node.amps * 1000:.0f} mA", 2.5, "end", bold=True)


def _step(sheet: Sheet, x: float, y: float, to_x: float, to_y: float, step: Step) -> None:
    turn = x + 3.0
    sheet.line((x, y), (turn, y), (turn, to_y), (to_x, to_y), width=0.4)
    sheet.ring(((to_x, to_y), (to_x - 2, to_y - 1.1), (to_x - 2, to_y + 1.1)), INK, 0.2, INK)
    if not step.back:  # a bar across the way: current passes in the arrow's direction only
        at = to_x - 4.5
        sheet.line((at, to_y - 2), (at, to_y + 2), stroke=GOOD, width=0.9)
    sheet.text(turn + 1, to_y - 1.4, _short(step), 2.3)
    lost = f"{step.drop_v:.2f} V lost" if step.drop_v > 0 else ""
    sheet.text(turn + 1, to_y + 3.1, lost, 2.3, colour=FAINT)


def _short(step: Step) -> str:
    return step.through.removeprefix("the module's ").removeprefix("the regulator ")


def _joins(pen: _Pen, x: float, y: float, step: Step) -> None:
    """A second way into a rail that is drawn already: said in words."""
    at = pen.y + BOX_H / 2
    pen.sheet.line((x, y), (x + 3, y), (x + 3, at), (x + 8, at), width=0.4)
    stop = "" if step.back else ", one way only"
    words = f"also into {step.end}, through {_short(step)}{stop}"
    pen.sheet.text(x + 9.5, at + 0.9, words, 2.5, colour=GOOD if stop else MARK)
    pen.right = max(pen.right, x + 9.5 + 1.5 * len(words))


def _load(pen: _Pen, x: float, y: float, load: Load) -> None:
    at = pen.y + BOX_H / 2
    pen.sheet.line((x, y), (x + 3, y), (x + 3, at), (x + 8, at), width=0.3)
    pen.sheet.disc(x + 9.2, at, 1.2, INK, 0.3, PAPER)
    words = f"{load.name}, {load.amps * 1000:.0f} mA"
    pen.sheet.text(x + 12, at + 0.9, words, 2.5)
    pen.right = max(pen.right, x + 12 + 1.5 * len(words))

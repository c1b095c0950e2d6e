"""Write the schematic sheet and the symbol library, both from the same symbols."""

from __future__ import annotations

from boardgen.board.model import PartKind
from boardgen.circuit.model import CircuitPart
from boardgen.export.bundle import Bundle
from boardgen.export.cad_drawing import RIGHT, UP, Item, Label, Mark, Note, Placed, Wire
from boardgen.export.cad_nodes import (
    GENERATOR,
    SCHEMATIC_VERSION,
    SYMBOL_VERSION,
    at_node,
    node,
    order_fields,
    part_stamp,
    stamp,
    word,
    xy,
)
from boardgen.export.cad_parts import Sheet
from boardgen.export.cad_sheet import Arranged
from boardgen.export.cad_symbols import Symbol, effects, symbol_node
from boardgen.footprint.sexpr import Node, Sym, dump
from boardgen.units import Point


def root_stamp(design: str) -> str:
    """Return the uuid of the design's one sheet."""
    return stamp(design, "sheet")


def used_symbols(arranged: Arranged) -> list[Symbol]:
    """Return every symbol on the sheet once, by name."""
    found = {item.symbol.name: item.symbol for item in arranged.items if isinstance(item, Placed)}
    return [found[name] for name in sorted(found)]


def local_nets(arranged: Arranged) -> frozenset[str]:
    """Return the nets that the sheet names by a local label."""
    labels = [item for item in arranged.items if isinstance(item, Label)]
    return frozenset(item.net for item in labels if item.shape == "local")


def library_text(arranged: Arranged) -> str:
    """Return NAME.kicad_sym."""
    made = node("kicad_symbol_lib", node("version", SYMBOL_VERSION), node("generator", word(GENERATOR)))
    return dump([*made, *(symbol_node(symbol) for symbol in used_symbols(arranged))])


def schematic_text(bundle: Bundle, sheet: Sheet, arranged: Arranged, footprints: dict[str, str]) -> str:
    """Return NAME.kicad_sch; *footprints* maps references to footprint names in the project's library."""
    board = bundle.board
    name = board.name
    root = root_stamp(name)
    made = node(
        "kicad_sch",
        node("version", SCHEMATIC_VERSION),
        node("generator", word(GENERATOR)),
        node("uuid", word(root)),
        node("paper", arranged.paper),
        title_block(bundle),
        node("lib_symbols", *(symbol_node(symbol, name) for symbol in used_symbols(arranged))),
    )
    parts = {part.ref: part for part in bundle.netlist.parts}
    counts: dict[str, int] = {}
    for item in arranged.items:
        if isinstance(item, Placed):
            ref = item.ref
            if not ref:
                prefix = item.symbol.prefix
                counts[prefix] = counts.get(prefix, 0) + 1
                ref = f"{prefix}{counts[prefix]:03d}"
            made.append(_symbol(name, root, item, ref, parts.get(ref), footprints.get(ref, "")))
        else:
            counts["item"] = counts.get("item", 0) + 1
            made.append(_plain(item, stamp(name, "item", str(counts["item"]))))
    made.append(node("sheet_instances", node("path", "/", node("page", "1"))))
    return dump(made)


def title_block(bundle: Bundle) -> Node:
    """Return the title block: title, revision, what it is for and the tool; no date."""
    design = bundle.bound.design
    board = bundle.board
    made = node("title_block", node("title", board.title or design.title), node("rev", board.revision))
    remarks = [design.description or design.device]
    remarks.append(f"{bundle.bound.module.name} to {bundle.bound.connector.name}")
    remarks.append(f"pin map {bundle.pinmap.digest()}")
    remarks.append(bundle.tool)
    made += [node("comment", number, _short(text)) for number, text in enumerate(remarks, 1) if text]
    return made


def _short(text: str, most: int = 70) -> str:
    """Return the first line of *text*, cut at a word where it is longer than *most* letters."""
    line = text.strip().split("\n")[0]
    if len(line) <= most:
        return line
    return line[: most - 3].rsplit(" ", 1)[0] + "..."


def _symbol(name: str, root: str, item: Placed, ref: str, part: CircuitPart | None, footprint: str) -> Node:
    own = part_stamp(name, part) if part is not None else stamp(name, "mark", ref)
    listed = "no" if item.symbol.power or (part is not None and part.kind is PartKind.LINK) else "yes"
    made = node(
        "symbol",
        node("lib_id", f"{name}:{item.symbol.name}"),
        at_node(item.at, item.rotation, always=True),
        node("unit", 1),
        node("in_bom", word(listed)),
        node("on_board", word("yes")),
        node("dnp", word("no")),
        node("uuid", word(own)),
    )
    # a turned symbol turns its texts along; this stored angle brings them level again
    angle = 90.0 if item.rotation % 180 else 0.0
    shown = not item.symbol.power
    texts = (
        ("Reference", ref, item.ref_at, shown),
        ("Value", item.value if part is None else part.value, item.value_at, bool(item.value)),
        ("Footprint", f"{name}:{footprint}" if footprint else "", item.at, False),
        ("Datasheet", "~", item.at, False),
    )
    for label, text, at, visible in texts:
        place = at_node(at, angle, always=True)
        made.append(node("property", label, text, place, effects(hidden=not visible)))
    for label, text in order_fields(part):
        place = at_node(item.at, angle, always=True)
        made.append(node("property", label, text, place, effects(hidden=True)))
    for pin in item.symbol.pins:
        made.append(node("pin", pin.number, node("uuid", word(stamp(name, "pin", ref, pin.number)))))
    instance = node("path", f"/{root}", node("reference", ref), node("unit", 1))
    made.append(node("instances", node("project", name, instance)))
    return made


def _plain(item: Wire | Label | Mark | Note, own: str) -> Node:
    uuid = node("uuid", word(own))
    if isinstance(item, Wire):
        points = node("pts", xy("xy", item.start), xy("xy", item.end))
        return node("wire", points, node("stroke", node("width", 0), node("type", word("default"))), uuid)
    if isinstance(item, Label) and item.shape == "local":
        place = at_node(item.at, 0.0, always=True)
        return node("label", item.net, place, effects(justify="left bottom"), uuid)
    if isinstance(item, Label):
        return node(
            "global_label",
            item.net,
            node("shape", word(item.shape)),
            at_node(item.at, item.direction, always=True),
            node("fields_autoplaced"),
            effects(justify="left" if item.direction in (RIGHT, UP) else "right"),
            uuid,
        )
    if isinstance(item, Mark):
        if item.kind == "junction":
            colour = node("color", 0, 0, 0, 0)
            return node("junction", xy("at", item.at), node("diameter", 0), colour, uuid)
        return node("no_connect", xy("at", item.at), uuid)
    return node(
        "text",
        item.text,
        node("at", *xy("at", item.at)[1:], Sym("0")),
        effects(item.height, justify="left bottom"),
        uuid,
    )


__all__ = ["Item", "Point", "library_text", "root_stamp", "schematic_text", "title_block", "used_symbols"]

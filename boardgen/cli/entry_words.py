"""A catalogue entry in words: one line for a list, a record for JSON, a page with its drawing as text."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from enum import Enum

from boardgen.catalog.making import PanelLimits
from boardgen.catalog.model import (
    Component,
    Connector,
    Entry,
    FabClass,
    LogicFamily,
    Module,
    ModulePin,
    PinKind,
)
from boardgen.cli.electric_text import chip_electrics, level_lines, module_electrics, pin_electrics
from boardgen.cli.face_text import chip_lines, face_lines, module_lines
from boardgen.footprint.model import Footprint
from boardgen.units import Nm, Size, format_mm


def _gpios(module: Module) -> int:
    return sum(p.kind is PinKind.GPIO and not (p.strap or p.shared) for p in module.pins)


def short_words(entry: Entry) -> tuple[str, str, str]:
    """Return id, name and one line about *entry*."""
    if isinstance(entry, Module):
        about = f"{entry.logic_volts:g} V, {_gpios(entry)} free GPIO, {entry.mcu}"
    elif isinstance(entry, Connector):
        about = f"{entry.gender}, {entry.mounting}, {len(entry.contacts)} contacts, {entry.mpn}"
    elif isinstance(entry, FabClass):
        about = f"{_layers(entry)}, track {format_mm(entry.track)} mm, gap {format_mm(entry.gap)} mm"
    elif isinstance(entry, LogicFamily):
        about = f"{entry.levels.supply_min_v:g} V to {entry.levels.supply_max_v:g} V, {entry.levels.output}"
    else:
        about = f"{entry.kind}, {entry.value or 'any value'}, {entry.footprint}"
    return entry.id, entry.name, about


def _layers(fab: FabClass) -> str:
    return f"{fab.copper_layers} copper layer{'' if fab.copper_layers == 1 else 's'}"


def short_record(entry: Entry) -> dict[str, object]:
    """Return what a list says of *entry* for JSON."""
    entry_id, name, about = short_words(entry)
    return {"id": entry_id, "name": name, "about": about, "description": entry.description}


def full_record(entry: Entry) -> dict[str, object]:
    """Return all of *entry* for JSON; lengths in mm under keys that end in ``_mm``."""
    kinds = {
        Module: "module",
        Connector: "connector",
        Component: "part",
        FabClass: "fab",
        LogicFamily: "logic",
    }
    return {"kind": kinds[type(entry)], **_plain_fields(entry)}


def _plain_fields(value: object) -> dict[str, object]:
    record: dict[str, object] = {}
    for field in dataclasses.fields(value):  # type: ignore[arg-type]
        item = getattr(value, field.name)
        key = f"{field.name}_mm" if _is_length(item) else field.name
        record[key] = _plain(item)
    return record


def _is_length(value: object) -> bool:
    if isinstance(value, tuple) and value:
        return all(_is_length(item) for item in value)
    return isinstance(value, Nm)


def _plain(value: object) -> object:
    if isinstance(value, Nm):
        return value.mm
    if isinstance(value, Enum):
        return str(value.value)
    if dataclasses.is_dataclass(value):
        return _plain_fields(value)
    if isinstance(value, tuple):
        pairs = value and all(isinstance(v, tuple) and len(v) == 2 and isinstance(v[0], str) for v in value)
        if pairs:
            return {str(key): _plain(item) for key, item in value}
        return [_plain(item) for item in value]
    return value


def full_words(entry: Entry, footprint: Footprint | None) -> list[str]:
    """Return the page on *entry*: what it is, its drawing as text, figures, cautions, sources."""
    lines = [f"{entry.id}: {entry.name}"]
    if entry.description:
        lines.append(entry.description)
    lines.append("")
    if isinstance(entry, Module):
        lines += _module(entry, footprint)
    elif isinstance(entry, Connector):
        lines += _connector(entry)
    elif isinstance(entry, FabClass):
        lines += _fab(entry)
    elif isinstance(entry, LogicFamily):
        lines += level_lines(entry.levels)
    else:
        lines += _component(entry, footprint)
    for caution in getattr(entry, "cautions", ()):
        lines.append(f"caution: {caution}")
    for source in entry.sources:
        lines.append("source: " + ", ".join(bit for bit in (source.document, source.place) if bit))
        if source.what:
            lines.append(f"        for {source.what}")
    return lines


def _size(entry: Module | Connector) -> str:
    body = entry.body
    return f"{format_mm(body.width)} x {format_mm(body.height)} mm, {format_mm(entry.height)} mm high"


def _module(module: Module, footprint: Footprint | None) -> list[str]:
    lines = []
    if footprint is not None:
        lines += [*module_lines(module, footprint), ""]
    heads = ("pin", "name", "kind", "functions", "remarks")
    rows = [(p.number, p.name, str(p.kind), " ".join(p.functions), _remarks(p)) for p in module.pins]
    lines += [*columns(heads, rows), ""]
    lines.append(f"part: {module.maker_part}")
    lines.append(f"logic: {module.logic_volts:g} V, {module.mcu}, {_gpios(module)} free GPIO")
    lines.append(f"size: {_size(module)}, footprint {module.footprint}")
    return lines + module_electrics(module)


def _remarks(pin: ModulePin) -> str:
    bits = []
    if pin.strap:
        bits.append(f"boot strap: {pin.strap}")
    if pin.shared:
        bits.append(f"shared with {pin.shared}")
    if pin.kind is PinKind.GPIO:
        ways = {
            (True, False): "input only",
            (False, True): "output only",
            (False, False): "analog input only",
        }
        bits += [ways[pin.can_read, pin.can_drive]] if (pin.can_read, pin.can_drive) in ways else []
    if pin.max_volts is not None:
        bits.append(f"takes {pin.max_volts:g} V")
    bits += pin_electrics(pin)
    if pin.supply is not None:
        spare = f", {pin.supply.budget_a:g} A to spare" if pin.supply.budget_a is not None else ""
        bits.append(f"{pin.supply.role}: {pin.supply.rail}, {pin.supply.volts:g} V{spare}")
    return "; ".join(bits)


def _connector(connector: Connector) -> list[str]:
    lines = [*face_lines(connector), ""]
    lines.append(f"part: {connector.manufacturer} {connector.mpn}")
    lines.append(f"kind: {connector.gender}, {connector.mounting}, family {connector.family}")
    if connector.shell:
        lines.append(f"shell pads: {', '.join(connector.shell)}")
    if connector.current_a is not None:
        lines.append(f"current: {connector.current_a:g} A a contact")
    if connector.edge is not None:
        lines.append(f"board edge: {format_mm(connector.edge)} mm in front of the footprint's origin")
    lines.append(f"size: {_size(connector)}, footprint {connector.footprint}")
    return lines


def _component(part: Component, footprint: Footprint | None) -> list[str]:
    lines = []
    if footprint is not None and part.gates:
        lines += [*chip_lines(part, footprint), ""]
    lines += columns(("pin", "pad"), list(part.pins))
    lines += ["", *columns(("figure", "value"), [(name, f"{value:g}") for name, value in part.figures])]
    lines += [
        "",
        f"part: {part.manufacturer} {part.mpn}".rstrip(),
        f"kind: {part.kind}, {part.value or 'any value'}",
    ]
    lines.append(f"footprint: {part.footprint}")
    return lines + chip_electrics(part)


def _fab(fab: FabClass) -> list[str]:
    limits = _limits(fab)
    panel = [] if fab.panel is None else [(f"panel {name}", shown) for name, shown in _limits(fab.panel)]
    files = [(f"file of {kind}", pattern) for kind, pattern in fab.files]
    return [*columns(("limit", "value"), [*limits, *panel, *files]), ""]


def _limits(fab: FabClass | PanelLimits) -> list[tuple[str, str]]:
    rows = []
    for field in dataclasses.fields(fab):
        value = getattr(fab, field.name)
        if field.name in ("id", "name", "description", "sources", "origin", "panel", "files"):
            continue
        if isinstance(value, Nm):
            shown = f"{format_mm(value)} mm"
        elif isinstance(value, tuple):
            shown = (
                " x ".join(format_mm(v) for v in value)
                if isinstance(value, Size)
                else ", ".join(format_mm(v) for v in value)
            )
            shown = f"{shown} mm" if shown else "any"
        elif isinstance(value, bool):
            shown = "yes" if value else "no"
        else:
            shown = str(value)
        rows.append((field.name.replace("_", " "), shown))
    return rows


def columns(heads: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> list[str]:
    """Return *rows* under *heads* in aligned columns; the last column is not padded."""
    widths = [max(len(row[n]) for row in [heads, *rows]) for n in range(len(heads))]
    return [
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in [heads, *rows]
    ]

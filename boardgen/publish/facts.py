"""What the page tells, as rows of words; nothing here knows of HTML."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from boardgen.catalog.model import Connector
from boardgen.design.model import Erratum
from boardgen.export.history_data import rework_steps
from boardgen.publish.history import order_of
from boardgen.publish.model import Fault, Subject

_KINDS = {"row": "matrix row", "column": "matrix column", "ground": "ground", "shield": "shield"}
_KNOWN = {"guessed": "guessed: measure before use"}


def facts(subject: Subject) -> tuple[tuple[str, str], ...]:
    """Return (value, what it is) of what a reader wants to know first."""
    board = subject.data["board"]
    layers = int(board["copper_layers"])
    return (
        (f"{_figure(board['width_mm'])} x {_figure(board['height_mm'])} mm", "board"),
        (f"{layers}, {_figure(board['thickness_mm'])} mm thick", f"copper layer{'s' if layers > 1 else ''}"),
        (subject.module.name, "module"),
        (connector_name(subject.connector), "connector on the board"),
        (str(sum(1 for row in subject.data["signals"] if row["pin"])), "signals on module pins"),
        (subject.edition.digest, "pin map"),
    )


def connector_name(connector: Connector) -> str:
    """Return its name with its gender, once."""
    said = str(connector.gender) in connector.name
    return connector.name if said else f"{connector.name}, {connector.gender}"


def _figure(value: Any) -> str:
    return f"{float(value):.2f}".rstrip("0").rstrip(".")


def signals(subject: Subject) -> dict[str, str]:
    """Return the signal of each contact that carries one."""
    return {str(row["contact"]): str(row["signal"]) for row in subject.data["signals"] if row["signal"]}


def pinout(subject: Subject) -> tuple[Mapping[str, str], ...]:
    """Return a row for each contact of the connector, in the order of its face; unused ones say so."""
    rows: dict[str, list[Mapping[str, Any]]] = {}
    for row in subject.data["signals"]:
        rows.setdefault(str(row["contact"]), []).append(row)
    numbers = [*subject.connector.numbers()]
    numbers += [contact for contact in rows if contact not in numbers]
    found = []
    for number in numbers:
        for row in rows.get(number, [{}]):
            pin, place = str(row.get("pin", "")), str(row.get("module_pin", ""))
            kind = str(row.get("kind", ""))
            known = str(row.get("known_by", ""))
            found.append(
                {
                    "contact": number,
                    "signal": str(row.get("signal", "")) or "not used",
                    "kind": _KINDS.get(kind, kind),
                    "wire": str(row.get("wire", "")),
                    "pin": f"{pin} (pin {place})" if pin and place else pin,
                    "why": str(row.get("why", "")),
                    "known": _KNOWN.get(known, known),
                    "used": "yes" if row.get("signal") else "",
                }
            )
    return tuple(found)


def faults(subject: Subject) -> tuple[Fault, ...]:
    """Return the known faults of this revision and others, oldest revision first.

    Those of the design where it is at hand: it may know of more than the record did.
    """
    if subject.design is not None:
        found = [_of_design(item) for item in subject.design.errata]
    else:
        found = [
            Fault(
                str(row["revision"]),
                str(row["symptom"]),
                str(row["cause"]),
                str(row["workaround"]),
                str(row["fixed_in"]),
                tuple(str(step) for step in row["rework"]),
            )
            for row in subject.data["errata"]
        ]
    return tuple(sorted(found, key=lambda item: order_of(item.revision)))


def _of_design(item: Erratum) -> Fault:
    return Fault(
        item.revision,
        item.symptom,
        item.cause,
        item.workaround,
        item.fixed_in,
        tuple(rework_steps(item)),
        item if item.cuts or item.wires else None,
    )


def open_here(fault: Fault, revision: str) -> bool:
    """Whether a board of *revision* has this fault: it is that old, and not mended by then."""
    if order_of(fault.revision) > order_of(revision):
        return False
    return fault.revision == revision or not fault.fixed_in or order_of(fault.fixed_in) > order_of(revision)


def cautions(subject: Subject) -> tuple[str, ...]:
    """Return what to be careful about: what soldering and supplies ask for, then the run's own."""
    own = [
        "An iron at 320 to 350 C burns skin and table alike, and lifts pads: three seconds on a joint, then "
        "let it cool. Wear glasses when you cut leads, wash your hands afterwards."
    ]
    rails = [str(row["rail"]) for row in subject.data["rails"]]
    if rails:
        own.append(
            f"The board gives {', '.join(rails)} to the device. A device that runs on another voltage, or "
            "that brings a supply of its own which this page does not name, must not be plugged in."
        )
    own.append(
        "Take batteries out of the old device first: leaked ones are caustic, and a cell without a current "
        "limit can burn a track or a hand. Never charge them through this board."
    )
    found = [*own, *subject.plan.cautions]
    return tuple(dict.fromkeys(_sentence(text) for text in found))


def _sentence(text: str) -> str:
    """Return *text* with a capital at its head and a stop at its end."""
    text = text.strip()
    return f"{text[:1].upper()}{text[1:]}{'' if text.endswith(('.', '!', '?', ':')) else '.'}"

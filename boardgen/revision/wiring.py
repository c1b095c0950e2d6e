"""Contacts, signals, levels, pins, nets, parts and supply of two runs, compared from their files."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from boardgen.readback.model import Wanted
from boardgen.revision.model import Change
from boardgen.revision.rows import Row, changes, number
from boardgen.revision.runs import OpenedRun


def _contacts(run: OpenedRun) -> dict[str, Row]:
    return {
        f"contact {row['contact']}": {
            "": str(row["kind"]),
            "signal": str(row["signal"]),
            "wire": str(row["wire"]),
            "known by": str(row["known_by"]),
        }
        for row in run.data["signals"]
    }


def _signals(run: OpenedRun) -> dict[str, Row]:
    """How each signal is carried; one that several contacts carry is told once a contact."""
    return {
        f"{row['signal']} at contact {row['contact']}": {
            "way": str(row["way"]),
            "through": " ".join(map(str, row["parts"])),
            "net": str(row["net"]),
            "module net": str(row["module_net"]) if row["module_net"] != row["net"] else "",
        }
        for row in run.data["signals"]
        if row["signal"]
    }


def _levels(run: OpenedRun) -> dict[str, Row]:
    found: dict[str, Row] = {}
    for row in run.data["signals"]:
        for place, hop in enumerate(row["hops"]):
            thing = f"{row['signal']}, hop {place + 1} ({hop['direction']})"
            found[thing] = {
                "from": f"{hop['driver']} on {hop['driver_supply']}",
                "to": f"{hop['reader']} on {hop['reader_supply']}",
                "margin high": number(hop["margin_high_v"], "V"),
                "margin low": number(hop["margin_low_v"], "V"),
                "settles in": number(hop["settle_us"], "us"),
                "": "safe" if hop["passes"] else "not safe",
            }
    return found


def _pins(run: OpenedRun) -> dict[str, Row]:
    return {
        str(row["signal"]): {"": str(row["pin"]), "module pin": str(row["module_pin"])}
        for row in run.pins()["pins"]
    }


def _identity(run: OpenedRun) -> dict[str, Row]:
    """The code of the board's straps and the pin of each bit; boards without straps give none."""
    told = run.data.get("identity")
    if told is None:
        return {}
    found: dict[str, Row] = {
        "board's code": {"": str(told["code"]), "bits": str(told["bits"]), "pull": str(told["pull"])}
    }
    for strap in told["straps"]:
        found[f"strap {strap['signal']}"] = {"": str(strap["pin"])}
    return found


def _nets(source: Wanted) -> dict[str, Row]:
    found: dict[str, set[str]] = {}
    for pad in source.pads:
        if pad.net is not None and pad.number:
            found.setdefault(pad.net, set()).add(f"{pad.ref}.{pad.number}")
    return {net: dict.fromkeys(pads, "joined") for net, pads in found.items()}


def net_changes(a: Wanted, b: Wanted) -> list[Change]:
    """Return how nets differ: a changed net names the pads that left it and those that joined it."""
    found = []
    for change in changes("nets", _nets(a), _nets(b)):
        before, after = (_pads(text) for text in (change.before, change.after))
        found.append(Change(change.section, change.thing, before, after))
    return found


def _pads(text: str | None) -> str | None:
    return None if text is None else text.replace(" joined", "")


def _parts(run: OpenedRun) -> dict[str, Row]:
    """The parts list by reference; what several parts share a row for is told of each."""
    found: dict[str, Row] = {}
    for row in run.table("assembly/bom.csv"):
        named = row["Designator"]
        refs = [named] if named.endswith(" socket") else named.split()
        for ref in refs:
            each = {"": row["Value"], "on": row["Footprint"], "by": row["Manufacturer"], "MPN": row["MPN"]}
            if len(refs) == 1 and row["Qty"] != "1":
                each["times"] = row["Qty"]
            if row.get("DNP"):
                each["not fitted:"] = row["DNP"]
            found[ref] = each
    return found


def _supply(run: OpenedRun) -> dict[str, Row]:
    found: dict[str, Row] = {
        f"rail {row['rail']}": {
            "": number(row["volts"], "V"),
            "load": number(row["load_a"], "A"),
            "budget": number(row["budget_a"], "A"),
            "net": str(row["net"] or ""),
        }
        for row in run.data["rails"]
    }
    power: Mapping[str, Any] = run.data.get("power") or {}
    if power.get("usb_ma") is not None:
        found["USB"] = {"declares": number(power["usb_ma"], "mA", 0)}
    return found


def _errata(run: OpenedRun) -> dict[str, Row]:
    return {
        f"{row['revision']}: {row['symptom']}": {
            "cause": str(row["cause"]),
            "in firmware": str(row.get("workaround", "")),
            "rework": " ".join(map(str, row.get("rework", ()))),
            "fixed in": str(row["fixed_in"]),
        }
        for row in run.data["errata"]
    }


def wiring_changes(a: OpenedRun, b: OpenedRun) -> list[Change]:
    """Return what differs from run *a* to run *b* in all that the record, pin file and parts list tell.

    Raises what a damaged file does to its reader (KeyError, TypeError, ValueError).
    """
    tables = (
        ("contacts", _contacts),
        ("signals", _signals),
        ("levels", _levels),
        ("pin map", _pins),
        ("identity", _identity),
        ("parts", _parts),
        ("supply", _supply),
        ("errata", _errata),
    )
    return [change for section, rows in tables for change in changes(section, rows(a), rows(b))]


def finding_changes(a: OpenedRun, b: OpenedRun) -> list[Change]:
    """Return the findings that are gone or new; equal ones are counted."""
    counted: list[dict[str, int]] = []
    for run in (a, b):
        counts: dict[str, int] = {}
        for finding in run.record.findings:
            items = f" ({' and '.join(finding.items)})" if finding.items else ""
            thing = f"{finding.severity}: {finding.rule}: {finding.message}{items}"
            counts[thing] = counts.get(thing, 0) + 1
        counted.append(counts)
    found = []
    for thing in sorted({*counted[0], *counted[1]}):
        one, two = (counts.get(thing, 0) for counts in counted)
        if one != two:
            before, after = (str(n) if n > 1 else "found" if n else None for n in (one, two))
            found.append(Change("findings", thing, before, after))
    return found

"""The nets of a CAD board: numbers, names as the design spells them, classes from the project file."""

from __future__ import annotations

import fnmatch
import json
import math
from typing import Any

from boardgen.board.model import Net, NetClass, NetKind
from boardgen.catalog.model import FabClass
from boardgen.errors import Finding, Severity
from boardgen.footprint.sexpr import Node, Sym, children, words
from boardgen.readback.cad_board.notes import Notes
from boardgen.units import Nm, mm

OPEN = "unconnected-("
NO_NET = "(no net)"  # of copper that belongs to none
_MOST_CLASSES = 1_000


class Nets:
    """The file's nets. Names lose the marks of the sheet they come from, unless two would fall together."""

    def __init__(self, board: Node, notes: Notes) -> None:
        self._notes = notes
        self._codes: dict[str, str] = {}
        for node in children(board, "net"):
            found = words(node)
            if len(found) > 1:
                self._codes.setdefault(found[0], found[1])
            elif found and not isinstance(node[1], Sym):
                self._codes.setdefault(found[0], found[0])
        self._plain: dict[str, str] = {}
        taken: set[str] = set()
        for raw in sorted(set(self._codes.values()), key=lambda raw: (raw.startswith("/"), raw)):
            self._take(raw, taken)
        self._taken = taken

    def _take(self, raw: str, taken: set[str]) -> str:
        name = raw.removeprefix("/").replace("{slash}", "/")
        if name in taken:
            name = raw
        taken.add(name)
        self._plain[raw] = name
        return name

    def named(self, raw: str) -> str | None:
        """Return a net as the design spells it; None for one that joins nothing."""
        if not raw or raw.startswith(OPEN):
            return None
        return self._plain.get(raw) or self._take(raw, self._taken)

    def of(self, node: Node, whose: str) -> str | None:
        """Return the net a thing is on, by number, by name, or by both where they agree."""
        given = next(iter(children(node, "net")), None)
        found = words(given)
        if given is None or not found:
            return None
        code, name = found[0], found[1] if len(found) > 1 else None
        if name is None and (not isinstance(given[1], Sym) or not code.isdigit()):
            return self.named(code)
        known = self._codes.get(code)
        if known is None and code != "0":
            message = f"{whose} is on net number {code[:40]}, which the file does not list"
            self._notes.tell("cad-net", Severity.ERROR, message)
            return None
        if name is not None and known is not None and known != name:
            message = f"{whose} is on net number {code}, called {known!r} in the list and {name!r} here"
            self._notes.tell("cad-net", Severity.ERROR, message)
            return None
        return self.named(known or "")

    def all_names(self) -> list[str]:
        """Return every net the file lists that joins something."""
        names = (self.named(raw) for raw in self._codes.values())
        return sorted({name for name in names if name is not None})


def _length(value: Any) -> Nm | None:
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    return mm(float(value)) if math.isfinite(value) and 0 < value < 1000 else None


def _patterns(settings: dict[str, Any]) -> list[tuple[str, str]]:
    found: list[tuple[str, str]] = []
    for row in settings.get("netclass_patterns") or []:
        if (
            isinstance(row, dict)
            and isinstance(row.get("pattern"), str)
            and isinstance(row.get("netclass"), str)
        ):
            found.append((row["pattern"], row["netclass"]))
    for net, given in (settings.get("netclass_assignments") or {}).items():
        named = given if isinstance(given, list) else [given]
        found += [(str(net), item) for item in named if isinstance(item, str)]
    return found


def classes_of(
    project: bytes | None, names: list[str], fab: FabClass
) -> tuple[tuple[Net, ...], tuple[NetClass, ...], tuple[Finding, ...]]:
    """Return the nets with their classes as the project file gives them.

    Without a project file every net is of one class with the fab's least width and spacing; one that
    cannot be read is a note, and the same.
    """
    least = NetClass("signal", fab.track_min, fab.gap_min)
    if project is None:
        return tuple(Net(name) for name in names), (least,), ()
    try:
        settings = json.loads(project)["net_settings"]
        rows = settings["classes"]
        if not isinstance(rows, list) or len(rows) > _MOST_CLASSES:
            raise ValueError("no list of classes")
        classes: dict[str, NetClass] = {}
        for row in rows:
            name = str(row["name"])[:100]
            own = "signal" if name == "Default" else name
            width, spacing = _length(row.get("track_width")), _length(row.get("clearance"))
            classes[own] = NetClass(own, width or least.width, spacing or least.spacing)
        patterns = _patterns(settings)[: 10 * _MOST_CLASSES]
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        words_ = (
            f"the project file beside the board is not read ({type(error).__name__}); its net classes are "
        )
        message = words_ + "taken as the fab class's least"
        return (
            tuple(Net(name) for name in names),
            (least,),
            (Finding("cad-unread", Severity.NOTE, message),),
        )
    classes.setdefault("signal", least)
    exact = dict(patterns)
    wild = [(p, own) for p, own in patterns if any(c in p for c in "*?[")][:100]
    nets = []
    for name in names:
        raws = (name, f"/{name}", name.replace("/", "{slash}"))
        chosen = next((exact[raw] for raw in raws if raw in exact), None)
        chosen = chosen or next(
            (own for p, own in wild if any(fnmatch.fnmatchcase(r, p) for r in raws)), None
        )
        own = chosen if chosen in classes else "signal"
        kind = NetKind(own) if own in {str(k) for k in NetKind} else NetKind.SIGNAL
        nets.append(Net(name, kind, own))
    return tuple(nets), tuple(classes.values()), ()

"""What was not measured and would settle something."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from boardgen.bench.grids import Grid
from boardgen.bench.keys import Keys
from boardgen.bench.model import Sheet, contradiction, measure_next, natural
from boardgen.bench.sides import Island
from boardgen.bench.words import Words
from boardgen.catalog.model import Connector
from boardgen.errors import Finding

SHOWN = 12


def listed(words: Iterable[str], most: int = SHOWN) -> str:
    """Return *words* in a row, the first few where there are many."""
    every = list(words)
    more = f" and {len(every) - most} more" if len(every) > most else ""
    return ", ".join(every[:most]) + more


def next_steps(
    sheet: Sheet, connector: Connector, keys: Keys, grids: Sequence[Grid], words: Words
) -> list[Finding]:
    """Return what to measure next: keys that close nothing, contacts that nobody touched."""
    findings: list[Finding] = []
    empty = [
        (row, column)
        for grid in grids
        for row in grid.rows
        for column in grid.columns
        if (row, column) not in grid.names
    ]
    for key in keys.dead:
        findings += _dead(key, keys, empty)
    if empty and not keys.dead:
        shown = listed(f"{row}-{column}" for row, column in empty)
        count = f"{len(empty)} crossing{' has' if len(empty) == 1 else 's have'}"
        findings.append(measure_next(f"{count} no key ({shown}): is there a key that was not measured?"))
    measured = {end for pair in sheet.pairs for end in pair.pair}
    silent = [
        number for number in connector.numbers() if number not in measured and number not in words.lines
    ]
    if silent:
        findings.append(
            measure_next(
                f"nobody touched contact{'s' if silent[1:] else ''} {listed(silent, 40)}: is there a wire?"
            )
        )
    return findings


def half_measured(parts: Sequence[Island]) -> list[Finding]:
    """Say where the keys fall into groups: a matrix looks like that before it is measured in full."""
    if len(parts) < 2:
        return []
    groups = " / ".join(listed(sorted((*part.left, *part.right), key=natural)) for part in parts[:SHOWN])
    return [
        measure_next(
            f"the keys fall into {len(parts)} groups that no key joins (contacts {groups}): if it is one "
            "matrix, keys are missing; measure the others"
        )
    ]


def _dead(key: str, keys: Keys, empty: Sequence[tuple[str, str]]) -> list[Finding]:
    tested = keys.tested[key]
    half = sorted(
        {(b, a) for a, b in tested if (b, a) not in tested}, key=lambda p: (natural(p[0]), natural(p[1]))
    )
    tried = listed(f"+{a} -{b}" for a, b in half)
    if half:
        return [measure_next(f"key {key!r} closes nothing that was tested: exchange the leads ({tried})")]
    fresh = [(r, c) for r, c in empty if (r, c) not in tested and (c, r) not in tested]
    where = (
        f"try the crossings without a key, both polarities: {listed(f'{r}-{c}' for r, c in fresh)}"
        if fresh
        else "try it against every other contact, both polarities; if nothing closes, the key is broken"
    )
    return [measure_next(f"key {key!r} closes nothing that was tested: {where}")]


def unused_contacts(sheet: Sheet, words: Words) -> Mapping[str, tuple[bool, str]]:
    """Return, for contacts that nothing was found on, how sure that is and a note."""
    measured = {end for pair in sheet.pairs for end in pair.pair}
    found: dict[str, tuple[bool, str]] = {}
    for contact in words.lines:
        if words.no_wire(contact):
            found[contact] = (True, "no wire")
        elif words.said([contact]) == "unused":
            found[contact] = (True, "")
        else:
            found[contact] = (False, "nothing found on it" if contact in measured else "wire not measured")
    for contact in measured - set(found):
        found[contact] = (False, "nothing found on it")
    return found


def idle_wires(sheet: Sheet, words: Words, unused: Iterable[str]) -> list[Finding]:
    """Return what is to be done about wires on which nothing was found, and clashes with 'no wire'."""
    findings: list[Finding] = []
    measured = {end: pair for pair in reversed(sheet.pairs) for end in pair.pair}
    wired = [c for c in unused if words.wire(c) and words.said([c]) != "unused"]
    if wired:
        shown = listed(f"{c} ({words.wire(c)})" for c in sorted(wired, key=natural))
        findings.append(
            measure_next(
                f"nothing was found on the wires at {shown}: test each against the others, with each key held"
            )
        )
    for contact in sorted(words.lines, key=natural):
        said = "have no wire" if words.no_wire(contact) else "be unused"
        free = words.no_wire(contact) or words.said([contact]) == "unused"
        if contact in measured and free and contact not in unused:
            message = f"contact {contact} is written to {said}, but readings lead to it"
            findings.append(contradiction(message, words.lines[contact], measured[contact]))
    return findings

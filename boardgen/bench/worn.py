"""Closed keys that read too high: worn contacts, or a resistor in their line."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from boardgen.bench.keys import Closure
from boardgen.bench.model import WORN_OHMS, measure_next, natural, ohms_text, warning
from boardgen.errors import Finding


def worn_findings(closures: Sequence[Closure], lines_of: Mapping[str, str]) -> list[Finding]:
    """Return warnings for closed keys over WORN_OHMS; *lines_of* names each matrix line and contact.

    Keys of one line that all read alike point to a resistor in the line.
    """
    high = [c for c in closures if c.ohms is not None and c.ohms > WORN_OHMS]
    found: list[Finding] = []
    named: set[Closure] = set()
    nodes = sorted({n for c in high for n in c.pair}, key=natural)
    for node in nodes:
        here = [c for c in closures if node in c.pair and c.ohms is not None]
        values = [c.ohms for c in here if c.ohms is not None]
        if len(here) > 1 and min(values) > WORN_OHMS and max(values) <= 1.2 * min(values):
            fresh = [c for c in here if c not in named]
            if not fresh:
                continue
            named |= set(here)
            what = lines_of.get(node, f"contact {node}")
            message = (
                f"all {len(here)} keys on {what} read about {ohms_text(sum(values) / len(values))}: a series "
                "resistor in that line rather than worn contacts"
            )
            found.append(warning("series-resistor", message, *(c.lines[0] for c in here)))
            found.append(
                measure_next(
                    f"open the device and measure along {what}: a resistor reads the same each time, "
                    "a worn contact falls when pressed harder"
                )
            )
    for c in high:
        if c not in named and c.ohms is not None:
            message = (
                f"key {c.key!r} reads {ohms_text(c.ohms)}, more than {ohms_text(WORN_OHMS)}: a worn contact, "
                "or a resistor in series"
            )
            found.append(warning("worn-contact", message, *c.lines))
            found.append(
                measure_next(
                    f"press {c.key!r} harder, ten times, and measure {c.a}-{c.b}: a worn contact wanders, "
                    "a series resistor stays"
                )
            )
    return found

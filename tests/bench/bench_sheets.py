"""Small files of readings, and what is made of them."""

from __future__ import annotations

from boardgen.bench.csvform import parse_sheet
from boardgen.bench.gather import gather
from boardgen.bench.infer import infer
from boardgen.bench.model import Inference, Stated
from boardgen.catalog.load import load_catalog
from boardgen.errors import Finding

CATALOG = load_catalog()
HEAD = "view, mating-face\nhalf, plug\nnumbers, printed\n"
WIRES = "contact, wire, signal\n"
IDLE = "plus, minus, reading, at\n"
KEYS = "key, plus, minus, reading\n"

# rows 1 to 3, columns 6 to 8; line 5 is the first reading
MATRIX = [f"K{r}{c}, {r}, {c}, 2.0" for r in (1, 2, 3) for c in (6, 7, 8)]
DIODES = [
    line
    for r in (1, 2, 3)
    for c in (6, 7, 8)
    for line in (f"K{r}{c}, {r}, {c}, 0.6 V", f"K{r}{c}, {c}, {r}, open")
]


def tell(*tables: str, connector: str = "dsub-9-socket-right-angle", head: str = HEAD) -> Inference:
    """Return what the *tables* under *head* tell of the device."""
    entry = CATALOG.connector(connector)
    return infer(gather([parse_sheet((head + "".join(tables)).encode(), "n.csv")], Stated(), entry), entry)


def table(columns: str, *lines: str) -> str:
    """Return a table of readings."""
    return columns + "".join(f"{line}\n" for line in lines)


def lines_of(finding: Finding) -> list[int]:
    """Return the line numbers that *finding* names, in its order."""
    return [int(item.split(":")[1]) for item in finding.items]


def of_rule(found: Inference, rule: str) -> list[Finding]:
    return [finding for finding in found.findings if finding.rule == rule]


def messages(found: Inference, rule: str) -> list[str]:
    return [finding.message for finding in of_rule(found, rule)]

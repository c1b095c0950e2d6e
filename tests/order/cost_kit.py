"""Small runs and price tables for the tests of cost."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

from boardgen.catalog.tomlfile import parse_toml
from boardgen.export.bom import BOM_COLUMNS
from boardgen.order.cost_model import PartNeed, RunFacts
from boardgen.order.prices import prices_from
from boardgen.order.prices_model import Prices

FACTS = RunFacts(
    design="desk",
    revision="A",
    fab="economy-2l",
    width_mm=Decimal(100),
    height_mm=Decimal(50),
    grams_per_dm2=Decimal(36),
    options=(("layers", "2"), ("finish", "ENIG")),
    parts=(),
)
RESISTOR = PartNeed("R1 R2 R3", 3, "10k", "axial", "R-10K")
HEAD = 'kind = "prices"\nname = "a table"\ncurrency = "EUR"\n'


def table(text: str) -> Prices:
    """Return the price table with *text* after its head."""
    return prices_from(parse_toml((HEAD + text).encode(), "p.toml"))


def shop(way: str, more: str = "") -> str:
    """Return a board list of one size up to 100 x 100 mm, sold in one *way*."""
    return f'[[boards]]\nname = "a shop"\nsizes = [{{up_to_mm = [100, 100], {way}}}]\n{more}'


def with_parts(*needs: PartNeed) -> RunFacts:
    """Return the small run with these parts."""
    return replace(FACTS, parts=needs)


def write_run(folder: Path, rows: tuple[tuple[str, ...], ...], fab: str = "economy-2l") -> Path:
    """Write the least folder that cost takes for a run: its record and its parts list."""
    run = folder / "desk-A"
    (run / "assembly").mkdir(parents=True)
    bom = "\n".join(",".join(row) for row in (BOM_COLUMNS, *rows)) + "\n"
    (run / "assembly" / "bom.csv").write_text(bom, "utf-8")
    record = {
        "design": "desk",
        "revision": "A",
        "fab": fab,
        "module": "pico-2",
        "connector": "dsub-25-socket-right-angle",
        "board": {"width_mm": 100.0, "height_mm": 50.0, "copper_layers": 2, "thickness_mm": 1.6},
        "findings": [],
        "files": [
            {
                "path": "assembly/bom.csv",
                "bytes": len(bom.encode()),
                "sha256": hashlib.sha256(bom.encode()).hexdigest(),
            }
        ],
    }
    (run / "summary.json").write_text(json.dumps(record), "utf-8")
    return run

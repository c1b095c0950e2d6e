"""The clean boards that faults are planted on: the demos, and boards drawn over the whole catalogue."""

from __future__ import annotations

import pickle
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import count, islice
from pathlib import Path

from boardgen.board.model import Board
from boardgen.catalog.load import Catalog, load_catalog
from boardgen.catalog.model import FabClass
from boardgen.circuit.model import Netlist
from boardgen.design.load import load_design
from boardgen.errors import BoardgenError
from boardgen.export.bundle import Bundle
from boardgen.pipeline import build, choose_module
from tests.benchmarks.draw import bind_drawn, draw_design

ROOT = Path(__file__).parents[2]
DEMOS = ("lecture-keypad", "pointer-handset", "slide-remote", "dome-fader", "chart-ball")
MOST_CONTACTS = 15  # small boards: as many faults a second as can be


@dataclass(frozen=True)
class Ground:
    """A board with what it is checked against."""

    name: str
    board: Board
    netlist: Netlist | None
    fab: FabClass


def ground_of(name: str, bundle: Bundle) -> Ground:
    return Ground(name, bundle.board, bundle.netlist, bundle.bound.fab)


def bare(ground: Ground) -> Ground:
    """The board without its poured net and its printing: room to plant in."""
    board = ground.board
    poured = {pour.net for pour in board.pours}
    parts = tuple(
        replace(p, nets=tuple((n, net) for n, net in p.nets if net not in poured)) for p in board.parts
    )
    stripped = replace(
        board,
        parts=parts,
        tracks=tuple(t for t in board.tracks if t.net not in poured),
        vias=tuple(v for v in board.vias if v.net not in poured),
        pours=(),
        legend=(),
        references=(),
    )
    netlist = ground.netlist
    if netlist is not None:
        wanted = tuple(
            replace(p, pins=tuple(replace(q, net=None) if q.net in poured else q for q in p.pins))
            for p in netlist.parts
        )
        netlist = replace(netlist, parts=wanted)
    return replace(ground, board=stripped, netlist=netlist)


def drawn_bundle(catalog: Catalog, seed: int) -> Bundle | None:
    """Build the board drawn from *seed*; None where it makes no sense, does not fit or is left open."""
    try:
        built = build(bind_drawn(draw_design(catalog, seed), catalog), catalog)
    except BoardgenError:
        return None
    return built.bundle if built.complete else None


def _small(catalog: Catalog) -> Iterator[Bundle]:
    for seed in count(1):
        connector = catalog.connectors[draw_design(catalog, seed).name.split()[1]]
        if len(connector.contacts) <= MOST_CONTACTS:
            made = drawn_bundle(catalog, seed)
            if made is not None:
                yield made


def _bundles(demos: int, drawn: int) -> list[Bundle]:
    catalog = load_catalog()
    made = [
        build(choose_module(load_design(ROOT / "designs" / name), catalog), catalog).bundle
        for name in DEMOS[:demos]
    ]
    return [*made, *islice(_small(catalog), drawn)]


def bundles(demos: int = len(DEMOS), drawn: int = 45, kept: Path | None = None) -> list[Bundle]:
    """Return *demos* of the demos and *drawn* small drawn boards, always the same for the same code.

    They are read from the file *kept*, or written there for the next time.
    """
    if kept is not None and kept.exists():
        found: list[Bundle] = pickle.loads(kept.read_bytes())
        return found
    made = _bundles(demos, drawn)
    if kept is not None:
        kept.write_bytes(pickle.dumps(made))
    return made

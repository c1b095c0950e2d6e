"""Counted places against orders typed by hand from the trade's drawings (wide side or key up, latch down)."""

from __future__ import annotations

import pytest

from boardgen.bench.model import Half, View
from boardgen.bench.views import as_seen, by_conductor
from boardgen.catalog.load import load_catalog
from boardgen.errors import InputError

CATALOG = load_catalog()
FACE, SOLDER = View.MATING_FACE, View.SOLDER_SIDE
PLUG, SOCKET = Half.PLUG, Half.SOCKET


@pytest.mark.parametrize(
    ("connector", "view", "half", "order"),
    [
        # plug: contact 1 at the top left of its mating face, socket at the top right
        ("dsub-9-socket-right-angle", FACE, PLUG, "1 2 3 4 5 6 7 8 9"),
        ("dsub-9-socket-right-angle", SOLDER, PLUG, "5 4 3 2 1 9 8 7 6"),
        ("dsub-9-socket-right-angle", FACE, SOCKET, "5 4 3 2 1 9 8 7 6"),
        ("dsub-9-socket-right-angle", SOLDER, SOCKET, "1 2 3 4 5 6 7 8 9"),
        # the board's part being the plug changes nothing about the halves
        ("dsub-9-plug-right-angle", FACE, PLUG, "1 2 3 4 5 6 7 8 9"),
        ("dsub-9-plug-right-angle", FACE, SOCKET, "5 4 3 2 1 9 8 7 6"),
        ("dsub-hd15-socket-right-angle", FACE, PLUG, "1 2 3 4 5 6 7 8 9 10 11 12 13 14 15"),
        ("dsub-hd15-socket-right-angle", SOLDER, PLUG, "5 4 3 2 1 10 9 8 7 6 15 14 13 12 11"),
        # socket, key up, along the circle from left to right: 3 5 2 4 1
        ("din-5-180-socket-right-angle", FACE, SOCKET, "3 1 5 4 2"),
        ("din-5-180-socket-right-angle", FACE, PLUG, "1 3 4 5 2"),
        # jack, latch down: 1 at the left; plug from its front: 8 at the left
        ("modular-8p8c-jack-right-angle", FACE, SOCKET, "1 2 3 4 5 6 7 8"),
        ("modular-8p8c-jack-right-angle", FACE, PLUG, "8 7 6 5 4 3 2 1"),
    ],
)
def test_order_of_places(connector: str, view: View, half: Half, order: str) -> None:
    assert " ".join(as_seen(CATALOG.connector(connector), view, half)) == order


def test_solder_side_looks_like_the_mates_face() -> None:
    for connector in CATALOG.connectors.values():
        if connector.gender != "neutral":
            for half, mate in ((PLUG, SOCKET), (SOCKET, PLUG)):
                seen = as_seen(connector, SOLDER, half)
                assert seen == as_seen(connector, FACE, mate)
                assert sorted(seen) == sorted(connector.numbers())


def test_a_part_without_halves_has_no_places() -> None:
    with pytest.raises(InputError) as caught:
        as_seen(CATALOG.connector("screw-terminal-3"), FACE, PLUG)
    assert str(caught.value) == (
        "numbers: screw-terminal-3 has no plug and socket half, so a place cannot be turned into a contact; "
        "allowed: printed"
    )


@pytest.mark.parametrize(
    ("connector", "order"),
    [
        ("dsub-9-socket-right-angle", "1 6 2 7 3 8 4 9 5"),
        ("dsub-15-plug-right-angle", "1 9 2 10 3 11 4 12 5 13 6 14 7 15 8"),
        ("box-header-2x5", "1 2 3 4 5 6 7 8 9 10"),
    ],
)
def test_conductors_of_a_flat_cable(connector: str, order: str) -> None:
    assert " ".join(by_conductor(CATALOG.connector(connector))) == order


@pytest.mark.parametrize("connector", ["dsub-hd15-socket-right-angle", "din-5-180-socket-right-angle"])
def test_no_flat_cable_fits(connector: str) -> None:
    with pytest.raises(InputError, match="no two rows of contacts"):
        by_conductor(CATALOG.connector(connector))

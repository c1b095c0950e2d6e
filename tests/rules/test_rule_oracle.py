"""Spacing against every pair measured on fine polygons, on random boards."""

from __future__ import annotations

import random
from itertools import combinations

from boardkit import FAB, board, footprint, one_pad, outline, part, smd_pad, track, via
from hypothesis import given, settings
from hypothesis import strategies as st

from boardgen.board.geometry import copper_items
from boardgen.board.model import Board, Side
from boardgen.rules.check import check_board


def random_board(seed: int) -> Board:
    rng = random.Random(seed)

    def place() -> float:
        return rng.randrange(100, 1900) / 100

    print_ = footprint("S", smd_pad("1", "-0.8", 0, rotation=rng.choice((0, 30, 45))), smd_pad("2", "0.8", 0))
    parts = [one_pad(f"J{i}", place(), place(), rng.choice(("A", "B", None))) for i in range(6)]
    parts += [
        part(
            f"R{i}",
            print_,
            place(),
            place(),
            rng.choice((0, 90, 180)),
            rng.choice(tuple(Side)),
            p1="A",
            p2="C",
        )
        for i in range(4)
    ]
    tracks = tuple(
        track(rng.choice("ABC"), place(), place(), place(), place(), rng.choice(tuple(Side)))
        for _ in range(6)
    )
    vias = tuple(via(rng.choice("AB"), place(), place()) for _ in range(3))
    return board(*parts, shape=outline(20, 20), tracks=tracks, vias=vias)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10**6))
def test_spacing_and_shorts_are_those_of_all_pairs(seed):
    made = random_board(seed)
    expected = []
    slack = 500  # nm; chords of the oracle's circles
    unsure = 0
    for a, b in combinations(list(copper_items(made)), 2):
        if a.side is not b.side or (a.source is b.source and a.ref == b.ref):
            continue
        if a.net is not None and a.net == b.net:
            continue
        gap = a.shape.skeleton.buffer(a.shape.radius, quad_segs=90).distance(
            b.shape.skeleton.buffer(b.shape.radius, quad_segs=90)
        )
        if abs(gap - FAB.gap_min) < slack:
            unsure += 1
        elif gap < FAB.gap_min:
            expected.append((a.side.value, *sorted((a.name, b.name))))
    report = check_board(made, None, FAB)
    found = [(f.layer.split()[0], *sorted(f.items)) for f in (*report.of("short"), *report.of("spacing"))]
    if unsure == 0:
        assert sorted(found) == sorted(expected)
    else:
        assert abs(len(found) - len(expected)) <= unsure

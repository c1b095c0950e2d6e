"""The least tree over a few points against what geometry knows."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boardgen.layout.route.bounds import (
    STEINER,
    fermat_length,
    octile,
    octilinear_bound,
    spanning_length,
    steiner_bound,
)
from boardgen.layout.route.steiner import least_tree, least_tree_of_many
from boardgen.units import Nm, Point

PLACES = st.builds(lambda x, y: Point(Nm(x), Nm(y)), st.integers(0, 80_000_000), st.integers(0, 80_000_000))


@pytest.mark.parametrize(
    ("points", "least"),
    [
        (((0, 0), (1, 0), (1, 1), (0, 1)), 1 + math.sqrt(3)),
        (((0, 0), (3, 0), (3, 1), (0, 1)), 3 + math.sqrt(3)),
        (((0, 0), (1, 0), (2, 0), (5, 0)), 5.0),
        (((0, 0), (1, 0), (2, 0), (4, 0), (8, 0)), 8.0),
        # a regular hexagon: five of its sides
        (tuple((math.cos(k * math.pi / 3), math.sin(k * math.pi / 3)) for k in range(6)), 5.0),
    ],
)
def test_known_least_trees(points, least):
    assert least * 0.998 <= least_tree(points) <= least * (1 + 1e-9)


@settings(max_examples=100, deadline=None)
@given(st.lists(PLACES, min_size=3, max_size=3, unique=True))
def test_three_points_against_torricelli(points):
    exact = fermat_length(*points)
    assert exact * 0.998 <= least_tree(tuple((p.x, p.y) for p in points)) <= exact * (1 + 1e-9)


@settings(max_examples=50, deadline=None)
@given(
    st.lists(PLACES, min_size=4, max_size=9),
    st.lists(PLACES, min_size=0, max_size=2),
)
def test_no_tree_is_shorter_than_the_bound(points, extra):
    bound = steiner_bound(tuple(points))
    tree = spanning_length(tuple(points))
    assert STEINER * tree * (1 - 1e-9) <= bound <= tree * (1 + 1e-9) + 1
    # a spanning tree through any further points joins the points too
    assert bound <= spanning_length((*points, *extra)) * (1 + 1e-9) + 1


def test_repeated_points_cost_nothing():
    here, there = Point(Nm(0), Nm(0)), Point(Nm(3_000_000), Nm(4_000_000))
    assert steiner_bound((here, here, there, there)) == pytest.approx(5e6, rel=2e-3)
    assert least_tree(((1.0, 1.0),) * 4) == 0.0
    with pytest.raises(ValueError, match="3 to 6"):
        least_tree(((0.0, 0.0), (1.0, 0.0)))


@settings(max_examples=40, deadline=None)
@given(st.lists(PLACES, min_size=4, max_size=6, unique=True))
def test_the_search_finds_what_looking_at_every_shape_finds(points):
    spots = tuple((float(p.x), float(p.y)) for p in points)
    tree = spanning_length(tuple(points))
    every = min(least_tree(spots), tree)
    assert least_tree_of_many(spots, tree) == pytest.approx(every, rel=6e-3)


@pytest.mark.parametrize("columns", [4, 5])
def test_known_least_trees_of_many_points(columns):
    # points two by two a unit square apart: Chung & Graham 1978 give the least trees of ladders
    spots = tuple((float(x), float(y)) for x in range(columns) for y in range(2))
    even = columns * (1 + math.sqrt(3) / 2) - 1
    odd = math.sqrt((columns * (1 + math.sqrt(3) / 2) - 1) ** 2 + 0.25)
    least = even if columns % 2 == 0 else odd
    tree = 2.0 * (columns - 1) + 1.0
    found = least_tree_of_many(spots, tree)
    assert 0.8 * least <= found <= least * (1 + 1e-9)


@settings(max_examples=200, deadline=None)
@given(st.lists(PLACES, min_size=2, max_size=5, unique=True), st.lists(PLACES, max_size=2))
def test_no_tree_of_45_degree_tracks_is_shorter_than_its_bound(points, joints):
    least = octilinear_bound(tuple(points))
    assert least >= steiner_bound(tuple(points)) * (1 - 1e-9)
    assert least <= spanning_length((*points, *joints), octilinear=True) * (1 + 1e-9)


def test_the_45_degree_bound_of_two_and_of_three_in_a_row_is_reached():
    a, b, c = (Point(Nm(x), Nm(y)) for x, y in ((0, 0), (20_000_000, 7_000_000), (33_000_000, 20_000_000)))
    assert octilinear_bound((a, b)) == octile(a, b)
    assert octilinear_bound((a, b, c)) == pytest.approx(octile(a, b) + octile(b, c))

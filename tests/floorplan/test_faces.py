"""Contacts with copper on one side: whose wires meet, and which rails they cross."""

import numpy as np

from boardgen.catalog.load import load_catalog
from boardgen.circuit.assign_improve import crossing_table
from boardgen.floorplan.wires import crossings, pad_faces, rail_hits, rail_wires, share

STARTS = np.array([[0.0, 0.0], [1.0, 0.0], [2.0, 0.0]])
ENDS = np.array([[2.0, 5.0], [1.0, 5.0], [0.0, 5.0]])  # each wire crosses each other


def test_wires_on_different_sides_do_not_meet() -> None:
    assert crossings(STARTS, ENDS) == 3
    assert crossings(STARTS, ENDS, np.array([1, 2, 1])) == 1
    assert crossings(STARTS, ENDS, np.array([1, 2, 3])) == 2
    assert crossings(STARTS, ENDS, np.array([3, 3, 3])) == 3


def test_sides_are_shared_where_a_bit_is() -> None:
    assert share(np.array([1, 2, 3]), np.array([1, 2])).tolist() == [
        [True, False],
        [False, True],
        [True, True],
    ]


def test_a_straddling_plug_has_its_rows_on_two_sides() -> None:
    catalog = load_catalog()
    rows = catalog.footprint(catalog.connector("dsub-9-plug-straddle").footprint)
    faces = pad_faces(rows, [str(n) for n in range(1, 10)]).tolist()
    assert len(set(faces[:5])) == len(set(faces[5:])) == 1
    assert {faces[0], faces[5]} == {1, 2}
    straight = catalog.footprint(catalog.connector("dsub-9-plug-straight").footprint)
    assert set(pad_faces(straight, [str(n) for n in range(1, 10)]).tolist()) == {3}


def test_rail_hits_agree_with_the_crossing_table() -> None:
    rng = np.random.default_rng(3)
    for _ in range(20):
        starts, ends, rails, rail_ends = (rng.uniform(0, 40, (5, 2)) for _ in range(4))
        both = np.full(5, 3)
        hits = rail_hits(starts, ends, both, rails, rail_ends, both)
        for one in range(5):
            start = np.vstack([starts, rails[one]])
            table = crossing_table(start, np.vstack([ends, rail_ends[one]]), [0, 1, 2, 3, 4, 5], [5])
            alone = rail_hits(starts, ends, both, rails[one : one + 1], rail_ends[one : one + 1], both[:1])
            assert (alone == table[:5, :5, 0]).all()
        assert (rail_hits(starts, ends, np.full(5, 1), rails, rail_ends, np.full(5, 2)) == 0).all()
        assert hits.min() >= 0


def test_a_rail_runs_to_the_nearest_pad_of_its_net() -> None:
    placed = [(np.array([[0.0, 9.0], [8.0, 9.0]]), np.array([[7.0, 0.0], [1.0, 0.0]]))]
    starts, ends, faces = rail_wires(placed, (np.array([1, 2]),))
    assert starts.tolist() == [[7.0, 0.0], [1.0, 0.0]]
    assert ends.tolist() == [[8.0, 9.0], [0.0, 9.0]]
    assert faces.tolist() == [1, 2]

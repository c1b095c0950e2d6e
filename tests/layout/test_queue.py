"""The queue of the searches against a sorted list."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from boardgen.layout.route import queuekernels as q


def _empty(least=0, room=64):
    heads, pool, at = np.empty(q.BUCKETS, np.int32), np.empty((room, 2), np.int32), np.zeros(4, np.int64)
    q.start(heads, at, least)
    return heads, pool, at


@given(st.lists(st.one_of(st.none(), st.integers(0, 60_000)), max_size=60), st.integers(0, 1 << 30))
def test_nodes_come_out_by_bucket_and_the_last_put_in_first(moves, least):
    """Keys never fall below the one taken last, as in a search; None takes a node."""
    queue = _empty(least)
    held: list[tuple[int, int, int]] = []
    now = least
    for turn, move in enumerate(moves):
        if move is not None:
            key = now + move
            q.put(*queue, key, turn)
            held.append((key >> q.SHIFT, -turn, key))
        elif held:
            best = min(held)
            held.remove(best)
            assert q.take(*queue) == -best[1]
            now = max(now, best[2])
        assert queue[2][q.COUNT] == len(held)


def test_a_key_below_the_cursor_comes_next_and_one_beyond_the_ring_last():
    queue = _empty(400)
    far = (q.BUCKETS << q.SHIFT) * 3
    for key, node in ((far, 1), (500, 2), (400, 3)):
        q.put(*queue, key, node)
    assert q.take(*queue) == 3
    assert q.take(*queue) == 2
    q.put(*queue, 0, 4)
    assert q.take(*queue) == 4
    assert q.take(*queue) == 1


def test_a_full_pool_takes_no_more_and_room_is_used_again():
    queue = _empty(0, room=2)
    for node in (1, 2, 3):
        q.put(*queue, 8 * node, node)
    assert [q.take(*queue), q.take(*queue), int(queue[2][q.COUNT])] == [1, 2, 0]
    q.put(*queue, 100, 5)
    assert q.take(*queue) == 5

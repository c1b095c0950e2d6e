"""Compiled: a queue of nodes by the least cost their way can have, in buckets.

Keys only grow while a search runs, by less than the buckets reach, so a ring of them
does; within a bucket the node put in last comes first, which is the one nearest a goal.
"""

from __future__ import annotations

from typing import Any

from boardgen.compiled import kernel

Array = Any

SHIFT = 2  # a bucket holds keys that differ by less than 4, of 100 for a grid step
BUCKETS = 1 << 14
CURSOR, COUNT, FREE, FRESH = range(4)  # what a queue's book of four numbers holds


@kernel
def start(heads: Array, at: Array, key: int) -> None:
    """Empty the queue; *key* is the least that will be put in."""
    heads[:] = -1
    at[CURSOR] = key >> SHIFT
    at[COUNT] = 0
    at[FREE] = -1
    at[FRESH] = 0


@kernel
def put(heads: Array, pool: Array, at: Array, key: int, node: int) -> None:
    """Put *node* in at *key*; where the pool is full it is left out."""
    i = at[FREE]
    if i >= 0:
        at[FREE] = pool[i, 1]
    else:
        i = at[FRESH]
        if i >= pool.shape[0]:
            return
        at[FRESH] = i + 1
    b = min(max(key >> SHIFT, at[CURSOR]), at[CURSOR] + BUCKETS - 1) & (BUCKETS - 1)
    pool[i, 0] = node
    pool[i, 1] = heads[b]
    heads[b] = i
    at[COUNT] += 1


@kernel
def take(heads: Array, pool: Array, at: Array) -> int:
    """Take a node of the least key out of a queue that is not empty."""
    cursor = at[CURSOR]
    while heads[cursor & (BUCKETS - 1)] < 0:
        cursor += 1
    at[CURSOR] = cursor
    b = cursor & (BUCKETS - 1)
    i = heads[b]
    heads[b] = pool[i, 1]
    pool[i, 1] = at[FREE]
    at[FREE] = i
    at[COUNT] -= 1
    node: int = pool[i, 0]
    return node

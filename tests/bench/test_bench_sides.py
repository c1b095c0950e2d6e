"""Two sides and what keeps a graph from having them."""

from __future__ import annotations

import random

from bench_sheets import IDLE, KEYS, messages, table, tell
from hypothesis import given
from hypothesis import strategies as st


@given(
    st.integers(3, 6),
    st.integers(3, 6),
    st.lists(
        st.tuples(st.booleans(), st.integers(0, 5), st.integers(1, 5)), min_size=1, max_size=2, unique=True
    ),
    st.randoms(use_true_random=False),
)
def test_wrong_keys_in_a_full_matrix_are_the_ones_left_out(
    rows: int, columns: int, wrong: list[tuple[bool, int, int]], rnd: random.Random
) -> None:
    """Keys written down between two rows or two columns are named; every true key keeps its place."""
    lines = [f"K{r}-{c}, {r + 1}, {14 + c}, 2" for r in range(rows) for c in range(columns)]
    bad = []
    for n, (on_rows, at, step) in enumerate(wrong):
        count, first = (rows, 1) if on_rows else (columns, 14)
        a, b = at % count, (at + 1 + step % (count - 1)) % count
        bad.append(f"WRONG{n}")
        lines.append(f"WRONG{n}, {first + a}, {first + b}, 2")
    rnd.shuffle(lines)
    found = tell(table(KEYS, *lines), connector="dsub-25-socket-right-angle")
    [matrix] = found.matrices
    assert {key for _, _, key in matrix.keys} == {f"K{r}-{c}" for r in range(rows) for c in range(columns)}
    told = [message for message in messages(found, "contradiction") if message.startswith("no two sides")]
    assert len(told) == len(bad)
    for key in bad:
        assert any(f"{key!r} is left out of the matrix" in message for message in told)


def test_a_ring_of_equals_names_all_three() -> None:
    found = tell(table(KEYS, "A, 1, 2, 1", "B, 2, 3, 1", "C, 3, 1, 1"))
    assert len(found.contradictions) == 1
    assert (
        "measure 'B' (2-3) or 'A' (1-2) or 'C' (1-3) again: if that reading is wrong, the others fit"
        in messages(found, "measure-next")
    )


def test_a_ladder_of_resistors_is_no_row_of_lamps() -> None:
    pairs = [f"{a}, {b}, {100 * (b - a)}" for a in range(1, 6) for b in range(a + 1, 6)]
    found = tell(table(IDLE, *pairs))
    assert {str(c.kind) for c in found.contacts} == {"unused"}
    asked = [m for m in messages(found, "measure-next") if "hangs between" in m]
    assert [m.split(":")[0] for m in asked] == [
        f"100 ohm hangs between contacts {n} and {n + 1}" for n in range(1, 5)
    ]


def test_thousands_of_clashing_keys_end() -> None:
    rnd = random.Random(5)
    lines = [f"K{n}, {rnd.randint(1, 9)}, {rnd.randint(1, 9)}, 2" for n in range(2000)]
    found = tell(table(KEYS, *lines))
    named = " ".join(finding.message for finding in found.contradictions)
    assert found.contradictions
    assert "'K0'" in named

import math

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from boardgen.layout.place_kernel import cheapest_place

small = st.integers(-12, 40)


def boxes(count):
    corner = st.tuples(small, small, st.integers(0, 15), st.integers(0, 15))
    return st.lists(corner.map(lambda b: (b[0], b[1], b[0] + b[2], b[1] + b[3])), max_size=count)


@st.composite
def mates(draw, rows, columns):
    """The places of a capacitor beside the part, perhaps none."""
    away = st.tuples(st.integers(0, 1), st.integers(-4, 4), st.integers(-4, 4))
    at = draw(st.lists(away, max_size=6))
    cost = sorted(draw(st.lists(st.integers(0, 40), min_size=len(at), max_size=len(at))))
    cells = 2 * rows * columns
    barred = np.array(draw(st.lists(st.booleans(), min_size=cells, max_size=cells)))
    box = st.tuples(st.integers(-3, 0), st.integers(-3, 0), st.integers(1, 3), st.integers(1, 3))
    return {
        "mate_at": np.array(at, dtype=np.int64).reshape(-1, 3),
        "mate_cost": np.array(cost, dtype=float),
        "mate_none": float(cost[-1] if cost else 0) + draw(st.integers(0, 20)),
        "mate_barred": barred.reshape(2, rows, columns),
        "mate_boxes": np.array([draw(box), draw(box)], dtype=np.int64),
    }


@st.composite
def cases(draw):
    rows, columns = draw(st.integers(1, 7)), draw(st.integers(1, 7))
    barred = np.array(draw(st.lists(st.booleans(), min_size=rows * columns, max_size=rows * columns)))
    under = draw(st.lists(st.integers(0, 9), min_size=rows * columns, max_size=rows * columns))
    held = draw(boxes(3))
    pads = draw(st.lists(st.tuples(small, small), min_size=len(held), max_size=len(held)))
    return {
        "barred": barred.reshape(rows, columns),
        "under": np.array(under, dtype=float).reshape(rows, columns),
        "frame": np.array([draw(small), draw(small), draw(st.integers(1, 6))]),
        "box": np.array(
            draw(st.tuples(st.integers(-5, 0), st.integers(-5, 0), st.integers(1, 5), st.integers(1, 5)))
        ),
        "gap": draw(st.integers(0, 3)),
        "others": np.array(draw(boxes(4)), dtype=np.int64).reshape(-1, 4),
        "pads": np.array(pads, dtype=np.int64).reshape(-1, 2),
        "boxes": np.array(held, dtype=np.int64).reshape(-1, 4),
        "pull": np.array([draw(st.sampled_from([0.0, 0.5, 1.0])), draw(small), draw(small)], dtype=float),
        **draw(mates(rows, columns)),
    }


def free(case, box, row, column, barred):
    """Whether a box about a place is within the grid, not barred, and clear of the others."""
    rows, columns = barred.shape
    if not (0 <= row < rows and 0 <= column < columns) or barred[row, column]:
        return False
    x0, y0, step = (int(v) for v in case["frame"])
    x, y, gap = x0 + column * step, y0 + row * step, case["gap"]
    left, top, right, bottom = (int(v) + at for v, at in zip(box, (x, y, x, y), strict=True))
    return not any(
        left < o[2] + gap and right > o[0] - gap and top < o[3] + gap and bottom > o[1] - gap
        for o in case["others"].tolist()
    )


def mate_by_hand(case, row, column):
    """What the best place of the capacitor costs, all of them looked at."""
    found = [
        float(cost)
        for (turn, dx, dy), cost in zip(case["mate_at"].tolist(), case["mate_cost"], strict=True)
        if free(case, case["mate_boxes"][turn], row + dy, column + dx, case["mate_barred"][turn])
    ]
    if not len(case["mate_at"]):
        return 0.0
    return min(found, default=float(case["mate_none"]))


def by_hand(case):
    """The same answer by trying every place, one plain step after the other."""
    best = (math.inf, -1, -1)
    x0, y0, step = (int(v) for v in case["frame"])
    for row in range(case["barred"].shape[0]):
        for column in range(case["barred"].shape[1]):
            x, y = x0 + column * step, y0 + row * step
            if not free(case, case["box"], row, column, case["barred"]):
                continue
            cost = float(case["under"][row, column])
            for (dx, dy), (x1, y1, x2, y2) in zip(case["pads"].tolist(), case["boxes"].tolist(), strict=True):
                wide = max(x2, x + dx) - min(x1, x + dx)
                high = max(y2, y + dy) - min(y1, y + dy)
                cost += wide + high - (x2 - x1) - (y2 - y1)
            weight, px, py = case["pull"]
            cost += weight * (abs(x - px) + abs(y - py))
            cost += mate_by_hand(case, row, column)
            if cost < best[0]:
                best = (cost, row, column)
    return best


@settings(deadline=None)
@given(cases())
def test_the_kernel_finds_the_first_cheapest_place(case):
    row, column, cost = cheapest_place(*case.values(), math.inf)
    assert (cost, row, column) == by_hand(case)


@settings(deadline=None)
@given(cases())
def test_nothing_is_found_at_the_limit_itself(case):
    cost, row, _ = by_hand(case)
    assert cheapest_place(*case.values(), cost)[0] == -1
    if row >= 0:
        assert cheapest_place(*case.values(), cost + 0.25)[0] == row

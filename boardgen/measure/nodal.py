"""The nodal equations of a resistor network: sparse factorisation, dense elimination where it is small."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from boardgen.matching import connected
from boardgen.measure.triangles import Bools, Floats, Ints

SMALL = 200  # nodes up to which a dense table is the faster way


@dataclass(frozen=True, slots=True)
class Network:
    """*count* nodes; *first* and *second* ends of each conductance *siemens*; double ones add up."""

    count: int
    first: Ints
    second: Ints
    siemens: Floats


@dataclass(frozen=True, slots=True)
class Volts:
    """*field* (count,): volts below the reference, NaN where not joined to it. *own_ohms* per load node."""

    field: Floats
    own_ohms: Floats


def solve(network: Network, reference: int, loads: Ints, amps: Floats) -> Volts:
    """Return the volts lost at each node when *amps* leave at the nodes *loads* and come in at *reference*.

    Loads that are not joined to the reference draw nothing.
    """
    apart = network.first != network.second
    i, j, g = network.first[apart], network.second[apart], network.siemens[apart]
    answer = _dense if network.count <= SMALL else _sparse
    inside, field = answer(network.count, i, j, g, reference, loads, amps)
    own = np.where(inside[loads], field[loads, 1 + np.arange(len(loads))], np.nan)
    return Volts(np.where(inside, field[:, 0], np.nan), own)


def _right_side(count: int, keep: Bools, loads: Ints, amps: Floats) -> Floats:
    """Return one column with all loads, and one with 1 A at each; nodes that are not kept take nothing."""
    right = np.zeros((count, 1 + len(loads)))
    np.add.at(right[:, 0], loads, amps)
    right[loads, 1 + np.arange(len(loads))] = 1.0
    right[~keep] = 0.0
    return right


def _dense(
    count: int, i: Ints, j: Ints, g: Floats, reference: int, loads: Ints, amps: Floats
) -> tuple[Bools, Floats]:
    table = np.zeros((count, count))
    for rows, columns, sign in ((i, j, -1), (j, i, -1), (i, i, 1), (j, j, 1)):
        np.add.at(table, (rows, columns), sign * g)
    label = connected(count, i, j)
    inside = label == label[reference]
    keep = inside.copy()
    keep[reference] = False
    field = np.zeros((count, 1 + len(loads)))
    kept = np.ix_(keep, keep)
    field[keep] = np.linalg.solve(table[kept], _right_side(count, keep, loads, amps)[keep])
    return inside, field


def _sparse(
    count: int, i: Ints, j: Ints, g: Floats, reference: int, loads: Ints, amps: Floats
) -> tuple[Bools, Floats]:
    # Heavy to load, and only needed where a net carries current.
    from scipy.sparse import csc_matrix  # noqa: PLC0415
    from scipy.sparse.csgraph import connected_components  # noqa: PLC0415
    from scipy.sparse.linalg import splu  # noqa: PLC0415

    rows, columns = np.concatenate([i, j, i, j]), np.concatenate([j, i, i, j])
    table = csc_matrix((np.concatenate([-g, -g, g, g]), (rows, columns)), shape=(count, count))
    label = connected_components(table, directed=False)[1]
    inside = np.asarray(label == label[reference])
    keep = inside.copy()
    keep[reference] = False
    field = np.zeros((count, 1 + len(loads)))
    if keep.any():
        factor = splu(
            table[keep][:, keep].tocsc(),
            permc_spec="MMD_AT_PLUS_A",
            diag_pivot_thresh=0.0,
            options={"SymmetricMode": True},
        )
        field[keep] = factor.solve(_right_side(count, keep, loads, amps)[keep])
    return inside, field

"""The nodal equations of a resistor network, by sparse factorisation."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from boardgen.measure.triangles import Floats, Ints


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
    # Heavy to load, and only needed where a net carries current.
    from scipy.sparse import csc_matrix  # noqa: PLC0415
    from scipy.sparse.csgraph import connected_components  # noqa: PLC0415
    from scipy.sparse.linalg import splu  # noqa: PLC0415

    count = network.count
    apart = network.first != network.second
    i, j, g = network.first[apart], network.second[apart], network.siemens[apart]
    rows, columns = np.concatenate([i, j, i, j]), np.concatenate([j, i, i, j])
    table = csc_matrix((np.concatenate([-g, -g, g, g]), (rows, columns)), shape=(count, count))
    label = connected_components(table, directed=False)[1]
    inside = label == label[reference]
    joined = inside[loads]
    keep = inside.copy()
    keep[reference] = False
    number = np.cumsum(keep) - 1
    field = np.full(count, np.nan)
    field[reference] = 0.0
    own = np.where(joined, 0.0, np.nan)
    at = np.flatnonzero(joined & (loads != reference))
    if len(at):
        ends = number[loads[at]]
        right = np.zeros((int(keep.sum()), 1 + len(at)))
        np.add.at(right[:, 0], ends, amps[at])
        right[ends, 1 + np.arange(len(at))] = 1.0
        factor = splu(
            table[keep][:, keep].tocsc(),
            permc_spec="MMD_AT_PLUS_A",
            diag_pivot_thresh=0.0,
            options={"SymmetricMode": True},
        )
        found = factor.solve(right)
        field[keep] = found[:, 0]
        own[at] = found[ends, 1 + np.arange(len(at))]
    else:
        field[keep] = 0.0
    return Volts(field, own)

"""Capacitance per length of a flat strip on a board, in F/m, by closed formulas; arrays go through.

Widths, gaps and heights in any one unit. The strip is taken as thin; the
flanks of real copper are added as plates (:func:`flanks`).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

EPSILON_0 = 8.854e-12  # F/m
FR4 = 4.5  # relative permittivity of usual FR-4 laminate below some MHz; sheets run from 4.2 to 4.8
_LIGHT = 299_792_458.0  # m/s
_FREE = 376.73  # ohm


def _mean(a: Floats, b: Floats) -> Floats:
    """Return the arithmetic-geometric mean."""
    for _ in range(12):
        a, b = (a + b) / 2, np.sqrt(a * b)
    return a


def ratio(k: Floats | float) -> Floats:
    """Return K(k) / K(sqrt(1 - k^2)) of complete elliptic integrals of the first kind, 0 < k < 1."""
    k = np.asarray(k, dtype=float)
    one = np.ones_like(k)
    return np.asarray(_mean(one, k) / _mean(one, np.sqrt(1 - k * k)))


def microstrip(width: Floats, height: Floats | float, permittivity: float = FR4) -> Floats:
    """Return F/m of a strip over a plane with nothing beside it.

    Impedance and effective permittivity after Hammerstad and Jensen, "Accurate
    models for microstrip computer-aided design", IEEE MTT-S 1980, static, thin
    strip (0.2 %): C = sqrt(eff) / (c Z).
    """
    u = np.asarray(width, dtype=float) / height
    f = 6 + (2 * np.pi - 6) * np.exp(-((30.666 / u) ** 0.7528))
    air = _FREE / (2 * np.pi) * np.log(f / u + np.sqrt(1 + (2 / u) ** 2))
    a = 1 + np.log((u**4 + (u / 52) ** 2) / (u**4 + 0.432)) / 49 + np.log(1 + (u / 18.1) ** 3) / 18.7
    b = 0.564 * ((permittivity - 0.9) / (permittivity + 3)) ** 0.053
    effective = (permittivity + 1) / 2 + (permittivity - 1) / 2 * (1 + 10 / u) ** (-a * b)
    return np.asarray(effective / (_LIGHT * air))


def coplanar_over_plane(
    width: Floats, gap: Floats, height: Floats | float, permittivity: float = FR4
) -> Floats:
    """Return F/m of a strip with copper at *gap* on both sides and a plane below.

    Conformal map with the board's face as a magnetic wall (Ghione and Naldi,
    "Parameters of coplanar waveguides with lower ground plane", Electronics
    Letters 19, 1983; so in Wadell, "Transmission Line Design Handbook").
    """
    k = width / (width + 2 * gap)
    below = np.tanh(np.pi * width / (4 * height)) / np.tanh(np.pi * (width + 2 * gap) / (4 * height))
    return 2 * EPSILON_0 * (ratio(k) + permittivity * ratio(below))


def coplanar(width: Floats, gap: Floats, height: Floats | float, permittivity: float = FR4) -> Floats:
    """Return F/m of a strip with copper at *gap* on both sides and nothing on the board's other side.

    Conformal map of a finite board (Veyres and Fouad Hanna, "Extension of the
    application of conformal mapping techniques to coplanar lines with finite
    dimensions", Int. J. Electronics 48, 1980).
    """
    k = width / (width + 2 * gap)
    # sinh of both sides of a quotient, written so that wide strips do not overflow
    a, b = np.pi * width / (4 * height), np.pi * (width + 2 * gap) / (4 * height)
    below = np.exp(a - b) * (1 - np.exp(-2 * a)) / (1 - np.exp(-2 * b))
    return 2 * EPSILON_0 * (2 * ratio(k) + (permittivity - 1) * ratio(below))


def flanks(thickness: float, gap: Floats) -> Floats:
    """Return F/m of both flanks against copper of the same thickness at *gap*, as plates in air."""
    return np.asarray(2 * EPSILON_0 * thickness / gap)

"""The compiled kernels under one name; everything else imports them from here.

A kernel is cached by the state of its own file alone. After a change to one
that others call, remove the caches (``__pycache__``) so that callers are
compiled anew.
"""

from boardgen.layout.route.bargainkernels import negotiate
from boardgen.layout.route.linekernels import SLIP, breaches, gap2
from boardgen.layout.route.mapkernels import bar_distance2, fill_ring, stamp_bars
from boardgen.layout.route.searchkernels import STEP
from boardgen.layout.route.tautkernels import BEND, taut_way
from boardgen.layout.route.tautnear import crossed, is_clear
from boardgen.layout.route.tightkernels import tighten

__all__ = [
    "BEND",
    "SLIP",
    "STEP",
    "bar_distance2",
    "breaches",
    "crossed",
    "fill_ring",
    "gap2",
    "is_clear",
    "negotiate",
    "stamp_bars",
    "taut_way",
    "tighten",
]

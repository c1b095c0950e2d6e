"""How long a line needs after a strobe, and the scan that follows."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

from boardgen.electrical.matrix.model import (
    Levels,
    LineLoad,
    LineSettling,
    LowLevel,
    MatrixStudy,
    Timing,
    Wiring,
)

SAFETY = 2.0  # wait this many times as long as the sum says
READ_US = 1.0  # taking in the read lines and moving the strobe: a module reads a port in less


def rise_us(ohms: float, pf: float, threshold_v: float, supply_v: float) -> float:
    """Return how long a pull-up takes to lift a line from 0 V to *threshold_v*: -RC ln(1 - V / VDD).

    Raises ValueError for a threshold that the supply does not reach.
    """
    if not 0 <= threshold_v < supply_v:
        raise ValueError(f"{threshold_v:g} V is not reached from {supply_v:g} V")
    return -ohms * pf * 1e-6 * math.log(1 - threshold_v / supply_v)


def fall_us(ohms: float, pf: float, levels: Levels, low_v: float) -> float:
    """Return how long a closed key of *ohms* takes from the supply down to VIL, 0 where it never does."""
    if low_v >= levels.vil_v:
        return 0.0
    return ohms * pf * 1e-6 * math.log((levels.supply_v - low_v) / (levels.vil_v - low_v))


def settling(
    wiring: Wiring,
    loads: tuple[LineLoad, ...],
    levels: Levels,
    level: LowLevel,
    held: int,
    debounce_ms: int,
    measured: bool = False,
) -> Timing:
    """Return the timing of a scan of *wiring*, whose lines carry *loads*.

    A driven line that is let go is held by nothing: through a closed key the
    read line's pull-up has to charge it too. So a read line is reckoned with as
    many of its driven lines as keys may be held, the heaviest, all but the one
    that is strobed.
    """
    by_line = {load.line: load for load in loads}
    lines = tuple(
        _line(wiring, by_line, levels, level, held, place)
        for place in sorted({key.read for key in wiring.keys})
    )
    slowest = max((max(line.rise_us, line.fall_us) for line in lines), default=0.0)
    wait = max(1, math.ceil(SAFETY * slowest - 1e-9))
    period = max(1, len(wiring.driven)) * (wait + READ_US)
    return Timing(lines, wait, 1e6 / period, debounce_ms, held, measured)


def _line(
    wiring: Wiring, loads: Mapping[str, LineLoad], levels: Levels, level: LowLevel, held: int, place: int
) -> LineSettling:
    own = loads[wiring.read[place]]
    others = sorted(
        (loads[wiring.driven[k.driven]].total_pf for k in wiring.keys if k.read == place), reverse=True
    )
    joined = math.fsum(others[: min(held, len(others) - 1)])
    whole = own.total_pf + joined
    pull = levels.pull_most if own.pull_ohms is None else own.pull_ohms
    return LineSettling(
        own.line,
        pull,
        own.total_pf,
        joined,
        rise_us(pull, whole, levels.vih_v, levels.supply_v),
        fall_us(levels.contact_ohms, whole, levels, level.low_v),
    )


def with_board(study: MatrixStudy, board_pf: Mapping[str, float]) -> MatrixStudy:
    """Return *study* with the board's part of each line taken from *board_pf*, pF by net.

    A net that is not in it keeps what was assumed, and the timing then says
    that it is not measured.
    """
    loads = tuple(replace(load, board_pf=board_pf.get(load.net, load.board_pf)) for load in study.loads)
    measured = all(load.net in board_pf for load in study.loads)
    old = study.timing
    timing = settling(study.wiring, loads, study.levels, study.level, old.held, old.debounce_ms, measured)
    assumed = tuple(a for a in study.assumed if not (measured and a.startswith(BOARD_WORDS)))
    return replace(study, loads=loads, timing=timing, assumed=assumed)


BOARD_WORDS = "board: "  # how the assumption about the board begins, gone once copper is measured

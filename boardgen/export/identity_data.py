"""The board's code as plain data, for record, pin files, bench sheets and report."""

from __future__ import annotations

import math
from dataclasses import dataclass

from boardgen.design.model import NO_STRAPS
from boardgen.electrical.ends import pin_end
from boardgen.electrical.model import Strap
from boardgen.electrical.passive import INTERNAL_PULL_OHMS
from boardgen.export.bundle import Bundle
from boardgen.export.signal_data import choices_by_signal, hop_row

TRACK_PF = 30.0  # allowance for a strap's tracks and pads: measured lines of boards this size have less
SETTLED = 5.0  # time constants until a level is within 1 % of where it goes


@dataclass(frozen=True, slots=True)
class Code:
    """What firmware needs to read the board's code; the least bit comes first.

    *levels* are what the pins read on this board, as one number; *revisions* are (code, revision) by code.
    """

    bits: int
    code: int
    pull: str
    signals: tuple[str, ...]
    levels: int
    settle_us: int
    revisions: tuple[tuple[int, str], ...]

    @property
    def mask(self) -> int:
        """All bits set."""
        return int(2**self.bits) - 1

    @property
    def reads(self) -> str:
        """The levels in words, the least bit first."""
        bits = ("high" if self.levels >> place & 1 else "low" for place in range(self.bits))
        return ", ".join(f"{signal} {level}" for signal, level in zip(self.signals, bits, strict=True))


def board_code(bundle: Bundle) -> Code | None:
    """Return the code of *bundle*'s board; None where it has no straps."""
    identity, straps = bundle.bound.design.identity, bundle.plan.straps
    if identity is None or not straps:
        return None
    return Code(
        bits=identity.bits,
        code=identity.code,
        pull=identity.pull,
        signals=tuple(strap.signal for strap in straps),
        levels=sum(strap.high << strap.place for strap in straps),
        settle_us=_settle_us(bundle, identity.pull, straps),
        revisions=tuple(
            sorted({**{code: name for name, code in reversed(identity.earlier)},
                    identity.code: bundle.bound.design.revision}.items())
        ),
    )  # fmt: skip


def _settle_us(bundle: Bundle, pull: str, straps: tuple[Strap, ...]) -> int:
    """Return how long to wait after the pull is on, us: 5 R C of the weakest pull alone."""
    module, pins = bundle.bound.module, choices_by_signal(bundle)
    longest = 0.0
    for strap in straps:
        pin = module.pin(pins[strap.signal].pin_number)
        _, most = module.pull_ohms(pin, pull) or INTERNAL_PULL_OHMS
        farads = (pin_end(module, pin).logic.input_pf + TRACK_PF) * 1e-12
        longest = max(longest, SETTLED * most * farads)
    return max(1, math.ceil(longest * 1e6))


def identity_data(bundle: Bundle) -> dict[str, object] | None:
    """Return the code, its pins and resistors, and the codes of the other revisions; None without straps."""
    code, pins = board_code(bundle), choices_by_signal(bundle)
    if code is None:
        return None
    return {
        "bits": code.bits,
        "code": code.code,
        "no_straps": NO_STRAPS,
        "pull": code.pull,
        "levels": code.levels,
        "settle_us": code.settle_us,
        "revisions": [{"code": number, "revision": name} for number, name in code.revisions],
        "straps": [
            {
                "bit": strap.place,
                "value": strap.bit,
                "signal": strap.signal,
                "pin": pins[strap.signal].pin_name,
                "module_pin": pins[strap.signal].pin_number,
                "reads": "high" if strap.high else "low",
                "resistor": strap.ref,
                "to": strap.to,
                "proof": None if strap.proof is None else hop_row(strap.proof),
            }
            for strap in bundle.plan.straps
        ],
    }

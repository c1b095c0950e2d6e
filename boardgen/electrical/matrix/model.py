"""What is known of a key matrix, as frozen values. Times in us, volts in V, ohms, pF.

Lines are told apart by what the module does with them: it *drives* some low,
one at a time, and *reads* the others, which are pulled up. Current flows from
a read line through closed keys to the driven one, a diode lets it pass one way.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Key:
    """One key at the crossing of a read line and a driven line (places in the wiring's lists).

    *ahead* says of its *diode* that it lets current flow from the read line to the driven one, its cathode
    being there. That is the only way a key can be read.
    """

    name: str
    read: int
    driven: int
    diode: bool
    ahead: bool = True

    @property
    def conducts_ahead(self) -> bool:
        """Whether current can flow from the read line to the driven line: the key can be read."""
        return self.ahead or not self.diode

    @property
    def conducts_back(self) -> bool:
        """Whether current can flow from the driven line to the read line: a phantom's way."""
        return not self.diode or not self.ahead


@dataclass(frozen=True, slots=True)
class Wiring:
    """The two-sided graph: lines on either side, keys between them."""

    read: tuple[str, ...]
    driven: tuple[str, ...]
    keys: tuple[Key, ...]

    def names(self, places: tuple[int, ...]) -> tuple[str, ...]:
        """Return the names of the keys at *places* in :attr:`keys`."""
        return tuple(self.keys[place].name for place in places)

    def place(self, name: str) -> int:
        """Return the place of the key called *name* in :attr:`keys`; raises KeyError."""
        for place, key in enumerate(self.keys):
            if key.name == name:
                return place
        raise KeyError(name)


@dataclass(frozen=True, slots=True)
class Reading:
    """A crossing that reads closed, and the keys the current goes through, from the read line on.

    Of all ways the one with the fewest diodes is given, then the fewest keys.
    """

    read: int
    driven: int
    path: tuple[int, ...]
    diodes: int


@dataclass(frozen=True, slots=True)
class UnsafeSet:
    """Keys that, held together, show *phantom*, which is not held; no smaller part of them does.

    *keys* stand in the order of the current, *diodes* of them have one: each
    takes its drop off the low level, so that with two the level is no longer sure.
    """

    keys: tuple[str, ...]
    phantom: str
    diodes: int


@dataclass(frozen=True, slots=True)
class Phantoms:
    """Every smallest set of keys that shows a key which is not held.

    *sizes* counts them by number of keys, exact up to *exact_to* keys (None:
    whatever the number). *faint* of the triples pass two diodes or three. *listed* are
    the first few, smallest first. By key in the wiring's order: *parts* is the
    number of unsafe triples the key belongs to, *shown* of those that show it.
    """

    sizes: tuple[tuple[int, int], ...]
    exact_to: int | None
    faint: int
    listed: tuple[UnsafeSet, ...]
    parts: tuple[int, ...]
    shown: tuple[int, ...]

    def count(self, size: int) -> int:
        """Return the number of smallest unsafe sets of *size* keys."""
        return dict(self.sizes).get(size, 0)

    @property
    def total(self) -> int:
        """All smallest unsafe sets."""
        return sum(count for _, count in self.sizes)


@dataclass(frozen=True, slots=True)
class Share:
    """Of *of* combinations of *keys* keys, *right* read as they are held."""

    keys: int
    right: int
    of: int


@dataclass(frozen=True, slots=True)
class Rollover:
    """How many keys may be held.

    *guaranteed* is the largest n such that every combination of up to n keys
    reads right, None where any number does. *shares* are exact counts for 3
    and 4 keys.
    """

    guaranteed: int | None
    shares: tuple[Share, ...]


@dataclass(frozen=True, slots=True)
class Fault:
    """*key* reads closed though it is not held, through the keys *path* of the group.

    *inside* says that it belongs to the group itself: it shows before it is
    pressed and after it is let go. *diodes* are in series on the path.
    """

    key: str
    path: tuple[str, ...]
    diodes: int
    inside: bool


@dataclass(frozen=True, slots=True)
class GroupVerdict:
    """What happens to keys held together, in whatever order they are pressed and let go."""

    keys: tuple[str, ...]
    faults: tuple[Fault, ...]
    unread: tuple[str, ...] = ()

    @property
    def right(self) -> bool:
        """Whether every part of the group reads as it is held."""
        return not self.faults and not self.unread


@dataclass(frozen=True, slots=True)
class Change:
    """Two keys exchange their crossings; or, where *other* is "", *key* moves to a free one."""

    key: str
    other: str
    read: str = ""
    driven: str = ""


@dataclass(frozen=True, slots=True)
class Mending:
    """What would mend the matrix, the least there is.

    *diodes* makes every group right; *at_least* is a proven lower bound of
    their number, met where the answer is exact. *rewirings* are single
    exchanges or moves that do it instead (each alone), or one chain of a few,
    *diodes_for_three* makes any three keys right, and nothing less does. All
    that takes the diodes of *turned*, which point against the scan, as turned round.
    """

    diodes: tuple[str, ...] = ()
    at_least: int = 0
    rewirings: tuple[tuple[Change, ...], ...] = ()
    diodes_for_three: tuple[str, ...] = ()
    turned: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Levels:
    """What a read line's levels are made of, at their worst.

    *vih_v* and *vil_v* are the module's, *vol_v* its output low while it sinks
    what all read lines send. *pull_least* and *pull_most* are the pull-up's
    limits in ohm, *contact_ohms* a closed key, *drop_v* a diode. *stated* says
    that the module's entry gives its levels, which else are common ones.
    *leak_a* is what each pin on a line that is let go may draw from it.
    """

    supply_v: float
    vih_v: float
    vil_v: float
    vol_v: float
    pull_least: float
    pull_most: float
    contact_ohms: float
    drop_v: float
    stated: bool = True
    leak_a: float = 1e-6


@dataclass(frozen=True, slots=True)
class LowLevel:
    """The level a closed key gives through *diodes* in series; *margin_v* is how far it is under VIL.

    *worst_ohms* is the contact that just reads, 0 where even a perfect contact does not. *series_most* is
    the number of diodes in series through which a line still reads low, -1
    where it does not even without.
    """

    diodes: int
    low_v: float
    margin_v: float
    worst_ohms: float
    current_a: float
    series_most: int


@dataclass(frozen=True, slots=True)
class HighLevel:
    """The level of a line with no key closed on it to the strobe; *margin_v* is how far it is over VIH.

    *open_ohms* is the least that may lie between such a line and the strobe,
    all its open keys together, for it still to read high.
    """

    high_v: float
    margin_v: float
    open_ohms: float


@dataclass(frozen=True, slots=True)
class LineLoad:
    """What hangs on one line, pF, and the weakest pull-up it rises by (None for a driven line)."""

    line: str
    net: str
    pull_ohms: float | None
    cable_pf: float
    board_pf: float
    pin_pf: float

    @property
    def total_pf(self) -> float:
        """All of it."""
        return self.cable_pf + self.board_pf + self.pin_pf


@dataclass(frozen=True, slots=True)
class LineSettling:
    """How long one read line needs: *own_pf*, and *joined_pf* of let-go lines on it through held keys."""

    line: str
    pull_ohms: float
    own_pf: float
    joined_pf: float
    rise_us: float
    fall_us: float


@dataclass(frozen=True, slots=True)
class Timing:
    """The scan that follows: microseconds from strobe to reading, whole scans in a second, debouncing.

    *held* is how many keys of one line are reckoned held at once; *measured*
    says that the board's part comes from the routed copper.
    """

    lines: tuple[LineSettling, ...]
    wait_us: int
    scan_hz: float
    debounce_ms: int
    held: int
    measured: bool = False


@dataclass(frozen=True, slots=True)
class MatrixStudy:
    """All that is computed of one matrix.

    *diodes* says how all of them point, "both-ways" too. *unread* names the
    keys they keep from being read; *fitting_drive* is set where the other scan
    reads them all. *loads* are the lines, read ones first.
    *assumed* says what was taken for a figure the design does not give.
    """

    name: str
    drive: str
    diodes: str
    key_kind: str
    wiring: Wiring
    phantoms: Phantoms
    rollover: Rollover
    groups: tuple[GroupVerdict, ...]
    mending: Mending
    levels: Levels
    level: LowLevel
    loads: tuple[LineLoad, ...]
    timing: Timing
    high: HighLevel
    fitting_drive: str = ""
    unread: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()

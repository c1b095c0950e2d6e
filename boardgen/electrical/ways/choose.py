"""Which way each line takes: the design's own, else the cheapest that proves safe over all of a kind."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from boardgen.catalog.model import Component
from boardgen.electrical.ways.buffer import BANK_COST, Chip, buffers
from boardgen.electrical.ways.divider import divider
from boardgen.electrical.ways.fet import fet
from boardgen.electrical.ways.model import Line, Offer
from boardgen.electrical.ways.plain import direct, pull_up, series

AUTO = "auto"
_Key = tuple[tuple[str, str, bool], ...]  # chips a line may share, by id and supply


@dataclass(frozen=True, slots=True)
class Chosen:
    """The way a line takes. *refused* are the other ways with their reasons, *demanded* the design's own.

    *bank* numbers the chip a buffered line goes through, *gate* its place there.
    """

    line: Line
    offer: Offer
    refused: tuple[Offer, ...] = ()
    demanded: bool = False
    bank: int | None = None
    gate: int = 0


@dataclass(frozen=True, slots=True)
class _Options:
    line: Line
    alone: tuple[Offer, ...]  # ways of its own, the cheapest that passes first
    shared: tuple[Offer, ...]  # chips it may share
    refused: tuple[Offer, ...]
    demanded: bool

    @property
    def key(self) -> _Key:
        return tuple((o.chip.id, o.supply.name, o.supply.own) for o in self.shared if o.chip and o.supply)


def choose(
    lines: Iterable[Line],
    chips: tuple[Chip, ...],
    switch: Component | None,
    banned: frozenset[str] = frozenset(),
) -> Mapping[str, Chosen]:
    """Return the way of each line, by signal, in the order of *lines*.

    *banned* signals may not go straight, since the pins for that are taken.
    """
    options = [_options(line, chips, switch, line.contact.signal in banned) for line in lines]
    picked = {o.line.contact.signal: _alone(o) for o in options}
    sizes = {chip.part.id: len(chip.part.gates) for chip in chips}
    groups: dict[tuple[bool, _Key], list[_Options]] = {}
    for option in options:
        if option.shared:
            groups.setdefault((option.line.reads, option.key), []).append(option)
    bank = 0
    for (_, key), group in groups.items():
        together, place = _together(group, key, sizes)
        for n, option in enumerate(together):
            size = sizes[key[place][0]]
            picked[option.line.contact.signal] = Chosen(
                option.line, option.shared[place], option.refused, option.demanded, bank + n // size, n % size
            )
        if together:
            bank += -(-len(together) // sizes[key[place][0]])
    return picked


def _options(line: Line, chips: tuple[Chip, ...], switch: Component | None, banned: bool) -> _Options:
    way = line.contact.way
    if way != AUTO:
        wanted = _demanded(way, line, chips, switch)
        if way == "buffer" and wanted[0].drawable:
            return _Options(line, (), wanted, (), True)
        return _Options(line, wanted, (), (), True)
    straight = direct(line)
    if straight.passes and not banned:
        return _Options(line, (straight,), (), (), False)
    others = [pull_up(line), divider(line), fet(line, switch)]
    shared = buffers(line, chips)
    alone = sorted((o for o in others if o.passes), key=lambda o: o.cost)
    refused = [straight, *(o for o in (*others, *shared) if not o.passes)]
    if not alone and not shared[0].passes:
        return _Options(line, (straight,), (), tuple(refused), False)
    return _Options(line, tuple(alone), tuple(o for o in shared if o.passes), tuple(refused), False)


def _demanded(way: str, line: Line, chips: tuple[Chip, ...], switch: Component | None) -> tuple[Offer, ...]:
    match way:
        case "series":
            return (series(line),)
        case "pull-up":
            return (pull_up(line),)
        case "divider":
            return (divider(line),)
        case "buffer":
            return buffers(line, chips)
        case "open-drain":
            return (fet(line, switch),)
        case _:
            return (direct(line),)


def _alone(option: _Options) -> Chosen:
    offer = (*option.alone, *option.shared)[0]
    return Chosen(option.line, offer, option.refused, option.demanded)


def _together(group: list[_Options], key: _Key, sizes: Mapping[str, int]) -> tuple[list[_Options], int]:
    """Return which lines of *group* share chips, in contact order, and which kind of chip it is.

    Lines without a way of their own must; of the others the dearest join as
    long as the sum of all parts falls. Spare gates are free, so they get filled.
    """
    must = [o for o in group if not o.alone]
    may = sorted((o for o in group if o.alone), key=lambda o: -o.alone[0].cost)
    best: tuple[float, int, int] | None = None
    for count in range(len(may) + 1):
        lines = len(must) + count
        rest = sum(o.alone[0].cost for o in may[count:])
        for place, (chip, _, _) in enumerate(key):
            whole = rest + BANK_COST * -(-lines // sizes[chip])
            if best is None or (whole, count, place) < best:
                best = (whole, count, place)
    _, count, place = best or (0.0, 0, 0)
    joined = {id(o) for o in (*must, *may[:count])}
    return [o for o in group if id(o) in joined], place

"""The voltage span at a net in every state of the device that matters there, simplest states first."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, product
from math import prod

from boardgen.circuit.device_side import Element
from boardgen.circuit.network import REFERENCE, Branch, Span, extreme, span
from boardgen.circuit.surroundings import Surroundings

EVERY_STATE_UP_TO = 512  # states; of more, those with up to two things off their rest and the extremes

HELD = " held"  # how the words of a closed key or switch end


@dataclass(frozen=True, slots=True)
class State:
    """What stands at the net: *words* name what is not at rest; *level* None where nothing holds the net.

    *branches* are what is joined to the net then, *holders* their names.
    """

    words: tuple[str, ...]
    level: Span | None
    holders: tuple[str, ...]
    branches: tuple[Branch, ...] = ()

    def said(self) -> str:
        """Return "with A and B held and C low" or "with everything at rest"."""
        if not self.words:
            return "with everything at rest"
        keys = [word.removesuffix(HELD) for word in self.words if word.endswith(HELD)]
        rest = [word for word in self.words if not word.endswith(HELD)]
        if keys:
            rest.insert(0, " and ".join([", ".join(keys[:-1]), keys[-1]] if keys[:-1] else keys) + HELD)
        return f"with {' and '.join(rest)}"


@dataclass(frozen=True, slots=True)
class _Near:
    steady: tuple[Branch, ...]
    elements: tuple[Element, ...]


def states_at(there: Surroundings, node: str, most: int = EVERY_STATE_UP_TO) -> tuple[State, ...]:
    """Return the states of the device that can change the voltage at *node*, the fewest changes first.

    Up to *most* states are all looked at; of more, those that can matter (see the module's figures).
    """
    near = _near(there, node, most)
    return tuple(_state(near, node, picks) for picks in _picks(near, node))


def _state(near: _Near, node: str, picks: tuple[int, ...]) -> State:
    options = [e.options[k] for e, k in zip(near.elements, picks, strict=True)]
    branches = _joined(near, node, picks)
    words = tuple(option.words for option in options if option.words)
    holders = tuple(dict.fromkeys(b.name for b in branches if b.name))
    return State(words, span(branches, node), holders, branches)


def _joined(near: _Near, node: str, picks: tuple[int, ...]) -> tuple[Branch, ...]:
    """The branches there are in a state, those that lead nowhere near *node* left out."""
    there = [
        *near.steady,
        *(b for e, k in zip(near.elements, picks, strict=True) for b in e.options[k].branches),
    ]
    reached = _reached(there, node)
    return tuple(b for b in there if b.start in reached)


def _reached(branches: Sequence[Branch], node: str) -> set[str]:
    nodes, grew = {node}, True
    while grew:
        grew = False
        for branch in branches:
            ends = {branch.start, branch.end} - {REFERENCE}
            if ends & nodes and not ends <= nodes:
                nodes |= ends
                grew = True
    return nodes


def _all(elements: Iterable[Element]) -> Iterator[Branch]:
    for element in elements:
        for option in element.options:
            yield from option.branches


def _near(there: Surroundings, node: str, most: int) -> _Near:
    """Return what can bear on *node*: all that is joined to it, or of many states the best ways alone.

    Then elements are kept that lie on the best way to a net that something
    holds: the one past the fewest other such nets, then the shortest. Keys
    between nets that nothing holds carry no current. Ways are sought both with
    and against the diodes.
    """
    every = [*there.steady, *_all(there.elements)]
    reached = _reached(every, node)
    joined = tuple(e for e in there.elements if any(b.start in reached for b in _all((e,))))
    steady = tuple(b for b in there.steady if b.start in reached)
    if prod(len(e.options) for e in joined) <= most:
        return _Near(steady, joined)
    held = {b.start for b in every if b.end == REFERENCE}
    kept: set[str] = {node}
    on_way: set[Branch] = set()
    for against in ("back", "forward"):
        before = _tree(every, node, against, held)
        for goal in sorted(held & before.keys()):
            here = goal
            while (step := before[here]) is not None:
                kept.add(here)
                on_way.add(step[0])
                here = step[1]
    elements = tuple(
        e
        for e in joined
        if any(b in on_way or (b.end == REFERENCE and b.start in kept) for o in e.options for b in o.branches)
    )
    return _Near(tuple(b for b in steady if b.start in kept and b.end in (kept | {REFERENCE})), elements)


def _tree(
    branches: Sequence[Branch], node: str, against: str, held: set[str]
) -> dict[str, tuple[Branch, str] | None]:
    """Return each node's step toward *node* on its best way; one-way branches *against* it are shut."""
    before: dict[str, tuple[Branch, str] | None] = {node: None}
    done: set[str] = set()
    frontier: list[tuple[int, int, str, tuple[Branch, str] | None]] = [(0, 0, node, None)]
    while frontier:
        frontier.sort(key=lambda item: item[:3], reverse=True)
        past, steps, here, step = frontier.pop()
        if here in done:
            continue
        done.add(here)
        before[here] = step
        through = past + (here in held and here != node)
        for branch in branches:
            if REFERENCE in (branch.start, branch.end) or here not in (branch.start, branch.end):
                continue
            ahead = branch.start == here
            other = branch.end if ahead else branch.start
            shut = branch.way != "both" and (branch.way == "forward") == (ahead == (against == "forward"))
            if other not in done and not shut:
                frontier.append((through, steps + 1, other, (branch, here)))
    return before


def _picks(near: _Near, node: str) -> Iterator[tuple[int, ...]]:
    sizes = [len(e.options) for e in near.elements]
    if prod(sizes) <= EVERY_STATE_UP_TO:
        every = product(*(range(size) for size in sizes))
        yield from sorted(every, key=lambda picks: (sum(k > 0 for k in picks), picks))
        return
    rest = (0,) * len(sizes)
    found = {rest: None}
    for count in (1, 2):
        for places in combinations(range(len(sizes)), count):
            if count == 2 and len(sizes) > 24:
                continue
            for values in product(*(range(1, sizes[n]) for n in places)):
                picks = list(rest)
                for place, value in zip(places, values, strict=True):
                    picks[place] = value
                found[tuple(picks)] = None
    found[tuple(size - 1 for size in sizes)] = None
    for sign in (-1, 1):
        found[_climbed(near, node, sizes, sign)] = None
    yield from found


def _climbed(near: _Near, node: str, sizes: Sequence[int], sign: int) -> tuple[int, ...]:
    """Return a state from which no single change brings *node* further down (-1) or up (+1)."""

    def value(picks: tuple[int, ...]) -> float:
        level = extreme(_joined(near, node, picks), node, sign)
        return -1e9 if level is None else sign * level

    best = (0,) * len(sizes)
    top, moved = value(best), True
    while moved:
        moved = False
        for place, size in enumerate(sizes):
            for option in range(size):
                tried = (*best[:place], option, *best[place + 1 :])
                if (gained := value(tried)) > top + 1e-6:
                    best, top, moved = tried, gained, True
    return best

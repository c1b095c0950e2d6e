"""One search: its inputs, its spacing, and the boards it tries."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from boardgen.board.model import Outline
from boardgen.design.model import BoundDesign, ContactKind, OutlineKind
from boardgen.floorplan.frame import EDGES, Turn
from boardgen.floorplan.packing import SmallParts
from boardgen.floorplan.region import Region, outline_at_origin, outline_size, polygon_region
from boardgen.floorplan.score import AREA, Scored, crowding, free_area, score
from boardgen.floorplan.search import (
    USB_EDGES,
    Arrangement,
    Pair,
    Spacing,
    arrangements,
    least_size,
    place_holes,
)
from boardgen.floorplan.wires import WireModel
from boardgen.units import ZERO, Nm, Size, mm

MARGIN = mm("2.5")
TIGHT_MARGIN = mm(1)
CHANNEL = mm("2.5")  # 2.0 was enough for 25 to 50 nets; half a millimetre more for the courtyards' own play
# Contacts on one copper side each bring all their tracks on that side: these cross nowhere but round their
# pads' ends (of 11 boards that had vias, 6 mm took some of them off 5, and 7.5 mm won no more).
ONE_FACED_CHANNEL = mm(6)
TIGHT_CHANNEL = mm("1.5")
# On one copper side nothing passes a pad row: tracks go round its ends, and cross by wire links in the
# channel. Both take room, at a pitch of about 1.1 mm a track.
ONE_SIDE_MARGIN = mm(6)  # four tracks outside a row
ONE_SIDE_FREE = 6  # contacts that need no more margin than that
ONE_SIDE_MARGIN_PER_NET = mm("0.3")  # every fourth further one goes round, half of them at either end
ONE_SIDE_MARGIN_MOST = mm(12)
ONE_SIDE_CHANNEL = mm(7)
ONE_SIDE_PER_NET = mm("0.3")  # every fourth net runs along the channel
ONE_SIDE_MOST = mm(14)
CORNER_RADIUS = mm(1)
SIZE_STEP = mm("0.5")
ROOMIER = (mm("2.5"), mm(6))  # wider channels offered as second choices
PART_STEP = mm("1.5")  # the channel grows by this until the small parts fit
PART_STEPS = 60
NEAR, CLOSE = 1.2, 20.0  # a way is followed while it may come within this of the best score
FOLLOWED = 2  # ways that are offered with wider channels too
GROWTHS = ((0, 0), (0, 1), (1, 0), (1, 1))
HOLE_STEP = mm(2)  # the board grows by this until the mounting holes fit
HOLE_GROWTH = mm(16)  # past a head at either side and its land nothing more is won


def default_margin(bound: BoundDesign) -> Nm:
    """Return the distance from courtyard to edge, nm, where the design asks for none."""
    if bound.fab.copper_layers > 1:
        return MARGIN
    wired = sum(contact.kind is not ContactKind.UNUSED for contact in bound.design.contacts)
    more = max(0, wired - ONE_SIDE_FREE)
    return Nm(min(ONE_SIDE_MARGIN + ONE_SIDE_MARGIN_PER_NET * more, ONE_SIDE_MARGIN_MOST))


@dataclass(frozen=True, slots=True)
class Job:
    """What every step of one search needs.

    *tight* searches with the least margins (for an outline that is given).
    *one_side* is how many signals have to be joined on one copper side, 0 with two.
    *faults* counts why arrangements were dropped, *too_large* holds the sizes
    that would have done but for a limit of the case or the fab class.
    """

    bound: BoundDesign
    pair: Pair
    wires: WireModel
    parts: SmallParts
    tight: bool = False
    one_side: int = 0
    faults: dict[str, int] = field(default_factory=dict)
    too_large: list[Size] = field(default_factory=list)

    @property
    def radius(self) -> Nm:
        """Rounding of a rectangle's corners."""
        asked = self.bound.design.outline.corner_radius
        return CORNER_RADIUS if asked is None else asked

    @property
    def spacing(self) -> Spacing:
        """The margins to start from."""
        asked = self.bound.design.outline.margin
        if self.tight:
            return Spacing(TIGHT_MARGIN if asked is None else asked, TIGHT_CHANNEL)
        margin = default_margin(self.bound) if asked is None else asked
        if self.one_side:
            return Spacing(margin, self.one_side_channel)
        return Spacing(margin, CHANNEL if self.wires.faces is None else ONE_FACED_CHANNEL)

    @property
    def one_side_channel(self) -> Nm:
        """The channel in which the nets of one copper side have room to cross."""
        return Nm(min(ONE_SIDE_CHANNEL + ONE_SIDE_PER_NET * self.one_side, ONE_SIDE_MOST))

    def spacings(self) -> tuple[Spacing, ...]:
        """Return the spacings to try on a given outline, each only where the one before fits nowhere."""
        least = self.spacing
        if not self.one_side:
            return (least,)
        margins = int(default_margin(self.bound)), int(default_margin(self.bound)) // 2
        channels = int(self.one_side_channel), int(self.one_side_channel) // 2
        if self.bound.design.outline.margin is not None:
            margins = int(least.margin), int(least.margin)
        roomy = (Spacing(Nm(m), Nm(max(c, least.channel))) for m in margins for c in channels)
        return (*roomy, least)

    def fits(self, made: Arrangement) -> bool:
        """Whether the small parts find room: on shelves, or (tight) by area alone."""
        if self.tight:
            return self.parts.area <= free_area(self.pair, made)
        return crowding(self.pair, self.parts, made) == 0.0

    def with_holes(self, made: Arrangement) -> Arrangement | None:
        """Return the arrangement with its mounting holes, or None where they find no place."""
        wish = self.bound.design.holes
        if wish is None:
            return made
        places, wrong = place_holes(self.pair, made, wish)
        if places is None:
            self.refuse(wrong)
            return None
        return replace(made, holes=places)

    def refuse(self, reason: str) -> None:
        """Count one more arrangement dropped for *reason*."""
        self.faults[reason] = self.faults.get(reason, 0) + 1

    def fronts(self, turn: Turn) -> tuple[str, ...]:
        """Return the canonical edges the USB end may look out of under *turn*."""
        wanted = self.bound.design.enclosure.usb_edge
        if not self.pair.has_jack or not wanted:
            return USB_EDGES
        return tuple(front for front in USB_EDGES if turn.edge(front) == wanted)

    def quarters(self, square: bool = False) -> tuple[int, ...]:
        """Return the quarter turns worth trying: the fewest that can differ in result."""
        design = self.bound.design
        case = design.enclosure
        if case.connector_edge:
            return (EDGES.index(case.connector_edge),)
        placed_holes = design.holes is not None and design.holes.at is not None
        if case.usb_edge or placed_holes or design.outline.kind is OutlineKind.POLYGON:
            return (0, 1, 2, 3)
        if design.outline.kind is OutlineKind.DERIVED:
            return (0, 1) if case.max_width is not None or case.max_height is not None else (0,)
        return (0,) if square else (0, 1)


def given_boards(job: Job) -> Iterator[Scored]:
    """Yield every arrangement on the outline that the design gives (SIZE or POLYGON)."""
    wish = job.bound.design.outline
    shape: Outline | None = None
    if wish.kind is OutlineKind.POLYGON and wish.shape is not None:
        shape = outline_at_origin(wish.shape)
        size = outline_size(shape)
    else:
        size = Size(wish.width or ZERO, wish.height or ZERO)
    for spacing in job.spacings():
        fitted = False
        for quarter in job.quarters(square=size.w == size.h):
            turn = Turn(quarter, size if quarter % 2 == 0 else Size(size.h, size.w))
            region = polygon_region(shape, turn) if shape else Region(turn.size, radius=job.radius)
            for item in _scored(job, region, turn, spacing, job.fronts(turn), None):
                fitted = True
                yield item
        if fitted:
            return


def _scored(
    job: Job, region: Region, turn: Turn, spacing: Spacing, fronts: tuple[str, ...], beside: bool | None
) -> Iterator[Scored]:
    cut = beside is not None
    for made in arrangements(job.pair, region, turn, spacing, fronts, job.faults, cut):
        if beside is not None and made.beside is not beside:
            continue
        if job.tight and not job.fits(made):
            job.refuse("the small parts find no room")
            continue
        whole = job.with_holes(made)
        if whole is not None:
            yield score(whole, job.pair, job.wires, job.parts)


@dataclass(frozen=True, slots=True)
class _Way:
    """One way to stand the parts; *hope* is the score of its least board without holes."""

    hope: float
    quarter: int
    front: str
    beside: bool
    spacing: Spacing


def derived_boards(job: Job, limited: bool = True) -> Iterator[Scored]:
    """Yield arrangements on boards cut to their parts; *limited* keeps the case's and fab's limits.

    Ways to stand the parts are followed in the order of the score they could
    reach; those that cannot come near the best are left out.
    """
    best = math.inf
    followed = 0
    done: set[tuple[str, bool]] = set()
    for way in sorted(_ways(job), key=lambda w: (w.hope, w.quarter, w.front, w.beside)):
        if (way.front, way.beside) in done and not job.bound.design.enclosure.usb_edge:
            continue  # the same board, turned
        if limited and way.hope > best * NEAR + CLOSE:
            break
        ceiling = best * NEAR + CLOSE if limited else math.inf
        found, grown = _cut_board(job, way, limited, ceiling)
        if found and followed < FOLLOWED and not job.tight:
            found += [item for extra in ROOMIER for item in _roomier(job, way, extra, grown, limited)]
        if found:
            followed += 1
            done.add((way.front, way.beside))
            best = min(best, *(item.score for item in found))
        yield from found


def _ways(job: Job) -> Iterator[_Way]:
    for quarter in job.quarters():
        for front in job.fronts(Turn(quarter, Size(ZERO, ZERO))):
            for beside in (False, True):
                if front == "bottom" and not beside and job.pair.has_jack and job.pair.connector_edge:
                    continue  # the jack would face the connector's back
                way = _way(job, quarter, front, beside)
                if way is not None:
                    yield way


def _way(job: Job, quarter: int, front: str, beside: bool) -> _Way | None:
    """Return the way with a channel just wide enough for the small parts, or None where none is."""
    spacing = job.spacing
    for _ in range(PART_STEPS):
        region, turn = _board(job, quarter, least_size(job.pair, front, beside, spacing))
        tries = [
            made
            for made in arrangements(job.pair, region, turn, spacing, (front,), job.faults, True)
            if made.beside is beside and job.fits(made)
        ]
        if tries:
            hope = min(score(made, job.pair, job.wires, job.parts).score for made in tries)
            return _Way(hope, quarter, front, beside, spacing)
        spacing = replace(spacing, channel=spacing.channel + PART_STEP)
    return None


def _board(job: Job, quarter: int, size: Size) -> tuple[Region, Turn]:
    """Return region and turn for a canonical size, rounded up to whole steps and to the fab's least."""
    least = job.bound.fab.board_min
    if quarter % 2:
        least = Size(least.h, least.w)
    width, height = (
        Nm(-(-max(int(side), int(low)) // SIZE_STEP) * SIZE_STEP)
        for side, low in zip(size, least, strict=True)
    )
    turn = Turn(quarter, Size(width, height))
    return Region(turn.size, radius=job.radius), turn


def _cut_board(job: Job, way: _Way, limited: bool, ceiling: float) -> tuple[list[Scored], Size]:
    """Return what stands on the least board, or on the least grown ones that take the holes.

    A board is grown along x, along y, or both, while its area alone leaves it a
    chance against what was found and against *ceiling*. With it comes the growth
    of the best, nm.
    """
    found: list[Scored] = []
    best, grown = math.inf, Size(ZERO, ZERO)
    base = least_size(job.pair, way.front, way.beside, way.spacing)
    least_area = _board(job, way.quarter, base)[0].area

    def on_board(by: Size) -> list[Scored] | None:
        """What stands on the board grown by *by*; None where growing on is in vain."""
        region, turn = _board(job, way.quarter, Size(base.w + by.w, base.h + by.h))
        if way.hope + AREA * (region.area - least_area) / 1e12 > min(best, ceiling):
            return None
        if limited and not _within_limits(job, turn.board_size):
            return None
        return list(_scored(job, region, turn, way.spacing, (way.front,), way.beside))

    for across, down in ((0, 0),) if job.bound.design.holes is None else GROWTHS:
        step = 0 if not across and not down else int(HOLE_STEP)
        while step <= HOLE_GROWTH:
            fresh = on_board(Size(Nm(step * across), Nm(step * down)))
            if fresh and step:
                # The step before was too small; half a step back may do.
                step -= HOLE_STEP // 2
                fresh = on_board(Size(Nm(step * across), Nm(step * down))) or fresh
            if fresh:
                found += fresh
                least = min(item.score for item in fresh)
                if least < best:
                    sides = fresh[0].made.turn.size
                    best, grown = least, Size(sides.w - base.w, sides.h - base.h)
            if fresh is None or fresh or not step:
                break
            step += HOLE_STEP
        if found and not across and not down:
            break
    return found, grown


def _roomier(job: Job, way: _Way, extra: Nm, grown: Size, limited: bool) -> Iterator[Scored]:
    """Yield what stands on the board of *way* grown by *grown*, with a channel wider by *extra*."""
    spacing = replace(way.spacing, channel=way.spacing.channel + extra)
    base = least_size(job.pair, way.front, way.beside, spacing)
    region, turn = _board(job, way.quarter, Size(base.w + grown.w, base.h + grown.h))
    if not limited or _within_limits(job, turn.board_size):
        yield from _scored(job, region, turn, spacing, (way.front,), way.beside)


def _within_limits(job: Job, size: Size) -> bool:
    case, fab = job.bound.design.enclosure, job.bound.fab
    if (
        size.w <= (case.max_width or size.w)
        and size.h <= (case.max_height or size.h)
        and size.w <= fab.board_max.w
        and size.h <= fab.board_max.h
    ):
        return True
    job.too_large.append(size)
    return False

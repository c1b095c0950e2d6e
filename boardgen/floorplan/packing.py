"""Whether the plan's small parts find room beside the big ones: a shelf estimate, not a placement."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import lru_cache

from boardgen.electrical.model import ElectricalPlan
from boardgen.floorplan.rooms import courtyard_box
from boardgen.footprint.model import Footprint
from boardgen.units import Box, Nm, mm

PART_GAP = mm("0.6")  # between courtyards, so that a track and a reference fit
SHELF_GAP = mm("1.2")  # between shelves: two tracks of 0.25 with their gaps
ONE_SIDE_PART_GAP = mm("2.0")  # nothing passes under a track: two wide ones, or a link's end
ONE_SIDE_SHELF_GAP = mm("3.0")


@dataclass(frozen=True, slots=True)
class SmallParts:
    """Sizes of the small parts as (long side, short side) in nm, the longest first.

    *gap* (nm) is between their courtyards, *shelf* between rows of them.
    """

    sizes: tuple[tuple[int, int], ...]
    gap: Nm = PART_GAP
    shelf: Nm = SHELF_GAP

    @property
    def area(self) -> float:
        """Sum of the courtyards with the least gap round each, in nm2."""
        return self.area_of(self.sizes, PART_GAP)

    @staticmethod
    def area_of(sizes: Iterable[tuple[int, int]], gap: Nm) -> float:
        """Sum of the courtyards of *sizes* with *gap* round each, in nm2."""
        return float(sum((a + gap) * (b + gap) for a, b in sizes))


@lru_cache(maxsize=256)
def _size(footprint: Footprint) -> tuple[int, int]:
    box = courtyard_box(footprint)
    return max(int(box.width), int(box.height)), min(int(box.width), int(box.height))


def small_parts(
    plan: ElectricalPlan, catalog_footprint: Callable[[str], Footprint], one_side: bool = False
) -> SmallParts:
    """Return the sizes of the plan's parts from their footprints' courtyards, with the room between them.

    On *one_side* of copper that is more: what would pass under a track has to go round it.
    """
    prints = {name: catalog_footprint(name) for name in {part.component.footprint for part in plan.parts}}
    sizes = [_size(prints[part.component.footprint]) for part in plan.parts]
    ordered = tuple(sorted(sizes, reverse=True))
    return SmallParts(ordered, ONE_SIDE_PART_GAP, ONE_SIDE_SHELF_GAP) if one_side else SmallParts(ordered)


def left_over(parts: SmallParts, strips: list[Box]) -> float:
    """Return the area (nm2) of the parts that the free *strips* cannot take, shelf by shelf.

    Each strip is filled with shelves across its width, parts standing or lying
    as the strip's depth allows, the greatest parts first.
    """
    todo = list(parts.sizes)
    for strip in strips:
        if not todo:
            break
        todo = _fill(todo, int(strip.width), int(strip.height), parts)
    return parts.area_of(todo, parts.gap)


def _fill(todo: list[tuple[int, int]], width: int, depth: int, parts: SmallParts) -> list[tuple[int, int]]:
    used_depth = parts.shelf // 2
    rest = todo
    while rest:
        shelf_depth = 0
        used = 0
        later = []
        for long, short in rest:
            room = depth - used_depth
            # Standing parts (the long side across the channel) share a shelf best; where they are
            # too long for it they lie down.
            for high, wide in ((long, short), (short, long)):
                limit = shelf_depth or room
                if high <= limit and high <= room and used + wide + parts.gap <= width:
                    shelf_depth = max(shelf_depth, high)
                    used += wide + parts.gap
                    break
            else:
                later.append((long, short))
        if not used:
            return later
        rest = later
        used_depth += shelf_depth + parts.shelf
    return rest


def free_strips(region: Box, module: Box, connector: Box) -> list[Box]:
    """Return free upright boxes of *region* round the two rooms, the one between them first.

    The strips do not overlap each other.
    """
    strips: list[Box] = []
    if module.bottom <= connector.top:  # module above
        strips.append(Box(region.left, module.bottom, region.right, connector.top))
        upper, lower = (module, connector)
    elif connector.bottom <= module.top:
        strips.append(Box(region.left, connector.bottom, region.right, module.top))
        upper, lower = (connector, module)
    else:  # side by side: the strip between, then what each leaves above and below
        left, right = (module, connector) if module.right <= connector.left else (connector, module)
        middle = Box(left.right, region.top, right.left, region.bottom)
        strips.append(middle)
        strips.append(Box(region.left, region.top, middle.left, left.top))
        strips.append(Box(region.left, left.bottom, middle.left, region.bottom))
        strips.append(Box(middle.right, region.top, region.right, right.top))
        strips.append(Box(middle.right, right.bottom, region.right, region.bottom))
        return [s for s in strips if s.left < s.right and s.top < s.bottom]
    strips.append(Box(region.left, upper.top, upper.left, upper.bottom))
    strips.append(Box(upper.right, upper.top, region.right, upper.bottom))
    strips.append(Box(region.left, region.top, region.right, upper.top))
    strips.append(Box(region.left, lower.top, lower.left, lower.bottom))
    strips.append(Box(lower.right, lower.top, region.right, lower.bottom))
    return [s for s in strips if s.left < s.right and s.top < s.bottom]

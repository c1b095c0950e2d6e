"""What the router has to keep to, as one frozen value."""

from __future__ import annotations

from dataclasses import dataclass, replace

from boardgen.board.model import Board, NetKind, Side, Track, Via
from boardgen.catalog.model import FabClass
from boardgen.units import ZERO, Nm, mm

LINK_PAD = mm("1.8")
LINK_HOLE = mm(1)  # of every drill set; takes the usual 0.6 and 0.8 mm wire
GRIDS = (mm("0.254"), mm("0.127"))  # a tenth and a twentieth of the usual pad pitch
LINK_GRIDS = (mm("0.3175"),)  # an eighth: as good for the wide tracks of one side, and a third faster


@dataclass(frozen=True, slots=True)
class NetRule:
    """Track width of one net, and the least gap between its copper and any other net's; nm."""

    width: Nm
    spacing: Nm


@dataclass(frozen=True, slots=True)
class RoutingRules:
    """Everything the router obeys; lengths in nm.

    *nets* holds one pair (net name, rule) for each net of the board, *default*
    is for copper on no net. *edge* is from copper to the profile, *npth* from
    copper to a bare hole, *hole_gap* between two drilled holes, wall to wall.
    Nets in *skip* are left alone (pours will join them). *sides* are the copper
    sides that may carry tracks, the preferred one first. Where *allow_links* is
    set, what one side cannot carry is joined by wire links of *link_pad* and
    *link_hole*. *passes* is the most complete attempts made per grid.
    Each of *fallbacks* names narrower rules for nets that find no way at their
    own; the later ones are tried only when the earlier do not suffice.
    *easings* are rules a little narrower for nets that would go a long way
    round at their own, because it does not pass between two pads.
    Tracks run in 45-degree steps, or at any angle where *any_angle* is set.
    Where *shy* is set one attempt is made without vias or narrower rules, and
    what it lacks stays open: enough to tell between choices of pins.
    *locked* tracks and vias lie already; they are in the way of other nets and join their own.
    """

    nets: tuple[tuple[str, NetRule], ...]
    default: NetRule
    edge: Nm
    npth: Nm
    hole_gap: Nm
    via_diameter: Nm
    via_hole: Nm
    allow_vias: bool
    sides: tuple[Side, ...]
    skip: tuple[str, ...] = ()
    allow_links: bool = False
    link_pad: Nm = LINK_PAD
    link_hole: Nm = LINK_HOLE
    courtyard_gap: Nm = ZERO
    grids: tuple[Nm, ...] = GRIDS
    passes: int = 8
    fallbacks: tuple[tuple[tuple[str, NetRule], ...], ...] = ()
    easings: tuple[tuple[str, NetRule], ...] = ()
    any_angle: bool = False
    shy: bool = False
    locked: tuple[Track, ...] = ()
    locked_vias: tuple[Via, ...] = ()

    def rule(self, net: str | None) -> NetRule:
        """Return the rule of the net called *net*; the default for None or an unknown name."""
        for name, rule in self.nets:
            if name == net:
                return rule
        return self.default

    def narrowed(self, level: int, only: frozenset[str]) -> RoutingRules:
        """Return these rules with fallback *level* in force for the nets in *only*."""
        return self._with(self.fallbacks[level], only)

    def eased(self, only: frozenset[str]) -> RoutingRules:
        """Return these rules with the easings in force for the nets in *only*."""
        return self._with(self.easings, only)

    def _with(self, smaller: tuple[tuple[str, NetRule], ...], only: frozenset[str]) -> RoutingRules:
        table = {name: rule for name, rule in smaller if name in only}
        return replace(self, nets=tuple((name, table.get(name, rule)) for name, rule in self.nets))


def rules_for(
    fab: FabClass,
    board: Board,
    route_ground: bool | None = None,
    supply_least: Nm | None = None,
    any_angle: bool = False,
) -> RoutingRules:
    """Return the rules that *fab* and the classes of *board* set.

    Ground is skipped on a board of two copper sides, where pours join it, and
    routed on a board of one; *route_ground* overrides that. Vias need plated
    holes and two copper sides; without them wire links stand in. A link's pad
    keeps the fab's ring round its hole, and never less than 1.8 mm on an
    unplated board, where the copper alone holds the joint. Nets that find no
    way fall back to the fab's preferred track, then to its least. On two sides
    a supply net may be eased to half way between the fab's supply track and its
    preferred one, where *supply_least* (what its current asks for) allows that:
    at 2.54 mm pitch the full width may just miss the gap between two pads.
    *any_angle* lets tracks run at any angle instead of in 45-degree steps.
    """
    single = len(board.copper) == 1
    ground = single if route_ground is None else route_ground
    by_class = {c.name: NetRule(c.width, c.spacing) for c in board.classes}
    default = NetRule(fab.track, fab.gap)
    nets = tuple((n.name, by_class.get(n.net_class, default)) for n in board.nets)
    skip = () if ground else tuple(n.name for n in board.nets if n.kind is NetKind.GROUND)
    # a class wider than the fab's supply track is as wide as its current asks for: never narrowed
    thin = tuple((n, r) for n, r in nets if r.width <= fab.supply_track)
    fallbacks = tuple(
        tuple((n, NetRule(min(r.width, width), min(r.spacing, gap))) for n, r in thin)
        for width, gap in ((fab.track, fab.gap), (fab.track_min, fab.gap_min))
    )
    eased = Nm((fab.supply_track + fab.track) // 2)
    slim = supply_least is not None and supply_least <= eased and not single
    hole = min((d for d in fab.drills if d >= mm("0.8")), default=LINK_HOLE)
    hole = max(hole, fab.hole_min)
    return RoutingRules(
        nets=nets,
        default=default,
        edge=fab.edge_copper_min,
        npth=fab.npth_copper_min,
        hole_gap=fab.hole_gap_min,
        via_diameter=fab.via_diameter,
        via_hole=fab.via_hole,
        allow_vias=board.plated and not single,
        sides=(Side.BOTTOM,) if single else (Side.TOP, Side.BOTTOM),
        skip=skip,
        allow_links=single,
        link_pad=max(LINK_PAD, Nm(hole + 2 * fab.ring_min)),
        link_hole=hole,
        courtyard_gap=fab.courtyard_gap_min,
        grids=LINK_GRIDS if single else GRIDS,
        fallbacks=fallbacks,
        easings=tuple((n, NetRule(eased, r.spacing)) for n, r in thin if slim and r.width > eased),
        any_angle=any_angle,
    )

"""The router's front: a board in, the same board with tracks out, and an account of it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

from boardgen.board.model import Board, Track, Via
from boardgen.layout.route.anew import led_anew
from boardgen.layout.route.attempts import NO_WAY, Attempt, best_attempt
from boardgen.layout.route.bounds import spanning_length
from boardgen.layout.route.cut_back import cut_back
from boardgen.layout.route.exact import faulty_nets, pull_tight
from boardgen.layout.route.grid import build_grid
from boardgen.layout.route.linked import EFFORTS, Narrow, best_linked
from boardgen.layout.route.links import link_parts
from boardgen.layout.route.problem import Problem, build_problem, point
from boardgen.layout.route.rules import RoutingRules
from boardgen.layout.route.taut import pull_taut
from boardgen.layout.route.trace import Wiring, trace
from boardgen.units import Nm, Point

EFFORT = 2  # fallbacks are taken up only while fewer than this many times the passes are spent
DETOUR, DETOUR_NM = 1.15, 5e6  # a net this many times, and nm, longer than need be takes a detour
EASED_NM = 1e6  # nm that easing a net must spare where tracks run at any angle


@dataclass(frozen=True, slots=True)
class Unrouted:
    """A connection that could not be made: two pads of one net ("U1 pad 3") and why."""

    net: str
    start: str
    end: str
    reason: str


@dataclass(frozen=True, slots=True)
class RouteStats:
    """What routing took: nets asked for, and lengths in nm. *grid* is the one that succeeded."""

    nets: int
    connections: int
    vias: int
    length: float
    grid: Nm
    rounds: int
    faults: int  # nets the exact check sent back
    narrowed: tuple[str, ...] = ()  # nets that run narrower than their class


@dataclass(frozen=True, slots=True)
class RouteResult:
    """The routed board and its account. *links* counts wire links, *passes* complete attempts."""

    board: Board
    unrouted: tuple[Unrouted, ...]
    links: int
    passes: int
    stats: RouteStats
    attempt: Attempt | None = None  # of shy rules: what the same rules begin with when they are not


@dataclass(slots=True)
class _Candidate:
    problem: Problem
    wiring: Wiring
    attempt: Attempt
    faulty: tuple[int, ...]
    step: Nm

    def missing(self) -> frozenset[int]:
        return frozenset(n for n, s in enumerate(self.attempt.state) if s) | frozenset(self.faulty)

    def rank(self) -> tuple[int, int, int]:
        return len(self.missing()), len(self.wiring.vias) + len(self.wiring.jumps), self.attempt.length

    def lengths(self) -> list[float]:
        """Track length of each net, nm."""
        return self.wiring.lengths(len(self.problem.names))


def _detours(done: _Candidate) -> frozenset[str]:
    """Return the nets that run much further than 45-degree tracks from pad to pad would."""
    problem, lengths = done.problem, done.lengths()
    found = []
    for n in problem.todo:
        least = spanning_length(tuple(pin.at for pin in problem.pins[n]), octilinear=True)
        if lengths[n] > max(DETOUR * least, least + DETOUR_NM):
            found.append(problem.names[n])
    return frozenset(found)


def route(board: Board, rules: RoutingRules) -> Board:
    """Return *board* with every net of its parts' pads joined by tracks, as far as can be.

    Takes any placement: parts, outline, keepouts and nets are obeyed and left
    alone; tracks and vias already there are replaced. Tracks run in 45-degree
    steps between pad centres, or at any angle where the rules say so. Use
    :func:`route_report` to learn what could not be joined.
    """
    return route_report(board, rules).board


def route_report(board: Board, rules: RoutingRules, known: Attempt | None = None) -> RouteResult:
    """Route *board* under *rules* and say what was done; see :func:`route`.

    The grids of ``rules.grids`` are tried in turn until every net is joined and
    passes the exact check. What fails the check is taken off again and named.
    *known* is the attempt that the same board came to under the same rules, but shy.
    """
    if rules.allow_links:
        return _report_linked(board, rules)
    names = [net.name for net in board.nets]
    tight = bool(rules.fallbacks) and not rules.shy
    best, stuck, passes, sent_back = _solve(board, rules, known, walled=tight)
    first = best.attempt if rules.shy and best else None
    in_force = rules
    for level in range(len(rules.fallbacks)):
        # first the nets that are stuck make room; at the narrowest, all of them
        for everyone in (False, True) if level == len(rules.fallbacks) - 1 else (False,):
            if not stuck or rules.shy or passes >= EFFORT * rules.passes:
                break
            only = frozenset(names if everyone else (names[n] for n in stuck))
            narrower = in_force.narrowed(level, only)
            if narrower.nets == in_force.nets:
                continue
            candidate, still, made, back = _solve(board, narrower, walled=best is None and not everyone)
            passes += made
            sent_back += back
            if candidate is None:
                in_force, stuck = narrower, still
            elif best is None or candidate.rank() < best.rank():
                best, in_force, stuck = candidate, narrower, candidate.missing()
    if best is None:  # walled in at every width that was tried: what can be joined is
        best, _, made, back = _solve(board, in_force)
        passes += made
        sent_back += back
    if best is None:
        raise ValueError("RoutingRules.grids is empty")
    late = frozenset() if best.missing() else _detours(best) & {name for name, _ in in_force.easings}
    if late:
        eased = in_force.eased(late)
        # two looks on the coarse grid, even where only the fine one had a way for the full width: this is
        # for length alone
        candidate, _, made, back = _solve(
            board, replace(eased, grids=rules.grids[:1], passes=2, shy=False), walled=True
        )
        passes += made
        sent_back += back
        if (
            candidate is not None
            and candidate.rank()[:2] <= best.rank()[:2]
            and sum(best.lengths()) - sum(candidate.lengths()) > DETOUR_NM
        ):
            best, in_force = candidate, eased
    if rules.any_angle:
        best, in_force = _taut(best, in_force)
    elif not best.missing():
        best = _shorter(board, best, in_force)
    wide = dict(rules.nets)
    narrowed = tuple(name for name, rule in in_force.nets if rule != wide[name])
    return replace(_result(board, in_force, best, passes, sent_back, narrowed), attempt=first)


def _shorter(board: Board, done: _Candidate, rules: RoutingRules) -> _Candidate:
    """Return *done* with nets that go a long way round led shorter, where there is room for that."""
    wiring = led_anew(board, done.problem, done.wiring, rules)
    if wiring is None:
        return done
    faulty = faulty_nets(done.problem, wiring, rules)
    return done if faulty else replace(done, wiring=wiring)


def _report_linked(board: Board, rules: RoutingRules) -> RouteResult:
    """Route a board of one copper side: at full width, then narrower, with the efforts of linked.EFFORTS."""
    names = [net.name for net in board.nets]
    best: _Candidate | None = None
    missing: frozenset[int] = frozenset()
    in_force = rules
    passes = sent_back = 0
    level = len(rules.fallbacks) - 1
    narrowest = rules.narrowed(level, frozenset(names)) if rules.fallbacks else rules
    for effort in EFFORTS:
        trial = rules
        if best is not None or missing:
            if not 0 < len(missing) <= effort.most:
                continue
            stuck = frozenset(names[n] for n in missing)
            if effort.narrow is Narrow.ALL:
                trial = narrowest
            elif effort.narrow is Narrow.STUCK and rules.fallbacks:
                trial = rules.narrowed(level, stuck)
            if trial.nets == in_force.nets and effort.grid is None:
                continue
        problem = build_problem(board, trial)
        pace = effort.grid or trial.grids[0]
        grid = build_grid(board, problem, trial, int(pace))
        # a net that its own width walls in has to be narrowed first, whatever the others do
        strict = trial.nets != narrowest.nets
        attempt, made = best_linked(board, problem, grid, trial, effort, strict)
        if attempt.given_up:
            passes += made
            missing = frozenset(n for n, s in enumerate(attempt.state) if s)
            continue
        wiring = trace(problem, grid, attempt)
        pull_tight(problem, wiring, trial)
        faulty = faulty_nets(problem, wiring, trial)
        passes += made
        sent_back += len(faulty)
        candidate = _Candidate(problem, wiring, attempt, faulty, pace)
        if best is None or candidate.rank() < best.rank():
            best, in_force = candidate, trial
        missing = best.missing()
    if best is None:
        raise ValueError("no effort is set")
    if rules.any_angle:
        best, in_force = _taut(best, in_force)
    wide = dict(rules.nets)
    narrowed = tuple(name for name, rule in in_force.nets if rule != wide[name])
    return _result(board, in_force, best, passes, sent_back, narrowed)


def _taut(done: _Candidate, rules: RoutingRules) -> tuple[_Candidate, RoutingRules]:
    """Return *done* with its links pulled straight at any angle, and the rules now in force.

    A board with an open net is left as it is. A net that still goes a long way round is
    eased where that spares enough. What the exact check minds is not done.
    """
    if done.missing():
        return done, rules
    best, in_force = _pulled(done, rules) or done, rules
    eases = dict(rules.easings)
    lengths = best.lengths()
    over = []
    for n in best.problem.todo:
        rule = eases.get(best.problem.names[n])
        if rule is None or rule.width >= rules.rule(best.problem.names[n]).width:
            continue
        more = lengths[n] - spanning_length(tuple(pin.at for pin in best.problem.pins[n]))
        if more > EASED_NM:
            over.append((-more, n))
    for _, n in sorted(over):
        name = best.problem.names[n]
        half = best.problem.half.copy()
        half[n] = eases[name].width / 2
        narrow = in_force.eased(frozenset((name,)))
        eased = _pulled(replace(best, problem=replace(best.problem, half=half)), narrow)
        if eased is not None and sum(eased.lengths()) < sum(best.lengths()) - EASED_NM:
            best, in_force = eased, narrow
    return best, in_force


def _pulled(done: _Candidate, rules: RoutingRules) -> _Candidate | None:
    """Return *done* pulled taut, None where the exact check minds more than before."""
    wiring = pull_taut(done.problem, done.wiring, rules)
    faulty = faulty_nets(done.problem, wiring, rules, octilinear=False)
    return None if set(faulty) - set(done.faulty) else replace(done, wiring=wiring, faulty=faulty)


def _solve(
    board: Board, rules: RoutingRules, known: Attempt | None = None, walled: bool = False
) -> tuple[_Candidate | None, frozenset[int], int, int]:
    """Try the grids in turn; returns the best outcome, its open nets, attempts made and nets sent back.

    With *walled* there is no outcome where the pads about a net leave its width no way even on the
    finest grid: those nets are to be narrower first.
    """
    problem = build_problem(board, rules)
    best: _Candidate | None = None
    stuck: frozenset[int] = frozenset()
    passes = 0
    sent_back = 0
    for step in rules.grids:
        grid = build_grid(board, problem, rules, int(step))
        finest = step == rules.grids[-1]
        coarsest = step == rules.grids[0]
        attempt, made = best_attempt(
            problem, grid, rules, strict=walled or not finest, known=known if coarsest else None
        )
        passes += made
        if attempt.given_up:
            stuck = frozenset(n for n, s in enumerate(attempt.state) if s == NO_WAY)
            continue
        wiring = trace(problem, grid, attempt)
        pull_tight(problem, wiring, rules)
        faulty = faulty_nets(problem, wiring, rules)
        sent_back += len(faulty)
        candidate = _Candidate(problem, wiring, attempt, faulty, step)
        if best is None or candidate.rank() < best.rank():
            best = candidate
        if not best.missing():
            break
    return best, best.missing() if best else stuck, passes, sent_back


def _result(
    board: Board,
    rules: RoutingRules,
    best: _Candidate,
    passes: int,
    sent_back: int,
    narrowed: tuple[str, ...],
) -> RouteResult:
    problem, wiring = best.problem, best.wiring
    dropped = set(best.faulty)
    tracks: list[Track] = []
    for i in range(len(wiring.count)):
        n = int(wiring.nets[i])
        if n in dropped:
            continue
        width = rules.rule(problem.names[n]).width
        side = rules.sides[int(wiring.layers[i])]
        spots = wiring.link(i)
        for a, b in pairwise(spots):
            tracks.append(Track(problem.names[n], side, point(*a), point(*b), width))
    tracks.sort(key=lambda t: (t.net, t.side, t.start, t.end))
    vias = tuple(
        Via(problem.names[n], point(x, y), rules.via_diameter, rules.via_hole)
        for n, x, y in wiring.vias
        if n not in dropped
    )
    jumps = [
        (problem.names[n], point(ax, ay), point(bx, by))
        for n, ax, ay, bx, by in wiring.jumps
        if n not in dropped
    ]
    links = link_parts(board, jumps, rules.link_pad, rules.link_hole)
    routed = replace(board, parts=board.parts + links)
    locked, held = cut_back(routed, (rules.locked, rules.locked_vias), tracks, vias, rules.skip)
    vias = (*held, *vias)
    routed = routed.with_copper((*locked, *tracks), vias, ())
    unrouted = _unrouted(best, routed)
    asked = sum(len(problem.pins[n]) - 1 for n in problem.todo)
    return RouteResult(
        board=routed,
        unrouted=unrouted,
        links=len(links),
        passes=passes,
        stats=RouteStats(
            nets=len(problem.todo),
            connections=asked,
            vias=len(vias),
            length=sum(t.start.distance(t.end) for t in tracks),
            grid=best.step,
            rounds=best.attempt.rounds,
            faults=sent_back,
            narrowed=narrowed,
        ),
    )


_REASONS = {
    1: "no way for a track of its width between the pads, holes and edges around it",
    2: "no way left past the tracks of other nets",
    3: "no track that keeps every clearance was found",
}


def _unrouted(best: _Candidate, routed: Board) -> tuple[Unrouted, ...]:
    """Name one missing connection for each piece a net fell into beyond the first."""
    problem = best.problem
    found: list[Unrouted] = [
        Unrouted(problem.names[n], where, "the rest of its net", "the pad has no copper on a side in use")
        for n, where in problem.unreachable
    ]
    for n in problem.todo:
        state = 3 if n in best.faulty else best.attempt.state[n]
        if state == 0:
            continue
        pins = problem.pins[n]
        ends = {p.at: p.at for p in pins}

        def root(at: Point, ends: dict[Point, Point] = ends) -> Point:
            while ends.setdefault(at, at) != at:
                at = ends[at]
            return at

        for track in routed.tracks:
            if track.net == problem.names[n]:
                ends[root(track.start)] = root(track.end)
        for link in routed.parts:
            if link.nets[:1] == (("1", problem.names[n]),) and link.ref.startswith("W"):
                a, b = (link.placement.place(pad.at) for pad in link.footprint.pads)
                ends[root(a)] = root(b)
        first = pins[0]
        seen = {root(first.at)}
        for pin in pins[1:]:
            if root(pin.at) not in seen:
                seen.add(root(pin.at))
                found.append(
                    Unrouted(
                        problem.names[n],
                        f"{first.ref} pad {first.number}",
                        f"{pin.ref} pad {pin.number}",
                        _REASONS[state],
                    )
                )
    return tuple(found)

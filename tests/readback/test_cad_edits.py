"""What a person does to a board in CAD: each fault is named by its rule, what is right passes."""

from __future__ import annotations

import math

import pytest
import shapely
from cad_kit import child, children, findings, footprint, head, intent, model_in_file, pad, read, told, words

from boardgen.board.geometry import pad_shape
from boardgen.board.model import Side
from boardgen.errors import Severity
from boardgen.footprint.sexpr import Sym

NAME = "lecture-keypad"


def number(value):
    return Sym(f"{value:.6f}")


def put(node, name, *values):
    child(node, name)[1:] = [number(v) if isinstance(v, float) else v for v in values]


def place(node, name="at"):
    return [float(v) for v in child(node, name)[1:3]]


def messages(found, rule):
    return [f.message for f in found if f.rule == rule]


def test_a_moved_part_leaves_its_tracks_behind():
    def edit(tree):
        node = footprint(tree, "U1")
        x, y = place(node)
        put(node, "at", x + 1.27, y, *child(node, "at")[3:])

    found = findings(NAME, edit)
    assert "unconnected" in told(found, Severity.ERROR)
    assert not {"cad-net", "cad-pin", "cad-contact", "cad-outline"} & told(found, Severity.NOTE)


def test_a_part_moved_and_turned_with_its_numbers_is_no_fault_of_numbering():
    def edit(tree):
        put(footprint(tree, "J1"), "at", 150.0, 100.0, number(90.0))

    assert not {"cad-contact", "cad-net"} & told(findings(NAME, edit), Severity.NOTE)


def corner(tree):
    """Return two long segments of one net that meet, with their places."""
    tracks = children(tree, "segment")
    for a in tracks:
        for b in tracks:
            if a is not b and words(child(a, "end")) == words(child(b, "start")):
                ends = place(a, "start"), place(a, "end"), place(b, "end")
                if min(math.dist(*ends[:2]), math.dist(*ends[1:])) > 1.5:
                    return a, b, ends
    raise AssertionError("no corner")


def rounded(tree, reach):
    """Round a corner by an arc that touches both its segments *reach* mm off it."""
    a, b, (p, q, r) = corner(tree)
    u = [(p[i] - q[i]) / math.dist(p, q) for i in (0, 1)]
    v = [(r[i] - q[i]) / math.dist(r, q) for i in (0, 1)]
    start, end = [q[i] + reach * u[i] for i in (0, 1)], [q[i] + reach * v[i] for i in (0, 1)]
    half = math.acos(u[0] * v[0] + u[1] * v[1]) / 2
    middle = [u[i] + v[i] for i in (0, 1)]
    long = math.hypot(*middle)
    radius, off = reach * math.tan(half), reach / math.cos(half)
    mid = [q[i] + middle[i] / long * (off - radius) for i in (0, 1)]
    put(a, "end", *start)
    put(b, "start", *end)
    arc = [Sym("arc")]
    for name, spot in (("start", start), ("mid", mid), ("end", end)):
        arc.append([Sym(name), *(number(v) for v in spot)])
    tree.append([*arc, child(a, "width"), child(a, "layer"), child(a, "net")])


def test_a_corner_rounded_by_an_arc_is_the_same_connection():
    found = findings(NAME, lambda tree: rounded(tree, 0.6))
    assert told(found, Severity.NOTE) == set()
    board = read(NAME, lambda tree: rounded(tree, 0.6))
    assert dict(board.counts)["of these from arcs"] == 1
    assert len(board.board.tracks) > 45


def test_an_arc_into_other_copper_is_a_short():
    def edit(tree):
        a, _b, (_p, q, r) = corner(tree)
        arc = [Sym("arc"), [Sym("start"), *map(number, q)]]
        arc += [[Sym("mid"), number(q[0] + 3.0), number(q[1] + 4.0)], [Sym("end"), *map(number, r)]]
        tree.append([*arc, child(a, "width"), child(a, "layer"), child(a, "net")])

    assert "short" in told(findings(NAME, edit), Severity.ERROR)


def test_nets_of_two_contacts_exchanged_are_told_as_one():
    def edit(tree):
        one, two = child(pad(tree, "J1", "1"), "net"), child(pad(tree, "J1", "2"), "net")
        one[1:], two[1:] = two[1:], one[1:]

    found = findings(NAME, edit)
    assert messages(found, "cad-net") == [
        "J1 pad 1 and J1 pad 2 have each other's nets: J1 pad 1 is on ROW2, the design has it on ROW1"
    ]
    assert {"cad-net", "short"} <= told(found, Severity.ERROR)


def test_a_connector_mirrored_in_its_place_is_called_mirrored():
    def edit(tree):
        for item in children(footprint(tree, "J1"), "pad"):
            x, y = place(item)
            put(item, "at", -x, y, *child(item, "at")[3:])

    (message,) = messages(findings(NAME, edit), "cad-contact")
    assert message.startswith("the contacts of J1 are numbered mirrored, as seen from the other side")


def test_a_connector_turned_over_to_the_other_side_keeps_its_numbers():
    """What the program does when it turns a part over: y negated, layers exchanged."""

    def over(node):
        for item in node:
            if isinstance(item, list):
                if head(item) in ("at", "start", "mid", "end", "center", "xy") and node is not top[0]:
                    item[2] = number(-float(item[2]))
                if head(item) in ("layer", "layers"):
                    item[1:] = [{"F": "B", "B": "F"}.get(s[0], s[0]) + s[1:] for s in map(str, item[1:])]
                over(item)

    top = []

    def edit(tree):
        top[:] = [footprint(tree, "J1")]
        over(top[0])

    found = findings(NAME, edit)
    assert not {"cad-contact", "cad-net"} & told(found, Severity.NOTE)
    assert messages(found, "cad-part") == ["J1 stands on the bottom, in the design on the top"]


def test_contacts_renumbered_from_the_other_end():
    def edit(tree):
        for item in children(footprint(tree, "J1"), "pad"):
            if str(item[1]).isdigit():
                n = int(item[1])
                item[1] = str(14 - n if n < 14 else 39 - n)

    (message,) = messages(findings(NAME, edit), "cad-contact")
    assert message.endswith(": contact 13 stands where contact 1 belongs")
    assert "mirrored" in message


def test_two_contacts_in_each_others_places():
    def edit(tree):
        one, two = pad(tree, "J1", "3"), pad(tree, "J1", "4")
        one[1], two[1] = two[1], one[1]

    assert messages(findings(NAME, edit), "cad-contact") == [
        "contacts of J1 stand in each other's places: 3, 4"
    ]


def test_module_pins_renumbered():
    def edit(tree):
        for item in children(footprint(tree, "U1"), "pad"):
            if str(item[1]).isdigit():
                item[1] = str(41 - int(item[1]))

    (message,) = messages(findings(NAME, edit), "cad-pin")
    assert message.startswith("the pins of U1 are numbered mirrored")


def test_a_thinner_track():
    found = findings(NAME, lambda tree: put(children(tree, "segment")[3], "width", 0.1))
    assert told(found) == {"track-width"}


def test_a_removed_track():
    assert "unconnected" in told(
        findings(NAME, lambda t: t.remove(children(t, "segment")[3])), Severity.ERROR
    )


def sides(tree):
    return [
        item
        for item in tree
        if head(item) in ("gr_line", "gr_arc") and words(child(item, "layer")) == ["Edge.Cuts"]
    ]


def test_a_wider_outline_is_not_the_designs():
    def edit(tree):
        right = max(place(item, name)[0] for item in sides(tree) for name in ("start", "end"))
        for item in sides(tree):
            for name in ("start", "mid", "end"):
                if child(item, name) is not None and place(item, name)[0] > right - 5:
                    x, y = place(item, name)
                    put(item, name, x + 2.0, y)

    found = findings(NAME, edit)
    assert told(found) == {"cad-outline"}
    assert messages(found, "cad-outline") == ["the outline is up to 2.000 mm off the design's"]


def test_a_narrower_outline_cuts_into_copper():
    def edit(tree):
        right = max(place(item, name)[0] for item in sides(tree) for name in ("start", "end"))
        for item in sides(tree):
            for name in ("start", "mid", "end"):
                if child(item, name) is not None and place(item, name)[0] > right - 5:
                    x, y = place(item, name)
                    put(item, name, x - 1.0, y)

    assert {"cad-outline", "edge-distance"} <= told(findings(NAME, edit))


def test_an_outline_with_a_gap_is_open():
    found = findings(NAME, lambda tree: tree.remove(sides(tree)[0]))
    assert "profile" in told(found, Severity.ERROR)


def test_ends_that_miss_by_less_than_a_corner_are_one():
    def edit(tree):
        x, y = place(sides(tree)[0], "end")
        put(sides(tree)[0], "end", x + 0.003, y)

    assert told(findings(NAME, edit), Severity.NOTE) == set()


def test_no_outline_at_all():
    def edit(tree):
        for item in sides(tree):
            tree.remove(item)

    assert "profile" in told(findings(NAME, edit), Severity.ERROR)


@pytest.mark.parametrize("kind", ["gr_rect", "gr_poly", "gr_circle", "lines reversed"])
def test_the_outline_in_other_words(kind):
    def edit(tree):
        places = [place(item, name) for item in sides(tree) for name in ("start", "end")]
        left, top = min(p[0] for p in places), min(p[1] for p in places)
        right, bottom = max(p[0] for p in places), max(p[1] for p in places)
        if kind == "lines reversed":
            for item in sides(tree)[::2]:
                child(item, "start")[0], child(item, "end")[0] = Sym("end"), Sym("start")
            return
        for item in sides(tree):
            tree.remove(item)
        tail = [[Sym("layer"), "Edge.Cuts"]]
        if kind == "gr_circle":
            r = math.hypot(right - left, bottom - top) / 2 + 1
            x, y = (left + right) / 2, (top + bottom) / 2
            tree.append(
                [
                    Sym(kind),
                    [Sym("center"), number(x), number(y)],
                    [Sym("end"), number(x + r), number(y)],
                    *tail,
                ]
            )
        elif kind == "gr_rect":
            tree.append(
                [
                    Sym(kind),
                    [Sym("start"), number(left), number(top)],
                    [Sym("end"), number(right), number(bottom)],
                    *tail,
                ]
            )
        else:
            ring = [(left, top), (right, top), (right, bottom), (left, bottom)]
            tree.append([Sym(kind), [Sym("pts"), *([Sym("xy"), *map(number, p)] for p in ring)], *tail])

    found = findings(NAME, edit)
    wanted = {"lines reversed": set(), "gr_circle": {"cad-outline", "overhang"}}  # the plug meets the circle
    assert told(found) == wanted.get(kind, {"cad-outline"})


def test_a_free_curve_in_the_outline_is_named():
    def edit(tree):
        item = sides(tree)[0]
        item[0] = Sym("gr_curve")

    found = findings(NAME, edit)
    assert {"cad-unread", "profile"} <= told(found, Severity.ERROR)
    (message,) = messages(found, "cad-unread")
    assert "curve of the profile" in message


def test_a_pour_without_its_fill():
    def edit(tree):
        zone = next(z for z in children(tree, "zone") if children(z, "filled_polygon"))
        for fill in children(zone, "filled_polygon"):
            zone.remove(fill)

    found = findings(NAME, edit)
    assert "cad-fill" in told(found)
    assert messages(found, "cad-fill")[0].startswith("the area for GND has no fill")


def test_a_fill_left_as_it_was_over_a_new_track_is_a_short():
    def edit(tree):
        zone = next(z for z in children(tree, "zone") if children(z, "filled_polygon"))
        (layer,) = words(child(zone, "layer"))
        other = next(n for n in children(tree, "net") if n[2] == "ROW1")
        made = [
            Sym("segment"),
            [Sym("start"), number(130.0), number(100.0)],
            [Sym("end"), number(131.0), number(100.0)],
        ]
        tree.append([*made, [Sym("width"), number(0.25)], [Sym("layer"), layer], [Sym("net"), other[1]]])

    assert "short" in told(findings(NAME, edit), Severity.ERROR)


def free(item, *primitives):
    """Make a round pad one of free form with the given pieces."""
    item[3] = Sym("custom")
    item += [
        [Sym("options"), [Sym("clearance"), Sym("outline")], [Sym("anchor"), Sym("circle")]],
        [Sym("primitives"), *primitives],
    ]


def line(x, y, width):
    return [
        Sym("gr_line"),
        [Sym("start"), Sym("0"), Sym("0")],
        [Sym("end"), number(x), number(y)],
        [Sym("width"), number(width)],
    ]


def test_a_pad_of_free_form_that_keeps_its_distance_passes():
    assert (
        told(findings(NAME, lambda tree: free(pad(tree, "J1", "1"), line(0.0, 0.3, 1.0))), Severity.NOTE)
        == set()
    )


def test_a_pad_of_free_form_that_reaches_its_neighbour_is_a_short():
    def edit(tree):
        one, two = place(pad(tree, "J1", "1")), place(pad(tree, "J1", "2"))
        free(pad(tree, "J1", "1"), line(two[0] - one[0], two[1] - one[1], 0.5))

    assert "short" in told(findings(NAME, edit), Severity.ERROR)


def test_a_rounded_pad_has_the_rounded_copper():
    def edit(tree):
        item = pad(tree, "J1", "1")
        item[3] = Sym("roundrect")
        item.append([Sym("roundrect_rratio"), Sym("0.25")])

    board = read(NAME, edit).board
    part = board.part("J1")
    shape = pad_shape(part, part.footprint.numbered("1")[0])
    assert shape.radius == 450_000
    assert shape.skeleton.area == pytest.approx(0.9e6**2)


def test_a_pad_that_is_not_read_is_an_error_that_names_it():
    def edit(tree):
        free(pad(tree, "J1", "1"), [Sym("gr_curve"), [Sym("pts")]])

    found = findings(NAME, edit)
    (message,) = messages(found, "cad-unread")
    assert message.startswith(
        "J1, pad '1' is not read: a piece of a pad that cannot be taken over; found gr_curve"
    )
    assert {"cad-unread", "cad-net", "cad-contact"} <= told(found, Severity.ERROR)


def test_parts_missing_twice_or_of_nobody():
    def edit(tree):
        tree.remove(footprint(tree, "U1"))
        tree.append([*footprint(tree, "J1")])
        extra = [*footprint(tree, "J1")]
        extra = [
            [*item[:2], "X9", *item[3:]]
            if head(item) in ("fp_text", "property") and item[2] == "J1"
            else item
            for item in extra
        ]
        tree.append(extra)

    found = findings(NAME, edit)
    assert set(messages(found, "cad-part")) == {
        "U1 of the design is not on the board",
        "J1 is on the board more than once",
        "J1 (2) is on the board but not in the design",
        "X9 is on the board but not in the design",
    }


@pytest.mark.parametrize(
    ("change", "words_"),
    [
        (lambda via: via.insert(1, Sym("blind")), "a blind via of GND"),
        (lambda via: child(via, "layers").__setitem__(2, "In1.Cu"), "a from F.Cu to In1.Cu via of GND"),
    ],
)
def test_vias_that_two_sides_do_not_have(change, words_):
    def edit(tree):
        (code,) = [n[1] for n in children(tree, "net") if n[2] == "GND"]
        via = [Sym("via"), [Sym("at"), number(125.0), number(100.0)], [Sym("size"), number(0.8)]]
        via += [[Sym("drill"), number(0.4)], [Sym("layers"), "F.Cu", "B.Cu"], [Sym("net"), code]]
        change(via)
        tree.append(via)

    assert any(m.startswith(words_) for m in messages(findings(NAME, edit), "cad-layer"))


def test_copper_on_an_inner_layer():
    def edit(tree):
        child(children(tree, "segment")[0], "layer")[1] = "In1.Cu"

    found = findings(NAME, edit)
    assert {"cad-layer", "unconnected"} <= told(found, Severity.ERROR)


def test_copper_drawn_as_a_graphic_is_named():
    def edit(tree):
        text = [Sym("gr_text"), "HELLO", [Sym("at"), number(130.0), number(90.0)], [Sym("layer"), "F.Cu"]]
        tree.append(text)

    assert "cad-unread" in told(findings(NAME, edit), Severity.ERROR)


def test_what_is_locked_is_kept_as_a_fact():
    def edit(tree):
        footprint(tree, "J1").insert(2, Sym("locked"))
        footprint(tree, "U1").append([Sym("locked"), Sym("yes")])
        children(tree, "segment")[0].append([Sym("locked"), Sym("yes")])

    board = read(NAME, edit)
    assert set(board.locked[:2]) == {"J1", "U1"}
    assert board.locked[2].startswith("track of ")
    assert told(findings(NAME, edit), Severity.NOTE) == set()


def newer(tree):
    """Spell the file as the CAD program's versions 8 and 9 do."""
    child(tree, "version")[1] = Sym("20241229")
    names = {
        "F.SilkS": "F.Silkscreen",
        "B.SilkS": "B.Silkscreen",
        "F.CrtYd": "F.Courtyard",
        "B.CrtYd": "B.Courtyard",
    }

    def walk(node):
        if head(node) == "tstamp":
            node[0] = Sym("uuid")
        if head(node) in ("layer", "layers"):
            node[1:] = [names.get(item, item) if isinstance(item, str) else item for item in node[1:]]
        if head(node) == "fp_text" and str(node[1]) in ("reference", "value"):
            node[0], node[1] = Sym("property"), str(node[1]).capitalize()
        for rank, item in enumerate(node):
            if isinstance(item, Sym) and item == "hide":
                node[rank] = [Sym("hide"), Sym("yes")]
            if isinstance(item, list):
                walk(item)

    for item in children(tree, "footprint") + [i for i in tree if head(i).startswith("gr_")]:
        walk(item)


@pytest.mark.parametrize("name", ["lecture-keypad", "chart-ball"])
def test_both_generations_give_the_same_board(name):
    old, new = read(name), read(name, newer)
    assert new.board == old.board
    assert new.findings == old.findings == ()
    assert (old.version, new.version) == (20221018, 20241229)


def test_fills_of_the_old_sort_are_grown_by_half_their_pen():
    def edit(tree):
        for zone in children(tree, "zone"):
            if children(zone, "filled_polygon"):
                zone.remove(child(zone, "filled_areas_thickness"))

    old, new = read(NAME).board, read(NAME, edit).board
    before = sum(shapely.Polygon(p.outer, p.holes).area for pour in old.pours for p in pour.pieces)
    after = sum(shapely.Polygon(p.outer, p.holes).area for pour in new.pours for p in pour.pieces)
    rim = sum(shapely.Polygon(p.outer, p.holes).length for pour in old.pours for p in pour.pieces)
    assert after == pytest.approx(before + rim * int(old.pours[0].min_width) / 2, rel=0.01)


def test_the_intent_and_the_file_speak_of_one_origin():
    wanted = intent(NAME)
    origin = read(NAME).origin
    assert origin is not None
    shift = model_in_file(NAME).outline.outer[0].start
    assert wanted.outline is not None
    assert shift.x - origin.x == pytest.approx(wanted.outline.bounds[0] - wanted.origin[0], abs=10_000_000)
    assert read(NAME).board.copper == (Side.TOP, Side.BOTTOM)

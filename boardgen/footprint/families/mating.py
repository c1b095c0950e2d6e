"""Mating faces, and how their contacts come out on the board.

A face is what one sees looking at the mating end: x right, y down, the wide
side or the key up. A plug and the socket it mates with are mirror images. The
board side is always derived from the face by :func:`land`, never typed.
"""

from __future__ import annotations

from boardgen.units import Nm, Point

Contact = tuple[str, Point]
Face = tuple[Contact, ...]
Sites = tuple[tuple[Point, ...], ...]


def mirrored(face: Face) -> Face:
    """Return the face of the other gender: left and right change places."""
    return tuple((number, Point(-at.x, at.y)) for number, at in face)


def rows(face: Face) -> tuple[Face, ...]:
    """Return the contacts by rows, top row first, each row from left to right."""
    heights = sorted({at.y for _, at in face})
    return tuple(tuple(sorted((c for c in face if c[1].y == y), key=lambda c: c[1].x)) for y in heights)


def land(face: Face, sites: Sites | None = None) -> Face:
    """Return where each contact's pad lies, in face order.

    Without *sites* the part stands straight: seen from the component side the
    pads lie as on the mating face. With *sites* the part lies on the board with
    its mating end toward +y, toward the reader: each row of the face keeps its
    left-right order on the *sites* of that row (top row first), which carry no
    numbers. Raises ValueError where rows and sites do not match.
    """
    if sites is None:
        return face
    face_rows = rows(face)
    if [len(row) for row in face_rows] != [len(row) for row in sites]:
        raise ValueError("the sites do not match the rows of the mating face")
    placed: dict[str, Point] = {}
    for row, places in zip(face_rows, sites, strict=True):
        for (number, _), place in zip(row, sorted(places), strict=True):
            placed[number] = place
    return tuple((number, placed[number]) for number, _ in face)


def flat_sites(face: Face, heights: tuple[Nm, ...]) -> Sites:
    """Return sites that keep the face's x, with row i of the face (top first) at y = *heights*[i]."""
    face_rows = rows(face)
    if len(face_rows) != len(heights):
        raise ValueError("one height for each row of the mating face is needed")
    return tuple(tuple(Point(at.x, y) for _, at in row) for row, y in zip(face_rows, heights, strict=True))


def by_gender(plug_face: Face, gender: str) -> Face:
    """Return *plug_face* for a plug, its mirror image for a socket."""
    return plug_face if gender == "plug" else mirrored(plug_face)

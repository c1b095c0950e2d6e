"""A CAD board edited as a person's hand would: parts, tracks, outline, holes and texts."""

import re
from pathlib import Path


def blocks(text: str, head: str) -> list[tuple[int, int]]:
    """Where each top-level list that begins with *head* stands in the file."""
    found = []
    for match in re.finditer(rf"^  \({head}[ \n]", text, re.MULTILINE):
        end = text.index("\n  )\n", match.start()) + 5
        found.append((match.start(), end))
    return found


class Hand:
    """An editor of one CAD file; lengths in mm, places on the CAD sheet."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.text = path.read_text("utf-8")

    def save(self) -> None:
        self.path.write_text(self.text, "utf-8")

    def part(self, ref: str) -> tuple[int, int]:
        for start, end in blocks(self.text, "footprint"):
            if f'(fp_text reference "{ref}"' in self.text[start:end]:
                return start, end
        raise KeyError(ref)

    def place(self, ref: str) -> tuple[float, float, float]:
        start, end = self.part(ref)
        found = re.search(r"\(at ([^)]*)\)", self.text[start:end])
        x, y, *turn = map(float, found[1].split())
        return x, y, turn[0] if turn else 0.0

    def put(self, ref: str, dx: float, dy: float, turn: float = 0.0) -> None:
        """Move and turn a part; its pads turn with it: the file has their angle on the board."""
        start, end = self.part(ref)
        x, y, was = self.place(ref)
        body = self.text[start:end]
        if turn:

            def turned(match: re.Match[str]) -> str:
                here = match[2].split()
                angle = (float(here[2]) if len(here) > 2 else 0.0) + turn
                return f"{match[1]}(at {here[0]} {here[1]} {angle % 360:g})"

            body = re.sub(r"(\(pad [^\n]*\n?\s*)\(at ([^)]*)\)", turned, body)
        place = f"(at {x + dx:.6f} {y + dy:.6f} {(was + turn) % 360:g})"
        body = re.sub(r"\(at [^)]*\)", place, body, count=1)
        self.text = self.text[:start] + body + self.text[end:]

    def take(self, ref: str) -> None:
        start, end = self.part(ref)
        self.text = self.text[:start] + self.text[end:]

    def nets(self) -> dict[str, str]:
        return {name: number for number, name in re.findall(r'^  \(net (\d+) "([^"]*)"\)', self.text, re.M)}

    def lock_tracks(self, net: str, most: int = 99) -> list[str]:
        """Lock up to *most* tracks of *net*; returns their text."""
        number = next(n for name, n in self.nets().items() if name.lstrip("/") == net)
        locked = []
        for start, end in reversed(blocks(self.text, "segment")):
            body = self.text[start:end]
            if f"(net {number})" in body and len(locked) < most:
                locked.append(body)
                self.text = (
                    self.text[:start] + body.replace("  (segment", "  (segment locked", 1) + self.text[end:]
                )
        return locked

    def text_at(self, words: str, dx: float, dy: float) -> None:
        for start, end in blocks(self.text, "gr_text"):
            body = self.text[start:end]
            if body.startswith(f'  (gr_text "{words}"'):
                x, y, *turn = re.search(r"\(at ([^)]*)\)", body)[1].split()
                place = " ".join([f"{float(x) + dx:g}", f"{float(y) + dy:g}", *turn])
                body = re.sub(r"\(at [^)]*\)", f"(at {place})", body, count=1)
                self.text = self.text[:start] + body + self.text[end:]
                return
        raise KeyError(words)

    def add(self, item: str) -> None:
        """Append a list to the board."""
        at = self.text.rindex(")")
        self.text = self.text[:at] + f"  {item}\n)\n"

    def widen(self, edge: float, by: float) -> None:
        """Move every point of the outline that stands at x of *edge* or beyond by *by* mm to the right."""
        for start, end in reversed([*blocks(self.text, "gr_line"), *blocks(self.text, "gr_arc")]):
            body = self.text[start:end]
            if "Edge.Cuts" not in body:
                continue

            def moved(match: re.Match[str]) -> str:
                x, y = map(float, match[2].split())
                return f"({match[1]} {x + by if x >= edge else x:g} {y:g})"

            body = re.sub(r"\((start|mid|end) ([^)]*)\)", moved, body)
            self.text = self.text[:start] + body + self.text[end:]

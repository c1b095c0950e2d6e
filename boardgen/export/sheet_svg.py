"""Paints a sheet as SVG."""

from __future__ import annotations

from xml.sax.saxutils import escape, quoteattr

from boardgen.export.files import plain_line
from boardgen.export.sheet import PathMark, Sheet, TextMark
from boardgen.palette import PAPER

FONT = "'DejaVu Sans', Verdana, sans-serif"


def _n(value: float) -> str:
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _path(mark: PathMark) -> str:
    # Hundredths of a millimetre on paper are enough, and this is where a page's time goes.
    end = "Z" if mark.closed else ""
    data = "".join("M" + "L".join(f"{x:.2f} {y:.2f}" for x, y in line) + end for line in mark.lines)
    bits = [f'd="{data}"']
    bits.append(f'fill="{mark.fill}" fill-rule="evenodd"' if mark.fill else 'fill="none"')
    if mark.width > 0 and mark.stroke:
        bits.append(f'stroke="{mark.stroke}" stroke-width="{_n(mark.width)}"')
    if mark.dash:
        bits.append(f'stroke-dasharray="{" ".join(_n(d) for d in mark.dash)}"')
    return f"<path {' '.join(bits)}/>"


def _text(mark: TextMark) -> str:
    x, y = mark.at
    bits = [f'x="{_n(x)}" y="{_n(y)}" font-size="{_n(mark.size)}" fill="{mark.colour}"']
    if mark.anchor != "start":
        bits.append(f'text-anchor="{mark.anchor}"')
    if mark.bold:
        bits.append('font-weight="bold"')
    if mark.turn:
        bits.append(f'transform="rotate({_n(-mark.turn)} {_n(x)} {_n(y)})"')
    return f"<text {' '.join(bits)}>{escape(plain_line(mark.text))}</text>"


def sheet_svg(sheet: Sheet, whole: bool = True) -> str:
    """Return the sheet as an SVG document; without *whole*, without the XML head (for a page)."""
    size = f'width="{_n(sheet.width)}mm" height="{_n(sheet.height)}mm"'
    view = f'viewBox="0 0 {_n(sheet.width)} {_n(sheet.height)}"'
    lines = ['<?xml version="1.0" encoding="UTF-8"?>'] if whole else []
    lines.append(
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} {view} role="img"'
        f" aria-label={quoteattr(plain_line(sheet.title))}"
        f' font-family="{FONT}" stroke-linecap="round" stroke-linejoin="round">'
    )
    lines.append(f"<title>{escape(plain_line(sheet.title))}</title>")
    lines.append(f'<rect width="100%" height="100%" fill="{PAPER}"/>')
    lines.extend(_path(mark) if isinstance(mark, PathMark) else _text(mark) for mark in sheet.marks)
    lines.append("</svg>")
    return "\n".join(lines) + "\n"

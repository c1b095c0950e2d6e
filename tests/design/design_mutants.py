"""Damaged design files: the demos with lines dropped, doubled, swapped, keys and values replaced, bytes flipped."""
# ruff: noqa: E501

from __future__ import annotations

import re
from pathlib import Path

from hypothesis import strategies as st

ROOT = Path(__file__).parents[2]
DEMOS = ("lecture-keypad", "pointer-handset", "slide-remote", "dome-fader", "chart-ball")
SAMPLES = [(ROOT / "designs" / name / "design.toml").read_text() for name in DEMOS]
ODD = st.sampled_from(
    [
        "nan",
        "-inf",
        "1e308",
        "-1",
        "0",
        '""',
        '"x"',
        "true",
        "[]",
        "{}",
        "[[[]]]",
        "9" * 400,
        "1979-05-27",
        "'../../x'",
    ]
)


@st.composite
def mutants(draw: st.DrawFn) -> bytes:
    lines = draw(st.sampled_from(SAMPLES)).split("\n")
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(lines) - 1))
        what = draw(st.sampled_from(["drop", "double", "swap", "value", "value", "value", "key", "bytes"]))
        if what == "drop":
            del lines[at]
        elif what == "double":
            lines.insert(at, lines[at])
        elif what == "swap":
            other = draw(st.integers(0, len(lines) - 1))
            lines[at], lines[other] = lines[other], lines[at]
        elif what == "value":
            lines[at] = re.sub(r"= .*", lambda _: f"= {draw(ODD)}", lines[at])
        elif what == "key":
            lines[at] = draw(st.text(max_size=6)) + lines[at]
        if not lines:
            lines = [""]
    raw = bytearray("\n".join(lines).encode())
    for _ in range(draw(st.integers(0, 3))):
        if raw:
            raw[draw(st.integers(0, len(raw) - 1))] = draw(st.integers(0, 255))
    return bytes(raw)

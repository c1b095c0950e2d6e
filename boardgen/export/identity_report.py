"""The report's part about the straps that tell firmware the revision."""

from __future__ import annotations

from boardgen.design.model import NO_STRAPS
from boardgen.electrical.eseries import ohms_text
from boardgen.export.bundle import Bundle
from boardgen.export.identity_data import board_code, identity_data
from boardgen.export.signal_report import part_html


def identity_html(bundle: Bundle) -> str:
    """Return the table of straps with the proof of each level; "" for a board without."""
    code, data, identity = board_code(bundle), identity_data(bundle), bundle.bound.design.identity
    if code is None or data is None or identity is None:
        return ""
    return part_html(
        "identity", code=code, none=NO_STRAPS, rows=data["straps"], ohms=f"{ohms_text(identity.ohms)} ohm"
    )

"""The ``--revision`` option."""

from __future__ import annotations

import re

from boardgen.errors import InputError


def checked_revision(text: str | None) -> str | None:
    """Return *text*; raises InputError where it is not a revision."""
    from boardgen.design.schema import REVISION_PATTERN, WORDS

    if text is not None and not re.fullmatch(REVISION_PATTERN.strip("^$"), text):
        raise InputError(
            "the value is not allowed",
            key="--revision",
            found=repr(text[:40]),
            allowed=WORDS[REVISION_PATTERN],
        )
    return text

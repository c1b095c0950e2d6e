"""Revision letters: A to Z, then AA, AB and so on."""

from __future__ import annotations


def next_revision(revision: str) -> str:
    """Return the revision after *revision*; raises ValueError after ZZ."""
    if revision == "ZZ":
        raise ValueError("there is no revision after ZZ")
    if len(revision) == 1:
        return "AA" if revision == "Z" else chr(ord(revision) + 1)
    first, last = revision[0], revision[1]
    return f"{chr(ord(first) + 1)}A" if last == "Z" else f"{first}{chr(ord(last) + 1)}"

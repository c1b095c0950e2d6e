"""Boards in rows on one panel: where they stand, what holds them, and the panel as a board of its own."""

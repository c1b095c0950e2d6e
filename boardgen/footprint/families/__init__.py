"""Parametric families: each draws the footprints of one kind of part from its figures."""

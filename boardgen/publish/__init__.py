"""A finished run made into one page that a maker puts beside the files."""

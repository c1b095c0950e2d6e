"""Where current comes from, where it goes, and what keeps one source from driving another."""

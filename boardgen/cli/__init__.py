"""Floor 14: words, options and exit codes."""

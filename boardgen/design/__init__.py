"""Floor 4: the design file, read, validated and bound to catalogue entries."""

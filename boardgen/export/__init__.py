"""Floor 10: one module an output, each returning files in memory."""

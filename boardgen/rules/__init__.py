"""Floor 9: the design-rule check of a finished board, measured anew."""

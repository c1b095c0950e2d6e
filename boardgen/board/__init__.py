"""Floor 2: the board as it stands, and the exact geometry of everything on it."""

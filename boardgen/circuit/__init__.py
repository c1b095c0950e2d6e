"""Floor 7: which signal goes to which module pin, and the circuit that follows."""

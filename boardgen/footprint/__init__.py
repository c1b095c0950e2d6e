"""Floor 1: the pads, courtyard and legend of one part, whatever the part is for."""

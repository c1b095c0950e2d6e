"""Every rule a finding may name, with what it means; ids never change once they are out.

Reports for machines list them, and waivers may name them alone.
"""

from __future__ import annotations

RULES: dict[str, str] = {
    # rule check of the finished board
    "short": "copper of two nets touches",
    "unconnected": "pads of one net are not joined by copper",
    "spacing": "copper of two nets is nearer than the fab class allows",
    "track-width": "a track is narrower than the fab class allows or its current needs",
    "annular-ring": "the copper round a hole is narrower than the fab class allows",
    "drill-size": "a hole has a diameter the fab class does not make",
    "hole-spacing": "two holes, or a hole and foreign copper, are too near",
    "edge-distance": "copper or a hole is too near the board's edge",
    "mask-web": "the mask between two openings is too narrow to hold",
    "courtyard": "the rooms of two parts overlap",
    "legend-clear": "legend lies on bare copper, a hole or past the edge",
    "legend-size": "legend is too small or too thin to print",
    "isolated-copper": "a piece of copper is joined to nothing",
    "stub": "a track ends nowhere",
    "overhang": "a part that must reach past the edge does not, or one reaches that must not",
    "profile": "the outline is not one closed loop",
    # circuit
    "erc": "the electrical rule check of the circuit complains",
    # electrical plan
    "ground": "a signal has no ground to return through",
    "contact-current": "a contact carries more than its connector is good for",
    "level": "a logic level is not read for certain",
    "over-voltage": "an input meets more volts than it takes",
    "pull-up": "a line that needs a pull-up has none",
    "source-resistance": "a source is too weak for the ADC input it drives",
    "direction": "a signal runs against the function its pin has",
    "load-driver": "a load's driver is outside its ratings, or the load is not known",
    "flyback": "a coil is switched off with nothing to take its current",
    "fuse": "a fuse does not fit its load or its source",
    "supply-budget": "a rail carries more than its source can spare",
    # waivers
    "waiver-stale": "a waiver that no finding needs any more",
    "waiver-expired": "a waiver whose last revision has passed",
}

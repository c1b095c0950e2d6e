"""Every rule a finding may name, with what it means; ids never change once they are out.

Reports for machines list them, and waivers may name them alone.
"""

from __future__ import annotations

RULES: dict[str, str] = {
    # rule check of the finished board
    "short": "copper of two nets touches",
    "unconnected": "pads of one net are not joined by copper",
    "footprint": "a pad on the board is not where, or not as, the part's footprint has it",
    "spacing": "copper of two nets is nearer than the fab class allows",
    "track-width": "a track is narrower than the fab class allows or its current needs",
    "annular-ring": "the copper round a hole is narrower than the fab class allows",
    "drill-size": "a hole has a diameter the fab class does not make",
    "drill-choice": "a hole is drilled with the next larger drill that the fab class has",
    "hole-spacing": "two holes, or a hole and foreign copper, are too near",
    "edge-distance": "copper or a hole is too near the board's edge",
    "mask-web": "the mask between two openings is too narrow to hold",
    "courtyard": "the rooms of two parts overlap",
    "legend-clear": "legend lies on bare copper, a hole or past the edge",
    "legend-size": "legend is too small or too thin to print",
    "isolated-copper": "a piece of copper is joined to nothing",
    "stub": "a track ends nowhere",
    "overhang": "a part that must reach past the edge does not, or one reaches that must not",
    "decoupling": "a chip's capacitor stands far from the supply pin it serves",
    "profile": "the outline is not one closed loop",
    # measured on the finished copper
    "voltage-drop": "copper loses more of a rail than a load can spare",
    # circuit
    "erc": "the electrical rule check of the circuit complains",
    # electrical plan
    "ground": "a signal has no ground to return through",
    "contact-current": "a contact carries more than its connector is good for",
    "level": "a logic level is not read for certain",
    "identity-strap": "a strap of the board's code is not read for certain",
    "level-unknown": "nobody measured or stated a level, nor what the chip runs from",
    "over-voltage": "an input meets more volts than it takes",
    "pull-up": "a line that needs a pull-up has none",
    "source-resistance": "a source is too weak for the ADC input it drives",
    "direction": "a signal runs against the function its pin has",
    "load-driver": "a load's driver is outside its ratings, or the load is not known",
    "flyback": "a coil is switched off with nothing to take its current",
    "fuse": "a fuse does not fit its load or its source",
    "back-power": "one source of current drives another",
    "usb-budget": "more is taken from USB than a host gives",
    "regulator-load": "a regulator gives more than it can",
    "regulator-heat": "a regulator gets too warm",
    "dropout": "a rail falls below what its chips need",
    "inrush": "more capacitance than USB allows is charged at once",
    "supply-budget": "a rail carries more than its source can spare",
    "settling": "a line's copper is more than was reckoned with before layout, or settles too slowly",
    # the chosen pins
    "strap": "a pin that decides at boot may stand at the wrong level",
    "onboard": "a part on the module spoils the level of the pin it hangs on",
    "pin-drive": "a pin, or all together, give or take more current than the chip is good for",
    "chip-erratum": "a pin is used in a way that a known fault of the chip spoils",
    # key matrices
    "matrix-phantom": "keys held together show one that is not held",
    "matrix-diodes": "a matrix's diodes point against its scan",
    "matrix-level": "a closed key does not pull its line low enough to be read",
    "matrix-settling": "a matrix's lines settle too slowly for its scan",
    # readings from the bench
    "contradiction": "readings clash with each other or with what was written beside them",
    "worn-contact": "a closed key has more than a kilohm",
    "series-resistor": "all keys of a line have the same high resistance",
    "diodes-both-ways": "some keys' diodes point the other way than the rest",
    "several-contacts": "a key closes more than one pair of contacts",
    "leak": "a resistance too high for a closed key, taken as open",
    "polarity": "a pair of contacts at rest conducts differently with the leads exchanged",
    "high-side-load": "a load's other end is at ground",
    "two-lead-pot": "a pot that brings out no third contact",
    "taken": "what was taken for granted, and by which rule",
    "measure-next": "a measurement that would settle something",
    # read-back of the written files
    "readback-file": "a file cannot be read, or not without doubt",
    "readback-layer": "a layer is missing, mirrored, or not the one its name says",
    "readback-frame": "a whole file is shifted or in a wrong unit",
    "readback-pad": "a pad, opening or record is missing, moved or of another form",
    "readback-copper": "a track or pour in a file is not the one meant",
    "readback-drill": "a hole is missing, moved, of another size or otherwise plated",
    "readback-profile": "the profile is open or not the one meant, or a hole is outside it",
    "readback-short": "in the files, copper of two nets touches",
    "readback-open": "in the files, no copper joins two pads of a net",
    "readback-netlist": "two files, or a file and the netlist, name different nets for one pad",
    "readback-rule": "a limit breaks in the files but not in the model, or the other way",
    "run-file": "a file of the run is missing, changed since it was written, or not of the run",
    # a board edited by hand in a CAD program
    "cad-unread": "something on the board is not read, and so not checked",
    "cad-layer": "copper lies on a layer, or in a via, that the fab class does not make",
    "cad-fill": "an area of copper has no fill in the file",
    "cad-part": "a part is missing, too many, or on the other side than in the design",
    "cad-net": "a pad is on another net than in the design, or on two",
    "cad-contact": "the connector's contacts are numbered otherwise than on its mating face",
    "cad-pin": "the pads of the module or of a part are not where their numbers belong",
    "cad-outline": "the outline is not the design's",
    # errata of earlier revisions
    "erratum-returned": "a fault that an earlier revision had, and that was fixed, is there again",
    # a run's page for makers
    "publish": "something that the page would tell is not there or cannot be read",
    # waivers
    "waiver-stale": "a waiver that no finding needs any more",
    "waiver-expired": "a waiver whose last revision has passed",
}

"""From the bench: readings taken at an old device's plug, turned into the device part of a design file."""

"""What the finished copper does: volts lost on the way to a load, capacitance and length of each net."""

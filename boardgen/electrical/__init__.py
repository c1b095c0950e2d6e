"""Floor 5: how each signal is carried between device and module, and why."""

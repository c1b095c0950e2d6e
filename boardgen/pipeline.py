"""The order of the stages; each is a pure function from frozen values to a frozen value."""

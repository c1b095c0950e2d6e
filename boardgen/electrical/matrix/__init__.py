"""The key matrix, computed: what the firmware reads for any keys held, at which level, how fast."""

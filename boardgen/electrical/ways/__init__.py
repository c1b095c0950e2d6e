"""The ways a line can be carried: each computes, proves, and either offers itself or says why not."""

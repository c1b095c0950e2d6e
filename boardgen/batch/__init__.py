"""Boards of a batch at the bench: readings judged against their run, and a log over all of them."""

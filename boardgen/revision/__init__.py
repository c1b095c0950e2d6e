"""Two runs compared, a revision opened from another, and what is known of each one's faults.

Importing this loads nothing heavy; the readers of run files are loaded where they are used.
"""

"""The profile as a loss method wants it: obstacles, zones, clutter, spacing."""

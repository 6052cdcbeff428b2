"""Elevation files: finding them, sampling them, and the profile along a path."""

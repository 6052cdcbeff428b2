"""Fuzzing of everything that reads a user's text or files; run with ``python -m fuzz``."""

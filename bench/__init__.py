"""Speed and memory, measured; run with ``make bench``."""

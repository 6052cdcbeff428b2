"""Finished results as open formats; nothing here computes."""

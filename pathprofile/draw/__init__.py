"""Pictures of finished results; nothing here computes."""

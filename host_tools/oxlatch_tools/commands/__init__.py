"""One module per command; each exposes `command`."""

"""The bench controller over a serial line: protocol client, flash, watch, pull, replay."""

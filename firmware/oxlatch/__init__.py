"""oxlatch firmware: fuel is latched behind oxidizer.

Data flows one way: pins -> sense -> permits -> sequencer -> gate -> pins.
"""

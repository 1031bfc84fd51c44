"""Runs first after every reset: outputs off before anything else can go wrong."""

import sys

if sys.platform == "rp2":
    from oxlatch.boards import rp2 as here
else:
    from oxlatch.boards import desk as here

here.outputs_off()
here.maintenance()

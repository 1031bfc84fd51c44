"""Heap of the whole firmware, built and ready to run. Arguments: folder with the compiled files.

Prints bytes in use after building the loop, and bytes free, under whatever heap size it was started with.
"""

import gc
import sys

sys.path.insert(0, sys.argv[1])

from oxlatch.boards import desk
from oxlatch.startup import build

loop = build(desk.Board())
loop.restart_clock()
for _ in range(300):
    loop.wait()
    loop.tick()
gc.collect()
print(gc.mem_alloc(), gc.mem_free())

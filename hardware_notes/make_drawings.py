"""Write every drawing of the hardware notes as SVG; with names, only those. --png also draws PNGs into out/."""

import argparse
import shutil
import subprocess
import sys
from pathlib import Path

from notes.deck import DRAWINGS, drawn
from notes.facts import tug
from oxlatch_sim.whole_file import write_whole

HERE = Path(__file__).resolve().parent
DRAWN = HERE / "drawings"
LOOKED_AT = HERE.parent / "out" / "drawings"


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("names", nargs="*", metavar="NAME", help=f"one of {', '.join(DRAWINGS)}")
    parser.add_argument("--png", action="store_true", help="also render PNGs with rsvg-convert, to look at")
    options = parser.parse_args()
    unknown = [name for name in options.names if name not in DRAWINGS]
    if unknown:
        parser.error(f"{unknown[0]!r} is no drawing; allowed: {', '.join(DRAWINGS)}")
    renderer = shutil.which("rsvg-convert")
    if options.png and renderer is None:
        parser.error("--png needs rsvg-convert")
    collisions = 0
    for name in options.names or DRAWINGS:
        sheet, text = drawn(name, tug())
        path = write_whole(DRAWN / f"{name}.svg", text)
        print(path)
        for problem in sheet.problems():
            collisions += 1
            print(f"  {problem}", file=sys.stderr)
        if options.png and renderer is not None:
            LOOKED_AT.mkdir(parents=True, exist_ok=True)
            subprocess.run([renderer, "-z", "1.6", "-o", str(LOOKED_AT / f"{name}.png"), str(path)], check=True)
    return 1 if collisions else 0


if __name__ == "__main__":
    sys.exit(main())

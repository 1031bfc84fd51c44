"""Write the generated parts of every page of the hardware notes anew."""

import sys
from pathlib import Path

from notes.facts import tug
from notes.pages import renewed
from oxlatch_sim.whole_file import write_whole

HERE = Path(__file__).resolve().parent


def main() -> int:
    facts = tug()
    for page in sorted(HERE.glob("*.md")):
        text = page.read_text(encoding="utf-8")
        if "<!-- table: " in text:
            print(write_whole(page, renewed(text, facts, page.name)))
    return 0


if __name__ == "__main__":
    sys.exit(main())

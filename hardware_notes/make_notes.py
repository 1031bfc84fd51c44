"""Write every generated page and drawing of the hardware notes: each script make_*.py in this folder."""

import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent


def main() -> int:
    failed = 0
    for script in sorted(HERE.glob("make_*.py")):
        if script.name != "make_notes.py":
            print(f"== {script.name}", flush=True)
            failed |= subprocess.run([sys.executable, str(script)], check=False).returncode
    return failed


if __name__ == "__main__":
    sys.exit(main())

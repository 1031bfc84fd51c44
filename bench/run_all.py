"""Run every measurement and print its table: `make bench`. Each is a script of its own in this folder."""

import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).parent


def main() -> int:
    failed = []
    for script in sorted(HERE.glob("*.py")):
        if script.name == "run_all.py":
            continue
        print(f"\n== {script.stem.replace('_', ' ')}", flush=True)
        if subprocess.run([sys.executable, str(script)], check=False).returncode:
            failed.append(script.stem)
    if failed:
        print("\nfailed to run: " + ", ".join(failed))
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())

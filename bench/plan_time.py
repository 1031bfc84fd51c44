"""CPU seconds and memory of `oxlatch plan` and `oxlatch plan today`, each a process of its own, beside the aims."""

import resource
import subprocess
import sys
import tempfile

TODAY = ["plan", "today", "--elevation", "1950 m", "--qnh", "1013.25 hPa", "--oat", "22 degC"]


def measured(arguments: list[str]) -> tuple[float, float]:
    """CPU seconds and largest resident set so far, MiB."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([sys.executable, "-m", "oxlatch_tools.cli", *arguments], check=True, capture_output=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    seconds = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return seconds, after.ru_maxrss / 1024


def main() -> int:
    with tempfile.TemporaryDirectory() as folder:
        rows = [
            ("oxlatch plan today", TODAY, 1.0, 400.0),
            ("oxlatch plan, Alpine tug", ["plan", "--out", folder], 5.0, 400.0),
        ]
        print(f"{'':28}{'CPU s':>8}{'aim':>7}{'MiB':>8}{'aim':>7}")
        missed = 0
        for name, arguments, seconds_aim, memory_aim in rows:
            measured(arguments)
            seconds, memory = measured(arguments)
            missed += seconds > seconds_aim or memory > memory_aim
            print(f"{name:28}{seconds:8.2f}{seconds_aim:7.1f}{memory:8.0f}{memory_aim:7.0f}")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())

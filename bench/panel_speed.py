"""The panel against its numbers: paint, switch to lamp, strip charts, size, and ten minutes at ten times real time.

The first three are measured in a headless browser that shares the machine with the server, on a page in boost with the
charts in view; the last steps the bench as fast as it will go through the same code, and watches its memory.
"""

import resource
import statistics
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from tests.host_tools.panel.browser import Pilot, browser, missing
from tests.host_tools.panel.served import do_sortie, serve_session
from tests.host_tools.panel.test_browser import LAMP_SCRIPT

from oxlatch_tools.aircraft import load_aircraft
from oxlatch_tools.panel.bench_session import BenchSession
from oxlatch_tools.panel.server import STATIC

TOGGLES = 60
CHART_SECONDS = 6
TEN_MINUTES_TICKS = 10 * 60 * 10 * 200
PARTS = 6


def row(words: str, got: str, wanted: str) -> None:
    print(f"{words:64}{got:>16}   wanted {wanted}")


def rss_mb() -> float:
    """Memory of this process now."""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * resource.getpagesize() / 1e6


def in_the_browser() -> None:
    """First paint, switch to lamp, pictures a second."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        session = BenchSession(load_aircraft(None), folder)
        serving = serve_session(session, folder)
        served = next(serving)
        with browser() as driver:
            pilot = Pilot(driver, served.link)
            paints = []
            for _ in range(5):
                pilot.open()
                paint = "return performance.getEntriesByName('first-contentful-paint')[0].startTime"
                paints.append(driver.execute_script(paint))
            row("first paint, worst of 5", f"{max(paints):.0f} ms", "under 1500 ms")
            pilot.new_flight()
            pilot.click("guard")
            driver.set_script_timeout(60)
            times = sorted(driver.execute_async_script(LAMP_SCRIPT, TOGGLES))
            row("switch to lamp, median", f"{statistics.median(times):.0f} ms", "")
            row(f"switch to lamp, 95th percentile of {TOGGLES}", f"{times[int(0.95 * TOGGLES)]:.0f} ms", "under 100 ms")
            pilot.new_flight()
            pilot.arm()
            pilot.make_ready()
            pilot.boost()
            pilot.show("charts")
            rates = []
            for _ in range(CHART_SECONDS):
                time.sleep(1.05)
                rates.append(int(pilot.find("strips").get_attribute("data-rate") or 0))
            row("pictures of the strip charts a second, least, boost at x 1", f"{min(rates[1:])}", "20 or more")
            heap = "return performance.memory ? performance.memory.usedJSHeapSize / 1e6 : 0"
            before = driver.execute_script(heap)
            pilot.speed("10")
            time.sleep(5)
            row(
                "memory of the page, before and after 50 simulated seconds",
                f"{before:.0f}, {driver.execute_script(heap):.0f} MB",
                "flat",
            )
            row("the bench keeps up with", f"x {session.frame()['time']['pace']}", "x 10")
        next(serving, None)


def ten_minutes_at_ten_times() -> None:
    """Memory of the session over as many ticks as ten minutes at ten times real time hold."""
    with tempfile.TemporaryDirectory() as name:
        session = BenchSession(load_aircraft(None), Path(name))
        session.alone(False)
        session.clock.speed = 10
        do_sortie(session)
        session.clock.running = True
        marks = []
        part = TEN_MINUTES_TICKS // PARTS
        begin = time.process_time()
        frames = 0
        while session.flown.tick < TEN_MINUTES_TICKS:
            session.advance(0.05)
            session.frame()
            frames += 1
            if session.flown.tick >= part * (len(marks) + 1):
                marks.append(rss_mb())
        seconds = time.process_time() - begin
        row("memory at each sixth of ten minutes at x 10", " ".join(f"{mark:.0f}" for mark in marks) + " MB", "flat")
        row("processor time for those 100 simulated minutes", f"{seconds:.0f} s", "well under 600 s")
        at = session.flown.tick // 2
        session.take({"do": "seek", "tick": at}, 1)
        begin = time.perf_counter()
        while session.frame()["time"]["busy"] is not None:
            session.advance(0.0)
        row("rewind to the middle of it", f"{time.perf_counter() - begin:.2f} s", "")


def main() -> None:
    total = sum(path.stat().st_size for path in STATIC.iterdir())
    row("page with all its files", f"{total / 1000:.0f} kB", "under 500 kB")
    if missing():
        print(missing())
    else:
        in_the_browser()
    ten_minutes_at_ten_times()


if __name__ == "__main__":
    main()

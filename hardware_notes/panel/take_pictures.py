"""Take pictures of six moments of the panel. Needs Chromium and its driver; run it from the root of the repository."""

import sys
import tempfile
import time
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent.parent))

from tests.host_tools.panel.browser import Pilot, browser, missing  # noqa: E402
from tests.host_tools.panel.served import counterexample, serve_session  # noqa: E402

from oxlatch_tools.aircraft import load_aircraft  # noqa: E402
from oxlatch_tools.panel.bench_session import BenchSession  # noqa: E402

WIDTH, HEIGHT = 1180, 860


def take(pilot: Pilot, name: str, section: str = "why", settle_s: float = 0.6) -> None:
    """One picture of what the page shows now, this section in view."""
    pilot.show(section)
    time.sleep(settle_s)
    pilot.driver.save_screenshot(str(HERE / f"{name}.png"))
    print(HERE / f"{name}.png")


def main() -> int:
    if missing():
        print(missing())
        return 1
    aircraft = load_aircraft(None)
    with tempfile.TemporaryDirectory() as name, browser(WIDTH, HEIGHT) as driver:
        folder = Path(name)
        serving = serve_session(BenchSession(aircraft, folder), folder)
        pilot = Pilot(driver, next(serving).link)
        pilot.new_flight()
        pilot.arm()
        pilot.drag_lever(100, beyond_px=70)
        pilot.until(lambda: "RELEASE THROTTLE" in pilot.reasons(), "the refusal")
        take(pilot, "1-push-refused")
        pilot.drag_lever(0)
        pilot.until(lambda: "RELEASE THROTTLE" not in pilot.reasons(), "the release")
        pilot.hold("purge", lambda: purging(pilot), "a purge half way")
        pilot.make_ready()
        pilot.boost()
        pilot.until(lambda: pilot.milliseconds("ox-alone") > 0, "a flow")
        time.sleep(1.0)
        take(pilot, "3-boost-flows", "flows")
        time.sleep(4.0)
        pilot.show("break")
        pilot.find("search").send_keys("fuel coil or its lead")
        driver.find_element("css selector", "[data-fault='fuel_coil_open@2']").click()
        pilot.state("TRIP")
        take(pilot, "4-valve-broken", "break")
        pilot.click("run")
        take(pilot, "5-last-half-minute", "charts", 1.4)
        pilot.open(f"?recording={counterexample(aircraft, folder)}&tick=100000")
        pilot.until(lambda: pilot.text("state") == "TRIP", "the end of the counterexample")
        take(pilot, "6-counterexample")
        driver.get("about:blank")
        next(serving, None)
    return 0


def purging(pilot: Pilot) -> bool:
    """Take the picture of a purge as soon as its plume is steady."""
    if pilot.text("plume") != "steady plume":
        return False
    take(pilot, "2-purge")
    return True


if __name__ == "__main__":
    sys.exit(main())

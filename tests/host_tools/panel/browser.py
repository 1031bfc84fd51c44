"""A headless browser and the hands of somebody who flies the page in it."""

import os
import shutil
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from selenium import webdriver
from selenium.webdriver import ActionChains, Keys
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.actions.action_builder import ActionBuilder
from selenium.webdriver.common.actions.interaction import POINTER_MOUSE
from selenium.webdriver.common.actions.pointer_input import PointerInput
from selenium.webdriver.common.by import By
from selenium.webdriver.remote.webelement import WebElement
from selenium.webdriver.support.ui import Select

FLAGS = (
    "--headless --no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking "
    "--disable-component-update --disable-sync --force-device-scale-factor=1 --hide-scrollbars"
)
WIDTH, HEIGHT = 1024, 768
EXTRA_PX = 48
"""What the lever asks for beyond its stop."""


def missing() -> str:
    """What of the browser is not on this machine, empty when all is."""
    names = [name for name in ("chromium", "chromedriver") if shutil.which(name) is None]
    return f"not installed here: {', '.join(names)} (Debian: chromium chromium-driver)" if names else ""


@contextmanager
def browser(width: int = WIDTH, height: int = HEIGHT) -> Iterator[webdriver.Chrome]:
    """A browser whose page area has this size."""
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile:
        options = Options()
        options.binary_location = shutil.which("chromium") or ""
        for flag in (*FLAGS.split(), f"--user-data-dir={profile}", f"--window-size={width},{height}"):
            options.add_argument(flag)
        options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
        service = Service(shutil.which("chromedriver"), env={**os.environ, "HOME": profile})
        driver = webdriver.Chrome(options=options, service=service)
        try:
            inner = driver.execute_script("return [innerWidth, innerHeight]")
            driver.set_window_size(2 * width - inner[0], 2 * height - inner[1])
            yield driver
        finally:
            driver.quit()


class Pilot:
    """Looks at the page and works its controls as a person would, by pointer or by keys."""

    def __init__(self, driver: webdriver.Chrome, link: str) -> None:
        self.driver = driver
        self.link = link

    def open(self, query: str = "") -> None:
        """Load the page and wait for its first frame."""
        self.driver.get(self.link + query)
        self.until(lambda: self.driver.execute_script("return document.body.className") != "waiting", "a frame")
        self.until(lambda: self.text("state") != "–", "a state")

    def new_flight(self) -> None:
        """A new aircraft at rest, at real time, the guard down."""
        self.open()
        self.click("over")
        self.until(lambda: self.tick() < 300, "a new flight")
        self.speed("1")
        if self.find("guard").get_attribute("aria-pressed") == "true":
            self.click("guard")
        self.speed("10")
        self.state("REST")
        self.speed("1")

    # --- looking ------------------------------------------------------------------------------------
    def find(self, name: str) -> WebElement:
        return self.driver.find_element(By.ID, name)

    def text(self, name: str) -> str:
        """What an element says; asked of the page, so that it is also had when scrolled away."""
        return str(self.driver.execute_script("return document.getElementById(arguments[0])?.textContent ?? ''", name))

    def tick(self) -> int:
        return int(self.text("tick").removeprefix("tick ") or 0)

    def lamp(self, name: str) -> str:
        return str(self.find("lamp-" + name).get_attribute("data-lit"))

    def reasons(self) -> list[str]:
        """Words of the reasons listed as standing."""
        script = "return [...document.querySelectorAll('#standing .words')].map(node => node.textContent)"
        found: list[str] = self.driver.execute_script(script)
        return found

    def milliseconds(self, name: str) -> float:
        return float(self.text(name).removesuffix(" ms"))

    def until(self, holds: Callable[[], Any], what: str, wait_s: float = 15.0) -> None:
        """Wait until something is so."""
        end = time.monotonic() + wait_s
        while not holds():
            assert time.monotonic() < end, f"{what} never came; {self.text('state')}: {self.reasons()}"
            time.sleep(0.02)

    def state(self, *wanted: str, wait_s: float = 15.0) -> None:
        self.until(lambda: self.text("state") in wanted, " or ".join(wanted), wait_s)

    # --- pointer ------------------------------------------------------------------------------------
    def click(self, name: str) -> None:
        self.find(name).click()

    def speed(self, factor: str) -> None:
        Select(self.find("speed")).select_by_value(factor)
        self.driver.execute_script("document.activeElement.blur()")

    def rewind(self, tick: int) -> None:
        """Move the slider of the run to a tick."""
        script = "const at = document.getElementById('rewind'); at.value = arguments[0];"
        self.driver.execute_script(script + "at.dispatchEvent(new Event('change'))", tick)

    def show(self, section: str) -> None:
        self.driver.execute_script("document.getElementById(arguments[0]).scrollIntoView()", section)

    def hold(self, name: str, until: Callable[[], Any], what: str) -> None:
        """Press with the pointer until something is so, then let go."""
        ActionChains(self.driver).click_and_hold(self.find(name)).perform()
        self.until(until, what)
        ActionChains(self.driver).release().perform()

    def drag_lever(self, percent: float, beyond_px: float = 0.0, kind: str = POINTER_MOUSE) -> None:
        """Take the grip and pull it to a travel, and so many pixels further; with a mouse or a finger."""
        script = """const grip = document.querySelector('#throttle .grip rect').getBoundingClientRect();
            const slot = document.querySelector('#throttle svg').getBoundingClientRect();
            return [grip.x + grip.width / 2, grip.y + grip.height / 2, slot.y, slot.height / 400];"""
        x, y, top, scale = self.driver.execute_script(script)
        goal = top + scale * (384 - percent / 100 * 310) - beyond_px
        if float(self.find("throttle").get_attribute("aria-valuenow") or 0) > 101 and percent < 100:
            # A pushed lever rests higher than its hundred per cent; the hand comes back through that way too.
            goal += y - (top + scale * 74) + EXTRA_PX
        builder = ActionBuilder(self.driver, mouse=PointerInput(kind, kind), duration=15)
        pointer = builder.pointer_action
        pointer.move_to_location(int(x), int(y))
        pointer.pointer_down()
        steps = 12
        for step in range(1, steps + 1):
            pointer.move_to_location(int(x), int(y + (goal - y) * step / steps))
        pointer.pointer_up()
        builder.perform()

    # --- a sortie -----------------------------------------------------------------------------------
    def arm(self) -> None:
        """Engine, two stages, guard, master."""
        for control in ("engine", "select-1", "select-2", "guard", "master"):
            self.click(control)
        self.state("WAITING")

    def make_ready(self) -> None:
        """Purge until both outlets are cold, at five times real time."""
        self.speed("5")
        self.until(lambda: "PURGE" in self.reasons(), "the reason PURGE")
        self.hold("purge", lambda: self.text("text") == "PURGE LONG ENOUGH", "a purge long enough")
        self.state("READY")

    def boost(self) -> None:
        """Take-off power, then through the detent at real time."""
        self.drag_lever(100)
        self.until(lambda: int(self.text("read-rpm").split()[0]) > 2400, "take-off speed")
        self.speed("1")
        self.drag_lever(100, beyond_px=70)
        self.state("RUN")

    # --- keys ---------------------------------------------------------------------------------------
    def press(self, *keys: str) -> None:
        ActionChains(self.driver).send_keys(*keys).perform()

    def focused(self) -> str:
        script = "const at = document.activeElement; return at.id || at.getAttribute('href') || at.tagName"
        return str(self.driver.execute_script(script))

    def tab_to(self, name: str, limit: int = 60) -> None:
        """Go on with the Tab key until a control has the focus."""
        for _ in range(limit):
            if self.focused() == name:
                return
            self.press(Keys.TAB)
        raise AssertionError(f"Tab does not reach {name}")

    def back_to(self, name: str, limit: int = 60) -> None:
        """Go back with Shift and Tab until a control has the focus."""
        for _ in range(limit):
            if self.focused() == name:
                return
            ActionChains(self.driver).key_down(Keys.SHIFT).send_keys(Keys.TAB).key_up(Keys.SHIFT).perform()
        raise AssertionError(f"Shift and Tab do not reach {name}")


LAMP_SCRIPT = """
    const [count, done] = arguments, times = [];
    const master = document.getElementById('master'), lamp = document.getElementById('lamp-check');
    const next = () => {
        if (times.length >= count) return done(times);
        const from = performance.now(), was = lamp.dataset.lit;
        const watch = new MutationObserver(() => {
            if (lamp.dataset.lit === was) return;
            watch.disconnect();
            requestAnimationFrame(() => { times.push(performance.now() - from); setTimeout(next, 120); });
        });
        watch.observe(lamp, {attributes: true});
        master.click();
    };
    next();
"""
"""Presses MASTER so many times and returns the milliseconds from each press to the picture with the lamp changed."""

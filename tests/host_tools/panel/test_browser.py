"""The panel in a real browser: flown by pointer, flown by keys, broken, rewound, cut off."""

import os
import statistics
from collections.abc import Iterator
from pathlib import Path

import pytest
from selenium.webdriver import ActionChains, Keys
from selenium.webdriver.common.actions.interaction import POINTER_TOUCH
from selenium.webdriver.common.by import By
from tests.host_tools.panel.browser import LAMP_SCRIPT, Pilot, browser, missing
from tests.host_tools.panel.contrast import CONTRAST_SCRIPT
from tests.host_tools.panel.served import Served, counterexample, serve_session

from oxlatch_tools.aircraft import Aircraft
from oxlatch_tools.panel.bench_session import BenchSession


@pytest.fixture(scope="module")
def pilot(served: Served) -> Iterator[Pilot]:
    if missing():
        if os.environ.get("OXLATCH_REQUIRE_TOOLS") == "1":
            pytest.fail(missing())
        pytest.skip(missing())
    with browser() as driver:
        yield Pilot(driver, served.link)


def test_a_whole_sortie_by_clicking_and_dragging(pilot: Pilot) -> None:
    pilot.new_flight()
    assert pilot.text("text") in ("MASTER OFF", "LEAK WATCH RUNNING") and pilot.lamp("check") == "off"
    pilot.arm()
    pilot.until(lambda: pilot.lamp("check") == "on", "the amber lamp")
    pilot.make_ready()
    pilot.until(lambda: pilot.lamp("ready") == "on" and pilot.lamp("check") == "off", "green, not amber")
    pilot.boost()
    pilot.until(lambda: pilot.lamp("flow") == "on" and pilot.lamp("ready") == "off", "white, not green")
    rows = pilot.driver.execute_script(
        "return [...document.querySelectorAll('#layers tbody tr')].map(row => [...row.cells].map(c => c.textContent))"
    )
    layers = {row[0]: row[1:] for row in rows}
    for name in ("O1", "F1", "O2", "F2"):
        assert layers[name][:3] == ["■", "■", "■"] and layers[name][3].endswith("g/s")
    assert layers["O3"] == ["·", "·", "·", "·"]
    assert pilot.milliseconds("fuel-alone") == 0 and 0 < pilot.milliseconds("ox-alone") < 200
    pilot.drag_lever(20)
    pilot.state("WAITING", "READY")
    pilot.click("guard")
    pilot.state("REST")
    assert pilot.find("master").get_attribute("aria-checked") == "false"
    assert pilot.milliseconds("fuel-alone") == 0


def test_the_same_sortie_by_keyboard_alone(pilot: Pilot) -> None:
    pilot.new_flight()
    pilot.open()
    for control in ("engine", "guard", "master", "select-1", "select-2"):
        pilot.tab_to(control)
        pilot.press(Keys.SPACE)
    pilot.state("WAITING")
    pilot.tab_to("speed")
    pilot.press("×", " ", "5")
    pilot.until(lambda: pilot.find("speed").get_attribute("value") == "5", "five times real time")
    pilot.back_to("purge")
    ActionChains(pilot.driver).key_down(Keys.SPACE).perform()
    pilot.until(lambda: pilot.text("text") == "PURGE LONG ENOUGH", "a purge long enough")
    ActionChains(pilot.driver).key_up(Keys.SPACE).perform()
    pilot.state("READY")  # both purge outlets are cold: nothing to confirm
    pilot.tab_to("ack")
    pilot.press(Keys.ENTER)
    pilot.until(lambda: pilot.find("ack").get_attribute("aria-pressed") == "true", "ACK held down by Enter")
    pilot.press(Keys.ENTER)
    pilot.state("READY")
    pilot.tab_to("throttle")
    pilot.press(Keys.END)
    pilot.until(lambda: int(pilot.text("read-rpm").split()[0]) > 2400, "take-off speed")
    for _ in range(3):
        pilot.press(Keys.ARROW_UP)
    pilot.state("RUN")
    pilot.press(Keys.ARROW_DOWN)
    pilot.state("GAP", "WAITING", "READY")
    pilot.back_to("master")
    pilot.press(Keys.SPACE)
    pilot.state("REST")


def test_the_detent_gives_way_only_to_a_purpose(pilot: Pilot) -> None:
    pilot.new_flight()
    pilot.drag_lever(100, beyond_px=30)
    pilot.until(lambda: pilot.text("throttle-value") == "100 %", "the stop")
    held = """const lever = document.getElementById('throttle');
        for (let i = 0; i < 40; i++) {
            lever.dispatchEvent(new KeyboardEvent('keydown', {key: 'ArrowUp', repeat: true, bubbles: true}));
        }"""
    pilot.driver.execute_script(held)
    pilot.press(Keys.ARROW_UP)
    pilot.press(Keys.ARROW_UP)
    pilot.until(lambda: pilot.tick() > 300, "some time")
    assert pilot.text("throttle-value") == "100 %"
    pilot.find("throttle").send_keys(Keys.ARROW_UP, Keys.ARROW_UP, Keys.ARROW_UP)
    pilot.until(lambda: pilot.text("throttle-value") == "PUSHED", "the push")


def test_a_finger_moves_the_lever_as_a_mouse_does(pilot: Pilot) -> None:
    pilot.new_flight()
    pilot.drag_lever(100, beyond_px=30, kind=POINTER_TOUCH)
    pilot.until(lambda: pilot.text("throttle-value") == "100 %", "the stop")
    pilot.drag_lever(100, beyond_px=70, kind=POINTER_TOUCH)
    pilot.until(lambda: pilot.text("throttle-value") == "PUSHED", "the push")
    pilot.drag_lever(0, kind=POINTER_TOUCH)
    pilot.until(lambda: pilot.text("throttle-value") == "0 %", "the closed throttle")


def test_a_push_that_is_refused_says_every_reason_and_what_to_do(pilot: Pilot) -> None:
    pilot.new_flight()
    pilot.click("guard")
    pilot.click("master")
    pilot.state("WAITING")
    pilot.drag_lever(100, beyond_px=70)
    pilot.until(lambda: {"RELEASE THROTTLE", "NOTHING SELECTED", "PURGE"} <= set(pilot.reasons()), "every reason")
    assert pilot.text("text") == "RELEASE THROTTLE" and pilot.text("todo") == "pull the throttle back"
    assert "hold the purge button" in pilot.text("standing")
    lit = pilot.driver.execute_script("return [...document.querySelectorAll('.board .lit')].map(c => c.textContent)")
    assert "▲ PURGE" in lit and "▲ NOTHING SELECTED" in lit
    pilot.drag_lever(20)
    pilot.click("engine")
    pilot.click("select-1")
    pilot.make_ready()
    pilot.speed("1")
    pilot.find("throttle").send_keys(Keys.END, Keys.ARROW_UP, Keys.ARROW_UP, Keys.ARROW_UP)
    pilot.until(lambda: "RPM LOW" in pilot.reasons(), "the reason RPM LOW")
    assert pilot.lamp("flow") == "off"


def test_a_broken_valve_is_found_seen_in_milliseconds_and_rewound(pilot: Pilot) -> None:
    pilot.new_flight()
    pilot.arm()
    pilot.make_ready()
    pilot.boost()
    before = pilot.milliseconds("ox-alone")
    head = pilot.tick()
    pilot.show("break")
    pilot.find("search").send_keys("fuel coil open stage 2")
    pilot.find("search").clear()
    pilot.find("search").send_keys("fuel coil lead open")
    assert pilot.text("found").startswith("2 of ") or pilot.text("found").startswith("1 of ")
    pilot.driver.find_element(By.CSS_SELECTOR, "[data-fault='fuel_coil_open@2']").click()
    pilot.state("TRIP")
    assert pilot.text("text") == "F COIL CURRENT LOST" and pilot.lamp("stop") == "on"
    assert pilot.milliseconds("ox-alone") > before and pilot.milliseconds("fuel-alone") == 0
    assert "stage 2" in pilot.text("active")
    pilot.show("why")
    assert "first cause" in pilot.text("standing")
    pilot.driver.execute_script(
        "const s = document.getElementById('rewind'); s.value = arguments[0]; s.dispatchEvent(new Event('change'))",
        head,
    )
    pilot.until(lambda: pilot.tick() == head and pilot.text("state") == "RUN", "the tick before")
    assert pilot.text("run") == "Run" and "branch" in pilot.text("time-words")
    assert pilot.text("active") == "No fault."
    pilot.drag_lever(50)
    pilot.click("run")
    pilot.state("GAP", "WAITING", "READY")
    pilot.until(lambda: pilot.driver.find_elements(By.ID, "branch-1"), "the way back to branch 1")
    assert pilot.text("active") == "No fault."


def test_a_counterexample_opens_with_one_link_and_only_shows(pilot: Pilot, served: Served, tug: Aircraft) -> None:
    name = counterexample(tug, served.folder)
    pilot.open(f"?recording={name}&tick=100000")
    pilot.until(lambda: pilot.text("state") == "TRIP", "the end of the counterexample")
    assert "counterexample" in pilot.text("about") and pilot.lamp("stop") != "off"
    assert "They move nothing" in pilot.text("inert")
    for control in ("master", "guard", "purge", "ack", "select-1"):
        assert pilot.find(control).get_attribute("disabled")
    last = pilot.tick()
    pilot.click("back-1")
    pilot.until(lambda: pilot.tick() == last - 200, "a second back")
    pilot.click("step")
    pilot.until(lambda: f"tick={last - 199}" in pilot.driver.current_url, "the tick in the address")
    shared = pilot.driver.current_url
    pilot.driver.get(shared)
    pilot.until(lambda: pilot.tick() == last - 199, "the shared tick")


def test_a_recording_that_is_not_there_is_said(pilot: Pilot) -> None:
    pilot.driver.get(pilot.link + "?recording=nowhere.jsonl")
    pilot.until(lambda: "there is no recording" in pilot.text("notice"), "the notice")


def test_a_dropped_connection_darkens_the_page_and_heals(
    pilot: Pilot, tug: Aircraft, tmp_path: Path, served: Served
) -> None:
    serving = serve_session(BenchSession(tug, tmp_path), tmp_path)
    first = next(serving)
    other = Pilot(pilot.driver, first.link)
    other.open()
    other.click("guard")
    other.state("REST")
    other.click("master")
    other.until(lambda: other.lamp("check") == "on", "the amber lamp")
    with pytest.raises(StopIteration):
        next(serving)
    other.until(lambda: other.driver.find_element(By.ID, "notice").is_displayed(), "the notice")
    assert "no longer" in other.text("notice") or "Nothing here is true" in other.text("notice")
    assert {other.lamp(name) for name in ("ready", "flow", "check", "stop")} == {"off"}
    again = serve_session(BenchSession(tug, tmp_path), tmp_path, first.port)
    next(again)
    other.state("WAKE", "REST")
    assert not other.driver.find_element(By.ID, "notice").is_displayed()
    pilot.driver.get("about:blank")
    with pytest.raises(StopIteration):
        next(again)


# --- for everybody ----------------------------------------------------------------------------------


def test_every_control_has_a_name_and_every_label_contrast(pilot: Pilot) -> None:
    pilot.new_flight()
    nameless = pilot.driver.execute_script(
        """return [...document.querySelectorAll('button, input, select, a[href], [role=slider]')].filter(node =>
            node.getClientRects().length && !(node.getAttribute('aria-label') || node.textContent.trim() ||
            node.labels?.length)).map(node => node.outerHTML)"""
    )
    assert nameless == []
    ids = pilot.driver.execute_script("return [...document.querySelectorAll('[id]')].map(node => node.id)")
    assert len(ids) == len(set(ids))
    tree = pilot.driver.execute_cdp_cmd("Accessibility.getFullAXTree", {})["nodes"]
    roles = {"button", "switch", "slider", "combobox", "link", "searchbox"}
    unnamed = [
        node
        for node in tree
        if node.get("role", {}).get("value") in roles and not node.get("ignored") and not node["name"]["value"]
    ]
    assert unnamed == []
    assert sum(node.get("role", {}).get("value") in roles for node in tree) > 200
    for state in ("at rest", "armed"):
        weak = pilot.driver.execute_script(CONTRAST_SCRIPT)
        assert weak == [], f"{state}: {weak[:5]}"
        if state == "at rest":
            pilot.arm()
            pilot.until(lambda: len(pilot.reasons()) > 1, "reasons")


def test_the_tab_key_goes_from_cockpit_to_sheets_to_time(pilot: Pilot) -> None:
    pilot.new_flight()
    pilot.open()
    order = []
    while "open" not in order:
        assert len(order) < 60, f"the way through the page is too long: {order}"
        pilot.press(Keys.TAB)
        order.append(pilot.focused())
        seen = pilot.driver.execute_script(
            """const at = document.activeElement, box = at.getBoundingClientRect();
            return [getComputedStyle(at).outlineStyle, box.width > 0 && box.bottom > 0 && box.top < innerHeight]"""
        )
        assert seen[0] != "none" and seen[1], f"{order[-1]} has the focus and cannot be seen"
    wanted = ["#cockpit", "engine", "hand-valve", "guard", "select-1", "select-3", "purge", "ack", "throttle", "#flows"]
    wanted += ["search", "heal", "run", "rewind", "save", "open"]
    places = [order.index(name) for name in wanted]
    assert places == sorted(places)
    assert "master" not in order, "the guard is down"


def test_everything_in_the_cockpit_is_in_reach_at_1024_by_768(pilot: Pilot) -> None:
    pilot.new_flight()
    sizes = pilot.driver.execute_script("return [innerWidth, innerHeight, document.documentElement.scrollWidth]")
    assert sizes == [1024, 768, 1024]
    outside = pilot.driver.execute_script(
        """const cockpit = document.getElementById('cockpit').getBoundingClientRect();
        const nodes = document.querySelectorAll('#cockpit button, #throttle, #cockpit dd, .band *, .time *');
        return [...nodes].filter(node => {
            const box = node.getBoundingClientRect();
            const isInside = node.closest('#cockpit');
            const right = isInside ? cockpit.right : innerWidth, bottom = isInside ? cockpit.bottom : innerHeight;
            return box.width && (box.left < 0 || box.right > right + 0.5 || box.top < 0 || box.bottom > bottom + 0.5);
        }).map(node => node.id || node.className || node.tagName)"""
    )
    assert outside == []


def test_the_page_takes_everything_from_this_machine_and_nothing_fails(pilot: Pilot, served: Served) -> None:
    pilot.driver.get_log("browser")
    pilot.new_flight()
    names = pilot.driver.execute_script("return performance.getEntriesByType('resource').map(entry => entry.name)")
    assert len(names) > 10 and all(name.startswith(served.link) for name in names)
    assert pilot.driver.get_log("browser") == []


def test_paint_strips_and_lamps_are_quick(pilot: Pilot) -> None:
    """Loose bounds that a busy machine also keeps; `bench/panel_speed.py` measures against the real ones."""
    pilot.new_flight()
    paint = pilot.driver.execute_script("return performance.getEntriesByName('first-contentful-paint')[0].startTime")
    assert paint < 3000
    pilot.show("charts")
    pilot.until(lambda: int(pilot.find("strips").get_attribute("data-rate") or 0) >= 10, "ten pictures a second")
    pilot.click("guard")
    pilot.driver.set_script_timeout(20)
    times = pilot.driver.execute_async_script(LAMP_SCRIPT, 12)
    assert statistics.median(times) < 150

"""The page in a real browser without a screen: what the finisher and the client do at the table.

Skipped where there is no Chromium with its driver (Debian: chromium, chromium-driver).
"""

from __future__ import annotations

import contextlib
import json
import shutil
import time
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

pytest.importorskip("selenium", reason="selenium is not installed")
from selenium import webdriver
from selenium.common.exceptions import StaleElementReferenceException
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.remote.webelement import WebElement

from render import finish as finishes

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
DRIVER = shutil.which("chromedriver")
pytestmark = pytest.mark.skipif(
    not (CHROMIUM and DRIVER),
    reason="no Chromium with its driver here; on Debian: apt-get install chromium chromium-driver",
)

PROBES = (Path(__file__).parent / "probes.js").read_text(encoding="utf-8")
ROOT = "return document.documentElement.dataset."


def start_browser(width: int = 1366, height: int = 900) -> webdriver.Chrome:
    """A browser without a screen; narrow ones are touched."""
    options = webdriver.ChromeOptions()
    options.binary_location = str(CHROMIUM)
    for word in ("--headless=new", "--no-sandbox", "--disable-dev-shm-usage", f"--window-size={width},{height}"):
        options.add_argument(word)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
    if width < 600:
        metrics = {"width": width, "height": height, "pixelRatio": 2, "touch": True}
        options.add_experimental_option("mobileEmulation", {"deviceMetrics": metrics})
    return webdriver.Chrome(options=options, service=webdriver.ChromeService(str(DRIVER)))


@pytest.fixture(scope="module")
def chrome() -> Iterator[webdriver.Chrome]:
    """One laptop-wide browser for all tests."""
    running = start_browser()
    yield running
    running.quit()


@pytest.fixture
def browser(chrome, page) -> Iterator[webdriver.Chrome]:
    """The browser on the page, its picture at rest; afterwards nothing may have gone wrong in it."""
    chrome.get(page.address)
    at_rest(chrome)
    yield chrome
    wrong = [line["message"] for line in chrome.get_log("browser") if line["level"] == "SEVERE"]
    assert [line for line in wrong if "ERR_CONNECTION" not in line and "status of 422" not in line] == []


def probe(browser, name: str, *given):
    """Ask the page one of the questions in probes.js."""
    return browser.execute_script(PROBES, name, *given)


def until(found, what: str, seconds: float = 40):
    """Wait for something to come true and return it."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        with contextlib.suppress(StaleElementReferenceException):  # the list is laid out anew
            if got := found():
                return got
        time.sleep(0.03)
    raise AssertionError(f"waited {seconds:g} s for {what}")


def at_rest(browser) -> str:
    """Wait until the full picture of what is on the table is painted; return the picture as text."""
    until(lambda: probe(browser, "atRest"), "the picture at rest", 90)
    return probe(browser, "pixels", "wall")


def seen(browser) -> dict[str, str]:
    """The visible share beside each layer."""
    rows = browser.find_elements(By.CSS_SELECTOR, ".layer")
    return {row.get_attribute("data-name"): row.find_element(By.CLASS_NAME, "seen").text for row in rows}


def points(text: str) -> float:
    """A share in words as a number."""
    return float(text.partition(" ")[0]) if text else 0.0


def opened(browser, number: int) -> WebElement:
    """Open a layer by its button and return its row."""
    row = browser.find_elements(By.CSS_SELECTOR, ".layer")[number]
    if row.find_element(By.CLASS_NAME, "open").get_attribute("aria-expanded") != "true":
        row.find_element(By.CLASS_NAME, "open").click()
    return row


def slide(browser, key: str, value: float) -> None:
    """Move the open layer's slider as a drag does."""
    probe(browser, "slide", key, value)


def kept(browser) -> list[str]:
    """Letters of the kept looks."""
    return [one.get_attribute("data-letter") for one in browser.find_elements(By.CLASS_NAME, "look")]


def keep(browser) -> None:
    """Keep what is on the table."""
    count = len(kept(browser))
    browser.find_element(By.ID, "keep").click()
    until(lambda: len(kept(browser)) == count + 1, "one more kept look")


def test_a_slider_moves_the_wall_and_its_shares(browser):
    """Less coverage: another picture, and the layer's visible share falls while the one below gains."""
    before, shares = at_rest(browser), seen(browser)
    opened(browser, 1)
    slide(browser, "coverage", 25)
    after, less = at_rest(browser), seen(browser)
    assert after != before
    assert points(less["wash"]) < points(shares["wash"]) - 10
    assert points(less["base"]) > points(shares["base"]) + 10
    assert browser.execute_script("return JSON.parse(localStorage.getItem(Object.keys(localStorage)[0])) !== null")
    browser.find_element(By.ID, "takeback").click()
    assert at_rest(browser) == before
    assert seen(browser) == shares


@pytest.mark.parametrize(("number", "pinned"), [(1, True), (2, False)])
def test_another_coverage_takes_what_a_variation_takes(browser, finish_text, number, pinned):
    """A coat's spread is pinned at its old coverage, a spatter's is not; both amounts are those of ``set_key``."""
    opened(browser, number)
    slide(browser, "coverage", 3)
    at_rest(browser)
    browser.execute_script("dispatchEvent(new Event('pagehide'))")
    key = "finishboard.sitting." + browser.current_url.rpartition("=")[2]
    made = json.loads(browser.execute_script("return localStorage.getItem(arguments[0])", key))["finish"]
    varied = tomllib.loads(finish_text)
    finishes.set_key(varied["layer"][number], "coverage", "3 %")
    entry = made["layer"][number]
    assert ("spread_at" in entry) is pinned
    assert entry == varied["layer"][number]
    gallons = [finishes.read(one).layers[number].amounts(1.0).mixed.likely for one in (made, varied)]
    assert gallons[0] == gallons[1] > 0


def test_a_slider_moves_by_keys(browser):
    """A focused slider follows the arrow keys, and says its value with its unit."""
    row = opened(browser, 1)
    slider = row.find_element(By.CSS_SELECTOR, "input[data-key=coverage]")
    slider.send_keys(Keys.ARROW_LEFT, Keys.ARROW_LEFT)
    assert slider.get_attribute("value") == "68"
    assert slider.get_attribute("aria-valuetext") == "68 %"
    at_rest(browser)


def test_a_draft_comes_before_the_full_picture(browser):
    """After a change the first picture is the draft, the last one has four times its pixels."""
    probe(browser, "listen")
    opened(browser, 1)
    slide(browser, "coverage", 55)
    at_rest(browser)
    came = browser.execute_script("return came")
    assert [quality for quality, _ in came] == ["draft", "settled"]
    assert came[1][1] == pytest.approx(2 * came[0][1], abs=2)


def test_a_layer_can_be_left_out_and_moved(browser):
    """Off and on again gives the first picture; order changes by button, keys and drag, and gives another picture."""
    first = at_rest(browser)
    names = list(seen(browser))
    box = browser.find_element(By.ID, "layer2on")
    box.click()
    assert at_rest(browser) != first
    assert seen(browser)["umber spatter"] == "left out"
    box.click()
    assert at_rest(browser) == first
    opened(browser, 2).find_element(By.ID, "layer2earlier").click()
    until(lambda: list(seen(browser)) == [names[0], names[2], names[1]], "the new order")
    assert at_rest(browser) != first
    ActionChains(browser).key_down(Keys.ALT).send_keys(Keys.ARROW_DOWN).key_up(Keys.ALT).perform()
    until(lambda: list(seen(browser)) == names, "the old order")
    assert at_rest(browser) == first
    browser.find_element(By.ID, "layer2open").click()
    rows = browser.find_elements(By.CLASS_NAME, "grip")
    drop = rows[0].location["y"] - rows[2].location["y"] - 30
    ActionChains(browser).click_and_hold(rows[2]).move_by_offset(0, drop // 2).move_by_offset(
        0, drop - drop // 2
    ).release().perform()
    until(lambda: list(seen(browser)) == [names[2], names[0], names[1]], "the order by hand")


def test_a_layer_can_be_added_and_removed(browser):
    """A kind from the list is laid after the open layer, stands open under a name of its own, and goes again."""
    first, names = at_rest(browser), list(seen(browser))
    opened(browser, 0)
    for name in ("plaster coat", "plaster coat 2"):
        browser.find_element(By.CSS_SELECTOR, "#adder summary").click()
        browser.find_element(By.CSS_SELECTOR, "#addkinds [data-kind=plaster_coat]").click()
        until(lambda name=name: name in seen(browser), "the new layer")
    assert list(seen(browser)) == [names[0], "plaster coat", "plaster coat 2", *names[1:]]
    assert at_rest(browser) != first
    assert points(seen(browser)["plaster coat 2"]) > 5
    assert browser.find_element(By.ID, "layer2open").get_attribute("aria-expanded") == "true"
    browser.find_element(By.ID, "layer2remove").click()
    until(lambda: len(seen(browser)) == 4, "one less")
    opened(browser, 1).find_element(By.ID, "layer1remove").click()
    until(lambda: list(seen(browser)) == names, "the old list")
    assert at_rest(browser) == first


def test_kept_looks_survive_a_reload(browser):
    """Two kept options with price and shares stand there again after a reload, and so does what is on the table."""
    keep(browser)
    opened(browser, 1)
    slide(browser, "coverage", 30)
    second = at_rest(browser)
    keep(browser)
    words = [one.text for one in browser.find_elements(By.CLASS_NAME, "look")]
    assert all("/ft²" in text for text in words)
    browser.refresh()
    assert at_rest(browser) == second
    assert kept(browser) == ["A", "B"]
    assert [one.text for one in browser.find_elements(By.CLASS_NAME, "look")] == words
    browser.find_element(By.CSS_SELECTOR, "[aria-label='Take up look A']").click()
    assert at_rest(browser) != second
    browser.find_element(By.CSS_SELECTOR, "[aria-label='Let go of look B']").click()
    assert kept(browser) == ["A"]


def test_side_by_side_tells_what_differs(browser):
    """The table of kept looks shows price and shares, and marks the key that was changed."""
    keep(browser)
    opened(browser, 1)
    slide(browser, "coverage", 30)
    at_rest(browser)
    keep(browser)
    browser.find_element(By.ID, "beside").click()
    table = browser.find_element(By.ID, "besidetable")
    until(table.is_displayed, "the table")
    assert "materials per ft²" in table.text and "base" in table.text
    changed = [one.text.replace("\n", " ") for one in table.find_elements(By.CLASS_NAME, "changed")]
    assert "wash: coverage 70 % 30 %" in changed
    browser.find_element(By.ID, "besideclose").click()


def test_one_look_wipes_across_another(browser):
    """The edge follows pointer and keys; to the right the other look is uncovered."""
    keep(browser)
    opened(browser, 1)
    slide(browser, "coverage", 30)
    after = at_rest(browser)
    keep(browser)
    browser.find_element(By.ID, "wipestart").click()
    until(lambda: browser.execute_script(ROOT + "wipe"), "the wipe")
    over = browser.find_element(By.ID, "over")
    clip = "return getComputedStyle(document.getElementById('over')).clipPath"
    assert browser.execute_script(clip) == "inset(0px 50% 0px 0px)"
    browser.find_element(By.ID, "wipe").send_keys(Keys.ARROW_RIGHT, Keys.ARROW_RIGHT)
    assert browser.execute_script(clip) == "inset(0px 49% 0px 0px)"
    board = browser.find_element(By.ID, "board")
    quarter = -board.size["width"] // 4
    ActionChains(browser).move_to_element_with_offset(board, quarter, 0).click().perform()
    left = browser.execute_script("return parseFloat(document.getElementById('edge').style.left)")
    assert left == pytest.approx(25, abs=1)
    assert probe(browser, "pixels", "over") != probe(browser, "pixels", "wall")
    browser.find_element(By.ID, "wipeend").click()
    assert not over.is_displayed()
    assert probe(browser, "pixels", "wall") == after


def test_two_tabs_do_not_mix(browser, page):
    """A look kept in one tab is not in the other, not even when both opened the same address."""
    keep(browser)
    first, address = browser.current_window_handle, browser.current_url
    browser.switch_to.new_window("tab")
    browser.get(page.address)
    at_rest(browser)
    assert kept(browser) == []
    browser.get(address)
    at_rest(browser)
    assert browser.current_url != address
    assert kept(browser) == ["A"]
    opened(browser, 1)
    slide(browser, "coverage", 10)
    at_rest(browser)
    keep(browser)
    browser.close()
    browser.switch_to.window(first)
    assert kept(browser) == ["A"]
    browser.refresh()
    at_rest(browser)
    assert kept(browser) == ["A"]
    opened(browser, 1)
    assert browser.find_element(By.CSS_SELECTOR, "input[data-key=coverage]").get_attribute("value") == "70"


def test_a_killed_server_is_told_and_nothing_is_lost(browser, page):
    """The page says that the program stopped; when it runs again all is there, with what was changed meanwhile."""
    keep(browser)
    page.kill()
    opened(browser, 1)
    slide(browser, "coverage", 45)
    banner = browser.find_element(By.ID, "lost")
    until(banner.is_displayed, "the notice")
    assert "has stopped" in banner.text
    assert kept(browser) == ["A"]
    page.start()
    until(lambda: not banner.is_displayed(), "the page to go on")
    at_rest(browser)
    browser.refresh()
    at_rest(browser)
    assert kept(browser) == ["A"]
    opened(browser, 1)
    assert browser.find_element(By.CSS_SELECTOR, "input[data-key=coverage]").get_attribute("value") == "45"


def test_a_stopped_server_is_noticed_without_a_change(browser, page):
    """Nobody has to touch anything to learn that the program is gone."""
    page.kill()
    until(browser.find_element(By.ID, "lost").is_displayed, "the notice", 12)
    page.start()
    until(lambda: not browser.find_element(By.ID, "lost").is_displayed(), "the page to go on")


def test_faults_are_told_beside_the_picture(browser):
    """A lamp that cannot be read is told in words; the last picture stays; taking back mends it."""
    before = at_rest(browser)
    browser.find_element(By.CSS_SELECTOR, "#bar summary").click()
    words = browser.find_element(By.ID, "lampwords")
    words.clear()
    words.send_keys("candle in a jar", Keys.ENTER)
    faults = browser.find_element(By.ID, "faults")
    until(faults.is_displayed, "the fault")
    assert "candle in a jar" in faults.text
    browser.find_element(By.ID, "takeback").click()
    assert at_rest(browser) == before
    assert not faults.is_displayed()


def test_the_lamp_has_direct_controls(browser):
    """Place and angle are written as words, and the words set place and angle."""
    before = at_rest(browser)
    browser.find_element(By.CSS_SELECTOR, "#bar summary").click()
    browser.find_element(By.CSS_SELECTOR, "#lampplace input[value='upper right']").click()
    words = browser.find_element(By.ID, "lampwords")
    assert words.get_attribute("value") == "window upper right 16 deg"
    assert at_rest(browser) != before
    words.clear()
    words.send_keys("lamp below 40 deg, 2700 K", Keys.ENTER)
    at_rest(browser)
    values = [
        browser.find_element(By.ID, name).get_attribute("value") for name in ("lampkind", "lampangle", "lamplight")
    ]
    assert values == ["lamp", "40", "2700 K"]
    assert browser.find_element(By.CSS_SELECTOR, "#lampplace input[value=below]").is_selected()


def test_another_pour_and_back(browser):
    """Another pour is another hand; the pour before is the same picture again."""
    before = at_rest(browser)
    browser.find_element(By.ID, "pour").click()
    assert at_rest(browser) != before
    browser.find_element(By.ID, "pourback").click()
    assert at_rest(browser) == before


def test_true_size_is_an_inch_for_an_inch(browser):
    """In true size a 5 in wall is as wide as 5 in of screen, by the card that was held to it."""
    browser.find_element(By.ID, "true").click()
    board = browser.find_element(By.ID, "board")
    assert board.size["width"] == pytest.approx(5 * 96, abs=1.5)
    card = "const c = document.getElementById('card'); c.value = 400; c.dispatchEvent(new Event('input'))"
    browser.execute_script(card)
    assert board.size["width"] == pytest.approx(5 * 400 / (85.6 / 25.4), abs=1.5)
    browser.find_element(By.ID, "true").click()
    assert board.size["width"] != pytest.approx(5 * 400 / (85.6 / 25.4), abs=1.5)


def test_text_of_a_finish_is_shown_as_text(browser):
    """Markup in names, summary and notes of a file stands there as its letters and runs nowhere."""
    evil = "<img src=x onerror=window.ran=1><script>window.ran=1</script>"
    text = f"""
    name = "{evil}"
    summary = "{evil}"
    [[layer]]
    kind = "texture_coat"
    name = "{evil}"
    note = "{evil}"
    material = "sanded wall coat"
    """
    probe(browser, "openFile", text)
    until(lambda: list(seen(browser)) == [evil], "the file's layer")
    at_rest(browser)
    opened(browser, 0)
    keep(browser)
    browser.find_element(By.ID, "pour").click()
    at_rest(browser)
    keep(browser)
    browser.find_element(By.ID, "beside").click()
    assert evil in browser.find_element(By.ID, "summary").text
    assert evil in browser.find_element(By.CLASS_NAME, "note").text
    assert browser.execute_script("return document.querySelectorAll('img[src=x], body script').length") == 0
    assert browser.execute_script("return window.ran ?? 0") == 0
    browser.find_element(By.ID, "besideclose").click()


@pytest.mark.parametrize("width", [1366, 390])
def test_each_width_can_be_read_and_touched(page, width):
    """At both widths nothing sticks out sideways, text has WCAG 2.2's contrast, controls have names and 24 px."""
    narrow = start_browser(width, 844)
    try:
        narrow.get(page.address)
        at_rest(narrow)
        for number in (0, 2, 1):
            narrow.execute_script("document.querySelectorAll('.open')[arguments[0]].click()", number)
            narrow.execute_script("document.querySelector('.more')?.setAttribute('open', '')")
            assert probe(narrow, "outside") == []
        narrow.execute_script("document.getElementById('keep').click()")
        until(lambda: len(kept(narrow)) == 1, "a kept look")
        narrow.execute_script("document.getElementById('layer2on').click()")
        at_rest(narrow)
        for drop in range(3):
            probe(narrow, "openDrop", drop)
            assert probe(narrow, "contrast") == []
            assert probe(narrow, "sideways") <= 0
            assert probe(narrow, "sheetsOutside") == 0
        assert probe(narrow, "small", 24 if width > 600 else 44) == []
        assert probe(narrow, "unnamed") == []
    finally:
        narrow.quit()

"""For everybody, with any hand: axe-core finds nothing, keys are big enough, nothing runs off the side."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page
from tests.phone.bench import Bench
from tests.phone.conftest import SIZES, Open

RULES: Final = {
    "runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}
}
TOUCHED: Final = ("button", "a.act", "a.valve .touch", "input", "select", "summary", "header a")


def screens(bench: Bench) -> Iterator[tuple[str, Page]]:  # noqa: PLR0915 - a walk, one step after the other
    """Every screen there is, with something on it."""
    page = bench.page
    yield "no jobs", page
    page.get_by_role("link", name="New job").click()
    yield "new job", page
    page.get_by_role("link", name="Back").click()
    bench.start_pair()
    yield "head", page
    bench.take("Spring heights")
    yield "pass", page
    bench.by_keyboard(["1846", "1.8485", "1802"])
    bench.card.get_by_text("short of height").wait_for()
    yield "pass with an answer", page
    bench.by_keyboard(["1.8.5"])
    yield "pass with a fault", page
    bench.to_head()
    bench.take("Weigh: retainers")
    bench.by_keyboard(["19.8"])
    page.get_by_role("button", name="All").wait_for()
    yield "pass with weights to take as equal", page
    bench.by_keyboard(["198"])
    page.get_by_role("button", name="Keep").wait_for()
    yield "pass with a reading in doubt", page
    bench.by_keyboard(["19.9"])
    bench.to_head()
    bench.take("Spring loads")
    bench.by_keyboard(["118", "90"])
    page.get_by_text("load falls").first.wait_for()
    bench.to_head()
    page.get_by_text("Not figured").wait_for()
    yield "head with a problem", page
    bench.take("Spring loads")
    page.go_back()
    page.get_by_role("link", name=": 90").click()
    page.locator("#reading").wait_for()
    bench.by_keyboard(["281"])
    bench.to_head()
    bench.is_answered()
    page.get_by_role("link", name="P1I, intake").click()
    page.locator("figure.curve svg").wait_for()
    yield "valve", page
    page.get_by_role("button", name="Not fitted").click()
    page.get_by_role("button", name="Fitted after all").wait_for()
    yield "valve not fitted", page
    bench.to_head()
    page.get_by_role("link", name="Sheet to print").click()
    page.get_by_role("heading", name="Assembly sheet").wait_for()
    yield "sheet", page
    page.get_by_role("link", name="Back").click()
    page.get_by_role("link", name="Set up").click()
    page.get_by_role("button", name="Save").wait_for()
    yield "set-up", page
    page.get_by_role("link", name="Back").click()
    page.get_by_role("link", name="Back").click()
    page.get_by_role("link", name="KW-0317").wait_for()
    yield "jobs", page
    page.get_by_role("button", name="Delete KW-0317").click()
    yield "a question", page


def faults_of(page: Page) -> list[Any]:
    """What axe-core finds, in short."""
    said = Axe().run(page, options=RULES).response
    assert len(said["passes"]) > 10
    return [(one["id"], [node["target"] for node in one["nodes"]]) for one in said["violations"]]


def too_small(page: Page) -> list[str]:
    """What is to be touched and is smaller than a glove needs; links inside a sentence are read, not touched."""
    found: list[str] = page.locator(", ".join(f"{one}:visible" for one in TOUCHED)).evaluate_all(
        """targets => targets
          .map(one => [one.closest(".tick") ?? one, one])
          .map(([touched, one]) => [touched.getBoundingClientRect(), one])
          .filter(([box]) => box.height && (box.width < 47.5 || box.height < 47.5))
          .map(([box, one]) => `${one.outerHTML.slice(0, 80)} ${box.width}x${box.height}`)"""
    )
    return found


def runs_off(page: Page) -> int:
    """By how much the page is wider than the phone [px]."""
    off: int = page.evaluate("() => document.documentElement.scrollWidth - document.documentElement.clientWidth")
    return off


def resized(page: Page, width: int, height: int) -> Page:
    """The page as another phone shows it."""
    page.set_viewport_size({"width": width, "height": height})
    return page


def test_every_screen_can_be_used_by_everybody_on_every_phone(opened: Open) -> None:
    found: dict[str, list[Any]] = {}
    for name, page in screens(opened(SIZES["360x640"])):
        # names, roles and colors are the same on a larger phone; sizes are measured there too, and closer
        found[name] = [faults_of(page)]
        for size in (SIZES["390x844"], SIZES["360x640"]):
            resized(page, *size)
            found[name] += [too_small(page), runs_off(page)]
        # 320 px: WCAG 2.2, 1.4.10
        found[name].append(runs_off(resized(page, 320, 568)))
        resized(page, *SIZES["360x640"])
    assert len(found) == 15
    assert {name: one for name, one in found.items() if one != [[], [], 0, [], 0, 0]} == {}


def test_the_page_goes_by_keyboard_alone(opened: Open) -> None:
    bench = opened()
    bench.start_one()
    press = bench.page.keyboard.press
    focused = "() => document.activeElement.matches('a, button') ? document.activeElement.textContent : ''"
    for _ in range(30):
        press("Tab")
        if "Spring heights" in bench.page.evaluate(focused):
            break
    press("Enter")
    bench.page.locator("#reading").wait_for()
    bench.by_keyboard(["1797"])
    press("Tab")  # the keypad
    for _ in range(20):
        if bench.page.evaluate(focused) == "Skip":
            break
        press("Tab")
    press("Enter")
    assert bench.prompt.inner_text().startswith("1E")

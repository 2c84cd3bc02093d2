"""A browser as a phone has it, and a service as it is shipped: what every test of the page stands on."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from typing import Final

import pytest
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Error, Page, sync_playwright
from tests.phone.bench import Bench

VARIABLE: Final = "HEADBENCH_CHROMIUM"
"""Where the path of a browser is named, if it is not one of the usual."""

USUAL: Final = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")

SIZES: Final = {"390x844": (390, 844), "360x640": (360, 640)}

CUT: Final = ("net::ERR_INTERNET_DISCONNECTED", "net::ERR_CONNECTION_REFUSED", "status of 4", "status of 503")
"""What a browser says of a network that a test has cut, and of refusals that the page shows."""

Open = Callable[..., Bench]


# no longer: as long as it is there a loop runs in this thread, where tests of another folder run theirs
@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """One Chromium for the tests of a module."""
    path = os.environ.get(VARIABLE) or next(filter(None, map(shutil.which, USUAL)), None)
    if path is None:
        pytest.skip(f"no Chromium here, so nobody tries the page of the phone: install one, or name it in {VARIABLE}")
    with sync_playwright() as playwright:
        # tests run as root in containers, where Chromium's sandbox does not
        browser = playwright.chromium.launch(executable_path=path, args=["--no-sandbox", "--disable-gpu"])
        yield browser
        browser.close()


@pytest.fixture(params=SIZES, ids=str)
def size(request: pytest.FixtureRequest) -> tuple[int, int]:
    """The sizes that a test runs at which asks for every one."""
    return SIZES[request.param]


@pytest.fixture
def phone(browser: Browser) -> Iterator[Callable[..., BrowserContext]]:
    """Phones, each with nothing on it yet."""
    made: list[BrowserContext] = []

    def make(size: tuple[int, int] = SIZES["390x844"], *, javascript: bool = True) -> BrowserContext:
        width, height = size
        context = browser.new_context(
            viewport={"width": width, "height": height}, has_touch=True, java_script_enabled=javascript
        )
        context.set_default_timeout(10_000)
        made.append(context)
        return context

    yield make
    for context in made:
        context.close()


@pytest.fixture(scope="module")
def tab(browser: Browser) -> Iterator[Page]:
    """A tab that stays open for the tests of a module: a new phone for each costs more than what most of them do."""
    width, height = SIZES["390x844"]
    context = browser.new_context(viewport={"width": width, "height": height}, has_touch=True)
    context.set_default_timeout(10_000)
    yield context.new_page()
    context.close()


@pytest.fixture
def complaints() -> Iterator[Callable[..., None]]:
    """Listens to a page; what it complains of fails the test, but for a network that the test has cut itself."""
    told: list[str] = []
    cut = [*CUT]
    pages: list[Page] = []

    def hear(message: ConsoleMessage) -> None:
        is_told = any(one in message.text for one in cut)
        if message.type in {"error", "warning"} and not is_told:
            told.append(message.text)

    def fail(error: Error) -> None:
        told.append(str(error))

    def listen(page: Page, *more: str) -> None:
        cut.extend(more)
        page.on("console", hear)
        page.on("pageerror", fail)
        pages.append(page)

    yield listen
    for page in pages:
        page.remove_listener("console", hear)
        page.remove_listener("pageerror", fail)
    assert told == []


@pytest.fixture
def opened(tab: Page, address: str, complaints: Callable[..., None]) -> Open:
    """The page on a phone with nothing on it yet, in the tab that all tests of a module share."""

    def open_page(size: tuple[int, int] = SIZES["390x844"]) -> Bench:
        width, height = size
        # nothing of an earlier test runs any more when what it kept is wiped: jobs, settings, the page itself
        tab.goto("about:blank")
        tab.context.new_cdp_session(tab).send("Storage.clearDataForOrigin", {"origin": address, "storageTypes": "all"})
        tab.set_viewport_size({"width": width, "height": height})
        complaints(tab)
        return started(tab, address)

    return open_page


@pytest.fixture
def opened_anew(phone: Callable[..., BrowserContext], address: str, complaints: Callable[..., None]) -> Open:
    """The page on a phone of its own, which keeps the page as well; `beside` another window on it, a second one.

    What it may complain of as well follows.
    """

    def open_page(*more: str, beside: Bench | None = None) -> Bench:
        page = (phone() if beside is None else beside.page.context).new_page()
        complaints(page, *more)
        return started(page, address)

    return open_page


def started(page: Page, address: str) -> Bench:
    """The page as it first shows itself."""
    page.goto(f"{address}/bench")
    page.get_by_role("heading", name="Headbench").wait_for()
    return Bench(page, address)

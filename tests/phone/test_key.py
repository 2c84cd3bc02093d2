"""A service that asks for a key: the phone asks for it once, keeps it, and sends it with every job."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import BrowserContext, Page, expect
from tests.conftest import served
from tests.phone.bench import Bench
from tests.phone.test_access import faults_of, runs_off, too_small

KEY = "Zq3-of_this_bench"


@pytest.fixture(scope="module")
def locked() -> Iterator[str]:
    with served(HEADBENCH_API_KEYS=f"sha256:{hashlib.sha256(KEY.encode()).hexdigest()}") as url:
        yield url


@pytest.fixture
def bench(phone: Callable[..., BrowserContext], locked: str) -> Bench:
    page = phone((360, 640)).new_page()
    page.goto(f"{locked}/bench")
    page.get_by_role("link", name="New job").wait_for()
    return Bench(page, locked)


def begin(page: Page) -> None:
    """Set up a head of one cylinder, up to where the service is asked."""
    page.get_by_role("link", name="New job").click()
    page.get_by_label("Cylinders in a head").select_option("1")
    page.locator("[id='job-targets-intake-installed_height']").fill("1750")
    page.get_by_role("button", name="Start the job").click()


def test_the_key_is_asked_for_once_and_kept(bench: Bench) -> None:
    page = bench.page
    begin(page)
    field = page.get_by_label("Key", exact=True)
    expect(field).to_be_focused()
    assert faults_of(page) == []
    assert too_small(page) == []
    assert runs_off(page) == 0
    field.fill("with a blank")
    page.get_by_role("button", name="Keep the key").click()
    expect(page.locator("#key-fault")).to_contain_text("no blanks")
    field.fill("another")
    page.get_by_role("button", name="Keep the key").click()
    expect(page.locator("#key-fault")).to_contain_text("does not know this key")
    page.get_by_label("Key", exact=True).fill(f"  {KEY} ")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Passes").wait_for()
    bench.is_answered()
    page.reload()
    bench.take("Spring heights")
    bench.by_keyboard(["1885"])
    bench.is_answered()
    expect(page.get_by_role("dialog")).to_have_count(0)


def test_who_has_no_key_at_hand_goes_on_reading_and_enters_it_later(bench: Bench) -> None:
    page = bench.page
    begin(page)
    page.get_by_role("button", name="Later").click()
    bench.take("Spring heights")
    bench.by_keyboard(["1885"])
    needed = page.get_by_role("button", name="key needed")
    expect(needed).to_contain_text("kept")
    assert faults_of(page) == []
    assert too_small(page) == []
    assert runs_off(page) == 0
    needed.click()
    page.get_by_label("Key", exact=True).fill(KEY)
    page.get_by_role("button", name="Keep the key").click()
    bench.is_answered()
    # 1.885 less 0.060 of shims
    expect(bench.card).to_contain_text("1.825")


def test_a_key_is_forgotten_when_told_to(bench: Bench) -> None:
    page = bench.page
    forget = page.get_by_role("button", name="Forget the key of this service")
    expect(forget).to_have_count(0)
    begin(page)
    page.get_by_label("Key", exact=True).fill(KEY)
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Passes").wait_for()
    page.get_by_role("link", name="Back").click()
    forget.click()
    page.get_by_role("dialog").get_by_role("button", name="Forget", exact=True).click()
    expect(forget).to_have_count(0)
    assert page.evaluate("Object.values(localStorage)") == []
    begin(page)
    page.get_by_label("Key", exact=True).wait_for()


def test_a_browser_without_scripts_sends_the_key_as_a_password(
    phone: Callable[..., BrowserContext], locked: str
) -> None:
    browser = phone(javascript=False).browser
    assert browser is not None
    context = browser.new_context(java_script_enabled=False, http_credentials={"username": "bench", "password": KEY})
    page = context.new_page()
    page.goto(f"{locked}/bench/one-valve")
    page.get_by_label("Name of the valve").fill("1I")
    page.get_by_role("button", name="Work it out").click()
    expect(page.get_by_role("region", name="Answer")).to_contain_text("not all measured yet")
    context.close()

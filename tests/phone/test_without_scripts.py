"""One valve in a browser without scripts, and the same page for everybody."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import BrowserContext, expect
from tests.phone.conftest import Open
from tests.phone.test_access import faults_of, runs_off, too_small

READ = {
    "Name of the valve": "<i>1I</i>",
    "Height, valve closed": "1.75",
    "Spring height, valve closed, no shims": "1.797",
    "Valve lift": "0.500",
    "Height where the coils touch": "1.15",
    "First height": "1.75",
    "Second height": "1.25",
}


def test_a_valve_goes_in_and_comes_back_without_scripts(phone: Callable[..., BrowserContext], address: str) -> None:
    page = phone(javascript=False).new_page()
    page.goto(f"{address}/bench")
    page.get_by_role("link", name="One valve goes without").click()
    expect(page.get_by_text("never press it in a vise")).to_be_visible()
    for name, text in READ.items():
        page.get_by_label(name, exact=True).fill(text)
    page.get_by_label("Load at the first height").fill("118")
    page.get_by_label("Load at the second height").fill("90")
    page.get_by_role("button", name="Work it out").click()
    expect(page.locator("#second_load-fault")).to_contain_text("load falls from 118 to 90 lbf")
    page.get_by_label("Load at the second height").fill("258")
    page.get_by_role("button", name="Work it out").click()
    answer = page.get_by_role("region", name="Answer")
    # as in the pass: 0.045 of shim, 1.752, 280 lbf/in from 118 at 1.750
    for told in (
        "<i>1I</i>: not all measured yet",
        "0.030 + 0.015",
        "1.752 in",
        "117.4 lbf",
        "257.4 lbf",
        "0.102 in",
        "at least 0.060 in",
        ", 1.750 in wanted",
    ):
        expect(answer).to_contain_text(told)
    expect(answer).to_contain_text("measure from the underside of the retainer")


@pytest.mark.parametrize("read", [{}, {"id": "1I"}, {"first_load": "x"}, {"second_load": "90"}], ids=str)
def test_the_plain_page_can_be_used_by_everybody(opened: Open, size: tuple[int, int], read: dict[str, str]) -> None:
    page = opened(size).page
    page.get_by_role("link", name="One valve only").click()
    for name, text in read.items():
        page.locator(f"#{name}").fill(text)
    if read:
        page.get_by_role("button", name="Work it out").click()
        page.locator(".card, .problem").wait_for()
    assert faults_of(page) == []
    assert too_small(page) == []
    assert runs_off(page) == 0

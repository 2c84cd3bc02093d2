"""The docs page in a browser: everything on it works, and nothing on it breaks its own policy."""

from __future__ import annotations

from collections.abc import Callable

from playwright.sync_api import BrowserContext, expect

TOLD = """
window.broken = [];
document.addEventListener("securitypolicyviolation", (event) =>
  window.broken.push(`${event.violatedDirective}: ${event.blockedURI} ${event.sample}`));
"""


def test_what_is_tried_out_on_the_docs_page_is_answered_under_its_strict_policy(
    phone: Callable[..., BrowserContext], address: str
) -> None:
    page = phone((1200, 900)).new_page()
    # the page works the whole schema through when an operation is opened
    page.set_default_timeout(60_000)
    complaints: list[str] = []
    page.on("console", lambda message: complaints.append(message.text))
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.add_init_script(TOLD)
    page.goto(f"{address}/docs")
    operation = page.locator("[id^=operations-Bench-]").filter(has_text="/v1/valve-mass")
    operation.locator(".opblock-summary-control").click()
    operation.get_by_role("button", name="Try it out").click()
    operation.get_by_role("button", name="Execute").click()
    live = operation.locator(".live-responses-table")
    expect(live.locator("tr.response .response-col_status").first).to_contain_text("200", timeout=60_000)
    expect(live).to_contain_text('"mass_totals"')
    operation.get_by_role("tab", name="Schema").first.click()
    expect(operation.get_by_role("tabpanel").first).to_contain_text("positions", timeout=60_000)
    assert page.evaluate("window.broken") == []
    assert complaints == []

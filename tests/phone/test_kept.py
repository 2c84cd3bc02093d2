"""Nothing entered is lost: no network, a reload, two windows, a closed page."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Route, expect
from tests.phone.bench import Bench
from tests.phone.conftest import Open


def kept_on_phone(bench: Bench) -> None:
    """Wait until the page itself is kept on the phone."""
    bench.page.evaluate("() => navigator.serviceWorker.ready.then(() => true)")
    bench.page.wait_for_function("async () => (await caches.keys()).length === 1")


def test_readings_go_on_without_a_network_and_are_answered_once_it_is_back(opened_anew: Open) -> None:
    bench = opened_anew()
    bench.start_one()
    bench.take("Spring heights")
    bench.page.context.set_offline(True)
    bench.by_keyboard(["1797", "1780"])
    expect(bench.standing).to_have_text("no network · 2 kept")
    expect(bench.card).to_contain_text("Kept on this phone.")
    expect(bench.card).not_to_contain_text("Lay")
    bench.page.context.set_offline(False)
    bench.is_answered()
    expect(bench.card).to_contain_text("Lay 0.030")


def test_the_page_opens_without_a_network_and_has_every_reading(opened_anew: Open) -> None:
    bench = opened_anew()
    kept_on_phone(bench)
    bench.start_one()
    bench.take("Spring heights")
    bench.by_keyboard(["1797"])
    expect(bench.card).to_contain_text("Lay 0.030 + 0.015")
    bench.page.context.set_offline(True)
    bench.by_keyboard(["1780"])
    expect(bench.standing).to_have_text("no network · 1 kept")
    bench.page.reload()
    expect(bench.page.locator(".progress")).to_contain_text("2 of 2")
    expect(bench.standing).to_have_text("no network · 1 kept")
    bench.page.context.set_offline(False)
    bench.is_answered()


def test_what_is_typed_and_not_entered_yet_stays(opened_anew: Open) -> None:
    bench = opened_anew()
    bench.page.get_by_role("link", name="New job").click()
    bench.fill({"job-job-reference": "KW-0317"})
    bench.page.get_by_label("Cylinders in a head").select_option("1")
    bench.page.reload()
    expect(bench.page.get_by_label("Reference")).to_have_value("KW-0317")
    bench.page.get_by_role("button", name="Start the job").click()
    bench.page.get_by_role("heading", name="KW-0317").wait_for()
    bench.take("Spring heights")
    bench.page.keyboard.type("17")
    bench.page.reload()
    expect(bench.page.locator("#reading")).to_have_value("17")
    bench.by_keyboard(["97"])
    bench.to_head()
    bench.page.get_by_role("link", name="1I, intake").click()
    expect(bench.page.get_by_role("link", name="Spring height, valve closed")).to_contain_text("1.797")
    bench.page.get_by_role("link", name="Back").click()
    bench.page.get_by_role("link", name="Back").click()
    bench.page.get_by_role("link", name="New job").click()
    expect(bench.page.get_by_label("Reference")).to_have_value("")


def test_a_service_that_is_away_or_busy_is_asked_again(opened_anew: Open) -> None:
    bench = opened_anew()
    bench.start_one()
    bench.is_answered()
    bench.take("Spring heights")
    away = [lambda route: route.abort("connectionrefused"), lambda route: route.fulfill(status=503, json={})]

    def answer(route: Route) -> None:
        away.pop()(route) if away else route.continue_()

    bench.page.route("**/v1/head-assembly", answer)
    bench.by_keyboard(["1797"])
    expect(bench.card).to_contain_text("Lay 0.030 + 0.015")
    assert away == []


# status and headers of an answer that says nothing of the job, and what is said of it
AWAY: tuple[tuple[int, dict[str, str], str, str], ...] = (
    (503, {"Retry-After": "3"}, "the service is busy, asked again in 3 s · 1 kept", "the service has time"),
    (429, {"Retry-After": "7"}, "too many requests, asked again in 7 s · 1 kept", "the service takes more"),
    (500, {}, "the service failed, asked again in 1 s · 1 kept", "the service is mended"),
    # by what stands in front of it, which answers in no words of ours
    (502, {"Content-Type": "text/html"}, "the service failed, asked again in 1 s · 1 kept", "the service is mended"),
)


def refusing(status: int, headers: dict[str, str], asked: list[int]) -> Callable[[Route], None]:
    def refuse(route: Route) -> None:
        asked.append(status)
        route.fulfill(status=status, headers=headers, body="<p>no" if status == 502 else "{}")

    return refuse


def test_a_service_that_does_not_answer_says_why_and_when_it_is_asked_again(opened_anew: Open) -> None:
    bench = opened_anew("status of 5")
    bench.start_pair()
    bench.is_answered()
    bench.take("Spring heights")
    # the timers of the page stand still until they are told to go on
    bench.page.clock.install(time=0)
    bench.page.clock.pause_at(10)
    bench.page.set_viewport_size({"width": 320, "height": 568})
    asked: list[int] = []
    for status, headers, told, until in AWAY:
        bench.page.route("**/v1/head-assembly", refusing(status, headers, asked))
        bench.by_keyboard(["1846"])
        expect(bench.standing).to_have_text(told)
        expect(bench.card).to_contain_text(f"Kept on this phone. Worked out when {until}.")
        assert bench.page.evaluate("() => document.documentElement.scrollWidth") <= 320
        bench.page.unroute("**/v1/head-assembly")
        bench.page.clock.run_for(7_000)
        bench.is_answered()
    assert asked == [status for status, *_ in AWAY]


def test_the_page_is_kept_under_the_name_of_its_release(opened_anew: Open) -> None:
    bench = opened_anew()
    kept_on_phone(bench)
    release = bench.page.request.get(f"{bench.address}/version").json()["version"]
    (name,) = bench.page.evaluate("() => caches.keys()")
    assert name.startswith(f"headbench-{release}-")
    expect(bench.page.locator("#release")).to_contain_text(f"Headbench {release}")


def test_what_one_window_enters_the_other_shows(opened_anew: Open) -> None:
    one = opened_anew()
    one.start_one()
    other = opened_anew(beside=one)
    other.page.get_by_role("link", name="one cylinder").click()
    one.take("Spring heights")
    one.by_keyboard(["1797"])
    expect(other.page.get_by_role("link", name="Spring heights")).to_contain_text("1 of 2")


def test_two_windows_that_enter_different_places_keep_both(opened_anew: Open) -> None:
    one = opened_anew()
    one.start_one()
    other = opened_anew(beside=one)
    other.page.get_by_role("link", name="one cylinder").click()
    one.take("Spring heights")
    other.take("Coil bind")
    one.by_keyboard(["1797", "1780"])
    other.by_keyboard(["1150", "1140"])
    for bench in (one, other):
        bench.page.get_by_role("link", name="To the head").click()
        expect(bench.page.get_by_role("link", name="Spring heights")).to_contain_text("all 2")
        expect(bench.page.get_by_role("link", name="Coil bind")).to_contain_text("all 2")


def test_two_windows_that_enter_one_place_are_asked_which_counts(opened_anew: Open) -> None:
    one = opened_anew()
    one.start_one()
    other = opened_anew(beside=one)
    other.page.get_by_role("link", name="one cylinder").click()
    one.take("Spring heights")
    other.take("Spring heights")
    other.page.keyboard.type("1812")
    one.by_keyboard(["1797"])
    expect(other.page.locator(".progress")).to_contain_text("1 of 2")
    other.page.keyboard.press("Enter")
    question = other.page.get_by_role("dialog")
    expect(question).to_contain_text("Another window entered 1.797\u00a0in here; you entered 1.812\u00a0in.")
    question.get_by_role("button", name="Keep 1.797").click()
    expect(question).to_be_hidden()
    other.to_head()
    other.page.get_by_role("link", name="1I, intake").click()
    expect(other.page.get_by_role("link", name="Spring height, valve closed")).to_contain_text("1.797 in")


@pytest.mark.parametrize("place", ["#/job/nothing", "#/%", "#/somewhere/else", "#/job/"])
def test_an_address_that_leads_nowhere_leads_to_the_jobs(opened_anew: Open, place: str) -> None:
    bench = opened_anew()
    bench.page.goto(f"{bench.address}/bench{place}")
    expect(bench.page.get_by_role("link", name="New job")).to_be_visible()


def test_a_job_that_another_window_deleted_takes_no_reading(opened_anew: Open) -> None:
    one = opened_anew()
    one.start_one()
    one.take("Spring heights")
    other = opened_anew(beside=one)
    other.page.get_by_role("button", name="Delete one cylinder").click()
    other.page.get_by_role("dialog").get_by_role("button", name="Delete", exact=True).click()
    expect(other.page.locator(".jobs li")).to_have_count(0)
    one.by_keyboard(["1797"])
    expect(one.page.get_by_role("dialog")).to_contain_text("another window deleted this job")


def test_a_browser_that_keeps_nothing_is_told_so_before_a_reading_is_taken(opened_anew: Open) -> None:
    bench = opened_anew()
    bench.page.add_init_script("indexedDB.open = () => { throw new Error('denied'); };")
    bench.page.reload()
    expect(bench.page.get_by_role("heading", name="Nothing can be kept here")).to_be_visible()
    bench.page.get_by_role("link", name="One valve").click()
    expect(bench.page.get_by_role("button", name="Work it out")).to_be_visible()

"""Readings that cannot be: told beside their field, and asked again."""

from __future__ import annotations

from playwright.sync_api import expect
from tests.phone.conftest import Open


def test_a_load_that_falls_is_refused_beside_its_field(opened: Open) -> None:
    bench = opened()
    bench.start_one()
    bench.take("Spring loads")
    bench.by_keyboard(["118", "90"])
    fault = bench.page.locator("#reading-fault")
    expect(fault).to_contain_text("load falls from 118 to 90 lbf")
    expect(bench.prompt).to_contain_text("Spring S1")
    expect(bench.page.locator(".what")).to_have_text("Load, lbf, at 1.250\u00a0in")
    expect(bench.page.locator("#reading")).to_have_attribute("aria-invalid", "true")
    bench.by_keyboard(["258"])
    expect(bench.prompt).to_contain_text("Spring S2")
    bench.is_answered()
    expect(fault).to_be_empty()


def test_of_loads_that_contradict_each_other_either_is_reached_and_the_pass_stays_at_their_spring(
    opened: Open,
) -> None:
    bench = opened()
    bench.start_one()
    bench.take("Spring loads")
    # the first is 119 with a key pressed twice; the second is right
    bench.by_keyboard(["1190", "258"])
    what = bench.page.locator(".what")
    expect(what).to_have_text("Load, lbf, at 1.250\u00a0in")
    bench.page.get_by_role("button", name="1.750: 1190").click()
    expect(what).to_have_text("Load, lbf, at 1.750\u00a0in")
    expect(bench.page.locator("#reading-fault")).to_contain_text("load falls from 1190 to 258 lbf")
    bench.to_head()
    box = bench.page.get_by_role("alert")
    expect(box.get_by_role("link", name="1.250: 258")).to_be_visible()
    box.get_by_role("link", name="1.750: 1190").click()
    bench.page.get_by_role("button", name="Take the reading out").click()
    expect(bench.page.locator("#reading")).to_have_value("")
    expect(bench.prompt).to_contain_text("Spring S1")
    expect(what).to_have_text("Load, lbf, at 1.750\u00a0in")
    bench.by_keyboard(["119"])
    expect(bench.prompt).to_contain_text("Spring S2")


def test_a_reading_outside_its_usual_range_keeps_its_place_until_it_is_corrected_or_kept(opened: Open) -> None:
    bench = opened((360, 640))
    bench.start_one()
    bench.take("Weigh: retainers")
    bench.by_keyboard(["198"])
    expect(bench.prompt).to_contain_text("1I")
    expect(bench.page.locator("#reading-fault")).to_contain_text("198.0\u00a0g? Correct it, or keep it.")
    expect(bench.card).to_contain_text("outside the usual 2 g to 60 g")
    expect(bench.card.get_by_text("outside the usual")).to_be_in_viewport()
    expect(bench.card).not_to_contain_text("Lay")
    bench.by_keyboard(["19.8"])
    expect(bench.prompt).to_contain_text("1E")
    bench.by_keyboard(["197"])
    bench.page.get_by_role("button", name="Keep 197.0\u00a0g").click()
    expect(bench.page.get_by_role("heading", name="Weigh: retainers: all 2 are read")).to_be_visible()
    bench.page.get_by_role("link", name="To the head").click()
    # kept is not checked
    expect(bench.page.get_by_role("link", name="Weigh: retainers")).to_contain_text("2 of 2, 1 to check")


def test_a_reading_that_no_bench_shows_is_refused_beside_its_field(opened: Open) -> None:
    bench = opened()
    bench.start_one()
    bench.take("Spring heights")
    bench.by_keyboard(["1885.0"])
    expect(bench.page.locator("#reading-fault")).to_contain_text("must be a number from 0.0001 to 1000")
    expect(bench.prompt).to_have_text("1I intake")


def test_what_is_no_number_is_told_at_once_and_not_kept(opened: Open) -> None:
    bench = opened()
    bench.start_one()
    bench.take("Spring heights")
    bench.by_keyboard(["1.8.5"])
    expect(bench.page.locator("#reading-fault")).to_contain_text("is not a number")
    expect(bench.page.locator(".progress")).to_contain_text("0 of 2")


def test_a_setting_that_is_refused_is_told_beside_its_field(opened: Open) -> None:
    bench = opened()
    bench.page.get_by_role("link", name="New job").click()
    bench.fill({"job-shims-thicknesses": "15 30 30", "job-valvetrain-intake-valve_lift": "500"})
    bench.fill({"job-valvetrain-intake-lobe_lift": "330"})
    bench.page.get_by_role("button", name="Start the job").click()
    expect(bench.page.locator("[id='job-shims-thicknesses-fault']")).to_contain_text("0.030 in is listed twice")
    expect(
        bench.page.locator(
            "[id='job-valvetrain-intake-valve_lift-fault'], [id='job-valvetrain-intake-lobe_lift-fault']"
        ).filter(has_text="given twice")
    ).to_have_count(1)

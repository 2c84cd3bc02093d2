"""Jobs go out and come in as the service's own JSON, and the sheet goes to paper."""

from __future__ import annotations

import json
from pathlib import Path

from playwright.sync_api import expect
from tests.phone.bench import ROOT, demo
from tests.phone.conftest import Open


def test_a_job_that_was_posted_elsewhere_comes_in_and_goes_out_as_it_was(opened: Open, tmp_path: Path) -> None:
    bench = opened()
    bench.page.get_by_label("Open a job from a file").set_input_files(ROOT / "shared" / "demo" / "two-heads.json")
    bench.page.get_by_role("heading", name="KW-0317").wait_for()
    bench.is_answered()
    expect(bench.page.get_by_role("link", name="Spring heights")).to_contain_text("15 of 16")
    expect(bench.page.get_by_role("link", name="P4E, exhaust: reject")).to_be_visible()
    assert bench.exported(tmp_path) == demo()


def test_what_is_exported_is_taken_by_the_service(opened: Open, tmp_path: Path) -> None:
    bench = opened()
    bench.start_pair()
    bench.take("Spring heights")
    bench.by_keyboard(["1846"])
    bench.to_head()
    job = bench.exported(tmp_path)
    answer = bench.page.request.post(f"{bench.address}/v1/head-assembly", data=job)
    assert answer.status == 200
    # 1.846 - 0.062 - 0.030
    assert answer.json()["positions"][0]["installed_height"] == 1.754


def test_what_is_no_job_is_told_what_is_wrong_with_it(opened: Open, tmp_path: Path) -> None:
    bench = opened()
    file = bench.page.get_by_label("Open a job from a file")
    fault = bench.page.locator(".box .fault")
    for text, told in (
        ("{", "not JSON"),
        ("[]", "no positions"),
        (json.dumps({"positions": [{"id": "1I", "valve": "inlet"}]}), 'must be "intake" or "exhaust", not "inlet"'),
    ):
        path = tmp_path / "job.json"
        path.write_text(text)
        file.set_input_files(path)
        expect(fault).to_contain_text(told)


def test_names_in_a_job_are_text_and_nothing_else(opened: Open, tmp_path: Path) -> None:
    bench = opened()
    name = "<img src=x onerror=\"document.title='run'\">"
    job = {"job": {"reference": name}, "positions": [{"id": "<b>1I</b>", "valve": "intake", "remarks": name}]}
    path = tmp_path / "job.json"
    path.write_text(json.dumps(job))
    bench.page.get_by_label("Open a job from a file").set_input_files(path)
    expect(bench.page.get_by_role("heading", name=name)).to_be_visible()
    bench.page.get_by_role("link", name="Sheet to print").click()
    expect(bench.page.locator(".sheet")).to_contain_text(name)
    assert bench.page.locator("main img, main b:text-is('1I')").count() == 0
    assert "run" not in bench.page.title()


def test_the_sheet_goes_to_paper_alone(opened: Open) -> None:
    bench = opened()
    bench.page.get_by_label("Open a job from a file").set_input_files(ROOT / "shared" / "demo" / "two-heads.json")
    bench.page.get_by_role("link", name="Sheet to print").click()
    sheet = bench.page.locator(".sheet")
    expect(sheet).to_contain_text("Reject")
    bench.page.emulate_media(media="print")
    for hidden in ("header", "footer", ".no-print"):
        expect(bench.page.locator(hidden)).to_be_hidden()
    for part in (
        "P4E: 0.038 in from retainer to seal",
        "Spring C12: test it on the spring tester",
        "A compressed valve spring stores enough energy to injure",
        "Wanted: intake and exhaust 1.750\u00a0in, 118.0\u00a0lbf closed, 282.0\u00a0lbf open.",
        "Coil-bind clearance at least 0.060\u00a0in",
        "4 of 0.015, 9 of 0.030, 3 of 0.060",
        "Checked by",
    ):
        expect(sheet).to_contain_text(part)
    assert sheet.locator("tbody tr").count() == 16
    assert bench.page.pdf(prefer_css_page_size=True).startswith(b"%PDF")


def test_a_job_is_dropped_only_after_asking(opened: Open) -> None:
    bench = opened()
    bench.start_one()
    bench.page.get_by_role("link", name="Back").click()
    for answer, left in (("Keep", 1), ("Delete", 0)):
        bench.page.get_by_role("button", name="Delete one cylinder").click()
        bench.page.get_by_role("dialog").get_by_role("button", name=answer, exact=True).click()
        expect(bench.page.locator(".jobs li")).to_have_count(left)

"""Paper, read back by an independent reader of PDF: pages, words, where each letter stands, and the very bytes."""

from __future__ import annotations

import re
from collections.abc import Iterator
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

import pypdfium2
import pytest
from tests.api.jobs import DEMO, example, whole_job
from tests.hostile import HOSTILE, hostile_job
from tests.sheets import answered, printed

from headbench.api.app import RESOURCES
from headbench.errors import RefusedRequest


def pages(paper: bytes) -> list[str]:
    """The words of every page."""
    return [" ".join(page.get_textpage().get_text_bounded().split()) for page in pypdfium2.PdfDocument(paper)]


def letters(paper: bytes) -> Iterator[tuple[Any, tuple[float, float], tuple[float, float, float, float]]]:
    """Every letter that shows: its page's number, the size of the paper, and its box."""
    for number, page in enumerate(pypdfium2.PdfDocument(paper)):
        text = page.get_textpage()
        for place in range(text.count_chars()):
            if text.get_text_range(place, 1).strip():
                yield number, page.get_size(), text.get_charbox(place)


@pytest.fixture(scope="module")
def demo() -> bytes:
    return printed(DEMO, "pdf")


def test_the_same_job_is_the_same_bytes(demo: bytes) -> None:
    assert printed(DEMO, "pdf") == demo
    assert printed(DEMO, "pdf", "customer") != demo


def test_each_head_has_a_page_of_its_own_and_the_pair_one_more(demo: bytes) -> None:
    port, starboard, pair = pages(demo)
    for place, page in enumerate((port, starboard, pair), start=1):
        assert page.endswith(f"page {place} of 3")
    ids = [position["id"] for position in DEMO["positions"]]
    assert all((f" {one} " in port) == one.startswith("P") for one in ids)
    assert all((f" {one} " in starboard) == one.startswith("S") for one in ids)
    assert "Spread, intake and exhaust" in pair
    assert len(pages(printed(DEMO, "pdf", "customer"))) == 2


def test_what_hurts_or_decides_is_on_every_head(demo: bytes) -> None:
    for page in (*pages(demo)[:2], *pages(printed(DEMO, "pdf", "customer"))):
        assert "compressed valve spring stores enough energy to injure" in page
        assert "Headbench" in page
        assert "fingerprint of the job" in page
    port = pages(demo)[0]
    assert "P4E: retainer-to-seal clearance 0.038 in, min 0.050 in: missed by 0.012 in; REJECT." in port
    assert "Spring C06: measure its coil-bind height" in port
    assert "S4I" not in port


def test_the_numbers_are_those_of_the_answer(demo: bytes) -> None:
    words = " ".join(pages(demo))
    for line in answered(DEMO).answer.positions:
        if line.installed_height is not None:
            assert f"{line.installed_height:.4f}".removesuffix("0") in words
        if line.seat_load is not None:
            assert str(Decimal(repr(line.seat_load)).quantize(Decimal("0.1"), ROUND_HALF_UP)) in words


@pytest.mark.parametrize(("length", "size"), [("in", (612.0, 792.0)), ("mm", (595.28, 841.89))])
def test_inches_go_on_letter_and_millimeters_on_a4(length: str, size: tuple[float, float]) -> None:
    # ANSI/ASME Y14.1 size A is 8.5 by 11 in; ISO 216 A4 is 210 by 297 mm; a point is 1/72 in
    job = example("coil-bind") | {"units": {"length": length}}
    job["positions"] = [{"id": "1I", "valve": "intake"}]
    job["springs"] = []
    page = pypdfium2.PdfDocument(printed(job, "pdf", kind="coil-bind"))[0]
    assert page.get_size() == pytest.approx(size, abs=0.02)


@pytest.mark.parametrize("resource", RESOURCES, ids=lambda resource: resource.kind)
def test_every_letter_of_every_resource_stays_on_its_paper(resource: Any) -> None:
    found = list(letters(printed(resource.example, "pdf", kind=resource.kind)))
    assert found
    for _, (width, height), (left, bottom, right, top) in found:
        assert 0 < left <= right < width
        assert 0 < bottom <= top < height


@pytest.mark.parametrize("name", HOSTILE, ids=lambda name: ascii(name)[:20])
@pytest.mark.parametrize("which", ["bench", "customer", "labels"])
def test_a_hostile_name_breaks_nothing_and_stays_on_its_paper(name: str, which: str) -> None:
    paper = printed(hostile_job(name), "pdf", which)
    document = pypdfium2.PdfDocument(paper)
    assert len(document) <= 3
    for _, (width, height), (left, bottom, right, top) in letters(paper):
        assert 0 <= left <= right < width
        assert 0 <= bottom <= top < height
    objects = re.sub(rb"stream\r?\n.*?endstream", b"", paper, flags=re.DOTALL)
    assert b"/Catalog" in objects
    assert not re.search(rb"/(JavaScript|JS|AA|OpenAction|URI|Launch)\b", objects)


def test_a_name_is_printed_letter_by_letter() -> None:
    for name in ("<script>alert(1)</script>", "&amp; <b>", "Žluťoučký kůň", "Σίγμα", "Поршень"):
        assert name in " ".join(pages(printed(hostile_job(name), "pdf", "labels")))


def test_hebrew_reads_from_right_to_left() -> None:
    # drawn in the order of the eye, the first letter of the word stands furthest to the right
    paper = printed(hostile_job("\u05e9\u05dc\u05d5\u05dd"), "pdf", "labels")
    text = pypdfium2.PdfDocument(paper)[0].get_textpage()
    found = [(text.get_text_range(at, 1), text.get_charbox(at)) for at in range(text.count_chars())]
    first = [box for letter, box in found if letter == "\u05e9"]
    last = [box for letter, box in found if letter == "\u05dd"]
    assert first
    assert all(one[0] > other[0] for one, other in zip(first, last, strict=True))


def test_a_letter_that_the_paper_lacks_is_told() -> None:
    told = "is a letter that this paper lacks"
    assert told in pages(printed(hostile_job("\u6f22\u5b57"), "pdf"))[0]
    assert told not in pages(printed(whole_job(), "pdf"))[0]


def test_the_fonts_are_in_it(demo: bytes) -> None:
    # ISO 32000-1, 9.9: a TrueType font program is embedded by FontFile2
    assert demo.count(b"/FontFile2") >= 2


def test_there_is_room_to_sign_and_to_write_loads_after_the_first_heat_cycle(demo: bytes) -> None:
    port = pages(demo)[0]
    for word in ("Measured by", "Checked by", "Date", "after the first heat cycle"):
        assert word in port
    customer = pages(printed(DEMO, "pdf", "customer"))[0]
    for word in ("Checked by", "Received by", "Date", "Loads after the first heat cycle"):
        assert word in customer


@pytest.mark.parametrize("which", ["bench", "customer"])
def test_as_many_positions_as_one_head_may_have_go_on_paper(which: str) -> None:
    positions = [{"id": f"V{place}", "valve": ("intake", "exhaust")[place % 2]} for place in range(128)]
    words = set(" ".join(pages(printed({"positions": positions}, "pdf", which))).split())
    assert {one["id"] for one in positions} <= words


def test_what_would_fill_reams_is_refused_with_what_to_ask_instead() -> None:
    positions = [{"id": f"{place}", "valve": "intake", "bank": f"bank {place}"} for place in range(128)]
    with pytest.raises(RefusedRequest, match="text/html") as refused:
        printed({"positions": positions}, "pdf")
    assert (refused.value.code, refused.value.status) == ("too-much-work", 422)

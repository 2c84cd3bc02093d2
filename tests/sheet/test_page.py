"""The page: read by a parser that takes nothing but HTML5, and by whoever cannot see it."""

from __future__ import annotations

import base64
import hashlib
import re
from collections import Counter
from itertools import pairwise
from typing import Any
from xml.etree import ElementTree as ET

import html5lib
import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import DEMO
from tests.hostile import HOSTILE, hostile_job
from tests.sheets import printed, sheet

from headbench.api.app import RESOURCES
from headbench.sheet.model import SideBySide
from headbench.sheet.page import as_svg

Client = TestClient[ASGIApp]


def parsed(page: bytes) -> Any:
    """The tree of a page; names of SVG as those of HTML."""
    tree = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(page.decode())
    for one in tree.iter():
        one.tag = one.tag.rpartition("}")[2]
    return tree


def words(element: Any) -> str:
    return " ".join("".join(element.itertext()).split())


@pytest.fixture(scope="module")
def demo() -> Any:
    return parsed(printed(DEMO, "page"))


def test_it_says_its_language_its_title_and_what_is_what(demo: Any) -> None:
    assert demo.get("lang") == "en"
    assert words(demo.find("head/title")) == words(demo.find(".//h1")) == "Assembly sheet - KW-0317 - both heads"
    assert [demo.find(f"body/{name}") is not None for name in ("header", "main", "footer")] == [True] * 3
    levels = [int(one.tag[1]) for one in demo.iter() if re.fullmatch(r"h[1-6]", one.tag)]
    assert levels[0] == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))


def test_every_table_names_its_columns_and_rows(demo: Any) -> None:
    tables = demo.findall(".//table")
    assert tables
    for table in tables:
        assert {one.get("scope") for one in table.findall("thead/tr/th")} == {"col"}
        for row in table.findall("tbody/tr"):
            assert [one.get("scope") for one in row.findall("th")] == ["row"]
            assert len(row) == len(table.findall("thead/tr/th"))


def test_what_scrolls_can_be_reached_by_keyboard_and_has_a_name_of_its_own(demo: Any) -> None:
    regions = [one for one in demo.iter() if one.get("role") == "region"]
    assert all(one.get("tabindex") == "0" for one in regions)
    names = [one.get("aria-label") for one in regions]
    assert names
    assert len(set(names)) == len(names)


def test_every_drawing_says_in_words_what_it_shows(demo: Any) -> None:
    drawings = demo.findall(".//svg")
    assert len(drawings) == 4
    for drawing in drawings:
        assert drawing.get("role") == "img"
        assert words(drawing.find("title"))
    assert "P4E REJECT" in words(drawings[0].find("title"))
    assert "C14" in words(drawings[3].find("title")).split("is off:")[1]


def test_it_has_nothing_that_runs_or_comes_from_outside(client: Client, demo: Any) -> None:
    tags = {one.tag for one in demo.iter()}
    assert tags & {"script", "link", "img", "iframe", "form", "object", "embed", "base"} == set()
    assert [
        name for one in demo.iter() for name in one.attrib if name.startswith("on") or name in {"style", "href"}
    ] == []
    response = client.post("/v1/head-assembly", json=DEMO, headers={"Accept": "text/html"})
    policy = dict(one.strip().split(" ", 1) for one in response.headers["content-security-policy"].split(";"))
    style = parsed(response.content).find("head/style").text
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    # Content Security Policy Level 3, 8.3: a style sheet is let through by its hash
    assert policy["style-src"] == f"'sha256-{digest}'"
    assert policy["default-src"] == policy["base-uri"] == policy["form-action"] == "'none'"


@pytest.mark.parametrize("resource", RESOURCES, ids=lambda resource: resource.kind)
def test_the_page_of_every_resource_is_html_without_a_fault(resource: Any) -> None:
    page = parsed(printed(resource.example, "page", kind=resource.kind))
    assert page.find("body/main") is not None


@pytest.mark.parametrize("name", HOSTILE, ids=lambda name: ascii(name)[:20])
@pytest.mark.parametrize("which", ["bench", "customer", "labels"])
def test_a_hostile_name_is_text_and_nothing_else(name: str, which: str) -> None:
    named = parsed(printed(hostile_job("plain"), "page", which))
    page = parsed(printed(hostile_job(name), "page", which))
    assert Counter(one.tag for one in page.iter()) == Counter(one.tag for one in named.iter())
    assert " ".join(name.replace("\ufffe", "\ufffd").split()) in words(page.find("body"))


def test_a_name_cannot_turn_the_direction_of_what_is_around_it() -> None:
    page = parsed(printed(hostile_job("\u202eevil"), "page"))
    parents = {child: parent for parent in page.iter() for child in parent}

    def is_held(one: Any) -> bool:
        return one is not None and (one.get("dir") == "auto" or one.tag == "bdi" or is_held(parents.get(one)))

    turned = [one for one in page.find("body").iter() if "\u202e" in (one.text or "") and one.tag not in _DRAWN]
    assert turned
    assert all(map(is_held, turned))


_DRAWN = {"text", "title"}
"""A label of a drawing is a run of its own (SVG 2, 11.4)."""


def test_a_drawing_is_an_svg_of_its_own_that_stays_in_its_box() -> None:
    for leaf in sheet(DEMO).leaves:
        for section in leaf.in_turn():
            for block in section.blocks:
                for drawing in block.drawings if isinstance(block, SideBySide) else ():
                    svg = ET.fromstring(ET.tostring(as_svg(drawing)))  # noqa: S314 - our own
                    left, top, width, height = map(float, str(svg.get("viewBox")).split())
                    for one in svg.iter():
                        pairs = [pair.split(",") for pair in str(one.get("points", "")).split()]
                        pairs += [[str(one.get("cx")), str(one.get("cy"))]] if one.get("cx") else []
                        pairs += [[str(one.get("x")), str(one.get("y"))]] if one.get("x") else []
                        assert all(left <= float(x) <= width and top <= float(y) <= height for x, y in pairs)


def test_the_numbers_of_the_page_are_those_of_the_text() -> None:
    table = parsed(printed(DEMO, "page")).find(".//table")
    row = [words(cell) for cell in table.findall("tbody/tr")[7]]
    text = next(line.split() for line in printed(DEMO, "text").decode().splitlines() if line.split()[:1] == ["P4E"])
    assert row == text

"""POST /v1/valve-check: one valve from a form or JSON, as a page or JSON, and nothing figured a second way."""

from __future__ import annotations

import html
import json
import re
from html.parser import HTMLParser
from typing import Any

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import ROOT

from headbench.api.bench.forms import LENGTHS

FORM = {"Content-Type": "application/x-www-form-urlencoded"}
PAGE = {"Accept": "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8"}
URL = "/v1/valve-check"
READ = {
    "id": "1I",
    "valve": "intake",
    "deduction": 0.062,
    "target_height": 1.75,
    "target_seat_load": 118,
    "measured_height": 1.846,
    "valve_lift": 0.545,
    "coil_bind_height": 1.118,
    "retainer_to_seal": 0.612,
    "first_height": 1.75,
    "first_load": 118,
    "second_height": 1.2,
    "second_load": 283,
}
AS_HEAD = {
    "targets": {"intake": {"installed_height": 1.75, "seat_load": 118}},
    "springs": [
        {
            "id": "1I",
            "load_curve": {"kind": "bench", "readings": [{"height": 1.75, "load": 118}, {"height": 1.2, "load": 283}]},
            "coil_bind_height": 1.118,
        }
    ],
    "positions": [
        {
            "id": "1I",
            "valve": "intake",
            "measured_height": 1.846,
            "deduction": 0.062,
            "valve_lift": 0.545,
            "retainer_to_seal": 0.612,
            "spring": "1I",
        }
    ],
}
BENCH = {"units": {"rounding": "bench"}}


def post_form(client: TestClient[ASGIApp], fields: dict[str, Any], **headers: str) -> Any:
    return client.post(URL, data={name: str(value) for name, value in fields.items()}, headers={**FORM, **headers})


class Elements(HTMLParser):
    """The elements of a page, each with its attributes, and its text."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.words = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.words += data

    def value_of(self, name: str) -> str | None:
        return next(attributes["value"] for tag, attributes in self.found if attributes.get("name") == name)


def test_a_valve_is_answered_as_a_head_of_one_position_is(client: TestClient[ASGIApp]) -> None:
    one = client.post(URL, json={**READ, **BENCH}).json()
    head = client.post("/v1/head-assembly", json={**AS_HEAD, **BENCH}).json()
    assert one["position"] == head["positions"][0]
    assert one["verdict"] == head["verdict"] == "accept"
    assert one["cautions"] == head["cautions"]


def test_its_numbers_are_those_worked_by_hand(client: TestClient[ASGIApp]) -> None:
    line = client.post(URL, json=READ).json()["position"]
    assert line["shims"] == [pytest.approx(0.030)]
    # 1.846 - 0.062 - 0.030; a line of 165 lbf over 0.550 in, 300 lbf/in, from 118 at 1.750
    assert line["installed_height"] == pytest.approx(1.754)
    assert line["seat_load"] == pytest.approx(118 - 300 * 0.004)
    assert line["open_load"] == pytest.approx(118 + 300 * (1.75 - (1.754 - 0.545)))
    assert line["coil_bind_clearance_check"]["value"] == pytest.approx(1.754 - 0.545 - 1.118)
    assert line["retainer_to_seal_clearance_check"]["value"] == pytest.approx(0.612 - 0.545)


def test_a_form_is_answered_as_its_json_is(client: TestClient[ASGIApp]) -> None:
    by_form = post_form(client, {**READ, "units.rounding": "bench"})
    assert by_form.status_code == 200
    assert by_form.json() == client.post(URL, json={**READ, **BENCH}).json()


def test_a_decimal_comma_is_a_point_and_a_blank_was_not_measured(client: TestClient[ASGIApp]) -> None:
    blank = dict.fromkeys(READ, "") | {"id": "1I", "measured_height": "1,846", "target_height": " 1.75 "}
    answer = post_form(client, blank).json()
    assert answer["position"]["measured_height"] == 1.846
    assert answer["verdict"] == "not_measured"
    assert {item["pointer"] for item in answer["open_items"]} == {
        "/valve_lift",
        "/first_load",
        "/coil_bind_height",
        "/retainer_to_seal",
    }


def test_digits_without_a_point_are_thousandths_in_a_form_in_inches_alone(client: TestClient[ASGIApp]) -> None:
    typed = {"id": "1", "target_height": "1750", "measured_height": "1838", "valve_lift": "542", "first_height": "1750"}
    typed |= {"first_load": "118", "coil_bind_height": "1118"}
    read = {"id": "1", "target_height": 1.75, "measured_height": 1.838, "valve_lift": 0.542, "first_height": 1.75}
    read |= {"first_load": 118, "coil_bind_height": 1.118}
    told = post_form(client, typed, Accept="application/json").json()
    assert told["position"] == client.post("/v1/valve-check", json=read).json()["position"]
    metric = {"id": "1", "measured_height": "46", "units.length": "mm"}
    assert post_form(client, metric, Accept="application/json").json()["position"]["measured_height"] == 46


def test_every_length_of_the_request_is_taken_in_thousandths() -> None:
    published = json.loads((ROOT / "openapi" / "openapi.json").read_text())
    fields = published["components"]["schemas"]["ValveCheckRequest"]["properties"]
    lengths = {name for name, told in fields.items() if "'x-quantity': 'length'" in str(told)}
    assert lengths == set(LENGTHS)


def test_what_is_refused_is_told_by_the_labels_of_the_form(client: TestClient[ASGIApp]) -> None:
    page = post_form(client, {"id": "1", "measured_height": "tall"}, Accept="text/html").text
    assert "<b>Not figured.</b> This cannot be read. Correct it:" in page
    assert "Spring height, valve closed, no shims: must be a number from 0.0001 to 1000 or blank" in page
    assert "null" not in page.partition("<form")[0]


def test_names_that_look_like_numbers_stay_names(client: TestClient[ASGIApp]) -> None:
    named = {"id": "1", "job.reference": "0317", "job.remarks": "1,5", "measured_height": "1.846"}
    answer = post_form(client, named).json()
    assert answer["position"]["id"] == "1"
    assert (answer["job"]["reference"], answer["job"]["remarks"]) == ("0317", "1,5")


def test_a_height_whose_load_was_not_read_yet_is_no_reading(client: TestClient[ASGIApp]) -> None:
    half = {**READ, "second_load": None}
    answer = client.post(URL, json=half).json()
    assert "/second_load" in {item["pointer"] for item in answer["open_items"]}
    refused = client.post(URL, json={**READ, "second_height": None})
    assert refused.status_code == 422
    (fault,) = refused.json()["errors"]
    assert fault == {"pointer": "/second_height", "detail": "enter the height at which the tester showed 283 lbf"}


@pytest.mark.parametrize(
    ("changed", "pointer"),
    [
        ({"second_load": 90}, "/second_load"),
        ({"deduction": 1.9}, "/deduction"),
        ({"coil_bind_height": 1.3, "first_height": 1.25}, "/first_load"),
    ],
    ids=["load falls", "deduction", "bind"],
)
def test_readings_that_contradict_are_named_by_the_fields_of_the_form(
    client: TestClient[ASGIApp], changed: dict[str, float], pointer: str
) -> None:
    refused = client.post(URL, json={**READ, **changed})
    assert refused.status_code == 422
    assert pointer in {fault["pointer"] for fault in refused.json()["errors"]}


def test_a_page_shows_the_form_filled_in_and_what_it_came_to(client: TestClient[ASGIApp]) -> None:
    answer = post_form(client, READ, **PAGE)
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "text/html; charset=utf-8"
    shown = Elements(answer.text)
    assert shown.value_of("measured_height") == "1.846"
    for told in ("1I: good", "0.030", "1.754 in", "116.8 lbf", "A compressed valve spring stores enough energy"):
        assert told in shown.words


def test_a_fault_stands_beside_its_field_and_nothing_entered_is_lost(client: TestClient[ASGIApp]) -> None:
    for changed, status, told in (
        ({"second_load": "90"}, 422, "load falls from 118 to 90 lbf"),
        ({"second_load": "ninety"}, 400, 'must be a number from 0 to 100000 or blank, not "ninety"'),
    ):
        answer = post_form(client, {**READ, **changed}, **PAGE)
        assert answer.status_code == status
        shown = Elements(answer.text)
        assert shown.value_of("second_load") == changed["second_load"]
        assert shown.value_of("measured_height") == "1.846"
        beside = re.search(r'id="second_load"[^>]*aria-invalid="true"[^>]*><p class="fault"[^>]*>([^<]*)', answer.text)
        assert beside is not None
        assert told in html.unescape(beside[1])


def test_html_in_what_is_entered_comes_back_as_text(client: TestClient[ASGIApp]) -> None:
    name = "<script>alert(1)</script>"
    for fields in (
        {**READ, "id": name},
        {**READ, "id": name, "second_load": 90},
        {**READ, "first_load": f'"><img src=x onerror=alert(1)>{name}'},
        {**READ, name: name},
    ):
        shown = Elements(post_form(client, fields, **PAGE).text)
        assert {tag for tag, _ in shown.found}.isdisjoint({"script", "img"})
        assert not [attributes for _, attributes in shown.found if any(one.startswith("on") for one in attributes)]


def test_a_page_may_load_nothing_that_is_not_ours(client: TestClient[ASGIApp]) -> None:
    policy = post_form(client, READ, **PAGE).headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy


@pytest.mark.parametrize(
    ("accept", "kind"),
    [
        ("", "application/json"),
        ("*/*", "application/json"),
        ("application/json", "application/json"),
        ("application/json, text/html;q=0.9", "application/json"),
        ("text/html, application/json;q=0.9", "text/html; charset=utf-8"),
        ("text/*", "text/html; charset=utf-8"),
        ("text/html;q=0, */*", "application/json"),
    ],
)
def test_it_answers_what_the_caller_would_rather_have(client: TestClient[ASGIApp], accept: str, kind: str) -> None:
    assert client.post(URL, json=READ, headers={"Accept": accept}).headers["content-type"] == kind


def test_a_form_that_is_none_is_refused(client: TestClient[ASGIApp]) -> None:
    for body, code in (
        (b"id=1&id=2", "duplicate-key"),
        (b"id=%ff", "invalid-request"),
        (b"&".join(b"a%d=1" % place for place in range(100)), "invalid-request"),
        (b"", "empty-body"),
        (b"measured_hight=1.8", "invalid-request"),
        (b"units=in", "invalid-request"),
        (b"units=in&units.length=mm", "invalid-request"),
    ):
        refused = client.post(URL, content=body, headers=FORM)
        assert refused.status_code == 400, body
        assert refused.json()["type"].endswith(code), body
    told = client.post(URL, content=b"x", headers={"Content-Type": "text/plain"})
    assert told.status_code == 415
    assert told.headers["accept"] == "application/json, application/x-www-form-urlencoded"
    assert client.post("/v1/coil-bind", content=b"id=1", headers=FORM).status_code == 415


def test_the_blank_form_posts_every_field_it_publishes(client: TestClient[ASGIApp]) -> None:
    page = client.get("/bench/one-valve")
    assert page.status_code == 200
    named = {attributes["name"] for _, attributes in Elements(page.text).found if attributes.get("name")}
    document = json.loads((ROOT / "openapi" / "openapi.json").read_text())
    published = set(document["components"]["schemas"]["ValveCheckForm"]["properties"])
    hidden = {"locator_thickness", "locator_in_place"}
    hidden |= {f"units.{name}" for name in ("mass", "volume", "stress", "pressure", "rounding")}
    hidden |= {f"job.{name}" for name in ("head", "customer", "engine", "remarks")}
    assert named - {"viewport"} == published - hidden


@pytest.mark.parametrize("kind", ["text/plain", "text/csv", "application/pdf"])
def test_a_form_is_answered_in_every_other_form_too(client: TestClient[ASGIApp], kind: str) -> None:
    answer = post_form(client, {**READ, "job.reference": "KW-0317"}, Accept=kind)
    assert answer.status_code == 200
    assert answer.headers["content-type"].startswith(kind)
    if kind == "text/plain":
        assert "KW-0317" in answer.text
        assert "1.754" in answer.text


def test_a_line_of_a_batch_may_be_a_valve(client: TestClient[ASGIApp]) -> None:
    line = json.dumps({"kind": "valve-check", "id": "J", "request": {**READ, **BENCH}})
    answer = client.post("/v1/batch", content=line, headers={"Content-Type": "application/x-ndjson"})
    assert json.loads(answer.content)["answer"] == client.post(URL, json={**READ, **BENCH}).json()

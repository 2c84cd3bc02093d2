"""Leaving out: what is not known is never better than what is, is asked for once, and at a place that is there."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import msgspec
import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import Job
from tests.properties.full_jobs import Path, at, jobs_by_path, without

from headbench.api.app import RESOURCES

Client = TestClient[ASGIApp]
JOBS = jobs_by_path()
NAMES = [f"{path.removeprefix('/v1/')}-{place}" for place, (path, _) in enumerate(JOBS)]

# accept is best, then borderline; what is not measured is no better than what is rejected
RANK = {"accept": 0, "borderline": 1, "not_measured": 2, "reject": 2}

# not readings: what a job wants, allows, has at hand or asks; which kind something is of
WISHES = {
    "units", "job", "limits", "shims", "targets", "waivers", "intended_speed", "target_speed",
    "preload_minimum", "preload_maximum", "target_preload", "stock_step",
    "heights", "loads", "working_heights", "curve_points", "checking_lifts", "trace_points", "spring_share", "adjuster",
    "load_uncertainty", "mass_uncertainty", "rod_material", "lift_uncertainty", "gauge_step", "misalignment_step",
    "id", "valve", "kind", "side", "shaft", "profile", "fit", "bank", "remarks", "parts",
}  # fmt: skip
# corrections of a tool: without them readings are used as they are, and a note says so
CORRECTIONS = {"tester", "scale", "deduction"}
# what makes a part another one when it is left out, not the same one unread: a spring less, a rating nobody printed,
# a second run or weighing that nobody took, a cut that was never made, a pushrod or a closing angle
# that nobody asks about
OTHER_PARTS = {
    "nested", "rating", "second_run", "repeats", "load_tolerance", "dead_coils", "damper_mass", "cut",
    "block_decked", "gasket_thickness_change", "other_head", "certificate_tensile_strength", "sink", "seat_ground",
    "pushrod", "piston_to_valve", "intake_closing",
}  # fmt: skip
# the one exception to the law: gaps that many heads leave no way to measure, so a job may go without them. Where no
# valve of a kind has one, nothing is judged by it, whatever it would have shown, and a note says so
OPTIONAL_GAPS = ("retainer_to_rocker", "seal_to_spring")
LEFT_ALONE = WISHES | CORRECTIONS | OTHER_PARTS


def properties(document: Any, schema: Any, value: Any) -> Any:
    """The schema of an object under null, a reference or a choice of kinds; None if it is no object."""
    while True:
        if "$ref" in schema:
            schema = document["components"]["schemas"][schema["$ref"].rsplit("/")[-1]]
        elif "allOf" in schema and "$ref" in schema["allOf"][0]:
            schema = schema["allOf"][0]
        elif "anyOf" in schema or "oneOf" in schema:
            options = [one for one in schema.get("anyOf", schema.get("oneOf")) if one.get("type") != "null"]
            if "discriminator" in schema:
                tag = schema["discriminator"]["propertyName"]
                schema = {"$ref": schema["discriminator"]["mapping"][value[tag]]}
            elif isinstance(value, list):
                schema = next(one for one in options if one.get("type") == "array")
            else:
                schema = next((one for one in options if one.get("type") != "array"), options[0])
        else:
            return schema


TYPES = msgspec.json.schema_components([resource.request for resource in RESOURCES], ref_template="{name}")[1]
# null is taken wherever something may be left out, but only here it is a value of its own: not known
UNKNOWN_IF_NULL = {
    (struct, name)
    for struct, schema in TYPES.items()
    for name, field in schema["properties"].items()
    if {"type": "null"} in field.get("anyOf", [])
}


def readings(document: Any, schema: Any, value: Any, path: Path = ()) -> Iterator[Path]:
    """Where everything stands that was read and may be missing."""
    found = properties(document, schema, value)
    if isinstance(value, dict):
        for name, inner in value.items():
            own = found["properties"][name]
            if name in LEFT_ALONE or inner is None:
                continue
            if (found["title"], name) in UNKNOWN_IF_NULL:
                yield (*path, name)
            yield from readings(document, own, inner, (*path, name))
    elif isinstance(value, list) and path[-2:] != ("motion", "readings"):
        for place, inner in enumerate(value):
            yield from readings(document, found["items"], inner, (*path, place))


def flat(part: Any, path: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], Any]]:
    """Everything in an answer by its path, lines by their ids."""
    if isinstance(part, dict):
        for name, inner in part.items():
            if name not in {"notes", "open_items", "cautions", "units", "job", "needed_for"}:
                yield from flat(inner, (*path, name))
    elif isinstance(part, list):
        for place, inner in enumerate(part):
            key = inner.get("id", str(place)) if isinstance(inner, dict) else str(place)
            yield from flat(inner, (*path, key))
    else:
        yield path, part


def ask(client: Client, path: str, job: Job) -> Any:
    return client.post(path, json=job)


@dataclass(frozen=True, slots=True)
class Tried:
    """A job, the schema it is held to, its answer, and every reading left out: where, what is left, its answer."""

    job: Job
    schema: Any
    answer: Any
    without: list[tuple[Path, Any, Any]]


def left_out(client: Client, document: Any, path: str, job: Job) -> Iterator[tuple[Path, Any, Any]]:
    """Every reading that can be left out, and what the answer is without it."""
    for where in readings(document, schema_of(document, path), job):
        less = without(job, where)
        response = ask(client, path, less)
        # what contradicts itself without a reading has no verdict
        if response.status_code == 422:
            continue
        assert response.status_code == 200, (where, response.text)
        yield where, less, response.json()


def schema_of(document: Any, path: str) -> Any:
    return document["paths"][path]["post"]["requestBody"]["content"]["application/json"]["schema"]


@pytest.fixture(scope="module")
def document(client: Client) -> Any:
    return client.get("/openapi.json").json()


@pytest.fixture(scope="module", params=JOBS, ids=NAMES)
def tried(request: pytest.FixtureRequest, client: Client, document: Any) -> Tried:
    """Every job in turn, asked once for all laws."""
    path, job = request.param
    whole = ask(client, path, job).json()
    return Tried(job, schema_of(document, path), whole, list(left_out(client, document, path, job)))


def test_leaving_out_any_one_reading_never_betters_any_verdict(tried: Tried) -> None:
    whole = dict(flat(tried.answer))
    verdicts = {where: value for where, value in whole.items() if where[-1] == "verdict"}
    better = []
    for reading, _, answer in tried.without:
        less = dict(flat(answer))
        better += [
            (reading, where, before, less[where])
            for where, before in verdicts.items()
            if less.get(where) is not None and before is not None and RANK[less[where]] < RANK[before]
        ]
    assert better == []


def leads_somewhere(document: Any, schema: Any, job: Any, pointer: str) -> bool:
    """Whether a pointer resolves in the request, or names a field that could be there."""
    part = job
    for name in pointer.split("/")[1:]:
        schema = properties(document, schema, part) if part is not None else options_of(document, schema)
        if schema.get("type") == "array":
            if not (name.isdigit() and part is not None and int(name) < len(part)):
                return False
            schema, part = schema["items"], part[int(name)]
        else:
            if name not in schema.get("properties", {}):
                return False
            schema = schema["properties"][name]
            part = part.get(name) if isinstance(part, dict) else None
    return True


def options_of(document: Any, schema: Any) -> Any:
    """The object that a field without a value would hold; of several kinds all their fields together."""
    if "$ref" in schema:
        return options_of(document, document["components"]["schemas"][schema["$ref"].rsplit("/")[-1]])
    if "anyOf" in schema or "oneOf" in schema:
        options = [options_of(document, one) for one in schema.get("anyOf", schema.get("oneOf")) if "null" not in one]
        fields: dict[str, Any] = {}
        for one in options:
            fields |= one.get("properties", {})
        return {"properties": fields}
    if "allOf" in schema:
        return options_of(document, schema["allOf"][0])
    return schema


def test_every_pointer_leads_to_something_that_is_there_or_could_be(document: Any, tried: Tried) -> None:
    answers = [(tried.job, tried.answer), *((less, one) for _, less, one in tried.without)]
    astray = {
        (found["pointer"], found["detail"])
        for less, answer in answers
        for found in (*answer["notes"], *answer["open_items"])
        if not leads_somewhere(document, tried.schema, less, found["pointer"])
    }
    assert astray == set()


def asked_for(reading: Path, answer: Any, before: Any) -> list[Any]:
    """The open items that an answer has for a reading left out: new ones, those for more than before, its own."""
    known = {(item["pointer"], item["position"]): set(item["needed_for"]) for item in before["open_items"]}
    return [
        item
        for item in answer["open_items"]
        if set(item["needed_for"]) - known.get((item["pointer"], item["position"]), set())
        or f"{item['pointer']}/".startswith(f"/{'/'.join(map(str, reading))}/")
    ]


def unheld(job: Job, before: Any, reading: Path, answer: Any) -> Iterator[tuple[str, int]]:
    """The nulls of positions that the reading would fill, and how many items of the position hold each back."""
    less, asked = dict(flat(answer)), asked_for(reading, answer, before)
    # a whole section left out leaves several readings open
    several = isinstance(at(job, reading), dict | list)
    for where, value in flat(before):
        line = where[0] in {"positions", "springs", "chambers"} and not where[-1].startswith(str(reading[-1]))
        if value is None or not line or less.get(where, value) is not None:
            continue
        own = {None, where[1]} if where[0] == "positions" else {item["position"] for item in asked}
        holding = {
            item["pointer"] for item in asked if set(item["needed_for"]) & set(where) and item["position"] in own
        }
        if not holding or (len(holding) > 1 and not several):
            yield "/".join(where), len(holding)


def test_every_null_of_a_position_that_a_reading_would_fill_is_held_back_by_one_open_item(tried: Tried) -> None:
    assert tried.without
    wrong = [
        (reading, *one)
        for reading, _, answer in tried.without
        for one in unheld(tried.job, tried.answer, reading, answer)
    ]
    assert wrong == []


@pytest.mark.parametrize("gap", OPTIONAL_GAPS)
def test_a_gap_that_may_be_left_out_betters_a_verdict_only_with_a_note_that_says_so(client: Client, gap: str) -> None:
    path = "/v1/retainer-clearance"
    valve = {"id": "1I", "valve": "intake", "valve_lift": 0.488, "retainer_to_seal": 0.6142}
    struck = ask(client, path, {"positions": [valve | {gap: 0.0}]}).json()
    less = ask(client, path, {"positions": [valve]}).json()
    assert (struck["verdict"], less["verdict"]) == ("reject", "accept")
    (told,) = [note["detail"] for note in less["notes"] if note["code"] == "gaps_not_measured"]
    assert gap.replace("_", " ") in told
    # one valve of a kind that was looked at wants the others looked at: leaving it out there betters nothing
    two = ask(client, path, {"positions": [valve, valve | {"id": "2I", gap: 0.06}]}).json()
    assert two["verdict"] == "not_measured"

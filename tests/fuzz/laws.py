"""Laws: what is true of every answer, whatever was asked. None knows what a number should be.

Those that a law of tests/properties states for chosen jobs are the same here, by the same functions, for any job.
"""

from __future__ import annotations

import csv
import json
from collections.abc import Callable, Iterator
from copy import deepcopy
from dataclasses import dataclass
from random import Random
from typing import Any, Final

from tests.fuzz.asking import Asked, Asker, Said
from tests.fuzz.published import DOCUMENT, answer_schema, request_schema, takes
from tests.properties.full_jobs import without
from tests.properties.test_laws import FACTORS, METRIC, OURS, assert_same, walk
from tests.properties.test_leaving_out import OPTIONAL_GAPS, RANK, flat, readings
from tests.properties.test_null import optional

from headbench.sheet.forms import FORMS

FULL: Final = {"rounding": "full"}

HAIRS: Final = tuple(1.0 + steps * 2.0**-52 for steps in (-4, -1, 1, 4))
"""By how much numbers are changed to see whether an answer hangs on their last digits."""

TARGETS: Final = ("target_height", "target_seat_load")
"""What the form of one valve wants: no readings either."""

CORRECTED: Final = ("height_corrections", "locator_thickness")
"""What is taken off a reading: without it readings are used as they are."""

AS_IT_IS: Final = dict.fromkeys(FACTORS, 1.0)

SEEN_BY_UNIT: Final = (b'"unusual_reading"', b'"reading_slip"')
"""Notes of readings that would be usual in the other unit or look like swapped digits: they hang on the unit."""


@dataclass(frozen=True, slots=True)
class Case:
    """A job that was answered, and by whom."""

    asker: Asker
    rng: Random
    path: str
    job: Any
    body: bytes
    said: Said

    def ask(self, job: Any) -> Said:
        """The same address asked for something else."""
        return self.asker.ask(Asked(self.path, json.dumps(job).encode("utf-8", "surrogatepass")))


Broken = Iterator[str]


def again(case: Case) -> Broken:
    """The same request has the same answer, byte for byte."""
    other = case.asker.ask(Asked(case.path, case.body))
    if (other.status, other.body) != (case.said.status, case.said.body):
        yield f"{case.said.status}, asked again {other.status}: {other.body[:300]!r}"


def written_otherwise(case: Case) -> Broken:
    """Blanks, escapes and the order of names say nothing (RFC 8259, sections 2, 4 and 7)."""
    body = json.dumps(_names_mixed(case.job, case.rng), indent=case.rng.choice((None, 2)), ensure_ascii=True)
    blanks = case.rng.choice(("", " ", "\r\n", "\t"))
    other = case.asker.ask(Asked(case.path, f"{blanks}{body}{blanks}".encode()))
    if other.status != case.said.status or _unordered(other.body) != _unordered(case.said.body):
        yield f"{case.said.status}, written otherwise {other.status}: {other.body[:300]!r}"


def _names_mixed(value: Any, rng: Random) -> Any:
    if isinstance(value, list):
        return [_names_mixed(one, rng) for one in value]
    if isinstance(value, dict):
        names = list(value)
        rng.shuffle(names)
        return {name: _names_mixed(value[name], rng) for name in names}
    return value


def _unordered(body: bytes) -> Any:
    """An answer; the faults of a refusal may stand in any order, and where there are too many only some do."""
    value = json.loads(body)
    if "errors" in value:
        return (
            value["type"],
            value["detail"],
            len(value["errors"]),
            len(value["errors"]) < 20 and sorted((one["pointer"], one["detail"]) for one in value["errors"]),
        )
    return value


def line_of_a_batch(case: Case) -> Broken:
    """A line of a batch is answered as at its own address."""
    kind = case.path.removeprefix("/v1/")
    line = json.dumps({"kind": kind, "id": "J-1", "request": case.job}).encode("utf-8", "surrogatepass")
    answer = json.loads(case.asker.line(line))
    alone = json.loads(case.said.body)
    for error in alone.get("errors", []) if case.said.status != 200 else ():
        error["pointer"] = f"/request{error['pointer']}"
    if (answer["status"], answer.get("answer", answer.get("problem"))) != (case.said.status, alone):
        yield f"{case.said.status}, as a line {answer['status']}: {json.dumps(answer)[:300]}"


def in_every_form(case: Case) -> Broken:
    """A page, text, paper or a table has the status that JSON has, and is what it says it is."""
    form = case.rng.choice(FORMS)
    query = case.rng.choice(("", "?sheet=bench", "?sheet=customer", "?sheet=labels"))
    if case.path != "/v1/head-assembly":
        query = ""
    said = case.asker.ask(Asked(case.path, case.body, form.media_type, query))
    if said.status != case.said.status:
        yield f"{case.said.status} as JSON, {said.status} as {form.media_type}{query}: {said.body[:300]!r}"
    elif said.status == 200 and (wrong := _not_of_form(said, form.media_type)):
        yield f"{form.media_type}{query}: {wrong}"


def _not_of_form(said: Said, media_type: str) -> str:
    if said.media_type != media_type:
        return f"is {said.media_type}"
    if media_type == "application/pdf":
        return "" if said.body.startswith(b"%PDF-") and said.body.rstrip().endswith(b"%%EOF") else "is no PDF"
    text = said.body.decode()
    if media_type == "text/html":
        return "" if text.lower().startswith("<!doctype html>") else "is no page"
    if media_type == "text/csv":
        rows = list(csv.reader(text.splitlines()))
        return "" if len({len(row) for row in rows}) == 1 else "has rows of several lengths"
    return "" if text.strip() else "is empty"


def null_or_left_out(case: Case) -> Broken:
    """Null says the same as leaving out."""
    nulled, bare = deepcopy(case.job), deepcopy(case.job)
    schema = request_schema(case.path)
    both = list(zip(optional(DOCUMENT, schema, nulled), optional(DOCUMENT, schema, bare), strict=True))
    for (with_null, name), (less, _) in case.rng.sample(both, min(len(both), case.rng.randint(1, 8))):
        with_null[name] = None
        less.pop(name, None)
    one, other = case.ask(nulled), case.ask(bare)
    if (one.status, one.body) != (other.status, other.body):
        yield f"with nulls {one.status} {one.body[:300]!r}, without {other.status}: {json.dumps(nulled)[:3000]}"


def in_other_units(case: Case) -> Broken:
    """The same job in other units has the same answer, unless that hangs on the last digit of a reading."""
    ours = case.job | {"units": OURS | FULL}
    metric = in_metric(case.path, ours)
    if not (takes(case.path, ours) and takes(case.path, metric)):
        return
    said, other = case.ask(ours), case.ask(metric)
    if said.status == other.status != 200 or any(note in one.body for note in SEEN_BY_UNIT for one in (said, other)):
        return
    told = _told_otherwise(case, said, other)
    if told and not any(_told_otherwise(case, said, case.ask(one), AS_IT_IS) for one in _by_a_hair(case.path, ours)):
        yield f"{told}: {json.dumps(metric)[:3000]}"


def _by_a_hair(path: str, ours: Any) -> Iterator[Any]:
    """The job with every number that has a unit changed in its last digits."""
    for by in HAIRS:
        hair = {name: 1.0 if factor == 1.0 else by for name, factor in FACTORS.items()}
        yield _by(path, ours, hair) | {"units": OURS | FULL}


def in_metric(path: str, job: Any) -> Any:
    """A job in millimeters, newtons, kilograms, cubic inches and megapascals that was in our units."""
    return _by(path, job, FACTORS) | {"units": METRIC | FULL}


def _by(path: str, job: Any, factors: dict[str, float]) -> Any:
    return walk(DOCUMENT, request_schema(path), job, factors)


def _told_otherwise(case: Case, said: Said, other: Said, factors: dict[str, float] = FACTORS) -> str:
    if said.status != other.status:
        return f"{said.status}, in other units {other.status} {other.body[:300]!r}"
    try:
        expected = walk(DOCUMENT, answer_schema(case.path), json.loads(said.body), factors)
        assert_same(_checked(json.loads(other.body)), _checked(expected))
    except AssertionError as error:
        return f"in other units {error}"
    return ""


def _checked(answer: Any) -> Any:
    return {name: part for name, part in answer.items() if name not in {"notes", "open_items", "job"}}


def is_shared(job: Any) -> bool:
    """Whether shims run short: of like positions any may have the scarce one, and one less leaves others more."""
    return bool((job.get("shims") or {}).get("in_stock"))


DEALT: Final = ("/v1/lash-shims",)
"""Where all shims there are go round: one valve less to deal for leaves others more."""


def in_another_order(case: Case) -> Broken:
    """The order of positions and springs says nothing: each has the same line, and the whole the same verdict."""
    if is_shared(case.job):
        return
    job = case.job | {"units": OURS | FULL}
    mixed = deepcopy(job)
    for name in ("positions", "springs"):
        if isinstance(listed := mixed.get(name), list):
            case.rng.shuffle(listed)
    said, other = case.ask(job), case.ask(mixed)
    if said.status != other.status:
        yield f"{said.status}, in another order {other.status}: {json.dumps(mixed)[:3000]}"
    if not said.status == other.status == 200:
        return
    try:
        assert_same(_sorted(json.loads(other.body)), _sorted(json.loads(said.body)))
    except AssertionError as error:
        yield f"in another order {error}: {json.dumps(mixed)[:3000]}"


def _sorted(answer: Any) -> Any:
    lines = {
        name: sorted(answer[name], key=lambda line: json.dumps(line["id"]))
        for name in ("positions", "springs")
        if isinstance(answer.get(name), list)
    }
    return {name: answer[name] for name in ("verdict",) if name in answer} | lines


def left_out(case: Case) -> Broken:
    """Leaving out a reading never betters a verdict."""
    if is_shared(case.job) or case.path in DEALT:
        return
    found = readings(DOCUMENT, request_schema(case.path), case.job)
    excepted = {*OPTIONAL_GAPS, *TARGETS}
    places = [where for where in found if where[-1] not in excepted and where[0] not in CORRECTED]
    if not places:
        return
    where = case.rng.choice(places)
    other = case.ask(without(case.job, where))
    if other.status == 422:
        return
    if other.status != 200:
        yield f"{other.status} without {where}: {other.body[:300]!r}"
        return
    whole, less = dict(flat(json.loads(case.said.body))), dict(flat(json.loads(other.body)))
    for place, before in whole.items():
        after = less.get(place)
        if place[-1] == "verdict" and before is not None and after is not None and RANK[after] < RANK[before]:
            yield f"without {where}: {'/'.join(place)} was {before}, is {after}"


OF_ANY: Final[tuple[Callable[[Case], Broken], ...]] = (again, written_otherwise, line_of_a_batch, in_every_form)
"""Those that hold of refusals too."""

OF_ANSWERS: Final = (*OF_ANY, null_or_left_out, in_other_units, in_another_order, left_out)

LAWS: Final = {law.__name__: law for law in OF_ANSWERS}

"""The fuzzer itself: a short run of it with a seed, and that it tells what is wrong."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from random import Random
from typing import Any, Final

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.fuzz.__main__ import told
from tests.fuzz.asking import JSON, Asked, Asker, Said, asker
from tests.fuzz.laws import LAWS, Case
from tests.fuzz.mutating import JOBS
from tests.fuzz.published import NotReadableError, faults, read
from tests.fuzz.trying import KINDS, Failure, Tally, taken_as_published, try_again, try_case

from headbench.api.app import RESOURCES

SEED: Final = 20261126

CASES: Final = 300

HEAD: Final = "/v1/head-assembly"


@pytest.fixture(scope="module")
def honest() -> Any:
    with asker(None) as one:
        yield one


@pytest.mark.long
def test_a_short_run_breaks_nothing_and_tries_everything(honest: Asker) -> None:
    tally = Tally()
    for case in range(CASES):
        try_case(honest, SEED, case, tally)
    assert [(one.law, one.case, one.why) for one in tally.failures] == []
    assert set(tally.laws) == {"published", "taken_as_published", *LAWS}
    assert {kind for kind, _ in tally.cases} == set(KINDS)
    assert {200, 400, 422} <= {status for _, status in tally.cases}
    assert tally.cases.total() == CASES


def test_a_seed_gives_the_same_cases_again() -> None:
    for make in KINDS.values():
        assert make(Random(SEED)) == make(Random(SEED))  # noqa: S311 - not for secrets
        assert make(Random(SEED)) != make(Random(SEED + 1))  # noqa: S311 - likewise


def test_every_address_that_computes_is_among_the_jobs() -> None:
    assert {path for path, _ in JOBS} == {resource.path for resource in RESOURCES}


class Changed:
    """An asker who says something else than the service, where a job or its form is of some kind."""

    def __init__(self, honest: Asker, change: Any) -> None:
        self._honest, self._change = honest, change
        self.asked = 0

    def ask(self, asked: Asked) -> Said:
        self.asked += 1
        said = self._honest.ask(asked)
        return self._change(asked, said, self.asked) or said

    def line(self, line: bytes) -> bytes:
        return self._honest.line(line).replace(b'"not_measured"', b'"accept"')


def answer_with(said: Said, **fields: Any) -> Said:
    return replace(said, body=json.dumps(json.loads(said.body) | fields).encode())


def is_metric(asked: Asked) -> bool:
    return b'"mm"' in asked.body


# law -> what a service would do that breaks it; the second time it is asked is that of the law
LIARS: Final[dict[str, Any]] = {
    "again": lambda _, said, count: answer_with(said, notes=[]) if count > 1 else None,
    "written_otherwise": lambda _, said, count: answer_with(said, verdict="borderline") if count > 1 else None,
    "line_of_a_batch": lambda *_: None,
    "in_every_form": lambda asked, said, _: replace(said, body=b"") if asked.accept != JSON else None,
    "null_or_left_out": lambda asked, said, _: (
        answer_with(said, verdict="borderline") if b"null" in asked.body else None
    ),
    "in_other_units": lambda asked, said, _: answer_with(said, verdict="borderline") if is_metric(asked) else None,
    "in_another_order": lambda _, said, count: answer_with(said, verdict="borderline") if count > 2 else None,
    "left_out": lambda _, said, count: answer_with(said, verdict="accept") if count > 1 else None,
}


def the_case(by: Any) -> Case:
    """A full head that is rejected."""
    job = next(job for path, job in JOBS if path == HEAD and job["springs"][0]["coil_bind_height"] == 1.24)
    body = json.dumps(job).encode()
    return Case(by, Random(SEED), HEAD, job, body, by.ask(Asked(HEAD, body)))  # noqa: S311 - not for secrets


@pytest.mark.parametrize("law", LAWS)
def test_a_law_is_kept_by_the_service_and_told_where_one_breaks_it(honest: Asker, law: str) -> None:
    assert list(LAWS[law](the_case(honest))) == []
    assert list(LAWS[law](the_case(Changed(honest, LIARS[law])))) != []


@pytest.mark.parametrize(
    ("said", "told"),
    [
        (Said(500, "application/problem+json", b"{}"), "status 500"),
        (Said(418, "application/problem+json", b"{}"), "status 418 is not published"),
        (Said(200, "application/xml", b"{}"), "media type application/xml is not published for 200"),
        (Said(200, "application/json", b"{"), "no JSON: "),
        (Said(200, "application/json", b'{"verdict": NaN}'), "no JSON: NaN"),
        (Said(200, "application/json", b'{"verdict": "fine"}'), "is a required property"),
        (Said(400, "application/problem+json", b'{"type": 1}'), "is not of type"),
    ],
)
def test_an_answer_that_is_not_as_published_is_told(said: Said, told: str) -> None:
    assert any(told in fault for fault in faults(HEAD, said))


@pytest.mark.parametrize(
    ("body", "status", "code"),
    [
        (b'{"positions":[{"id":"1I","valve":"intake"}]}', 400, "invalid-request"),
        (b'{"positions":[]}', 200, ""),
        (b'{"positions":[]', 200, ""),
        (b"", 400, "malformed-json"),
        (b'{"positions":[],"positions":[]}', 200, ""),
        (b" " * 2_000_001, 400, "empty-body"),
    ],
)
def test_a_body_that_is_taken_or_refused_against_the_schema_is_told(body: bytes, status: int, code: str) -> None:
    said = Said(status, "application/json", json.dumps({"type": f"urn:headbench:problem:{code}"}).encode())
    assert len(list(taken_as_published(HEAD, body, said))) == 1


@pytest.mark.parametrize(
    ("body", "code"),
    [
        (b" \n", "empty-body"),
        (b"\xef\xbb\xbf{}", "malformed-json"),
        (b'"\\ud800"', "malformed-json"),
        (b"1e999", "malformed-json"),
        (b"9" * 400, "malformed-json"),
        (b"NaN", "malformed-json"),
        (b"\xff", "malformed-json"),
        (b"[" * 100_000, "malformed-json"),
        (b'{"a":1,"\\u0061":1}', "duplicate-key"),
    ],
)
def test_a_text_that_nobody_should_read_is_not_read(body: bytes, code: str) -> None:
    with pytest.raises(NotReadableError, match=code):
        read(body)


def test_what_broke_is_written_down_and_tried_again(
    honest: Asker, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    failing = Changed(honest, lambda *_: Said(500, "application/problem+json", b"{}"))
    monkeypatch.chdir(tmp_path)
    for body in (b'{"positions":[]}', b'"\xff"'):
        tally = Tally()
        try_again(failing, Failure("", SEED, 7, HEAD, body, ""), tally)
        assert told(tally) == 1
        (file,) = (line.split()[-1] for line in capsys.readouterr().out.splitlines() if "--replay" in line)
        failure = Failure.of(Path(file))
        assert (failure.law, failure.body, failure.case) == ("published", body, 7)
        again = Tally()
        try_again(failing, failure, again)
        assert [one.why for one in again.failures] == ["status 500"]
        mended = Tally()
        try_again(honest, failure, mended)
        assert mended.failures == []
        Path(file).unlink()


def test_a_service_that_breaks_off_is_a_failure_and_not_the_end(honest: Asker) -> None:
    def drop(*_: Any) -> Said:
        raise ConnectionResetError("gone")

    tally = Tally()
    try_case(Changed(honest, drop), SEED, 1, tally)
    assert [(one.law, one.why) for one in tally.failures] == [("answered", "ConnectionResetError: gone")]


def test_a_live_server_can_be_tried(address: str) -> None:
    tally = Tally()
    with asker(address) as live:
        for case in range(20):
            try_case(live, SEED, case, tally)
    assert [(one.law, one.case, one.why) for one in tally.failures] == []
    assert tally.cases.total() == 20


def test_the_service_in_this_process_is_the_one_of_the_other_tests(client: TestClient[ASGIApp], honest: Asker) -> None:
    job = JOBS[0]
    said = honest.ask(Asked(job[0], json.dumps(job[1]).encode()))
    assert said.status == client.post(job[0], json=job[1]).status_code == 200

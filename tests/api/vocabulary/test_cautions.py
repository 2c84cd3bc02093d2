"""Cautions: what can hurt at the work an endpoint is about is printed with its answer."""

from __future__ import annotations

import json

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import ROOT
from tests.properties.full_jobs import EXAMPLES

SPRING, TESTER, VISE = "compressed valve spring", "in a tester", "vise"
RETAINER, BY_HAND, LIFTED = "toward its seal", "Turn the engine by hand", "crush a hand"
MILLED, CHIPS, DUST = "Clamp the head", "chips", "throws dust"

# which work of the bench stands behind each answer: own judgment, by the dangers the trade names
AT_WORK = {
    "/v1/head-assembly": {SPRING, TESTER, VISE, RETAINER, BY_HAND},
    "/v1/installed-height": {SPRING},
    "/v1/spring-load": {SPRING, TESTER, VISE},
    "/v1/coil-bind": {SPRING, TESTER, VISE},
    "/v1/retainer-clearance": {SPRING, RETAINER},
    "/v1/valve-mass": {SPRING},
    "/v1/valve-float": {SPRING, BY_HAND},
    "/v1/milling": {MILLED, CHIPS, DUST, LIFTED, BY_HAND},
    "/v1/compression-ratio": set(),
    "/v1/pushrod-length": {SPRING, BY_HAND},
    "/v1/piston-to-valve": {BY_HAND, MILLED, CHIPS, LIFTED},
    "/v1/intake-fit": {MILLED, CHIPS, LIFTED},
    "/v1/valve-check": {SPRING, TESTER, VISE, RETAINER, BY_HAND},
}
# a topic may say its own beside its tests
for topic in (ROOT / "tests" / "api").glob("*/at_work.json"):
    AT_WORK |= {path: set(dangers) for path, dangers in json.loads(topic.read_text()).items()}


def test_every_endpoint_has_its_cautions_judged() -> None:
    assert set(AT_WORK) == set(EXAMPLES)


@pytest.mark.parametrize("path", list(AT_WORK))
def test_an_answer_prints_the_cautions_of_its_work_and_no_others(client: TestClient[ASGIApp], path: str) -> None:
    cautions = client.post(path, json=EXAMPLES[path]).json()["cautions"]
    said = " ".join(cautions)
    assert {danger for danger in set().union(*AT_WORK.values()) if danger in said} == AT_WORK[path]
    assert "judgment come first" in cautions[-1]


def test_parts_heated_chilled_or_pressed_are_cautioned_of_where_all_is_described(
    client: TestClient[ASGIApp],
) -> None:
    described = client.get("/openapi.json").json()["info"]["description"]
    assert "heated or chilled" in described
    assert "being pressed" in described

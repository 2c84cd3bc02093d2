"""RFC 8259 (2017), case by case: what is a JSON text is read as such, and what is none is refused as such.

`rfc8259.json` names the section that each case rests on, what is sent and what is to come. `at` says where it stands:
as the whole body, as a height, as a remark, or as lists so many deep. `means` is the value that the text has, where it
is answered. Where the RFC leaves a choice (names that stand twice in section 4, the range of numbers in 6, half pairs
in 8.2, depth in 9) the case holds what the service says of itself: such a text is refused, never guessed at.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, Final

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp

Client = TestClient[ASGIApp]

CASES: Final = json.loads((Path(__file__).parent / "rfc8259.json").read_text())

BODIES: Final = {
    "body": b"%s",
    "height": b'{"positions":[{"id":"1I","valve":"intake","measured_height":%s}]}',
    "remarks": b'{"job":{"remarks":%s},"positions":[{"id":"1I","valve":"intake"}]}',
}


def sent(case: Any) -> bytes:
    """The body of a case."""
    if case["at"] == "deep":
        count = int(case["text"].removeprefix("["))
        return BODIES["height"] % (b"[" * count + b"]" * count)
    text = bytes.fromhex(case["hex"]) if "hex" in case else case["text"].encode()
    return BODIES[case["at"]] % text


def meant(case: Any, answer: Any) -> Any:
    """What the text was read as."""
    return answer["job"]["remarks"] if case["at"] == "remarks" else answer["positions"][0]["measured_height"]


@pytest.mark.parametrize("case", CASES, ids=[f"{one['section']}-{place}" for place, one in enumerate(CASES)])
def test_a_text_is_read_as_the_rfc_has_it(client: Client, case: Any) -> None:
    answer = client.post("/v1/installed-height", content=sent(case), headers={"Content-Type": "application/json"})
    assert answer.status_code == case["status"], (case, answer.text)
    if case["status"] == 200:
        assert "means" not in case or meant(case, answer.json()) == case["means"]
    else:
        assert answer.json()["type"] == f"urn:headbench:problem:{case['problem']}", case


def test_every_section_of_the_grammar_has_cases_of_both_kinds() -> None:
    told = {(case["section"], case["status"] == 200) for case in CASES}
    assert {(section, taken) for section in ("2", "3", "4", "5", "6", "7", "8.1") for taken in (True, False)} <= told
    assert {case["section"] for case in CASES} == {"2", "3", "4", "5", "6", "7", "8.1", "8.2", "8.3", "9"}

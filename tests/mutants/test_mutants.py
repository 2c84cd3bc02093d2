"""What is told of mutants is what became of them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from tests.mutants.__main__ import ROOMS, became, own_tests, says_the_same, told


@pytest.mark.parametrize("room", ROOMS)
def test_every_room_has_own_tests_its_own(room: str) -> None:
    assert f"tests/calc/{room}" in own_tests(room)


def test_what_became_of_a_mutant_is_read_from_the_exit_code_of_its_tests(tmp_path: Path) -> None:
    folder = tmp_path / "mutants" / "src" / "headbench" / "calc" / "coils"
    folder.mkdir(parents=True)
    codes = {"a": 0, "b": 1, "c": 3, "d": 33, "e": -24, "f": None}
    (folder / "wire.py.meta").write_text(json.dumps({"exit_code_by_key": codes}))
    states = became(tmp_path)
    assert states == {
        "a": "survived", "b": "killed", "c": "killed", "d": "without a test", "e": "not decided", "f": "not decided",
    }  # fmt: skip
    assert told("coils", states, 0) == (
        "coils: 2 of 6 killed (33.3 %), 1 survived, 0 that only loosen zip not counted; 2 not decided, 1 without a test"
    )


@pytest.mark.parametrize(
    ("added", "same"),
    [
        ("zip(a, b, strict=False)", 1),
        ("zip(a, b, strict=None)", 1),
        ("zip(a, b, )", 1),
        ("zip(a, None, strict=True)", 0),
        ("zip(b, strict=True)", 0),
    ],
)
def test_a_mutant_that_only_loosens_zip_is_told_apart(added: str, same: int) -> None:
    difference = f"--- x.py\n+++ x.py\n@@ -1 +1 @@\n-    zip(a, b, strict=True)\n+    {added}\n"
    assert says_the_same(difference) == bool(same)

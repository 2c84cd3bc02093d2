"""Every field of the published schema is described, and every one a caller fills in shows an example."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable
from typing import Any

import pytest
from jsonschema_rs import Draft202012Validator
from tests.api.jobs import ROOT

DOCUMENT: Any = json.loads((ROOT / "openapi" / "openapi.json").read_text())
SCHEMAS: Any = DOCUMENT["components"]["schemas"]


def references(value: Any) -> set[str]:
    """The components that a JSON value names."""
    if isinstance(value, dict):
        own = {value["$ref"].rsplit("/")[-1]} if "$ref" in value else set()
        return own.union(*map(references, value.values()))
    return set().union(*map(references, value)) if isinstance(value, list) else set()


def sent() -> set[str]:
    """Every component that a body is made of."""
    operations = [one for methods in DOCUMENT["paths"].values() for one in methods.values()]
    waiting = references([one["requestBody"] for one in operations if "requestBody" in one])
    found: set[str] = set()
    while waiting:
        name = waiting.pop()
        found.add(name)
        waiting |= references(SCHEMAS[name]) - found
    return found


def fields(structs: Iterable[str]) -> list[tuple[str, str, Any]]:
    """Their fields but for the tags, which say themselves what they are."""
    return [
        (struct, name, field)
        for struct in sorted(structs)
        for name, field in SCHEMAS[struct].get("properties", {}).items()
        if "const" not in field
    ]


def listed(missing: list[tuple[str, str]]) -> str:
    """How many a struct lacks, and which."""
    count = Counter(struct for struct, _ in missing)
    return f"{len(missing)} in {len(count)} structs:\n" + "\n".join(
        f"{struct} {number}: {', '.join(name for one, name in missing if one == struct)}"
        for struct, number in count.items()
    )


def test_every_component_is_described() -> None:
    assert [name for name, schema in SCHEMAS.items() if not schema.get("description")] == []


def test_every_field_is_described() -> None:
    missing = [(struct, name) for struct, name, field in fields(SCHEMAS) if not field.get("description")]
    assert missing == [], listed(missing)


def test_every_field_that_is_sent_shows_an_example() -> None:
    missing = [
        (struct, name) for struct, name, field in fields(sent()) if field.get("examples", []) in ([], [{}], [[]])
    ]
    assert missing == [], listed(missing)


SHOWN = sorted({struct for struct, _, field in fields(SCHEMAS) if field.get("examples")})


@pytest.mark.parametrize("struct", SHOWN)
def test_an_example_is_one_that_is_taken(struct: str) -> None:
    validator = Draft202012Validator(
        {"properties": SCHEMAS[struct]["properties"], "components": DOCUMENT["components"]}
    )
    for _, name, field in fields([struct]):
        for example in field.get("examples", []):
            validator.validate({name: example})
            assert example is not None, (struct, name)
            if '"integer"' in json.dumps(field) and '"number"' not in json.dumps(field):
                assert ".0" not in json.dumps(example), (struct, name)

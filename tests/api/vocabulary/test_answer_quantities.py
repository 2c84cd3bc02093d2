"""Quantities of answers: every number an answer has says what it is of, so that it is rounded as a bench reads it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from litestar.handlers import HTTPRouteHandler
from litestar.testing import TestClient
from litestar.types import ASGIApp
from msgspec import inspect, structs
from tests.api.batches import AtOnce
from tests.api.spring_jobs import coils

from headbench.api.app import published
from headbench.api.vocabulary.quantities import quantity_of

Client = TestClient[ASGIApp]

# tables of reference: each number is in the unit that stands beside it, whatever units a job chooses
FIXED_UNITS = {
    "LimitRow.values",
    "StrengthRow.diameter_minimum", "StrengthRow.diameter_maximum", "StrengthRow.coefficient", "StrengthRow.exponent",
    "WireRow.shear_modulus_minimum", "WireRow.shear_modulus_maximum", "WireRow.density",
}  # fmt: skip


def has_bare_number(info: Any) -> bool:
    if quantity_of(info) is not None:
        return False
    match info:
        case inspect.Metadata():
            return has_bare_number(info.type)
        case inspect.UnionType():
            return any(map(has_bare_number, info.types))
        case inspect.ListType():
            return has_bare_number(info.item_type)
        case _:
            return isinstance(info, inspect.FloatType)


def structs_in(info: Any, seen: set[type]) -> Iterator[type]:
    match info:
        case inspect.Metadata():
            yield from structs_in(info.type, seen)
        case inspect.UnionType():
            for kind in info.types:
                yield from structs_in(kind, seen)
        case inspect.ListType():
            yield from structs_in(info.item_type, seen)
        case inspect.StructType() if info.cls not in seen:
            seen.add(info.cls)
            yield info.cls
            for field in structs.fields(info.cls):
                yield from structs_in(inspect.type_info(field.type), seen)


def answer_of(handler: HTTPRouteHandler) -> Any:
    """What an operation answers: a resource says it, since its route sends bytes on."""
    resource = handler.opt.get("resource")
    return handler.parsed_return_field.annotation if resource is None else resource.answer


def test_every_number_of_every_answer_says_what_it_is_of() -> None:
    seen: set[type] = set()
    handlers = published(AtOnce())
    answered = [one for handler in handlers for one in structs_in(inspect.type_info(answer_of(handler)), seen)]
    assert len(answered) > len(handlers)
    bare = {
        f"{one.__name__}.{field.name}"
        for one in answered
        for field in structs.fields(one)
        if has_bare_number(inspect.type_info(field.type))
    }
    assert bare == FIXED_UNITS


def test_the_factors_of_a_dimensioned_spring_are_rounded(client: Client) -> None:
    job = {
        "units": {"rounding": "bench"},
        "working_heights": {"installed_height": 1.6, "valve_lift": 0.6},
        "springs": [{"id": "S1", "load_curve": coils(total_coils=12.4321)}],
    }
    answer = client.post("/v1/spring-load", json=job).json()
    (found,) = answer["springs"][0]["dimensioned_springs"]
    for name in ("yield_factor_at_coil_bind", "fatigue_factor_goodman", "fatigue_factor_gerber", "active_coils"):
        assert found[name] == round(found[name], 3), name

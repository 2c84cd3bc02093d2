"""Converting: every number of a request goes to SI at the door, and nothing else changes there."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import msgspec
import pytest
from msgspec import inspect
from tests.api.jobs import Job
from tests.properties.full_jobs import jobs_by_path

from headbench.api.app import RESOURCES
from headbench.api.vocabulary.converting import in_si
from headbench.api.vocabulary.quantities import PURE, quantity_of

BY_PATH = {resource.path: resource for resource in RESOURCES}
DAYS_ALONE = {"/v1/outstanding-parts"}  # counts and dates, the same in every choice of units
UNITS = {"length": "mm", "force": "N", "mass": "oz", "volume": "in3", "stress": "MPa"}


def numbers(value: Any, info: inspect.Type, path: str) -> Iterator[tuple[str, Any, str | None]]:
    """Every number below a value: where, what, its quantity."""
    quantity = quantity_of(info) if isinstance(info, inspect.Metadata | inspect.UnionType) else None
    if isinstance(value, msgspec.Struct):
        for field in msgspec.structs.fields(value):
            yield from numbers(getattr(value, field.name), inspect.type_info(field.type), f"{path}/{field.name}")
    elif isinstance(value, list):
        item = next((kind.item_type for kind in kinds(info) if isinstance(kind, inspect.ListType)), None)
        for place, member in enumerate(value):
            yield from numbers(member, item or inspect.AnyType(), f"{path}/{place}")
    elif value is not None:
        yield path, value, quantity


def kinds(info: inspect.Type) -> Iterator[inspect.Type]:
    if isinstance(info, inspect.Metadata):
        yield from kinds(info.type)
    elif isinstance(info, inspect.UnionType):
        for kind in info.types:
            yield from kinds(kind)
    else:
        yield info


@pytest.mark.parametrize(("path", "job"), jobs_by_path(), ids=lambda one: one if isinstance(one, str) else "")
@pytest.mark.parametrize("units", [{}, UNITS], ids=["inches", "metric"])
def test_numbers_with_a_unit_are_multiplied_by_its_factor_once_and_the_rest_stays(
    path: str, job: Job, units: Job
) -> None:
    struct = BY_PATH[path].request
    request = msgspec.convert(job | {"units": units}, struct)
    before = msgspec.to_builtins(request)
    told = inspect.type_info(struct)
    old, new = (list(numbers(one, told, "")) for one in (request, in_si(request)))
    assert [where for where, *_ in old] == [where for where, *_ in new]
    scales = request.units.scales()
    for (where, value, quantity), (_, converted, _) in zip(old, new, strict=True):
        expected = value if quantity in {None, *PURE} else value * scales[str(quantity)].factor
        assert converted == expected, where
    assert any(quantity not in {None, *PURE} for *_, quantity in old) == (path not in DAYS_ALONE)
    assert msgspec.to_builtins(request) == before


def test_a_number_too_small_for_any_bench_is_nothing() -> None:
    resource = BY_PATH["/v1/installed-height"]
    job = {"positions": [{"id": "1I", "valve": "intake", "locator_thickness": 1e-300}]}
    assert in_si(msgspec.convert(job, resource.request)).positions[0].locator_thickness == 0.0

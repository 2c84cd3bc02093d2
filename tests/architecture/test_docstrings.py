"""Public docstrings of the kernels keep to the code: parameters, unit brackets, examples."""

from __future__ import annotations

import dataclasses
import importlib
import inspect
import pkgutil
import re
from collections.abc import Callable, Iterator
from typing import Any

import pint
import pytest

import headbench.calc

REGISTRY: pint.UnitRegistry[float] = pint.UnitRegistry()
FREE = {"-", "percent", "any unit", "any unit per row", "same unit as value", "same unit as deviation",
        "the quantity's unit"}  # fmt: skip


def modules() -> Iterator[Any]:
    for info in pkgutil.walk_packages(headbench.calc.__path__, "headbench.calc."):
        yield importlib.import_module(info.name)


def functions() -> Iterator[tuple[str, Callable[..., Any]]]:
    for module in modules():
        for name, member in vars(module).items():
            if name.startswith("_") or getattr(member, "__module__", None) != module.__name__:
                continue
            if inspect.isfunction(member):
                yield f"{module.__name__}.{name}", member
            elif inspect.isclass(member):
                for method_name, method in vars(member).items():
                    if inspect.isfunction(method) and not method_name.startswith("_"):
                        yield f"{module.__name__}.{name}.{method_name}", method


def fields_of(kind: type) -> set[str]:
    """The fields of a dataclass or a named tuple."""
    if dataclasses.is_dataclass(kind):
        return {field.name for field in dataclasses.fields(kind)}
    return set(getattr(kind, "_fields", ()))


def results() -> Iterator[tuple[str, type]]:
    for module in modules():
        for name, member in vars(module).items():
            own = getattr(member, "__module__", None) == module.__name__ and not name.startswith("_")
            if own and inspect.isclass(member) and fields_of(member):
                yield f"{module.__name__}.{name}", member


FUNCTIONS = dict(functions())
RESULTS = dict(results())


def sections(function: Callable[..., Any]) -> dict[str, str]:
    text = inspect.cleandoc(function.__doc__ or "")
    parts = re.split(r"^(\w+)\n-+\n", text, flags=re.MULTILINE)
    return {"": parts[0], **dict(zip(parts[1::2], parts[2::2], strict=True))}


def units_in(text: str) -> list[str]:
    return re.findall(r"\[([^\]\[]+)\]", text)


def assert_is_unit(unit: str) -> None:
    if unit not in FREE:
        REGISTRY.parse_units(unit.replace("m3", "m**3").replace("m2", "m**2"))


def test_there_are_kernels_to_look_at() -> None:
    assert len(FUNCTIONS) > 15
    assert len(RESULTS) > 5


@pytest.mark.parametrize("name", FUNCTIONS)
def test_documented_parameters_are_the_signatures(name: str) -> None:
    function = FUNCTIONS[name]
    parameters = [p for p in inspect.signature(function).parameters if p != "self"]
    documented = re.findall(r"^(\w[\w, ]*) : ", sections(function).get("Parameters", ""), flags=re.MULTILINE)
    assert [one for group in documented for one in group.split(", ")] == parameters


@pytest.mark.parametrize("name", FUNCTIONS)
def test_every_parameter_has_a_unit_that_parses(name: str) -> None:
    blocks = re.split(r"^(?=\w[\w, ]* : )", sections(FUNCTIONS[name]).get("Parameters", ""), flags=re.MULTILINE)
    for block in filter(str.strip, blocks):
        whole = block.split(" : ", 1)[1].splitlines()[0]
        if whole.split()[0] in RESULTS_BY_SHORT_NAME:
            continue
        found = units_in(block)
        assert found, block
        for unit in found:
            assert_is_unit(unit)


RESULTS_BY_SHORT_NAME = {name.rsplit(".")[-1] for name in RESULTS}


@pytest.mark.parametrize("name", FUNCTIONS)
def test_every_kernel_shows_an_example_that_the_suite_runs(name: str) -> None:
    assert ">>> " in (FUNCTIONS[name].__doc__ or "")


@pytest.mark.parametrize("name", RESULTS)
def test_every_field_of_a_result_is_documented(name: str) -> None:
    text = RESULTS[name].__doc__ or ""
    documented = {
        field for line in re.findall(r"^ *(\w[\w, ]*) : ", text, flags=re.MULTILINE) for field in line.split(", ")
    }
    fields = fields_of(RESULTS[name])
    assert fields <= documented or len(text.splitlines()) == 1

"""Rounding: what a bench can read of an answer."""

from __future__ import annotations

import json
import math
from typing import Annotated

import pytest
from hypothesis import given
from hypothesis import strategies as st
from litestar.testing import TestClient
from litestar.types import ASGIApp
from tests.api.jobs import whole_job

from headbench.api.vocabulary.quantities import Answer, LengthOut, PercentOut, RateOut, Units
from headbench.api.vocabulary.rounding import from_si, in_bench_places
from headbench.errors import NotFinite

Client = TestClient[ASGIApp]
INCH = 0.0254
POUND_FORCE = 4.4482216152605


class Inner(Answer, kw_only=True, frozen=True):
    """One length, which may be missing."""

    length: LengthOut | None


class Outer(Answer, kw_only=True, frozen=True):
    """Numbers at every depth."""

    share: PercentOut
    rate: RateOut
    lengths: list[LengthOut]
    inner: Inner | None
    more: Annotated[list[Inner], "of them"]
    count: int


def outer() -> Outer:
    return Outer(
        share=12.3456789, rate=294.123456 * POUND_FORCE / INCH, lengths=[0.123456789 * INCH, -1e-9 * INCH], inner=None,
        more=[Inner(length=math.nan), Inner(length=1.2345678 * INCH)], count=3,
    )  # fmt: skip


def test_every_number_is_rounded_to_a_tenth_of_the_last_place_a_bench_reads() -> None:
    # inches are read to 0.0001, millimeters to 0.001, percent to 0.1; a rate is computed, and keeps seven digits
    answer = from_si(outer(), Units())
    assert (answer.share, answer.rate, answer.lengths) == (12.35, 294.1235, [0.12346, 0.0])
    assert [one.length for one in answer.more] == [None, 1.23457]
    assert str(answer.lengths[1]) == "0.0"
    assert from_si(outer(), Units(length="mm")).lengths == [3.1358, 0.0]


def test_a_caller_who_asks_for_every_digit_has_them() -> None:
    answer = from_si(outer(), Units(rounding="full"))
    assert (answer.share, answer.rate, answer.lengths) == (12.3456789, 294.123456, [0.123456789, -1e-9])


def test_an_infinite_number_is_refused_and_never_becomes_null() -> None:
    with pytest.raises(NotFinite):
        from_si(Inner(length=math.inf), Units())


@given(st.floats(-1e6, 1e6), st.sampled_from(["in", "mm", "lbf", "N", "g", "cm3", "deg", "rpm", "percent"]))
def test_rounding_twice_is_rounding_once(value: float, unit: str) -> None:
    once = in_bench_places(value, unit)
    assert in_bench_places(once, unit) == once


def test_a_job_is_answered_in_bench_places_unless_it_asks_for_more(client: Client) -> None:
    def seat_load(units: dict[str, str]) -> float:
        job = whole_job() | {"units": units}
        job["positions"][0]["measured_height"] = 1.87123
        headers = {"Content-Type": "application/json"}
        answer = client.post("/v1/head-assembly", content=json.dumps(job), headers=headers).json()
        return float(answer["positions"][0]["seat_load"])

    # 117 - 294 * (1.87123 - 0.090 - 0.030 - 1.75) = 116.63838
    assert seat_load({}) == 116.64
    assert seat_load({"rounding": "full"}) == pytest.approx(116.63838, abs=1e-9)

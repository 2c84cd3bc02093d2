"""Quantities: columns in and out, and numbers as they are answered."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.api.springs.load_curves import RatedCurve
from headbench.api.vocabulary.quantities import (
    Columns,
    Model,
    PositiveLength,
    SignedLength,
    quantity_fields,
    written,
)
from headbench.api.vocabulary.rounding import in_full
from headbench.api.vocabulary.saying import say
from headbench.errors import NotFinite


class Two(Model, kw_only=True, frozen=True):
    """A struct of two lengths, one of which may be missing."""

    name: str
    one: PositiveLength
    other: SignedLength | None = None


def test_the_fields_with_a_dimension_are_found_under_null_and_bounds() -> None:
    assert quantity_fields(Two) == {"one": "length", "other": "length"}
    assert quantity_fields(RatedCurve) == {"height": "length", "load": "force", "rate": "rate"}


def test_in_columns_a_missing_number_is_nan() -> None:
    columns = Columns(Two).of([Two(name="a", one=1.0), Two(name="b", one=2.0, other=-1.0)])
    assert columns["one"].tolist() == [1.0, 2.0]
    assert np.isnan(columns["other"][0])
    assert columns["other"][1] == -1.0


def test_columns_come_back_as_rows_and_nan_is_null() -> None:
    rows = Columns(Two).rows({"one": np.array([1.0]), "other": np.array([np.nan])})
    assert rows == [{"one": 1.0, "other": None}]


def test_no_rows_are_no_columns() -> None:
    assert Columns(Two).of([])["one"].tolist() == []


@given(st.integers(-10_000_000, 10_000_000))
def test_a_ten_thousandth_of_an_inch_survives_the_way_to_si_and_back(tenths: int) -> None:
    value = tenths / 10_000
    meters = np.array([value]) * 0.0254
    assert [in_full(one) for one in written(meters / 0.0254)] == [value]


@given(st.floats(-1e12, 1e12))
def test_an_answer_is_off_by_less_than_a_part_in_a_hundred_billion(value: float) -> None:
    assert in_full(value) == pytest.approx(value, rel=1e-11, abs=1e-12)


def test_a_difference_of_nothing_is_answered_as_nothing() -> None:
    assert str([in_full(one) for one in (0.3 - 0.1 - 0.2, -0.0)]) == "[0.0, 0.0]"


def test_an_infinite_number_never_becomes_null() -> None:
    with pytest.raises(NotFinite):
        written(np.array([1.0, np.inf]))


@pytest.mark.parametrize(
    ("value", "quantity", "text"),
    [
        (0.045 * 0.0254, "length", "0.045 in"),
        (0.06 * 0.0254, "length", "0.060 in"),
        (0.08049 * 0.0254, "length", "0.0805 in"),
        (0.0, "length", "0.000 in"),
        (-1e-9, "length", "0.000 in"),
        (264 * 4.4482216152605, "force", "264 lbf"),
        (0.1045, "mass", "104.5 g"),
    ],
)
def test_a_number_in_a_sentence_is_short(value: float, quantity: str, text: str) -> None:
    assert say(value, quantity) == text

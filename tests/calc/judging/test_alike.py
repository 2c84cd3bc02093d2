from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.judging import alike

numbers = st.lists(st.floats(0.0, 1.0) | st.just(math.nan), min_size=1, max_size=4)


@pytest.mark.parametrize(
    ("ours", "theirs"),
    [
        (alike.sin, np.sin),
        (alike.cos, np.cos),
        (alike.arcsin, np.arcsin),
        (alike.sqrt, np.sqrt),
        (alike.absolute, np.abs),
    ],
)
@given(numbers)
def test_a_number_by_itself_comes_to_what_numpy_says_of_it_in_an_array(
    ours: Callable[..., Any], theirs: np.ufunc, values: list[float]
) -> None:
    by_array = ours(np.array(values))
    assert by_array == pytest.approx(theirs(np.array(values)), rel=1e-15, nan_ok=True)
    for one, whole in zip(values, by_array.tolist(), strict=True):
        alone = ours(one)
        assert type(alone) is float
        assert alone == pytest.approx(whole, rel=1e-15, nan_ok=True)


def test_what_is_asked_of_numbers_is_asked_of_each_of_an_array_in_its_place() -> None:
    # the triangles of Pythagoras with sides 3, 4, 5 and 5, 12, 13
    legs = np.array([[3.0, 5.0]])
    assert alike.each(math.hypot, legs, np.array([[4.0, 12.0]])).tolist() == [[5.0, 13.0]]
    assert alike.each(math.hypot, legs, 0.0).tolist() == [[3.0, 5.0]]

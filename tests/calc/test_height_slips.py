from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.height_slips import SlipKind, find_slips

INCH = 0.0254
NEIGHBORS = [1.881, 1.885, 1.888, 1.884, 1.890]


def slips(last: float, deduction: float = 0.090) -> list[tuple[int, SlipKind, float]]:
    heights = np.array([*NEIGHBORS, last]) * INCH
    found = find_slips(heights, np.full(len(heights), deduction) * INCH, 0.1 * INCH)
    return [(slip.place, slip.kind, round(slip.likely / INCH, 4)) for slip in found]


@pytest.mark.parametrize(
    ("read", "kind", "likely"),
    [
        # one inch, one tenth and three tenths too many; the micrometer on the other step; 1.885 with two digits swapped
        (2.885, SlipKind.TENTH, 1.885),
        (1.985, SlipKind.TENTH, 1.885),
        (1.586, SlipKind.TENTH, 1.886),
        (1.795, SlipKind.STEP, 1.885),
        (1.974, SlipKind.STEP, 1.884),
        (8.185, SlipKind.DIGITS, 1.885),
    ],
)
def test_a_height_that_looks_like_a_slip_is_named_for_what_it_looks_like(
    read: float, kind: SlipKind, likely: float
) -> None:
    assert slips(read) == [(5, kind, likely)]


def test_a_height_that_merely_differs_is_no_slip() -> None:
    # 1.858 is 1.885 with two digits swapped, but castings vary by 0.027 in
    assert slips(1.942) == slips(1.858) == []


def test_three_heights_or_fewer_name_nobody() -> None:
    heights = np.array([1.885, 2.885, 1.886]) * INCH
    assert find_slips(heights, np.zeros(3), 0.1 * INCH) == []


@given(st.lists(st.integers(1870, 1900), min_size=4, max_size=16))
def test_heights_that_agree_are_never_slips(thousandths: list[int]) -> None:
    heights = np.array(thousandths) * 0.001 * INCH
    assert find_slips(heights, np.full(len(heights), 0.090 * INCH), 0.1 * INCH) == []

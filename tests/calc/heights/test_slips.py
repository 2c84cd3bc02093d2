from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.heights.slips import SlipKind, find_shim_slip, find_slips

INCH = 0.0254
NEIGHBORS = [1.881, 1.885, 1.888, 1.884, 1.890]


def slips(last: float, deduction: float = 0.090) -> list[tuple[int, SlipKind, float]]:
    heights = [height * INCH for height in (*NEIGHBORS, last)]
    found = find_slips(heights, [deduction * INCH] * len(heights), 0.1 * INCH)
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


@pytest.mark.parametrize(
    ("others", "read", "likely"),
    [
        # 0.027 and 0.036 off, where the others agree to 0.003: 1.885 and 1.884 with their last digits swapped
        ([1.885, 1.887, 1.884, 1.886], 1.858, 1.885),
        ([1.885, 1.887, 1.884], 1.848, 1.884),
        # 0.018 off is less than castings vary, and so is 0.027 among heights that vary by 0.009
        ([1.897, 1.897, 1.897, 1.897], 1.879, None),
        ([1.881, 1.885, 1.888, 1.884, 1.890], 1.858, None),
        # 0.027 off, but no swap: 1.859 makes 1.895
        ([1.886, 1.887, 1.885, 1.886], 1.859, None),
    ],
)
def test_the_last_two_digits_swapped_are_named_among_heights_that_agree(
    others: list[float], read: float, likely: float | None
) -> None:
    heights = [height * INCH for height in (*others, read)]
    found = find_slips(heights, [0.0] * len(heights), 0.1 * INCH)
    expected = [] if likely is None else [(len(others), SlipKind.DIGITS, likely)]
    assert [(slip.place, slip.kind, round(slip.likely / INCH, 4)) for slip in found] == expected


def test_three_heights_or_fewer_name_nobody() -> None:
    heights = [1.885 * INCH, 2.885 * INCH, 1.886 * INCH]
    assert find_slips(heights, [0.0] * 3, 0.1 * INCH) == []


def test_a_height_that_was_not_read_is_no_neighbor_and_no_slip() -> None:
    # among three that were read nobody is named, among four the last one is
    heights = [1.885 * INCH, math.nan, 2.885 * INCH, 1.886 * INCH]
    assert find_slips(heights, [0.0] * 4, 0.1 * INCH) == []
    found = find_slips([*heights, 1.884 * INCH], [0.0] * 5, 0.1 * INCH)
    assert [(slip.place, round(slip.likely / INCH, 4)) for slip in found] == [(2, 1.885)]


@given(st.lists(st.integers(1870, 1900), min_size=4, max_size=16))
def test_heights_that_agree_are_never_slips(thousandths: list[int]) -> None:
    heights = [count * 0.001 * INCH for count in thousandths]
    assert find_slips(heights, [0.090 * INCH] * len(heights), 0.1 * INCH) == []


SIZES = [0.015, 0.030, 0.060]


# hand arithmetic: a shim that is not in stands the spring taller by itself, one too many shorter
@pytest.mark.parametrize(
    ("taller", "laid", "slip"),
    [
        (0.030, [0.030], (0.030, None)),
        (-0.030, [0.015], (None, 0.030)),
        (0.045, [0.060], (0.060, 0.015)),
        (-0.015, [0.030], (None, 0.015)),
        (0.028, [0.030, 0.015], (0.030, None)),
        (0.0331, [0.030], None),
        (0.008, [0.030], None),
        (0.015, [], None),
        (-0.062, [], (None, 0.060)),
        # the whole stack left out
        (0.045, [0.030, 0.015], (0.045, None)),
        (0.090, [0.060, 0.030], (0.090, None)),
        (0.060, [0.030, 0.015], None),
    ],
)
def test_one_shim_too_few_too_many_or_taken_for_another(
    taller: float, laid: list[float], slip: tuple[float | None, float | None] | None
) -> None:
    found = find_shim_slip(taller * INCH, [one * INCH for one in laid], [one * INCH for one in SIZES])
    told = None if found is None else tuple(None if one != one else round(one / INCH, 6) for one in found)  # noqa: PLR0124 - NaN is not itself
    assert told == slip

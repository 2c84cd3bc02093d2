"""Grid: the readings of both systems are whole nanometers."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.judging.grid import on_grid


@given(st.integers(0, 100_000))
def test_a_ten_thousandth_of_an_inch_is_2540_nanometers_and_a_micrometer_1000(count: int) -> None:
    # 1 in = 25.4 mm exactly (NIST SP 811 (2008), B.8)
    assert on_grid([count * 0.0001 * 0.0254]).tolist() == [count * 2540]
    assert on_grid([count * 1e-6]).tolist() == [count * 1000]
    assert on_grid(count * 0.0001 * 0.0254) == count * 2540
    assert on_grid(count * 1e-6) == count * 1000


@given(st.lists(st.floats(-0.1, 0.1), max_size=8))
def test_lengths_in_an_array_are_on_the_grid_as_each_by_itself(lengths: list[float]) -> None:
    assert on_grid(lengths).tolist() == [on_grid(length) for length in lengths]

"""Assigning: the least sum of costs there is, against a published example, another library and brute force."""

from __future__ import annotations

from collections import Counter
from itertools import product

import numpy as np
import scipy
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.lash.assigning import assign


def test_the_example_of_a_librarys_documentation() -> None:
    # scipy documentation, scipy.optimize.linear_sum_assignment, example: columns 1, 0, 2, sum 5
    costs = [[4, 1, 3], [2, 0, 5], [3, 2, 2]]
    taken = assign(costs, [1, 1, 1])
    assert taken == [1, 0, 2]
    assert sum(costs[row][kind] for row, kind in enumerate(taken)) == 5


@st.composite
def problems(draw: st.DrawFn, most: int, kinds: int) -> tuple[list[list[int]], list[int]]:
    rows, columns = draw(st.integers(0, most)), draw(st.integers(1, kinds))
    costs = draw(
        st.lists(st.lists(st.integers(-50, 50), min_size=columns, max_size=columns), min_size=rows, max_size=rows)
    )
    counts = draw(st.lists(st.integers(0, 3), min_size=columns, max_size=columns))
    counts[-1] += max(rows - sum(counts), 0)
    return costs, counts


def total(costs: list[list[int]], taken: list[int]) -> int:
    return sum(costs[row][kind] for row, kind in enumerate(taken))


@given(problem=problems(12, 8))
def test_the_sum_is_that_of_another_library_and_no_kind_is_taken_too_often(
    problem: tuple[list[list[int]], list[int]],
) -> None:
    costs, counts = problem
    taken = assign(costs, counts)
    assert all(count <= counts[kind] for kind, count in Counter(taken).items())
    columns = [kind for kind, count in enumerate(counts) for _ in range(count)]
    table = np.array([[row[kind] for kind in columns] for row in costs]).reshape(len(costs), len(columns))
    rows, places = scipy.optimize.linear_sum_assignment(table)
    assert total(costs, taken) == table[rows, places].sum()


@given(problem=problems(4, 4), digits=st.integers(1, 3))
def test_costs_in_strict_order_are_kept_in_order_however_large_the_numbers(
    problem: tuple[list[list[int]], list[int]], digits: int
) -> None:
    costs, counts = problem
    base = 10**20
    # the first cost counts before the second by far more than a float can hold
    wide = [[(abs(cost) % 3) * base**digits + cost + kind for kind, cost in enumerate(row)] for row in costs]
    best = min(
        total(wide, list(one))
        for one in product(range(len(counts)), repeat=len(costs))
        if all(count <= counts[kind] for kind, count in Counter(one).items())
    )
    assert total(wide, assign(wide, counts)) == best

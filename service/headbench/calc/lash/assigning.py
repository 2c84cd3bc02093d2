"""Assigning: everybody gets one thing of a kind there is enough of, at the least cost of all together."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

_NOBODY: Final = -1


def assign(costs: Sequence[Sequence[int]], counts: Sequence[int]) -> list[int]:
    """Kind that each row takes so that the sum of costs is the least there is, no kind taken oftener than there are.

    Parameters
    ----------
    costs : sequence (R,) of sequences (K,) of int
        What each kind costs each row; whole numbers of any size, so that costs in strict order can be put into one [-]
    counts : sequence (K,) of int
        How many there are of each kind, R together at least [-]

    Returns
    -------
    list of int
        The kind of each row [-]

    Notes
    -----
    One row after another is let in by the cheapest chain of rows that each give their kind to the one before
    (successive shortest paths, found by Dijkstra's method on costs reduced by a price of each kind, so that none is
    negative: J. Edmonds and R. M. Karp, Theoretical Improvements in Algorithmic Efficiency for Network Flow Problems,
    Journal of the ACM 19, 1972; from memory). Several costs in strict order, put into one number, are more than
    a floating-point solver holds; whole numbers are exact.

    >>> assign([[4, 1, 3], [2, 0, 5], [3, 2, 2]], [1, 1, 1])
    [1, 0, 2]
    >>> assign([[1, 5], [2, 3]], [2, 1])
    [0, 0]
    """
    price = [0] * len(counts)
    taken: list[list[int]] = [[] for _ in counts]
    kind_of = [_NOBODY] * len(costs)
    for newcomer, own in enumerate(costs):
        length = [cost - paid for cost, paid in zip(own, price, strict=True)]
        given_by = [newcomer] * len(counts)
        waiting = set(range(len(counts)))
        reached: list[int] = []
        while True:
            kind = min(waiting, key=length.__getitem__)
            if len(taken[kind]) < counts[kind]:
                break
            waiting.remove(kind)
            reached.append(kind)
            for row in taken[kind]:
                start = length[kind] - costs[row][kind] + price[kind]
                for other in waiting:
                    by_row = start + costs[row][other] - price[other]
                    if by_row < length[other]:
                        length[other], given_by[other] = by_row, row
        for passed in reached:
            price[passed] += length[passed] - length[kind]
        while True:
            row = given_by[kind]
            taken[kind].append(row)
            left, kind_of[row] = kind_of[row], kind
            if row == newcomer:
                break
            taken[left].remove(row)
            kind = left
    return kind_of

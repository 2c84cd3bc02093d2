from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from headbench.api.matching.moves import steps


def test_a_ring_begins_with_one_spring_on_the_bench() -> None:
    assert [tuple(one) for one in steps(["A", "B", "C"], ["B", "C", "A"])] == [
        ("A", 0, None),
        ("B", 1, 0),
        ("C", 2, 1),
        ("A", None, 2),
    ]


def test_a_spring_that_goes_nowhere_makes_room_first() -> None:
    assert [tuple(one) for one in steps(["A", "B"], ["B", "C"])] == [("A", 0, None), ("B", 1, 0), ("C", None, 1)]


def test_a_place_that_is_to_be_empty_is_emptied() -> None:
    assert [tuple(one) for one in steps(["A", "B"], [None, "B"])] == [("A", 0, None)]


def test_what_lies_right_stays() -> None:
    assert steps(["A", "B", None], ["A", "B", None]) == []


springs = st.sampled_from("ABCDEF")
before = st.lists(st.none() | springs, min_size=1, max_size=6, unique_by=lambda one: one or object())
after = st.permutations([*"ABCDEF"])


@given(before, after, st.lists(st.booleans(), min_size=6, max_size=6))
def test_done_step_by_step_every_place_is_free_and_every_spring_arrives(
    lying: list[str | None], wanted: list[str], filled: list[bool]
) -> None:
    goal = [spring if full else None for spring, full in zip(wanted, filled, strict=False)][: len(lying)]
    at = list(lying)
    bench = set("ABCDEF") - {one for one in lying if one is not None}
    for spring, source, target in steps(lying, goal):
        if source is None:
            assert spring in bench
            bench.discard(spring)
        else:
            assert at[source] == spring
            at[source] = None
        if target is None:
            bench.add(spring)
        else:
            assert at[target] is None
            at[target] = spring
    assert at == goal

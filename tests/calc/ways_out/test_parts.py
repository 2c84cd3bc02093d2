from __future__ import annotations

from math import comb

from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.ways_out.parts import (
    AS_FITTED,
    NO_CHANGE,
    Catalogue,
    Choice,
    Part,
    choices_of,
    count_choices,
    names_of,
)


def parts(count: int) -> tuple[Part, ...]:
    return tuple(Part(f"part {at}", 0.001 * at) for at in range(count))


@given(counts=st.tuples(*[st.integers(0, 4)] * 4), pocket=st.sampled_from([0.0, 0.001]), mixed=st.booleans())
def test_choices_are_one_of_each_kind_of_part_or_none_and_each_comes_once(
    counts: tuple[int, int, int, int],
    pocket: float,
    mixed: bool,  # noqa: FBT001 - drawn
) -> None:
    first, second, third, fourth = map(parts, counts)
    catalogue = Catalogue(first, second, third, fourth, pocket, mixed)
    found = list(choices_of(catalogue))
    locks, *others = (count + 1 for count in counts)
    # of locks one kind, or where they may be mixed any two
    expected = (locks + (comb(locks, 2) if mixed else 0)) * others[0] * others[1] * others[2] * (2 if pocket else 1)
    assert len(found) == len(set(found)) == count_choices(catalogue) == expected
    assert NO_CHANGE in found


def test_what_is_changed_counts_each_kind_of_part_once() -> None:
    assert NO_CHANGE.changes == frozenset()
    assert len(Choice((0,), 1, AS_FITTED, 0, pocket=True).changes) == 4
    assert len(Choice((AS_FITTED, 2)).changes) == 1
    assert len(Choice((1, 2)).changes) == 2


def test_a_choice_is_called_alike_in_whatever_order_its_locks_stand() -> None:
    catalogue = Catalogue(locks=(Part("b", 0.0), Part("a", 0.0)), locators=(Part("thin", 0.0),))
    assert names_of(Choice((0, 1), locator=0), catalogue) == ("a and b", "", "thin", "", "")
    assert names_of(Choice((1, 0), locator=0, pocket=True), catalogue) == ("a and b", "", "thin", "", "pocket")

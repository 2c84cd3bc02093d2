"""Arrivals: between which days a part is here."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.waiting.arrivals import Arrival, PartTerms, arrival_of

TODAY = date(2026, 3, 9).toordinal()
days = st.integers(TODAY - 60, TODAY + 60)
ranges = st.tuples(days, st.integers(0, 40)).map(lambda one: (one[0], one[0] + one[1]))
leads = st.tuples(st.integers(0, 60), st.integers(0, 40)).map(lambda one: (one[0], one[0] + one[1]))
parts = st.builds(
    PartTerms,
    needed=st.integers(1, 16),
    in_hand=st.integers(0, 16),
    ordered=st.none() | st.integers(TODAY - 60, TODAY),
    promised=st.none() | ranges,
    lead=st.none() | leads,
    known=st.none() | days,
)


def on(year: int, month: int, day: int) -> int:
    return date(year, month, day).toordinal()


@pytest.mark.parametrize(
    ("part", "expected"),
    [
        # by a calendar: Feb 9 + 35 and + 42 days, 2026 being no leap year
        (PartTerms(ordered=on(2026, 2, 9), lead=(35, 42)), ("lead_time", on(2026, 3, 16), on(2026, 3, 23), None)),
        (PartTerms(lead=(3, 5)), ("lead_time_from_today", on(2026, 3, 12), on(2026, 3, 14), None)),
        (PartTerms(promised=(on(2026, 3, 20),) * 2), ("promised", on(2026, 3, 20), on(2026, 3, 20), None)),
        # the range has begun: not before today
        (PartTerms(promised=(on(2026, 3, 2), on(2026, 3, 13))), ("promised", TODAY, on(2026, 3, 13), None)),
        (PartTerms(known=TODAY + 1, promised=(TODAY + 11,) * 2), ("arrival_known", TODAY + 1, TODAY + 1, None)),
        (PartTerms(promised=(on(2026, 2, 23),) * 2), ("promised", None, None, 14)),
        (PartTerms(promised=(TODAY, TODAY)), ("promised", TODAY, TODAY, None)),
        (PartTerms(ordered=on(2026, 1, 5)), ("nothing", None, None, None)),
        (PartTerms(), ("nothing", None, None, None)),
        (PartTerms(needed=16, in_hand=16), ("in_hand", TODAY, TODAY, None)),
        (PartTerms(needed=16, in_hand=15, promised=(TODAY + 3,) * 2), ("promised", TODAY + 3, TODAY + 3, None)),
    ],
)  # fmt: skip
def test_a_part_is_here_by_the_best_that_was_said_of_it(part: PartTerms, expected: tuple[str, int, int, int]) -> None:
    assert tuple(arrival_of(part, TODAY)) == expected


@given(part=parts)
def test_no_day_is_given_that_nobody_named(part: PartTerms) -> None:
    named = {TODAY, part.known, *(part.promised or ())}
    for start in (part.ordered, TODAY):
        named |= {start + one for one in part.lead or () if start is not None}
    found = arrival_of(part, TODAY)
    assert {found.soonest, found.latest} <= named | {None}
    assert (found.soonest is None) == (found.latest is None)


@given(part=parts)
def test_a_part_comes_today_at_the_soonest_and_is_late_only_where_its_days_have_passed(part: PartTerms) -> None:
    found = arrival_of(part, TODAY)
    if found.soonest is not None and found.latest is not None:
        assert TODAY <= found.soonest <= found.latest
        assert found.late_by is None
    if found.late_by is not None:
        assert found.late_by > 0
        assert part.in_hand < part.needed


@given(part=parts, more=st.integers(1, 16))
def test_more_in_hand_never_makes_a_part_later(part: PartTerms, more: int) -> None:
    before, after = arrival_of(part, TODAY), arrival_of(part._replace(in_hand=part.in_hand + more), TODAY)
    assert after in (before, Arrival("in_hand", TODAY, TODAY))

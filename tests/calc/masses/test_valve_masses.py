"""Valve masses: sets of parts, by hand arithmetic and by laws."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.coils.motion import SPRING_SHARE
from headbench.calc.masses.valve_mass import WeighedParts
from headbench.calc.masses.valve_masses import sum_masses, totals_by_kind

LIGHT = WeighedParts(
    valve=0.1041,
    retainer=0.0198,
    locks=0.0051,
    lash_cap=0.0016,
    springs=0.09,
    spring_share=SPRING_SHARE,
    retainer_coils=0.0,
    seat_coils=0.0,
    dampers=0.01,
    damper_share=SPRING_SHARE,
    rocker=0.03,
    pushrod=0.045,
    lifter=0.09,
    rocker_ratio=1.5,
)
grams = st.floats(0.05, 0.15)
sets = st.lists(st.tuples(grams, st.sampled_from(["intake", "exhaust"])), min_size=1, max_size=8)


def test_the_totals_of_a_kind_are_the_sums_over_what_was_weighed() -> None:
    # hand arithmetic: 104.1 + 104.5 g of valves, the third not weighed; springs with their dampers 3 times 100 g
    parts = [LIGHT, LIGHT._replace(valve=0.1045), LIGHT._replace(valve=math.nan), LIGHT._replace(valve=0.0922)]
    totals = totals_by_kind(parts, ["intake", "intake", "intake", "exhaust"])
    assert totals["intake"].valve == pytest.approx(0.2086)
    assert totals["intake"].springs == pytest.approx(0.3)
    assert (totals["intake"].position_count, totals["intake"].weighed_count) == (3, 2)
    assert totals["exhaust"].valve == 0.0922
    assert set(totals_by_kind([LIGHT], ["intake"])) == {"intake"}


def test_what_was_not_weighed_is_matched_with_nothing() -> None:
    found = sum_masses([LIGHT._replace(valve=math.nan), LIGHT], ["intake", "intake"])
    assert math.isnan(found.to_remove[0].valve)
    assert math.isnan(found.to_remove[0].moving_mass)
    assert found.to_remove[1].valve == found.to_remove[0].retainer == 0.0


@given(sets)
def test_parts_that_what_is_told_came_off_match_the_lightest_of_their_kind(each: list[tuple[float, str]]) -> None:
    parts, kinds = [LIGHT._replace(valve=valve) for valve, _ in each], [kind for _, kind in each]
    found = sum_masses(parts, kinds)
    for kind in set(kinds):
        own = [place for place, one in enumerate(kinds) if one == kind]
        lightest = min(each[place][0] for place in own)
        left = [each[place][0] - found.to_remove[place].valve for place in own]
        assert left == pytest.approx([lightest] * len(own), rel=1e-12)
        moving = [found.moving[place].total - found.to_remove[place].moving_mass for place in own]
        assert moving == pytest.approx([min(found.moving[place].total for place in own)] * len(own), rel=1e-12)


@given(sets)
def test_the_totals_of_all_kinds_are_that_of_the_whole_job(each: list[tuple[float, str]]) -> None:
    parts, kinds = [LIGHT._replace(valve=valve) for valve, _ in each], [kind for _, kind in each]
    totals = sum_masses(parts, kinds).totals.values()
    assert sum(one.valve for one in totals) == pytest.approx(sum(valve for valve, _ in each))
    assert sum(one.position_count for one in totals) == len(each)

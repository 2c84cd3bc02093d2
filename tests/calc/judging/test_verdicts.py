"""Verdicts: limits, and the worst of several."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.judging.verdicts import (
    Verdict,
    accepted_if_proven,
    at_least,
    at_most,
    only_rejects,
    setting_verdict,
    within,
    worst,
)

limits = st.floats(0.0, 1.0)


def test_a_value_on_its_limit_is_accepted_in_inches_and_in_millimeters() -> None:
    for unit in (0.0254, 0.001, 1.0):
        clearance = (1.75 - 0.49 - 1.2) * unit  # 0.06 and a little rounding
        assert at_least(np.array([clearance]), 0.06 * unit).tolist() == [Verdict.ACCEPT]


def test_a_nanometer_short_of_the_limit_is_rejected() -> None:
    assert at_least(np.array([1.524e-3 - 1e-9]), 1.524e-3).tolist() == [Verdict.REJECT]
    assert within(np.array([0.127e-3 + 1e-9]), 0.127e-3).tolist() == [Verdict.REJECT]


def test_what_was_not_measured_is_never_good() -> None:
    nothing = np.array([np.nan])
    for rule in (at_least, at_most, within):
        assert rule(nothing, 0.0).tolist() == [Verdict.NOT_MEASURED]


@given(deviation=st.floats(-2.0, 2.0), limit=limits)
def test_a_deviation_counts_the_same_either_way(deviation: float, limit: float) -> None:
    assert within(np.array([deviation]), limit).tolist() == within(np.array([-deviation]), limit).tolist()


@given(values=st.lists(st.floats(-2.0, 2.0), min_size=2, max_size=2), limit=limits)
def test_more_room_never_has_a_worse_verdict(values: list[float], limit: float) -> None:
    less, more = at_least(np.sort(np.array(values)), limit).tolist()
    assert more <= less


@pytest.mark.parametrize("codes", [[0, 0], [0, 1], [1, 2], [2, 3], [3, 0], [2, 0]])
def test_the_worst_verdict_rises(codes: list[int]) -> None:
    assert worst(np.array(codes)[:, np.newaxis]).tolist() == [max(codes)]


def test_missing_is_worse_than_borderline_and_better_than_rejected() -> None:
    assert Verdict.ACCEPT < Verdict.BORDERLINE < Verdict.NOT_MEASURED < Verdict.REJECT


def test_nothing_to_judge_is_not_measured() -> None:
    assert worst(np.empty((0, 3), dtype=np.int64)).tolist() == [Verdict.NOT_MEASURED] * 3


def test_only_what_is_proven_is_accepted_and_a_known_miss_stays_one() -> None:
    every = np.array([Verdict.ACCEPT, Verdict.BORDERLINE, Verdict.NOT_MEASURED, Verdict.REJECT])
    assert accepted_if_proven(every, np.ones(4, dtype=np.bool_)).tolist() == every.tolist()
    unproven = accepted_if_proven(every, np.zeros(4, dtype=np.bool_)).tolist()
    assert unproven == [Verdict.NOT_MEASURED, Verdict.NOT_MEASURED, Verdict.NOT_MEASURED, Verdict.REJECT]


def test_a_value_within_its_guard_band_is_borderline() -> None:
    # JCGM 106:2012, 8.3, by hand: a limit of 10 and u = 2 make a band of 1.65 * 2 = 3.3 either way
    values = np.array([13.31, 13.3, 13.29, 10.0, 6.71, 6.7, 6.69, np.nan])
    accept, borderline, reject = Verdict.ACCEPT, Verdict.BORDERLINE, Verdict.REJECT
    expected = [accept, accept, borderline, borderline, borderline, reject, reject, Verdict.NOT_MEASURED]
    assert at_least(values, 10.0, 2.0).tolist() == expected
    # an uncertainty that is not known leaves the plain comparison
    assert at_least(values, 10.0, np.nan).tolist() == at_least(values, 10.0).tolist()


numbers = st.one_of(st.floats(-2.0, 2.0), st.just(math.nan), st.just(0.06))


@given(st.lists(st.tuples(numbers, limits, st.one_of(st.floats(0.0, 0.1), st.just(math.nan))), min_size=1, max_size=8))
def test_numbers_in_an_array_are_judged_as_each_by_itself(rows: list[tuple[float, float, float]]) -> None:
    value, limit, uncertainty = np.array(rows).T
    assert at_least(value, limit, uncertainty).tolist() == [at_least(*row) for row in rows]
    assert at_least(value, 0.06).tolist() == [at_least(one, 0.06) for one, *_ in rows]
    assert at_most(value, limit).tolist() == [at_most(one, most) for one, most, _ in rows]
    assert within(value, limit).tolist() == [within(one, most) for one, most, _ in rows]


@pytest.mark.parametrize("proven", [True, False])
def test_verdicts_in_an_array_are_turned_as_each_by_itself(*, proven: bool) -> None:
    every = [int(verdict) for verdict in Verdict]
    column = np.array(every)
    turned = accepted_if_proven(column, np.full(len(every), proven))
    assert turned.tolist() == [accepted_if_proven(one, proven) for one in every]
    assert only_rejects(column).tolist() == [only_rejects(one) for one in every]
    # the same flag stands for whether a miss is rejected
    judged = setting_verdict(column, misses_reject=proven)
    assert judged.tolist() == [setting_verdict(one, misses_reject=proven) for one in every]


def test_a_single_value_within_its_guard_band_is_borderline() -> None:
    # JCGM 106:2012, 8.3, by hand: a limit of 10 and u = 2 make a band of 1.65 * 2 = 3.3 either way
    found = [at_least(value, 10.0, 2.0) for value in (13.3, 13.29, 6.71, 6.7)]
    assert found == [Verdict.ACCEPT, Verdict.BORDERLINE, Verdict.BORDERLINE, Verdict.REJECT]
    assert at_least(10.0, 10.0, math.nan) == Verdict.ACCEPT


def test_off_its_target_is_for_a_person_to_decide_unless_the_job_rejects_it() -> None:
    accept, borderline, unread, reject = Verdict.ACCEPT, Verdict.BORDERLINE, Verdict.NOT_MEASURED, Verdict.REJECT
    expected = {accept: accept, borderline: borderline, unread: unread, reject: borderline}
    assert {one: setting_verdict(int(one), misses_reject=False) for one in Verdict} == expected
    assert {one: setting_verdict(int(one), misses_reject=True) for one in Verdict} == {one: one for one in Verdict}


def test_a_check_that_can_only_speak_against_accepts_what_it_does_not_reject() -> None:
    assert {one for one in Verdict if only_rejects(int(one)) == Verdict.REJECT} == {Verdict.REJECT}
    assert {only_rejects(int(one)) for one in Verdict} == {Verdict.ACCEPT, Verdict.REJECT}

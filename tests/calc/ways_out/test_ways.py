"""The search itself; the ways it finds are held against every choice in tests/api/ways_out/test_referee.py."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from tests.calc.ways_out.readings import INCH, LIMITS, SHIMS, valve

from headbench.calc.ways_out.parts import NO_CHANGE, Catalogue, Part, names_of
from headbench.calc.ways_out.trying import Group, Tried
from headbench.calc.ways_out.ways import MOST_WAYS, Found, Standing, find_ways, standing_of

SHORT = Standing(0, 1, 0, 2.5, 0, 0, 0, 0.0, ())


def locks(*offsets: float) -> Catalogue:
    return Catalogue(tuple(Part(f"{offset:+.3f}", offset * INCH) for offset in offsets))


def search(group: Group, worse: Callable[[Standing], Standing] = lambda one: one, **others: Any) -> Found[str]:
    """The ways, each judged as it is tried or worse."""

    def judge(tried: Tried) -> tuple[Standing, str]:
        standing = worse(standing_of(tried, names_of(tried.choice, group.catalogue)))
        return standing, standing.names[0]

    as_it_is, _ = judge(group.with_change(0.0, 0.0, 0.0, 0.0))
    asked = {"in_stock": None, "used_elsewhere": [0, 0, 0], "most_judged": 40} | others
    return find_ways(group, as_it_is, judge, **asked)


def test_the_best_come_first_and_no_more_than_five() -> None:
    group = Group([valve(1.715)], locks(*(0.025 + 0.001 * at for at in range(20))), LIMITS, SHIMS)
    found = search(group)
    assert len(found.ways) == MOST_WAYS
    assert found.proven
    assert found.choices == 21
    # of those that need no shim the most room: at the seal 0.030 and the offset, at the tip 0.100 less the offset
    assert found.ways[0].judged == "+0.035"
    standings = [way.standing for way in found.ways]
    assert standings == sorted(standings)


def test_what_no_way_misses_less_than_is_none() -> None:
    assert search(Group([valve(1.715)], locks(-0.020), LIMITS, SHIMS)).ways == []
    nearer = search(Group([valve(1.715)], locks(0.020), LIMITS, SHIMS))
    assert [(way.standing.off, way.standing.puts_right) for way in nearer.ways] == [(1, False)]


def test_a_way_judged_worse_than_tried_gives_place_to_the_next() -> None:
    group = Group([valve(1.715)], locks(0.035, 0.036), LIMITS, SHIMS)
    best = search(group).ways[0].judged

    def spoilt(standing: Standing) -> Standing:
        return standing._replace(off=1, miss=1.0) if standing.names[0] == best else standing

    ways = [way.judged for way in search(group, spoilt).ways]
    assert len(ways) == 2
    assert ways[1] == best


def test_parts_added_to_a_way_that_waits_for_a_reading_are_a_way_where_they_prove_it() -> None:
    catalogue = locks(0.035)._replace(retainers=(Part("thin", 0.001 * INCH),))
    group = Group([valve(1.715)], catalogue, LIMITS, SHIMS)

    def unproven(standing: Standing) -> Standing:
        return standing if standing.names[1] else standing._replace(open=1)

    def right(found: Found[str]) -> list[tuple[str, ...]]:
        return [way.standing.names[:2] for way in found.ways if way.standing.puts_right]

    assert right(search(group, unproven)) == [("+0.035", "thin"), ("+0.035", "")]
    # proven by itself it is enough
    assert right(search(group)) == [("+0.035", "")]


def test_where_not_all_can_be_judged_nothing_is_said_to_be_proven() -> None:
    group = Group([valve(1.715)], locks(0.035, 0.036), LIMITS, SHIMS)
    assert not search(group, most_judged=1).proven
    # the stock is too small for both, so that either might come out best
    short = Group([valve(1.715)], locks(0.050, 0.065), LIMITS, SHIMS)
    assert search(short, most_judged=2, in_stock=[0, 0, 0]).proven
    assert not search(short, most_judged=1, in_stock=[0, 0, 0]).proven


def test_valves_that_are_assembled_wrong_come_right_by_other_shims_alone() -> None:
    there = valve(1.765, fitted_stack=0.045 * INCH)
    group = Group([there._replace(reshim=True)], Catalogue(), LIMITS, SHIMS)
    tried = group.each_choice(NO_CHANGE)
    assert tried is not None
    wrong = standing_of(Tried(NO_CHANGE, tried.valves, (tried.outcomes[0]._replace(off=1, miss=2.0),), ()), ())
    found = find_ways(group, wrong, lambda one: (standing_of(one, ()), "as it is"), None, [0, 0, 0], 9)
    assert [way.tried.choice for way in found.ways] == [NO_CHANGE]


def test_less_missed_counts_before_everything_else() -> None:
    assert SHORT._replace(miss=1.0, parts=3, shims=9).betters(SHORT)
    assert not SHORT._replace(breaks=1, off=0, miss=0.0).betters(SHORT)
    assert SHORT._replace(off=0, miss=0.0).puts_right

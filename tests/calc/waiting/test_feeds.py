"""Feeds: the table of what waits for which kind of part."""

from __future__ import annotations

from typing import get_args

import pytest

from headbench.calc.waiting.feeds import FEEDS, OF_EACH_VALVE, READINGS, PartKind

# the trade's own list: common practice, no source
KNOWN = {
    "valves": {"measured_height", "stem_height", "masses", "chamber_volume", "seats"},
    "springs": {"spring_load", "coil_bind", "spring_matching"},
    "retainers_and_locks": {"measured_height", "retainer_to_seal", "masses"},
    "cam_card": {"valve_lift", "valve_float", "piston_to_valve", "effective_ratio"},
    "pistons": {"deck_clearance", "piston_volume", "compression_ratio", "piston_to_valve", "bobweight"},
    "gasket": {"quench", "compression_ratio", "pushrod_length"},
    "rockers": {"rocker_sweep", "pushrod_length"},
    "pushrods": {"preload"},
    "lifters": {"preload", "pushrod_length"},
    "manifold": {"intake_fit"},
}


@pytest.mark.parametrize("kind", KNOWN)
def test_a_kind_of_part_feeds_what_the_trade_reads_with_it(kind: PartKind) -> None:
    assert KNOWN[kind] <= set(FEEDS[kind])


def test_pushrods_are_measured_with_heads_gasket_rockers_lifters_and_cam_on() -> None:
    before = {kind for kind, fed in FEEDS.items() if "pushrod_length" in fed}
    assert before == {"heads", "gasket", "rockers", "lifters", "camshaft"}


def test_every_kind_has_a_row_that_feeds_something_and_nothing_twice() -> None:
    assert set(FEEDS) == set(get_args(PartKind))
    assert all(fed and len(set(fed)) == len(fed) for fed in FEEDS.values())
    assert set(READINGS) == {reading for fed in FEEDS.values() for reading in fed}


def test_what_is_read_valve_by_valve_is_a_reading_and_what_takes_the_whole_cylinder_is_not() -> None:
    assert set(READINGS) > OF_EACH_VALVE
    # by the trade: these hang on both valves of a cylinder, or on none
    assert OF_EACH_VALVE.isdisjoint({"chamber_volume", "compression_ratio", "quench", "bobweight", "intake_fit"})
    assert {"measured_height", "stem_height", "retainer_to_seal", "spring_load", "coil_bind"} <= OF_EACH_VALVE

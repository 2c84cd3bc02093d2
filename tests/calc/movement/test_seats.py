from __future__ import annotations

import math

import pytest

from headbench.calc.movement.seats import Seat, sink_of_ground_seat


def test_a_forty_five_degree_seat_sinks_by_root_two() -> None:
    assert sink_of_ground_seat(0.010, math.radians(45.0)) == pytest.approx(0.010 * math.sqrt(2.0), rel=1e-12)
    assert Seat(ground=0.010).sunk == pytest.approx(0.010 * math.sqrt(2.0), rel=1e-12)


def test_a_sink_that_was_measured_counts_as_it_was_read() -> None:
    assert Seat(angle=math.radians(60.0), sink=-0.2e-3).sunk == -0.2e-3
    assert Seat(sink=-0.2e-3).moved


def test_a_seat_that_nothing_is_said_of_stays() -> None:
    assert Seat().sunk == 0.0
    assert not Seat().moved

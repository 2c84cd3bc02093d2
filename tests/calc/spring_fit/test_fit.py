from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.spring_fit.fit import Coil, Gap, gap_in_pocket, gaps_between, radial_gap, settled

NAN = math.nan


def test_a_radial_gap_is_half_of_what_the_diameters_differ_by() -> None:
    assert radial_gap(1.063, 1.050) == pytest.approx(0.0065)
    assert radial_gap(1.063, 1.071) == pytest.approx(-0.004)


def test_a_diameter_that_was_not_measured_follows_from_the_other_and_the_wire() -> None:
    assert Coil(1.437, NAN, 0.187, NAN).inner_diameter == pytest.approx(1.063)
    assert Coil(NAN, 1.063, 0.187, NAN).outer_diameter == pytest.approx(1.437)
    assert Coil(1.437, 1.061, 0.187, NAN).inner_diameter == pytest.approx(1.061)
    assert math.isnan(Coil(NAN, NAN, 0.187, NAN).inner_diameter)


# hand arithmetic, ends held: outer 31 mm mean, sqrt(961 + (81 - 25)/9.8696044) - 31 = 0.0913852; inner 22 mm mean,
# sqrt(484 + (36 - 9)/9.8696044) - 22 = 0.0620862
def test_an_outer_coil_grows_away_from_the_inner_that_grows_after_it() -> None:
    outer = Coil(36.0, 26.0, 5.0, 9.0, ends_held=True)
    inner = Coil(25.0, 19.0, 3.0, 6.0, ends_held=True)
    (gap,) = gaps_between([outer, inner])
    assert gap.free == pytest.approx(0.5)
    assert gap.closed == pytest.approx(0.5 + 0.5 * (0.0913814 - 0.0620861), abs=1e-5)
    assert gap_in_pocket(outer, 36.4).closed == pytest.approx(0.2 - 0.5 * 0.0913814, abs=1e-5)


def test_ends_are_free_unless_they_are_held() -> None:
    free, kept = Coil(36.0, 26.0, 5.0, 9.0), Coil(36.0, 26.0, 5.0, 9.0, ends_held=True)
    assert free.growth > kept.growth > 0.0


def test_a_damper_is_taken_not_to_grow() -> None:
    damper = Coil(26.0, 24.0, 1.0, NAN, is_damper=True)
    inner = Coil(23.0, 17.0, 3.0, 6.0, ends_held=True)
    assert damper.growth == 0.0
    (gap,) = gaps_between([damper, inner])
    assert gap.closed < gap.free == pytest.approx(0.5)


def test_what_is_not_known_of_one_gap_leaves_the_others_and_what_is_known_of_it() -> None:
    known, unknown = Coil(25.0, 19.0, 3.0, 6.0), Coil(36.0, 26.0, 5.0, NAN)
    (gap,) = gaps_between([unknown, known])
    assert gap.free == pytest.approx(0.5)
    assert math.isnan(gap.least)
    assert gap.known_least == pytest.approx(0.5)
    assert math.isnan(Gap(NAN, NAN).known_least)
    assert Gap(0.5, 0.4).least == 0.4


@given(outer=st.floats(34.0, 40.0), wire=st.floats(3.0, 5.0), pitch=st.floats(1.2, 2.0), pocket=st.floats(0.0, 2.0))
def test_a_spring_never_has_more_room_in_its_pocket_closed_than_free(
    outer: float, wire: float, pitch: float, pocket: float
) -> None:
    gap = gap_in_pocket(Coil(outer, NAN, wire, pitch * wire), outer + pocket)
    assert gap.closed <= gap.free
    assert gap.least == gap.closed


# a damper 0.3 mm too large for the outer spring is wound up by as much: 25.7 - 0.3 - 2 x 1.5 = 22.4 mm inside, and the
# spring of 22 mm in it has 0.2 mm. Closed, the outer grows by A, the damper after it, the inner by B: 0.2 + (A - B)/2
def test_a_damper_that_presses_sits_in_the_outer_spring_and_follows_it() -> None:
    outer, inner = Coil(36e-3, 26e-3, 5e-3, 9e-3), Coil(22e-3, 16e-3, 3e-3, 6e-3)
    damper = Coil(26.3e-3, 23.3e-3, 1.5e-3, NAN, is_damper=True)
    pressed, between = gaps_between([outer, damper, inner])
    assert pressed.free == pytest.approx(-0.15e-3)
    assert between.free == pytest.approx(0.5 * (23.3e-3 - 0.3e-3 - 22e-3))
    assert between.closed == pytest.approx(between.free + 0.5 * (outer.growth - inner.growth))
    assert settled([outer, damper])[-1].inner_diameter == pytest.approx(23.0e-3)


def test_a_damper_follows_no_further_than_it_was_wound_up_and_a_loose_one_not_at_all() -> None:
    outer, inner = Coil(36e-3, 26e-3, 5e-3, 9e-3), Coil(22e-3, 16e-3, 3e-3, 6e-3)
    assert outer.growth > 0.02e-3
    for outside, squeezed in ((26.02e-3, 0.02e-3), (25.9e-3, 0.0)):
        damper = Coil(outside, 23.3e-3, NAN, NAN, is_damper=True)
        _, between = gaps_between([outer, damper, inner])
        assert between.free == pytest.approx(0.5 * (23.3e-3 - squeezed - 22e-3))
        assert between.closed == pytest.approx(between.free + 0.5 * (squeezed - inner.growth))


def test_of_a_damper_in_a_spring_that_was_not_measured_nothing_is_known_of_what_is_in_it() -> None:
    damper, inner = Coil(26.3e-3, 23.3e-3, 1.5e-3, NAN, is_damper=True), Coil(22e-3, 16e-3, 3e-3, 6e-3)
    _, between = gaps_between([Coil(36e-3, NAN, NAN, 9e-3), damper, inner])
    assert math.isnan(between.free)
    assert math.isnan(between.closed)

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
import scipy
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.boost.boost import BoostedValve, HeldShut, hold_shut, opening, pressure_load
from headbench.calc.judging.verdicts import Verdict
from headbench.calc.springs.one_curve import rated_curve
from headbench.calc.springs.readings import curve_through
from headbench.calc.springs.spring_set import SpringSet, of_load_alone, spring_set

INCH, POUND_FORCE = 0.0254, 4.4482216152605
PSI = POUND_FORCE / INCH**2
NAN = math.nan
# 128 lbf at 1.850 in, 318 lbf at 1.350 in: 380 lbf/in
CURVE = curve_through([1.850 * INCH, 1.350 * INCH], [128.0 * POUND_FORCE, 318.0 * POUND_FORCE])


def bound(coil_bind: float = NAN) -> SpringSet:
    return SpringSet((of_load_alone(CURVE)._replace(coil_bind_height=coil_bind * INCH),), 0.0)


def held(springs: SpringSet | None = None, **readings: float) -> HeldShut:
    given_in = {
        "psi": 15.0, "diameter": 2.02, "stem": NAN, "wanted": 120.0, "read": NAN, "height": 1.850, "lift": 0.500,
    } | readings  # fmt: skip
    return hold_shut(
        BoostedValve(
            given_in["psi"] * PSI,
            given_in["diameter"] * INCH,
            given_in["stem"] * INCH,
            given_in["wanted"] * POUND_FORCE,
            given_in["read"] * POUND_FORCE,
            given_in["height"] * INCH,
            given_in["lift"] * INCH,
            0.060 * INCH,
            springs or spring_set(CURVE),
        )
    )


# hand arithmetic: 2.02^2 x 0.785398163 = 3.204738666 in2, times 15; 1.6^2 x 0.785398163 = 2.010619298 in2, times 300
@pytest.mark.parametrize(("psi", "diameter", "pounds"), [(15.0, 2.02, 48.0710800), (300.0, 1.6, 603.1857895)])
def test_pressure_over_the_whole_disc(psi: float, diameter: float, pounds: float) -> None:
    for stem in (NAN, 0.0):
        load = pressure_load(psi * PSI, diameter * INCH, stem * INCH)
        assert load / POUND_FORCE == pytest.approx(pounds, rel=1e-8)


@given(psi=st.floats(-14, 60), diameter=st.floats(1.0, 2.5), stem=st.floats(0.2, 0.5))
def test_pressure_summed_ring_by_ring_from_stem_to_seat_is_the_same(psi: float, diameter: float, stem: float) -> None:
    rings: Callable[[float], float] = lambda radius: psi * 2.0 * math.pi * radius  # noqa: E731 - a formula of one line
    summed, _ = scipy.integrate.quad(rings, stem / 2.0, diameter / 2.0)
    load = pressure_load(psi * PSI, diameter * INCH, stem * INCH)
    assert load / POUND_FORCE == pytest.approx(summed, rel=1e-9, abs=1e-9)


# moments about the pivot of a rocker 1.5 in long to the valve and 1.0 in to the pushrod, and of a finger 1.5 in to the
# valve with its lobe 1.0 in from the pivot: 603.186 + 150 at the valve
@pytest.mark.parametrize(("pivot", "carried"), [(1.0, 753.1857895 * 2.5), (-1.0, 753.1857895 * 0.5)])
def test_opening_is_statics_about_the_pivot(pivot: float, carried: float) -> None:
    found = opening(300.0 * PSI, 1.6 * INCH, 150.0 * POUND_FORCE, 1.5, pivot)
    told = [one / POUND_FORCE for one in found]
    assert told == pytest.approx([603.1857895, 753.1857895, 1129.7786842, carried], rel=1e-8)


def test_a_bucket_has_no_pivot_and_an_unread_ratio_no_lobe_load() -> None:
    found = opening(300.0 * PSI, 1.6 * INCH, 150.0 * POUND_FORCE, 1.0, NAN)
    assert found.lobe_load == found.valve_load
    assert math.isnan(found.pivot_load)
    assert math.isnan(opening(1.0, 1.0, 1.0, NAN, 1.0).lobe_load)


def test_the_shim_is_what_is_short_over_the_rate() -> None:
    # 120 + 48.07108 - 128 = 40.07108 lbf, at 380 lbf/in
    found = held()
    assert found.needed / POUND_FORCE == pytest.approx(168.07108, rel=1e-8)
    assert found.shim / INCH == pytest.approx(40.07108 / 380.0, rel=1e-7)
    assert found.height_with_shim / INCH == pytest.approx(1.850 - 40.07108 / 380.0, rel=1e-8)
    # at 1.350 in it pushes 318, and as much more as it was short
    assert found.open_load_with_shim / POUND_FORCE == pytest.approx(358.07108, rel=1e-8)
    assert found.left / POUND_FORCE == pytest.approx(128.0 - 48.07108, rel=1e-7)
    assert found.is_proven


def test_a_load_that_is_just_what_is_needed_takes_no_shim() -> None:
    assert held(psi=0.0, wanted=128.0).shim == 0.0


def test_a_seat_load_read_on_the_head_counts_and_moves_as_the_curve_does() -> None:
    found = held(read=138.0)
    assert found.shim / INCH == pytest.approx(30.07108 / 380.0, rel=1e-7)
    assert held(read=169.0).shim == 0.0
    assert held(spring_set(None), read=169.0, height=NAN).is_proven


def test_a_pressure_that_holds_the_valve_shut_is_not_taken_off_what_is_needed() -> None:
    found = held(psi=-10.0)
    assert found.needed / POUND_FORCE == pytest.approx(120.0)
    assert found.pressure_load < 0.0
    assert found.left > found.seat_load


def test_coils_that_touch_before_the_load_is_there_leave_no_shim() -> None:
    found = held(bound(1.800))
    assert found.binds_first
    assert math.isnan(found.shim)
    # just in reach closed, but not at full lift
    tight = held(bound(1.300))
    assert not tight.binds_first
    assert tight.bind_with_shim.at_lift.clearance / INCH == pytest.approx(0.050 - 40.07108 / 380.0, abs=1e-8)
    assert Verdict(tight.bind_with_shim.verdict) == Verdict.REJECT


def test_where_coils_touch_already_there_is_no_load() -> None:
    found = held(bound(1.851))
    assert math.isnan(found.seat_load)
    assert math.isnan(found.shim)
    assert math.isnan(held(bound(1.400)).open_load)


def test_what_was_not_read_makes_no_number() -> None:
    for found in (held(psi=NAN), held(diameter=NAN), held(wanted=NAN), held(height=NAN)):
        assert math.isnan(found.shim)
        assert not found.binds_first
    # a load that was read where no height was tells no shim, and nothing of coils
    on_head = held(height=NAN, read=120.0)
    assert math.isnan(on_head.shim)
    assert not on_head.binds_first
    assert math.isnan(held(wanted=NAN).needed)
    assert held(wanted=NAN).left > 0.0
    assert not held(spring_set(rated_curve(0.047, 500.0, 60e3))).is_proven
    # a decimal point that slipped is no height
    assert math.isnan(held(height=18.5).seat_load)


@given(psi=st.floats(0, 60), more=st.floats(0, 40), height=st.floats(1.7, 1.9))
def test_more_pressure_never_needs_less(psi: float, more: float, height: float) -> None:
    less, greater = held(psi=psi, height=height), held(psi=psi + more, height=height)
    assert greater.needed >= less.needed
    assert greater.left <= less.left
    assert greater.shim >= less.shim


@given(psi=st.floats(0, 40), height=st.floats(1.7, 1.9), wanted=st.floats(60, 200))
def test_that_shim_laid_makes_the_load_and_a_root_finder_agrees(psi: float, height: float, wanted: float) -> None:
    found = held(psi=psi, height=height, wanted=wanted)
    laid = held(psi=psi, height=found.height_with_shim / INCH, wanted=wanted)
    assert laid.seat_load == pytest.approx(max(found.needed, found.seat_load), rel=1e-9)
    if found.shim > 0.0:
        root = scipy.optimize.brentq(lambda at: CURVE.load_at(at) - found.needed, 0.5 * INCH, height * INCH)
        assert found.height_with_shim == pytest.approx(root, rel=1e-9)

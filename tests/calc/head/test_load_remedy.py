"""Load remedy: by hand on a straight spring, each bar in turn; and done as told it gives the load."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.calc.head.assembly import Limits, Targets, ValveReadings, ValveSheet, assemble
from headbench.calc.head.load_remedy import Bar, load_remedy
from headbench.calc.heights.installed_height import ShimsAtHand
from headbench.calc.judging.load_target import LoadTarget
from headbench.calc.judging.verdicts import Verdict
from headbench.calc.masses.valve_mass import WeighedParts
from headbench.calc.springs.one_curve import LoadCurve
from headbench.calc.springs.readings import curve_through
from headbench.calc.springs.spring_set import SpringSet, of_load_alone

MM, UNREAD = 1e-3, math.nan
STEP = 0.01 * MM
NO_LOAD = LoadTarget()
POCKET = 1.5 * MM
# 52 N/mm: 520 N at 44.5 mm, 1170 N at 32.0 mm
SPRING = curve_through([46.5 * MM, 44.5 * MM, 32.0 * MM, 30.0 * MM], [416.0, 520.0, 1170.0, 1274.0])


def valve_of(
    seat: LoadTarget = NO_LOAD,
    opened: LoadTarget = NO_LOAD,
    *,
    bind: float = 28.0,
    tolerance: float = 0.25,
    curve: LoadCurve | None = SPRING,
    read: float = UNREAD,
) -> ValveSheet:
    """A spring that stands 44.5 mm on 0.5 mm of shim, 32.0 mm at a lift of 12.5."""
    one = of_load_alone(curve)._replace(coil_bind_height=bind * MM)
    readings = ValveReadings(
        bare_height=45.0 * MM,
        height_with_shims=UNREAD,
        height_proven=True,
        seat_load_with_shims=read,
        valve_lift=12.5 * MM,
        retainer_to_seal=UNREAD,
        springs=SpringSet((one,), 0.0),
        masses=WeighedParts(*(UNREAD for _ in WeighedParts._fields)),
        targets=Targets(44.5 * MM, seat, opened),
        limits=Limits(tolerance * MM, 1.5 * MM, 1.27 * MM, off_target_rejects=False),
    )
    # the one shim there is, so that the height is what the readings say
    (valve,) = assemble([readings], ShimsAtHand([0.5 * MM], POCKET, 1)).valves
    return valve


@pytest.mark.parametrize(
    ("seat", "opened", "bind", "which", "more", "bar", "comes_to"),
    [
        # 26 N under at 52 N/mm is 0.5 mm more; 32.0 - 0.5 - 28.0 = 3.5 mm stay between the coils
        (LoadTarget(560.0, 546.0, 600.0), NO_LOAD, 28.0, "seat", 0.50, Bar.NOTHING, UNREAD),
        # 52 N under is 1.0 mm more, and 32.0 - 1.0 - 30.0 = 1.0 mm, 1.5 is the least
        (LoadTarget(580.0, 572.0, 600.0), NO_LOAD, 30.0, "seat", 1.00, Bar.COILS, 1.0 * MM),
        # 78 N under is 1.5 mm more, 2.0 mm in a pocket that takes 1.5
        (LoadTarget(600.0, 598.0, 620.0), NO_LOAD, 28.0, "seat", 1.50, Bar.POCKET, 2.0 * MM),
        # the same with coils too near: what breaks parts is named first, 32.0 - 1.5 - 30.0 = 0.5
        (LoadTarget(600.0, 598.0, 620.0), NO_LOAD, 30.0, "seat", 1.50, Bar.COILS, 0.5 * MM),
        # 26 N under closed, and 26 N more open are 1196, 1180 the most
        (
            LoadTarget(560.0, 546.0, 600.0),
            LoadTarget(1170.0, 1160.0, 1180.0),
            28.0,
            False,
            0.50,
            Bar.OTHER_LOAD,
            1196.0,
        ),
        # a load with one end carries no height: 44.5 - 0.5 = 44.0, 44.25 the shortest
        (LoadTarget(546.0, 546.0, UNREAD), NO_LOAD, 28.0, "seat", 0.50, Bar.HEIGHT, 44.0 * MM),
        # 13 N over open is 0.25 mm less
        (NO_LOAD, LoadTarget(1150.0, 1100.0, 1157.0), 28.0, "open", -0.25, Bar.NOTHING, UNREAD),
        # 52 N over is 1.0 mm less, where 0.5 is in: -0.5
        (LoadTarget(450.0, 430.0, 468.0), NO_LOAD, 28.0, "seat", -1.00, Bar.POCKET, -0.5 * MM),
        # so much no spring gives within these coils: 2000 - 520 is 28 mm more, far past touching
        (LoadTarget(2000.0, 2000.0, UNREAD), NO_LOAD, 28.0, "seat", 28.47, Bar.COILS, (32.0 - 28.47 - 28.0) * MM),
    ],
)
def test_the_shim_a_load_takes_and_what_is_against_it_as_worked_by_hand(
    seat: LoadTarget, opened: LoadTarget, bind: float, which: str, more: float, bar: Bar, comes_to: float
) -> None:
    found = load_remedy(valve_of(seat, opened, bind=bind), POCKET, STEP, at_full_lift=which == "open")
    assert found.bar is bar
    assert found.more / MM == pytest.approx(more, abs=1e-9)
    assert found.comes_to == pytest.approx(comes_to, rel=1e-9, nan_ok=True)
    assert found.coils_known


def test_a_load_read_on_the_head_moves_as_much_as_the_curve() -> None:
    # 515 read, 520 figured: 31 N under 546 are 0.596 mm, 0.60 in whole steps
    found = load_remedy(valve_of(LoadTarget(560.0, 546.0, 600.0), read=515.0), POCKET, STEP, at_full_lift=False)
    assert (round(found.more / MM, 9), found.bar) == (0.6, Bar.NOTHING)


def test_without_a_coil_bind_height_or_a_curve_nothing_is_promised() -> None:
    wanted = LoadTarget(560.0, 546.0, 600.0)
    found = load_remedy(valve_of(wanted, bind=UNREAD), POCKET, STEP, at_full_lift=False)
    assert (found.bar, found.coils_known) == (Bar.NOTHING, False)
    blind = load_remedy(valve_of(wanted, curve=None, read=515.0), POCKET, STEP, at_full_lift=False)
    assert blind.bar is Bar.CURVE
    assert math.isnan(blind.more)


@given(
    low=st.floats(440.0, 620.0),
    width=st.floats(4.0, 80.0),
    bind=st.floats(26.0, 31.0),
    which=st.sampled_from(["seat", "open"]),
)
def test_shims_laid_as_told_give_the_load_and_break_nothing(low: float, width: float, bind: float, which: str) -> None:
    at_full_lift = which == "open"
    ends = (low + 650.0, low + 650.0 + width) if at_full_lift else (low, low + width)
    target = LoadTarget(sum(ends) / 2.0, *ends)
    targets = (NO_LOAD, target) if at_full_lift else (target, NO_LOAD)
    valve = valve_of(*targets, bind=bind, tolerance=5.0)
    load = valve.open_load if at_full_lift else valve.seat_load
    if target.verdict(load) == Verdict.ACCEPT:
        return
    found = load_remedy(valve, POCKET, STEP, at_full_lift=at_full_lift)
    if found.bar is not Bar.NOTHING:
        return
    # by hand on the straight spring, the height read after the shims were changed
    height = 44.5 - found.more / MM
    pushed = 520.0 + 52.0 * (44.5 - height) + (650.0 if at_full_lift else 0.0)
    assert ends[0] - 1e-6 <= pushed <= ends[1] + 0.52
    assert height - 12.5 - bind >= 1.5 - 1e-9 or found.more < 0.0
    assert 0.0 <= 0.5 + found.more / MM <= 1.5 + 1e-9

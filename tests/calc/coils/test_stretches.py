"""Stretches of wire that close under load, against scipy's quadrature."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from headbench.calc.coils.stretches import stretches_from

_RADIUS = st.floats(0.008, 0.025)
_GAP = st.floats(1e-4, 6e-3)
_SHARE = st.floats(0.02, 0.98)


def _deflection(turns: float, radius: list[float], gap: list[float], stiffness: float, load: float) -> float:
    """A piece of wire deflects F R^3/q until its gap is used up; scipy adds the pieces up."""

    def piece(share: float) -> float:
        here = radius[0] + (radius[1] - radius[0]) * share
        return min(load * here**3 / stiffness, gap[0] + (gap[1] - gap[0]) * share)

    def excess(share: float) -> float:
        here = radius[0] + (radius[1] - radius[0]) * share
        return load * here**3 / stiffness - gap[0] - (gap[1] - gap[0]) * share

    grid = np.linspace(0.0, 1.0, 801)
    signs = np.sign([excess(share) for share in grid.tolist()])
    kinks = []
    for place in np.flatnonzero(np.diff(signs)).tolist():
        low, high = float(grid[place]), float(grid[place + 1])
        for _ in range(50):
            middle = 0.5 * (low + high)
            low, high = (low, middle) if excess(low) * excess(middle) <= 0.0 else (middle, high)
        kinks.append(low)
    edges = [0.0, *kinks, 1.0]
    parts = [quad(piece, start, end, epsabs=0.0, epsrel=1e-13)[0] for start, end in pairwise(edges)]
    return turns * sum(parts)


@settings(max_examples=60, deadline=None)
@given(radius=st.lists(_RADIUS, min_size=2, max_size=2), gap=st.lists(_GAP, min_size=2, max_size=2), share=_SHARE)
def test_any_straight_stretch_deflects_as_its_pieces_add_up_to(
    radius: list[float], gap: list[float], share: float
) -> None:
    stretches = stretches_from(np.array([3.5]), np.array([radius]), np.array([gap]), 0.32)
    load = share * float(stretches.closing.max())
    expected = _deflection(3.5, radius, gap, 0.32, load)
    assert stretches.under(np.array([load])).deflection[0] == pytest.approx(expected, rel=1e-9)


@settings(max_examples=60, deadline=None)
@given(radius=st.lists(_RADIUS, min_size=2, max_size=2), gap=st.lists(_GAP, min_size=2, max_size=2), share=_SHARE)
def test_compliance_and_bend_are_the_slopes_of_deflection_and_compliance(
    radius: list[float], gap: list[float], share: float
) -> None:
    stretches = stretches_from(np.array([3.5]), np.array([radius]), np.array([gap]), 0.32)
    load = share * float(stretches.closing.max())
    step = 1e-6 * load
    before, here, after = (stretches.under(np.array([at])) for at in (load - step, load, load + step))
    near_a_knot = (np.abs(stretches.closing / load - 1.0) < 1e-4).any()
    if not near_a_knot:
        slope = (after.deflection[0] - before.deflection[0]) / (2.0 * step)
        assert here.compliance[0] == pytest.approx(slope, rel=1e-5)
        bend = (after.compliance[0] - before.compliance[0]) / (2.0 * step)
        assert here.bend[0] == pytest.approx(bend, rel=1e-3, abs=1e-9 * here.compliance[0] / load)


def test_a_stretch_closes_from_both_ends_where_its_middle_is_the_widest() -> None:
    # closing load over the stretch: g/R^3 at the ends 4.5/15^3 and 0.5/10^3, in between it has a maximum
    stretches = stretches_from(np.array([4.0]), np.array([[0.015, 0.010]]), np.array([[0.0045, 0.0005]]), 0.32)
    # d/ds [g/R^3] = 0 by hand: (g0 + b s) 3 a = b (R0 + a s) with g 4.5 - 4 s, R 15 - 5 s: s = 0.1875
    assert stretches.turns.tolist() == pytest.approx([0.75, 3.25])
    peak = 0.32 * (0.0045 - 0.004 * 0.1875) / (0.015 - 0.005 * 0.1875) ** 3
    assert stretches.closing.max(axis=1).tolist() == pytest.approx([peak, peak], rel=1e-12)


def test_wire_without_gap_takes_no_part() -> None:
    radius, gap = np.full((2, 2), 0.015), np.array([[0.0, 0.0], [0.002, 0.002]])
    both = stretches_from(np.array([2.0, 4.0]), radius, gap, 0.32)
    alone = stretches_from(np.array([4.0]), radius[:1], gap[1:], 0.32)
    load = np.array([50.0, 100.0])
    assert both.under(load).deflection.tolist() == alone.under(load).deflection.tolist()


@given(radius=st.lists(_RADIUS, min_size=2, max_size=2), gap=st.lists(_GAP, min_size=2, max_size=2))
def test_nothing_is_left_open_at_the_load_that_closes_the_last_bit(radius: list[float], gap: list[float]) -> None:
    stretches = stretches_from(np.array([3.5]), np.array([radius]), np.array([gap]), 0.32)
    at_once = stretches.closing[:, 0] == stretches.closing[:, 1]
    last = stretches.under(np.array([stretches.closing.max()]))
    if not at_once.any():
        assert last.compliance[0] == 0.0
        assert last.deflection[0] == pytest.approx(3.5 * (gap[0] + gap[1]) / 2.0, rel=1e-12)


@settings(max_examples=60, deadline=None)
@given(
    radius=st.lists(_RADIUS, min_size=5, max_size=5),
    gap=st.lists(_GAP, min_size=5, max_size=5),
    share=st.floats(0.0, 1.1),
)
def test_stretches_together_deflect_and_yield_as_the_sum_of_each_alone(
    radius: list[float], gap: list[float], share: float
) -> None:
    turns = np.array([0.5, 1.0, 1.5, 0.7])
    ends = [np.array(list(pairwise(each))) for each in (radius, gap)]
    together = stretches_from(turns, ends[0], ends[1], 0.32)
    load = np.array([share * float(together.closing.max())])
    alone = [
        stretches_from(turns[at : at + 1], ends[0][at : at + 1], ends[1][at : at + 1], 0.32).under(load)
        for at in range(4)
    ]
    found = together.under(load)
    for name in ("deflection", "compliance", "bend"):
        expected = sum(float(getattr(one, name)[0]) for one in alone)
        assert getattr(found, name)[0] == pytest.approx(expected, rel=1e-9, abs=1e-18)


def test_what_closes_at_once_is_open_at_its_load_and_solid_above() -> None:
    stretches = stretches_from(np.array([4.0]), np.full((1, 2), 0.015), np.full((1, 2), 0.002), 0.32)
    closing = float(stretches.closing[0, 0])
    loads = np.array([closing, closing * (1.0 + 1e-9)])
    assert stretches.closed_share(loads).tolist() == [[0.0], [1.0]]
    assert stretches.under(loads[1:]).deflection[0] == pytest.approx(4.0 * 0.002, rel=1e-12)


def test_ends_a_rounding_apart_close_at_once() -> None:
    radius, gap = np.array([[0.015, 0.015 * (1.0 + 3e-16)]]), np.array([[0.002, 0.002 * (1.0 - 3e-16)]])
    assert np.ptp(stretches_from(np.array([4.0]), radius, gap, 0.32).closing) == 0.0


def test_an_unknown_load_has_no_deflection() -> None:
    stretches = stretches_from(np.array([4.0]), np.array([[0.015, 0.010]]), np.array([[0.002, 0.003]]), 0.32)
    assert np.isnan(stretches.under(np.array([np.nan])).deflection).all()

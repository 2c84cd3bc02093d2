"""How the wire of a spring moves: held against a dense chain of masses, and closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.linalg import eigh_tridiagonal
from scipy.optimize import brentq

from headbench.calc import FloatArray
from headbench.calc.coils.coils import DimensionedSpring, dimensioned_spring
from headbench.calc.coils.motion import BEEHIVE_SHARE, BEEHIVE_SHARE_WITHIN, moving_share, shared_by_mass, surge_factor
from headbench.calc.coils.shapes import CoilProfile, beehive, cone, cylinder, stretches
from headbench.calc.coils.wire import round_wire

D, G, DENSITY = 0.004, 79.5e9, 7850.0
WIRE = round_wire(D)


def spring_of(profile: CoilProfile) -> DimensionedSpring:
    return dimensioned_spring(profile, WIRE, "squared and ground", G, DENSITY)


class Chain:
    """The wire as a chain of short pieces, closed ones rigid: an independent derivation.

    A piece of ds turns yields 64 R^3/(G d^4) ds per load, weighs density pi d^2/4 2 pi R ds, and is closed where the
    load has used up its gap. Pieces with nothing but closed ones between them move as one.
    """

    def __init__(self, profile: CoilProfile, load: float, pieces: int = 20_000) -> None:
        edge = np.linspace(0.0, profile.turn[-1], pieces + 1)
        middle, turns = (edge[1:] + edge[:-1]) / 2.0, np.diff(edge)
        radius, pitch = (np.interp(middle, profile.turn, each) for each in (profile.radius, profile.pitch))
        compliance = 64.0 * radius**3 / (G * D**4) * turns
        open_ = load * compliance < (pitch - D) * turns
        self.mass = DENSITY * np.pi * D**2 / 4.0 * 2.0 * np.pi * radius * turns
        group = np.concatenate([[0], np.cumsum(open_)])
        self.node_mass = np.bincount(group[:-1], self.mass / 2.0, group[-1] + 1)
        self.node_mass += np.bincount(group[1:], self.mass / 2.0, group[-1] + 1)
        self.compliance = compliance[open_]

    def surge_frequency(self) -> float:
        stiffness, mass = 1.0 / self.compliance, self.node_mass[1:-1]
        main = (stiffness[:-1] + stiffness[1:]) / mass
        beside = -stiffness[1:-1] / np.sqrt(mass[:-1] * mass[1:])
        (lowest,) = eigh_tridiagonal(main, beside, eigvals_only=True, select="i", select_range=(0, 0))
        return float(np.sqrt(lowest) / (2.0 * np.pi))

    def moving_share(self) -> float:
        moved = np.concatenate([[0.0], np.cumsum(self.compliance)]) / self.compliance.sum()
        return float((self.node_mass * moved**2).sum() / self.node_mass.sum())


def surge_frequency(spring: DimensionedSpring, height: float) -> float:
    at = np.array([height])
    uniform = 0.5 * np.sqrt(spring.rate_at(at)[0] / spring.active_mass)
    return float(surge_factor(spring, at)[0] * uniform)


SHAPES = {
    "beehive": beehive(0.028, 0.020, 2.5, 2.0, 0.0085),
    "steep beehive": beehive(0.030, 0.018, 1.0, 3.5, 0.0085),
    "cone": cone(0.030, 0.020, 4.5, 0.0085),
    "cone upside down": cone(0.018, 0.030, 4.5, 0.0085),
    "progressive": stretches([2.0, 3.0], [0.028] * 2, [0.028] * 2, [0.0055, 0.009]),
    "closing in the middle": stretches([2.0, 1.5, 1.5], [0.028] * 3, [0.028] * 3, [0.009, 0.005, 0.008]),
    "closing at the retainer": stretches([3.0, 2.0], [0.028] * 2, [0.028] * 2, [0.009, 0.0055]),
}


@pytest.mark.parametrize("name", SHAPES)
@pytest.mark.parametrize("share", [0.02, 0.45, 0.7])
def test_a_spring_of_any_shape_surges_as_a_dense_chain_of_masses(name: str, share: float) -> None:
    profile = SHAPES[name]
    spring = spring_of(profile)
    height = spring.free_height + share * (spring.coil_bind_height - spring.free_height)
    chain = Chain(profile, float(spring.load_at(np.array([height]))[0]))
    assert surge_frequency(spring, height) == pytest.approx(chain.surge_frequency(), rel=3e-4)
    assert moving_share(spring, np.array([height]))[0] == pytest.approx(chain.moving_share(), rel=3e-4)


@given(
    diameter=st.floats(0.016, 0.040),
    coils=st.floats(2.0, 10.0),
    pitch=st.floats(0.005, 0.010),
    share=st.floats(0, 0.99),
)
def test_a_cylinder_surges_at_half_the_root_of_rate_over_mass_and_a_third_of_it_moves(
    diameter: float, coils: float, pitch: float, share: float
) -> None:
    # 1/2 sqrt(k/m): Shigley, 9th ed. (2011), Eq. 10-25; a third, Rayleigh's method
    spring = spring_of(cylinder(diameter, coils, pitch))
    at = np.array([spring.free_height + share * (spring.coil_bind_height - spring.free_height)])
    assert surge_factor(spring, at)[0] == pytest.approx(1.0, rel=1e-9)
    assert moving_share(spring, at)[0] == pytest.approx(1.0 / 3.0, rel=1e-9)


def test_closed_coils_at_an_end_are_out_of_it() -> None:
    # what is left is a cylinder of 3 coils: closed form with its own rate and mass
    profile = SHAPES["progressive"]
    spring = spring_of(profile)
    height = float(spring.coil_closing_height[0]) - 0.001
    rate = G * D**4 / (64.0 * 0.014**3 * 3.0)
    mass = DENSITY * np.pi * D**2 / 4.0 * 2.0 * np.pi * 0.014 * 3.0
    assert surge_frequency(spring, height) == pytest.approx(0.5 * np.sqrt(rate / mass), rel=1e-9)
    # closed at the seat, 2 of the 5 coils stand still; closed at the retainer they move with it whole
    seat, retainer = spring_of(profile), spring_of(SHAPES["closing at the retainer"])
    assert moving_share(seat, np.array([height]))[0] == pytest.approx(3.0 / 5.0 / 3.0, rel=1e-9)
    assert moving_share(retainer, np.array([height]))[0] == pytest.approx(2.0 / 5.0 + 3.0 / 5.0 / 3.0, rel=1e-9)


def test_closed_coils_between_open_ones_move_as_one() -> None:
    # two like springs with a mass between: z tan z = m/M_half by hand, z = w sqrt(m/k) of one half
    profile = stretches([2.0, 1.0, 2.0], [0.028] * 3, [0.028] * 3, [0.009, 0.005, 0.009])
    spring = spring_of(profile)
    height = float(spring.coil_closing_height[0]) - 0.001
    per_coil = DENSITY * np.pi * D**2 / 4.0 * 2.0 * np.pi * 0.014
    rate = G * D**4 / (64.0 * 0.014**3 * 2.0)
    z = brentq(lambda z: z * np.tan(z) - 2.0 * per_coil / (0.5 * per_coil), 0.1, np.pi / 2.0 - 1e-9)
    assert surge_frequency(spring, height) == pytest.approx(
        z * np.sqrt(rate / (2.0 * per_coil)) / (2 * np.pi), rel=2e-4
    )


def test_turning_a_spring_over_changes_its_moving_share_and_not_its_surge() -> None:
    up, over = spring_of(cone(0.030, 0.020, 4.5, 0.0085)), spring_of(cone(0.020, 0.030, 4.5, 0.0085))
    at = np.array([up.free_height - 0.004])
    assert surge_factor(up, at)[0] == pytest.approx(surge_factor(over, at)[0], rel=1e-9)
    assert moving_share(up, at)[0] > 1.0 / 3.0 > moving_share(over, at)[0]


def test_the_moving_share_of_a_cone_is_its_closed_form() -> None:
    # own derivation: with R straight along the wire u = (R1^4 - R^4)/(R1^4 - R2^4) and dm ~ R dR: integral of u^2 R dR
    # over that of R dR, by hand with x = R^2: u is quadratic in x
    first, last = 0.015, 0.010

    def integral(top: float) -> float:
        # of (a - x^2)^2/2 dx, a = R1^4
        a = first**4
        return (a * a * top - 2.0 * a * top**3 / 3.0 + top**5 / 5.0) / 2.0

    moved = (integral(first**2) - integral(last**2)) / (first**4 - last**4) ** 2
    expected = moved / ((first**2 - last**2) / 2.0)
    spring = spring_of(cone(2.0 * first, 2.0 * last, 4.5, 0.0085))
    assert moving_share(spring, np.array([spring.free_height]))[0] == pytest.approx(expected, rel=1e-12)


def test_common_beehives_move_what_is_estimated_for_one_without_dimensions() -> None:
    shares = [
        Chain(beehive(0.028, 0.028 * small, coils - tapered, tapered, 0.009), 0.0).moving_share()
        for small in (0.70, 0.75)
        for coils in (4.0, 4.5, 5.0)
        for tapered in (1.5, 2.0, 2.5)
    ]
    assert (min(shares) + max(shares)) / 2.0 == pytest.approx(BEEHIVE_SHARE, abs=0.005)
    assert max(abs(share - BEEHIVE_SHARE) for share in shares) < BEEHIVE_SHARE_WITHIN


def test_an_unknown_height_is_the_free_spring_for_the_share_and_unknown_for_surge() -> None:
    spring = spring_of(SHAPES["progressive"])
    unknown = np.array([np.nan])
    free: FloatArray = np.array([spring.free_height])
    assert moving_share(spring, unknown)[0] == moving_share(spring, free)[0]
    assert np.isnan(surge_factor(spring, unknown)).all()


def test_a_spring_at_coil_bind_has_nothing_left_to_surge() -> None:
    spring = spring_of(SHAPES["beehive"])
    assert np.isnan(surge_factor(spring, np.array([spring.coil_bind_height, spring.coil_bind_height - 0.001]))).all()


@given(st.lists(st.tuples(st.floats(0.2, 0.6), st.floats(1e-3, 0.2)), min_size=1, max_size=3))
def test_nested_springs_share_one_part_that_moves_as_much_as_theirs_together(
    springs: list[tuple[float, float]],
) -> None:
    # own derivation: one share of the sum of their masses moves what their own shares move
    share, mass = [one for one, _ in springs], [one for _, one in springs]
    moving = math.fsum(one * of for one, of in springs)
    assert shared_by_mass(share, mass) * math.fsum(mass) == pytest.approx(moving, rel=1e-12)


def test_the_share_of_springs_of_which_one_was_not_weighed_or_none_weighs_anything_is_unknown() -> None:
    assert math.isnan(shared_by_mass([0.38, 1.0 / 3.0], [0.06, math.nan]))
    assert math.isnan(shared_by_mass([0.38], [0.0]))
    assert math.isnan(shared_by_mass([], []))

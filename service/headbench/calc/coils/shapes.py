"""Spring shapes: how the coils of a spring run, and which dimensions cannot be true."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from headbench.calc import FloatArray
from headbench.calc.coils.wire import Wire, contact_height


@dataclass(frozen=True, slots=True)
class CoilProfile:
    """The active coils from one end to the other, straight between the points given.

    turn : array (M,), turns from the first active end, from 0, never falling; twice the same for a step [-]
    radius : array (M,), mean radius of the coil there [m]
    pitch : array (M,), rise per turn there, spring free [m]
    """

    turn: FloatArray
    radius: FloatArray
    pitch: FloatArray


def stretches(
    coils: Sequence[float], first_diameter: Sequence[float], last_diameter: Sequence[float], pitch: Sequence[float]
) -> CoilProfile:
    """Coils made of stretches, each a cylinder or a cone of its own pitch.

    Parameters
    ----------
    coils : sequence (S,)
        Active coils of each stretch, from one end of the spring to the other [-]
    first_diameter : sequence (S,)
        Mean diameter where the stretch begins [m]
    last_diameter : sequence (S,)
        Mean diameter where it ends [m]
    pitch : sequence (S,)
        Its pitch, spring free [m]

    Returns
    -------
    CoilProfile

    >>> stretches([4.0, 2.0], [0.030, 0.030], [0.030, 0.030], [0.004, 0.008]).turn.tolist()
    [0.0, 4.0, 4.0, 6.0]
    """
    ends = np.cumsum(np.asarray(coils, dtype=np.float64))
    starts = np.concatenate([[0.0], ends[:-1]])
    diameter = np.stack([first_diameter, last_diameter], axis=1).ravel()
    return CoilProfile(
        turn=np.stack([starts, ends], axis=1).ravel(),
        radius=np.asarray(diameter, dtype=np.float64) / 2.0,
        pitch=np.repeat(np.asarray(pitch, dtype=np.float64), 2),
    )


def cylinder(mean_diameter: float, coils: float, pitch: float) -> CoilProfile:
    """Coils of one diameter and one pitch.

    Parameters
    ----------
    mean_diameter : float
        Mean diameter D [m]
    coils : float
        Active coils N_a [-]
    pitch : float
        Pitch, spring free: see `uniform_pitch` [m]

    Returns
    -------
    CoilProfile

    >>> cylinder(0.030, 6.0, 0.008).radius.tolist()
    [0.015, 0.015]
    """
    return stretches([coils], [mean_diameter], [mean_diameter], [pitch])


def cone(first_diameter: float, last_diameter: float, coils: float, pitch: float) -> CoilProfile:
    """Coils whose mean diameter changes evenly along the wire.

    Parameters
    ----------
    first_diameter : float
        Mean diameter where the active coils begin [m]
    last_diameter : float
        Mean diameter where they end [m]
    coils : float
        Active coils N_a [-]
    pitch : float
        Pitch, spring free: see `uniform_pitch` [m]

    Returns
    -------
    CoilProfile

    >>> cone(0.030, 0.020, 5.0, 0.008).radius.tolist()
    [0.015, 0.01]
    """
    return stretches([coils], [first_diameter], [last_diameter], [pitch])


def beehive(
    mean_diameter: float, small_diameter: float, straight_coils: float, tapered_coils: float, pitch: float
) -> CoilProfile:
    """A cylinder that runs into a cone: the usual beehive.

    Parameters
    ----------
    mean_diameter : float
        Mean diameter of the cylinder [m]
    small_diameter : float
        Mean diameter where the cone ends, at the retainer [m]
    straight_coils : float
        Active coils of the cylinder [-]
    tapered_coils : float
        Active coils of the cone [-]
    pitch : float
        Pitch, spring free: see `uniform_pitch` [m]

    Returns
    -------
    CoilProfile

    >>> beehive(0.030, 0.020, 3.0, 2.0, 0.008).turn.tolist()
    [0.0, 3.0, 3.0, 5.0]
    """
    return stretches([straight_coils, tapered_coils], [mean_diameter] * 2, [mean_diameter, small_diameter], [pitch] * 2)


def coil_table(turn: FloatArray, mean_diameter: FloatArray, pitch: FloatArray) -> CoilProfile:
    """Coils of any shape, read off at points along the wire.

    Parameters
    ----------
    turn : array (M,)
        Turns from the first active end, from 0, never falling; twice the same for a step [-]
    mean_diameter : array (M,)
        Mean diameter there [m]
    pitch : array (M,)
        Pitch there, spring free [m]

    Returns
    -------
    CoilProfile

    >>> coil_table(np.array([0.0, 5.0]), np.array([0.030, 0.020]), np.array([0.006, 0.009])).radius.tolist()
    [0.015, 0.01]
    """
    return CoilProfile(turn=turn, radius=mean_diameter / 2.0, pitch=pitch)


def stretch_gaps(profile: CoilProfile, wire: Wire, *, telescoping: bool) -> FloatArray:
    """Gap per turn between the coils of a free spring, g = pitch - c.

    Parameters
    ----------
    profile : CoilProfile
        The active coils [-]
    wire : Wire
        Round or ovate wire [m]
    telescoping : bool
        Whether a coil may slip past the next: c = sqrt(d^2 - dR^2) instead of d [-]

    Returns
    -------
    array (M - 1, 2)
        Gap where each stretch between two points begins and ends [m]

    Notes
    -----
    dR is the slope of the radius along the wire. Within one turn of a bend in the profile the coils
    are really a little nearer or farther than that.

    >>> from headbench.calc.coils.wire import round_wire
    >>> stretch_gaps(cone(0.030, 0.020, 5.0, 0.008), round_wire(0.005), telescoping=False).round(9).tolist()
    [[0.003, 0.003]]
    """
    contact = contact_height(wire, _radial_step(profile)) if telescoping else wire.axial
    pitch = np.stack([profile.pitch[:-1], profile.pitch[1:]], axis=1)
    return np.asarray(pitch - np.broadcast_to(contact, len(pitch))[:, np.newaxis], dtype=np.float64)


def _radial_step(profile: CoilProfile) -> FloatArray:
    """Change of radius per turn in every stretch; 0 where a stretch has no length."""
    turns = np.diff(profile.turn)
    return np.asarray(np.diff(profile.radius) / np.where(turns > 0.0, turns, np.inf), dtype=np.float64)


CoilFault = tuple[
    Literal["no bore", "index", "no gap", "no travel", "too many active coils", "does not telescope", "falls"], int
]
"""What is wrong with the dimensions of a spring, and at which point or stretch; -1 for the spring as a whole."""

USUAL_INDEX: Final = (4.0, 12.0)
"""Mean diameter over wire diameter that coils well: Shigley's Mechanical Engineering Design, 9th ed. (2011),
Eq. 10-18."""


def find_coil_faults(profile: CoilProfile, wire: Wire, total_coils: float, *, telescoping: bool) -> list[CoilFault]:
    """Dimensions of a spring that cannot be true, or that hardly can.

    Parameters
    ----------
    profile : CoilProfile
        The active coils [-]
    wire : Wire
        Round or ovate wire [m]
    total_coils : float
        All coils counted on the spring; NaN not counted [-]
    telescoping : bool
        Whether the coils are said to slip past each other [-]

    Returns
    -------
    list of (fault, place)
        At a point: "falls": the turns run backward after it; "no bore": the mean diameter is no
        larger than the wire; "index": the spring index is outside USUAL_INDEX, which can be wound but
        is rare. On the stretch after a point: "no gap": coils touch or overlap in the free spring;
        "does not telescope": telescoping is said of a taper whose radial step per turn is less than the
        wire, so that coils rest on each other, only lower. For the whole (-1): "no travel": free height
        is not above coil-bind height; "too many active coils": more than the spring has; "does not
        telescope": no part of it tapers [-]

    Notes
    -----
    "index" and, on a taper, "does not telescope" are no contradictions: the loads still come out right.

    >>> from headbench.calc.coils.wire import round_wire
    >>> find_coil_faults(cylinder(0.030, 6.0, 0.003), round_wire(0.004), 8.0, telescoping=False)
    [('no gap', 0), ('no travel', -1)]
    """
    turns = np.diff(profile.turn)
    real = turns > 0.0
    index = 2.0 * profile.radius / wire.radial
    gaps = stretch_gaps(profile, wire, telescoping=telescoping)
    step = np.abs(_radial_step(profile))
    found: list[CoilFault] = [("falls", int(place)) for place in np.flatnonzero(turns < 0.0)]
    found += [("no bore", int(place)) for place in np.flatnonzero(index <= 1.0)]
    unusual = (index > 1.0) & ((index < USUAL_INDEX[0]) | (index > USUAL_INDEX[1]))
    found += [("index", int(place)) for place in np.flatnonzero(unusual)]
    found += [("no gap", int(place)) for place in np.flatnonzero(real & (gaps.min(axis=1) <= 0.0))]
    if telescoping:
        tapers = real & (step > 0.0)
        found += [("does not telescope", int(place)) for place in np.flatnonzero(tapers & (step < wire.radial))]
        found += [] if tapers.any() else [("does not telescope", -1)]
    if (turns[:, np.newaxis] * gaps).sum() <= 0.0:
        found.append(("no travel", -1))
    if profile.turn[-1] > total_coils * (1.0 + 1e-12):
        found.append(("too many active coils", -1))
    return found

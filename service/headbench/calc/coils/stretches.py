"""Stretches of wire that close as a spring is compressed: how much each deflects under a load, in closed form.

A piece of wire deflects F R^3/q per turn, q = G J/(2 pi), until its gap g is used up: it closes at the load
q g/R^3. Where radius and gap run straight that load changes one way only between its turning points, so
that the closed part of a stretch is always one piece at one end of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import Final

import numpy as np

from headbench.calc import FloatArray, IntArray

_FINEST: Final = 1e-14
"""Share of a stretch below which a step no longer matters."""

_ROUNDING: Final = 1e-12
"""Closing loads that differ by less than this share are the same, written another way."""

_MOST_STEPS: Final = 60
"""Steps after which an iteration ends; about six are usual."""


@dataclass(frozen=True, slots=True)
class Response:
    """What a spring does under P loads.

    deflection : array (P,), how much shorter than free it is [m]
    compliance : array (P,), what it yields per load, the inverse of the rate [m/N]
    bend : array (P,), how the compliance changes with the load, never positive [m/N2]
    """

    deflection: FloatArray
    compliance: FloatArray
    bend: FloatArray


@dataclass(frozen=True, slots=True)
class _Closing:
    """The N stretches that are closing under P loads: which load, which stretch, and how far each is closed.

    row, which : array (N,), place of the load and of the stretch [-]
    share : array (N,), share of the stretch that is closed [-]
    """

    row: IntArray
    which: IntArray
    share: FloatArray


@dataclass(frozen=True, slots=True)
class Stretches:
    """Stretches of wire, each turned so that it closes from its beginning to its end.

    turns : array (E,), length [-]
    begin, end : array (E,), turns from the first active end to its beginning and to its end [-]
    radius : array (E,), mean radius at the beginning [m]
    end_radius : array (E,), mean radius at the end [m]
    taper : array (E,), end less beginning [m]
    gap : array (E,), gap per turn at the beginning [m]
    opening : array (E,), gap at the end less gap at the beginning [m]
    closing : array (E, 2), load at which beginning and end close; one number where all closes at once [N]
    stiffness : float, q of the wire: see `spring_wire.coil_stiffness` [N m2]
    starts, open_compliance : array (E,), (E + 1,), loads at which stretches begin to close, rising, and what all
        yield together that the first 0, 1, ... of them leave [N], [m/N]
    ends, used_up : array (E,), (E + 1,), loads at which stretches are closed, rising, and the gaps that the first
        0, 1, ... of them have used up together [N], [m]
    """

    turns: FloatArray
    begin: FloatArray
    end: FloatArray
    radius: FloatArray
    end_radius: FloatArray
    taper: FloatArray
    gap: FloatArray
    opening: FloatArray
    closing: FloatArray
    stiffness: float
    starts: FloatArray
    open_compliance: FloatArray
    ends: FloatArray
    used_up: FloatArray

    def under(self, load: FloatArray) -> Response:
        """What the stretches do together under a load.

        Parameters
        ----------
        load : array (P,)
            Loads, none below 0 [N]

        Returns
        -------
        Response
            What closes at a load exactly counts as still open at it [-]

        Notes
        -----
        The open part of a straight taper deflects F/q times the integral of R^3 along it, which is its
        length times (R1^2 + R2^2)(R1 + R2)/4; the closed part has used up the integral of its gap. Stretches that
        are open or closed as a whole are summed up beforehand: only those that are closing are looked at.

        >>> straight = stretches_from(
        ...     np.array([4.0]), np.array([[0.015, 0.015]]), np.array([[0.002, 0.002]]), stiffness=0.1
        ... )
        >>> straight.under(np.array([10.0])).deflection.round(9).tolist()
        [0.00135]
        """
        compliance = self.open_compliance[np.searchsorted(self.starts, load)]
        compliance = np.where(np.isnan(load), np.nan, compliance)
        used_up, bend = self.used_up[np.searchsorted(self.ends, load)], np.zeros(len(load))
        part = self._closing(load)
        if len(part.row) > 0:
            turns, radius, end_radius, taper, gap, opening = (
                each[part.which]
                for each in (self.turns, self.radius, self.end_radius, self.taper, self.gap, self.opening)
            )
            share = part.share
            here = radius + taper * share
            yields = _compliance(turns * (1.0 - share), here, end_radius, self.stiffness)
            used = turns * share * (gap + 0.5 * share * opening)
            # how fast the closing load rises along the stretch decides how fast its open part shrinks
            rising = opening * here - 3.0 * taper * (gap + opening * share)
            closes = (share > 0.0) & (share < 1.0) & (rising > 0.0)
            shrinks = turns * here**7 / (self.stiffness**2 * np.where(closes, rising, 1.0))
            sums = partial(np.bincount, part.row, minlength=len(load))
            compliance = compliance + sums(yields)
            used_up = used_up + sums(used)
            bend = bend - sums(np.where(closes, shrinks, 0.0))
        return Response(deflection=used_up + load * compliance, compliance=compliance, bend=bend)

    def closed_share(self, load: FloatArray) -> FloatArray:
        """Share of each stretch that is closed under a load.

        Parameters
        ----------
        load : array (P,)
            Loads, none below 0 [N]

        Returns
        -------
        array (P, E)
            Share, from its beginning; what closes at a load exactly counts as still open at it [-]

        >>> straight = stretches_from(
        ...     np.array([4.0]), np.array([[0.015, 0.015]]), np.array([[0.002, 0.002]]), stiffness=0.1
        ... )
        >>> straight.closed_share(np.array([10.0, 60.0])).tolist()
        [[0.0], [1.0]]
        """
        column = load[:, np.newaxis]
        share = np.where(np.isnan(column + self.closing[:, 1]), np.nan, np.where(column > self.closing[:, 1], 1.0, 0.0))
        part = self._closing(load)
        share[part.row, part.which] = part.share
        return share

    def _closing(self, load: FloatArray) -> _Closing:
        start, end = self.closing.T
        column = load[:, np.newaxis]
        row, which = np.nonzero((column > start) & (column <= end))
        return _Closing(row, which, self._meeting(load[row], which) if len(row) > 0 else np.zeros(0))

    def _meeting(self, load: FloatArray, which: IntArray) -> FloatArray:
        """Where F R^3/q meets the gap: convex, so Newton's steps from the closed end never pass it."""
        flexibility = load / self.stiffness
        radius, taper, gap, opening = (each[which] for each in (self.radius, self.taper, self.gap, self.opening))
        even = opening == 0.0
        # an even gap has a closed form
        share = np.where(even, (np.cbrt(gap / flexibility) - radius) / np.where(even, taper, 1.0), 0.0)
        left = np.flatnonzero(~even)
        for _ in range(_MOST_STEPS):
            if len(left) == 0:
                break
            at, per_share = share[left], taper[left]
            here = radius[left] + per_share * at
            bent = flexibility[left] * here**2
            beyond = bent * here - gap[left] - opening[left] * at
            slope = 3.0 * bent * per_share - opening[left]
            forward = (slope < 0.0) & (beyond > 0.0)
            step = np.where(forward, -beyond / np.where(forward, slope, -1.0), 0.0)
            share[left] = at + step
            left = left[(step > _FINEST) & (share[left] < 1.0)]
        # at the load that closes its end a stretch is closed, and nothing of it is left by rounding
        return np.where(load < self.closing[which, 1], np.clip(share, 0.0, 1.0), 1.0)


def _compliance(turns: FloatArray, radius: FloatArray, end_radius: FloatArray, stiffness: float) -> FloatArray:
    """What an open stretch yields per load: the integral of R^3/q along it."""
    return turns * (radius**2 + end_radius**2) * (radius + end_radius) / (4.0 * stiffness)


def _together(closing: FloatArray) -> FloatArray:
    """Closing loads that differ by rounding only, made one: what closes at once must not close bit by bit."""
    levels = np.unique(closing)
    apart = ~(np.diff(levels, prepend=np.nan) <= _ROUNDING * levels)
    return np.asarray(levels[apart][np.cumsum(apart) - 1][np.searchsorted(levels, closing)], dtype=np.float64)


def stretches_from(turns: FloatArray, radius: FloatArray, gap: FloatArray, stiffness: float) -> Stretches:
    """Stretches ready to close: cut where their closing load turns round, those without a gap left out.

    Parameters
    ----------
    turns : array (M,)
        Length of each stretch; 0 drops it [-]
    radius : array (M, 2)
        Mean radius where it begins and ends, changing evenly between [m]
    gap : array (M, 2)
        Gap per turn where it begins and ends, changing evenly between, none below 0 [m]
    stiffness : float
        q of the wire: see `spring_wire.coil_stiffness` [N m2]

    Returns
    -------
    Stretches

    Notes
    -----
    With the share s of a stretch, g = g0 + b s and R = R0 + a s, the closing load q g/R^3 has one
    turning point at s = (b R0 - 3 a g0)/(2 a b).

    >>> cut = stretches_from(np.array([4.0]), np.array([[0.015, 0.010]]), np.array([[0.0045, 0.0005]]), stiffness=0.1)
    >>> cut.turns.round(9).tolist()
    [0.75, 3.25]
    """
    taper, opening = np.diff(radius)[:, 0], np.diff(gap)[:, 0]
    last = np.cumsum(turns)
    place = np.stack([last - turns, last], axis=1)
    both = 2.0 * taper * opening
    turning = (opening * radius[:, 0] - 3.0 * taper * gap[:, 0]) / np.where(both != 0.0, both, np.inf)
    split = (turning > 0.0) & (turning < 1.0)
    share = turning[split]
    middle_radius, middle_gap = radius[split, 0] + share * taper[split], gap[split, 0] + share * opening[split]
    first_turns = np.where(split, turns * turning, turns)
    middle_place = place[split, 0] + first_turns[split]
    first_place = place.copy()
    first_place[split, 1] = middle_place
    place = np.concatenate([first_place, np.stack([middle_place, place[split, 1]], axis=1)])
    first_radius, first_gap = radius.copy(), gap.copy()
    first_radius[split, 1], first_gap[split, 1] = middle_radius, middle_gap
    turns = np.concatenate([first_turns, (turns - first_turns)[split]])
    radius = np.concatenate([first_radius, np.stack([middle_radius, radius[split, 1]], axis=1)])
    gap = np.concatenate([first_gap, np.stack([middle_gap, gap[split, 1]], axis=1)])
    closing = _together(stiffness * gap / radius**3)
    has_gap = (turns != 0.0) & (closing.max(axis=1) != 0.0)
    falls = closing[:, 0] > closing[:, 1]
    for ends in (radius, gap, closing, place):
        ends[falls] = ends[falls][:, ::-1]
    turns, radius, gap, closing, place = (each[has_gap] for each in (turns, radius, gap, closing, place))
    by_start, by_end = np.argsort(closing[:, 0]), np.argsort(closing[:, 1])
    yields = _compliance(turns, radius[:, 0], radius[:, 1], stiffness)[by_start]
    gaps = (turns * gap.mean(axis=1))[by_end]
    return Stretches(
        turns=turns,
        begin=place[:, 0],
        end=place[:, 1],
        radius=radius[:, 0],
        end_radius=radius[:, 1],
        taper=np.diff(radius)[:, 0],
        gap=gap[:, 0],
        opening=np.diff(gap)[:, 0],
        closing=closing,
        stiffness=stiffness,
        starts=closing[by_start, 0],
        open_compliance=np.concatenate([np.cumsum(yields[::-1])[::-1], [0.0]]),
        ends=closing[by_end, 1],
        used_up=np.concatenate([[0.0], np.cumsum(gaps)]),
    )

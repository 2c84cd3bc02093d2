"""A V engine's intake in cross-section as rigid bodies: points that are turned and moved, and gaps that are measured.

Own derivation, kept apart from the kernels: no formula of theirs, two-by-two matrices instead of their complex
numbers, rays instead of their projections, a linear program instead of their closed form for what comes to rest.
Lengths in one unit, whichever.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import cos, radians, sin

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog

Points = NDArray[np.float64]
MIRROR = np.array([-1.0, 1.0])


def turned(points: Points, degrees: float) -> Points:
    """Points turned anticlockwise about the origin."""
    angle = radians(degrees)
    turn = np.array([[cos(angle), -sin(angle)], [sin(angle), cos(angle)]])
    return np.asarray(points @ turn.T, dtype=np.float64)


@dataclass(frozen=True)
class Head:
    """What has happened to one head; degrees for the angle cut, positive with more off toward the valley."""

    cut: float = 0.0
    decked: float = 0.0
    wedge: float = 0.0


@dataclass(frozen=True)
class V:
    """A V as made, its heads as they have become, and the manifold where it is put."""

    bank_angle: float
    face_tilt: float
    left: Head = Head()
    right: Head = Head()
    spacing: float = 9.5
    width: float = 2.6
    height: float = 1.9
    gasket: float = 0.0
    sideways: float = 0.0
    drop: float = 0.0
    cock: float = 0.0

    def _face(self, head: Head) -> Points:
        """Top, middle and bottom of the right bank's face, after head and block were cut."""
        # drawn with the deck as x axis, the valley to the left, the bore upward
        up = turned(np.array([[0.0, 1.0]]), -self.face_tilt)[0]
        drawn = np.array([0.0, self.height]) + np.outer([0.5, 0.0, -0.5], self.width * up)
        # the new deck goes through (0, cut) and rises to the left, toward the valley: an anticlockwise turn by as
        # much lays it flat again
        laid = turned(drawn - np.array([0.0, head.cut]), head.wedge)
        # set down on the block's deck, which has come down its bore
        laid = laid - np.array([0.0, head.decked])
        leaning = turned(laid, -self.bank_angle / 2.0)
        foot = turned(np.array([[0.0, self.height]]), -self.bank_angle / 2.0)[0]
        return np.asarray(leaning - foot + np.array([self.spacing / 2.0, 0.0]), dtype=np.float64)

    def heads(self) -> tuple[Points, Points]:
        """Both heads' faces, left first."""
        return self._face(self.left) * MIRROR, self._face(self.right)

    def manifold(self) -> tuple[Points, Points]:
        """The manifold's faces where it is put: as made they lie a gasket's thickness off the heads'."""
        as_made = self._face(Head())
        up = (as_made[0] - as_made[2]) / self.width
        right = as_made + self.gasket * turned(up[np.newaxis], 90.0)[0]
        place = np.array([self.sideways, -self.drop])
        return turned(right * MIRROR, self.cock) + place, turned(right, self.cock) + place

    def gaps(self) -> Points:
        """What a feeler gauge finds at both edges of the heads' faces, square to the manifold's, less gasket."""
        found = []
        for head, manifold, out in zip(self.heads(), self.manifold(), (90.0, -90.0), strict=True):
            run = (manifold[0] - manifold[2]) / self.width
            toward = turned(run[np.newaxis], out)[0]
            row = []
            for point in (head[0], head[2]):
                # manifold bottom + k run + g toward = point
                gap, _ = np.linalg.solve(np.column_stack([toward, run]), point - manifold[2])
                row.append(gap - self.gasket)
            found.append(row)
        return np.array(found)

    def holes(self) -> Points:
        """How far each head's hole is below the manifold's, along the manifold's face."""
        found = []
        for head, manifold in zip(self.heads(), self.manifold(), strict=True):
            up = (manifold[0] - manifold[2]) / self.width
            found.append(float((manifold[1] - head[1]) @ up))
        return np.array(found)

    def at_rest(self, rail_room: float, *, gasket_in: bool = True) -> V:
        """The same V, its manifold kept level, as low as faces and rails let it and put where both open alike."""
        least = 0.0 if gasket_in else -self.gasket

        def gaps(sideways: float, drop: float) -> Points:
            return replace(self, sideways=sideways, drop=drop, cock=0.0).gaps().ravel()

        # gaps change in proportion to both movements of a level manifold
        start = gaps(0.0, 0.0)
        by = np.column_stack([gaps(1.0, 0.0) - start, gaps(0.0, 1.0) - start])
        lowest = linprog([0.0, -1.0], A_ub=-by, b_ub=start - least, bounds=[(None, None), (None, rail_room)])
        assert lowest.x is not None
        drop = float(lowest.x[1])
        # unknowns sideways and least gap: make the least gap as large as can be
        at = start + by[:, 1] * drop
        evened = linprog(
            [0.0, -1.0], A_ub=np.column_stack([-by[:, 0], np.ones(4)]), b_ub=at, bounds=[(None, None), (None, None)]
        )
        assert evened.x is not None
        return replace(self, sideways=float(evened.x[0]), drop=drop)

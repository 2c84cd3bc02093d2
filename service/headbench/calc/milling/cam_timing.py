"""Cam timing: how an overhead cam runs late once its head has dropped toward the crank."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from headbench.calc import FloatArray


@dataclass(frozen=True, slots=True)
class CamShift:
    """What a dropped head does to the drive of its overhead cam.

    sprocket_retard : array (D,), how much later the cam runs to its head, in cam angle; negative for earlier [rad]
    cam_retard : array (D,), the same in crank angle, as a degree wheel shows it: twice as much [rad]
    chain_slack : array (D,), chain or belt that the tensioner has to take up [m]
    """

    sprocket_retard: FloatArray
    cam_retard: FloatArray
    chain_slack: FloatArray


def cam_shift(
    head_drop: FloatArray,
    pitch_radius: FloatArray | float,
    chain_angle: FloatArray | float,
    tilt: FloatArray | float = 0.0,
    cam_height: FloatArray | float = np.nan,
    turns_toward: FloatArray | float = np.nan,
) -> CamShift:
    """Retard and slack of an overhead cam's drive, (n cos c - h sin t sin c)/R + s t of cam angle.

    Parameters
    ----------
    head_drop : array (D,)
        How far the head drops below the cam n [m]
    pitch_radius : array (D,) or float
        Pitch radius of the cam's sprocket R [m]
    chain_angle : array (D,) or float
        Pulling run from the bore axis c; positive where it leans toward the intake side on its way up [rad]
    tilt : array (D,) or float
        Lean of the head after an angle cut t, positive toward the intake side; 0 for a flat cut [rad]
    cam_height : array (D,) or float
        Cam axis above the head's deck h; it matters for a leaning run over a leaning head only [m]
    turns_toward : array (D,) or float
        1 where the top of the cam's sprocket turns toward the intake side, -1 away from it s; it matters
        for a leaning head only [-]

    Returns
    -------
    CamShift

    Notes
    -----
    The pulling run gets shorter by n cos c, and longer by what the leaning head carries the cam
    sideways; the tensioner sits in the other run, so the cam comes later. The chain holds the cam
    while the head leans by t under it: the followers run ahead of the cam, or fall behind, by as
    much. First order in n and t, for one drive straight from crank to cam, both runs leaning alike;
    the cam turns at half the crank's speed. Own derivation.

    >>> shift = cam_shift(np.array([1.0e-3]), 0.050, 0.0)
    >>> shift.sprocket_retard.round(9).tolist(), shift.cam_retard.round(9).tolist(), shift.chain_slack.round(9).tolist()
    ([0.02], [0.04], [0.002])
    """
    leans = np.asarray(tilt) != 0.0
    # what a head that does not lean, or a run along the bore, would be multiplied by may well be unknown
    sideways = np.where(leans & (np.asarray(chain_angle) != 0.0), cam_height * np.sin(tilt) * np.sin(chain_angle), 0.0)
    shorter = head_drop * np.cos(chain_angle) - sideways
    ahead = np.where(leans, turns_toward * np.asarray(tilt), 0.0)
    # a run that kept its length turns no sprocket, whatever its size
    turned = np.where(shorter == 0.0, 0.0, shorter / pitch_radius)
    retard = np.asarray(turned + ahead, dtype=np.float64)
    return CamShift(
        sprocket_retard=retard,
        cam_retard=2.0 * retard,
        chain_slack=np.asarray(2.0 * shorter, dtype=np.float64),
    )

"""Cam timing: what an overhead cam loses once the head has come nearer to the crank."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from headbench.calc import FloatArray


@dataclass(frozen=True, slots=True)
class CamShift:
    """What an approach does to the drive of an overhead cam.

    cam_retard : array (D,), how much later the cam runs, in cam angle; negative for earlier [rad]
    crank_retard : array (D,), the same in crank angle [rad]
    chain_slack : array (D,), chain or belt that the tensioner has to take up [m]
    """

    cam_retard: FloatArray
    crank_retard: FloatArray
    chain_slack: FloatArray


def cam_shift(approach: FloatArray, pitch_radius: FloatArray | float, chain_angle: FloatArray | float) -> CamShift:
    """Retard and slack of an overhead cam's drive, n cos c/R of cam angle and 2 n cos c of chain.

    Parameters
    ----------
    approach : array (D,)
        Net approach of the head n [m]
    pitch_radius : array (D,) or float
        Pitch radius of the cam's sprocket R [m]
    chain_angle : array (D,) or float
        Between the pulling run of the chain and the bore axis c; 0 along the bore [rad]

    Returns
    -------
    CamShift

    Notes
    -----
    The pulling run gets shorter by n cos c and the tensioner sits in the other one, so the cam comes
    later. First order in n, for one drive straight from crank to cam, both runs leaning alike; the
    cam turns at half the crank's speed. Common practice, no source.

    >>> shift = cam_shift(np.array([1.0e-3]), 0.050, 0.0)
    >>> shift.cam_retard.round(9).tolist(), shift.crank_retard.round(9).tolist(), shift.chain_slack.round(9).tolist()
    ([0.02], [0.04], [0.002])
    """
    shorter = approach * np.cos(chain_angle)
    retard = np.asarray(shorter / pitch_radius, dtype=np.float64)
    return CamShift(
        cam_retard=retard,
        crank_retard=2.0 * retard,
        chain_slack=np.asarray(2.0 * shorter, dtype=np.float64),
    )

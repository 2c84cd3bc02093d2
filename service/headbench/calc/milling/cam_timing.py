"""Cam timing: how an overhead cam runs late once its head has dropped toward the crank."""

from __future__ import annotations

import math
from dataclasses import dataclass

from headbench.calc.movement.movement import Movement


@dataclass(frozen=True, slots=True)
class CamShift:
    """What a dropped head does to the drive of its overhead cam.

    sprocket_retard : float, how much later the cam runs to its head, in cam angle; negative for earlier [rad]
    cam_retard : float, the same in crank angle, as a degree wheel shows it: twice as much [rad]
    chain_slack : float, chain or belt that the tensioner has to take up [m]
    """

    sprocket_retard: float
    cam_retard: float
    chain_slack: float


def cam_shift(
    head_drop: float,
    pitch_radius: float,
    chain_angle: float,
    tilt: float = 0.0,
    cam_height: float = math.nan,
    turns_toward: float = math.nan,
) -> CamShift:
    """Retard and slack of an overhead cam's drive, (n cos c - h sin t sin c)/R + s t of cam angle.

    Parameters
    ----------
    head_drop : float
        How far the head drops below the cam n [m]
    pitch_radius : float
        Pitch radius of the cam's sprocket R [m]
    chain_angle : float
        Pulling run from the bore axis c; positive where it leans toward the intake side on its way up [rad]
    tilt : float
        Lean of the head after an angle cut t, positive toward the intake side; 0 for a flat cut [rad]
    cam_height : float
        Cam axis above the head's deck h; it matters for a leaning run over a leaning head only [m]
    turns_toward : float
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

    >>> shift = cam_shift(1.0e-3, 0.050, 0.0)
    >>> round(shift.sprocket_retard, 9), round(shift.cam_retard, 9), round(shift.chain_slack, 9)
    (0.02, 0.04, 0.002)
    """
    leans = tilt != 0.0
    # what a head that does not lean, or a run along the bore, would be multiplied by may well be unknown
    sideways = cam_height * math.sin(tilt) * math.sin(chain_angle) if leans and chain_angle != 0.0 else 0.0
    shorter = head_drop * math.cos(chain_angle) - sideways
    ahead = turns_toward * tilt if leans else 0.0
    # a run that kept its length turns no sprocket, whatever its size
    retard = (0.0 if shorter == 0.0 else shorter / pitch_radius) + ahead
    return CamShift(sprocket_retard=retard, cam_retard=2.0 * retard, chain_slack=2.0 * shorter)


@dataclass(frozen=True, slots=True)
class CamDrive:
    """Chain or belt straight from crank to an overhead cam, NaN where it was not measured.

    pitch_radius : float, of the cam's sprocket [m]
    chain_angle : float, pulling run from the bore axis, positive toward the intake side on its way up [rad]
    distance_across : float, where the cam stands over the deck; an angle cut asks for it [m]
    cam_height : float, cam axis above the head's deck; an angle cut under a leaning run asks for it [m]
    turns_toward : float, 1 where the top of the sprocket turns toward the intake side, -1 away from it [-]
    retimed : bool, whether the cam will be degreed again after the work [-]
    """

    pitch_radius: float = math.nan
    chain_angle: float = 0.0
    distance_across: float = math.nan
    cam_height: float = math.nan
    turns_toward: float = math.nan
    retimed: bool = False


@dataclass(frozen=True, slots=True)
class CamAfter:
    """The drive of an overhead cam after the work.

    head_drop : float, how far the head drops toward the crank at the cam [m]
    shift : CamShift, what that does to the drive [-]
    timing_moved : bool, whether the cam will run at another timing, as far as is known: what is not known is no
        promise that it stays [-]
    """

    head_drop: float
    shift: CamShift
    timing_moved: bool


def cam_after(drive: CamDrive, movement: Movement) -> CamAfter:
    """What a movement of the head does to the drive of its overhead cam, `cam_shift` at the cam's place.

    Parameters
    ----------
    drive : CamDrive
        The drive as it was measured [-]
    movement : Movement
        What lets the head drop [-]

    Returns
    -------
    CamAfter

    >>> after = cam_after(CamDrive(pitch_radius=0.050), Movement(depth=1.0e-3))
    >>> round(after.shift.cam_retard, 9), after.timing_moved
    (0.04, True)
    """
    drop = movement.drop_at(drive.distance_across)
    shift = cam_shift(drop, drive.pitch_radius, drive.chain_angle, movement.tilt, drive.cam_height, drive.turns_toward)
    return CamAfter(drop, shift, timing_moved=not drive.retimed and shift.cam_retard != 0.0)

"""Cam drive: what a moved head does to the timing of its overhead cam, and to the chain."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated

import numpy as np
from msgspec import Meta

from headbench.api.findings import Note, OpenItem, note
from headbench.api.milled import ACROSS, Movement, open_places
from headbench.api.quantities import (
    Angle,
    AngleOut,
    Answer,
    Columns,
    Length,
    LengthOut,
    Model,
    PositiveLength,
    say,
    shows,
)
from headbench.calc.cam_timing import CamShift, cam_shift
from headbench.units import Scales


class CamDrive(Model, kw_only=True, frozen=True):
    """Chain or belt from crank to overhead cam, the tensioner in the slack run."""

    pitch_radius: Annotated[
        PositiveLength | None, Meta(description="Pitch radius of the cam's sprocket; null: not measured.")
    ] = None
    chain_angle: Annotated[
        Angle, Meta(description="Between the pulling run and the bore axis; 0 for a chain along the bore.")
    ] = 0.0
    set_back: Annotated[
        bool,
        Meta(description="True: an adjustable sprocket sets the cam back, so that the valves keep their timing."),
    ] = False
    distance_across: Annotated[Length | None, Meta(description=f"Where the cam stands over the deck. {ACROSS}")] = None


class CamDriveAnswer(Answer, kw_only=True, frozen=True):
    """What happens to the cam's timing."""

    net_approach: Annotated[LengthOut | None, Meta(description="How much nearer the cam comes to the crank.")]
    cam_retard: Annotated[AngleOut | None, Meta(description="How much later the cam runs, in cam degrees.")]
    crank_retard: Annotated[AngleOut | None, Meta(description="The same in crank degrees: twice as much.")]
    chain_slack: Annotated[LengthOut | None, Meta(description="What the tensioner has to take up.")]


_DRIVE = Columns(CamDrive)
_ANSWER = Columns(CamDriveAnswer)


def cam_drive_answer(drive: CamDrive, movement: Movement, scales: Scales) -> CamDriveAnswer:
    """What the movement does to the drive."""
    columns = _DRIVE.to_si([drive], scales)
    approach = movement.approach_at(columns["distance_across"])
    shift = _shift(drive, movement, scales)
    numbers = {
        "net_approach": approach,
        "cam_retard": shift.cam_retard,
        "crank_retard": shift.crank_retard,
        "chain_slack": shift.chain_slack,
    }
    return CamDriveAnswer(**_ANSWER.from_si(numbers, scales)[0])


def timing_moves(drive: CamDrive, movement: Movement, scales: Scales) -> bool:
    """Whether the cam will run at another timing, as far as is known: what is not known is no promise that it stays."""
    return not drive.set_back and not bool(_shift(drive, movement, scales).crank_retard[0] == 0.0)


def _shift(drive: CamDrive, movement: Movement, scales: Scales) -> CamShift:
    columns = _DRIVE.to_si([drive], scales)
    approach = movement.approach_at(columns["distance_across"])
    # a head that has not moved turns no cam, whatever its sprocket
    radius = np.where(approach == 0.0, 1.0, columns["pitch_radius"])
    return cam_shift(approach, radius, columns["chain_angle"])


def open_cam_drive(drive: CamDrive, movement: Movement, scales: Scales) -> Iterator[OpenItem]:
    """What is still to be measured of the drive."""
    held = ["cam_retard", "crank_retard"]
    places = [("/cam_drive", "The cam", None, drive.distance_across)]
    yield from open_places(movement, places, ["net_approach", *held, "chain_slack"])
    if drive.pitch_radius is None and bool(np.isnan(_shift(drive, movement, scales).crank_retard[0])):
        detail = "Measure the pitch radius of the cam's sprocket."
        yield OpenItem(pointer="/cam_drive/pitch_radius", position=None, spring=None, needed_for=held, detail=detail)


def cam_drive_notes(drive: CamDrive, movement: Movement, scales: Scales) -> Iterator[Note]:
    """That the timing has moved, and by how much."""
    retard = float(_shift(drive, movement, scales).crank_retard[0])
    if not shows(abs(retard), "angle", scales):
        return
    detail = (
        f"The cam runs {say(abs(retard), 'angle', scales)} of crank {'later' if retard > 0.0 else 'earlier'}: set it "
        "back by an adjustable sprocket, and read piston to valve again."
    )
    yield note("cam_timing_moved", "/cam_drive", detail)

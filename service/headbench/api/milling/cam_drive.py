"""Cam drive: what a dropped head does to the timing of its overhead cam, and to the chain."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Annotated, Final, Literal

from msgspec import Meta

from headbench.api.movement.moved import open_places
from headbench.api.vocabulary.findings import Note, OpenItem, note
from headbench.api.vocabulary.places import ACROSS
from headbench.api.vocabulary.quantities import (
    AngleOut,
    Answer,
    Length,
    LengthOut,
    Model,
    PositiveLength,
    SignedAngle,
    number_of,
)
from headbench.api.vocabulary.saying import in_places, shows
from headbench.calc.milling import cam_timing as calc
from headbench.calc.milling.cam_timing import CamAfter
from headbench.calc.movement.movement import Movement


class CamDrive(Model, kw_only=True, frozen=True):
    """Chain or belt straight from crank to overhead cam, the tensioner in the slack run."""

    pitch_radius: Annotated[
        PositiveLength | None,
        Meta(description="Pitch radius of the cam sprocket; null = not measured.", examples=[2.1]),
    ] = None
    chain_angle: Annotated[
        SignedAngle,
        Meta(
            description="Pulling run of the chain, degrees off the bore axis; positive where it leans toward the "
            "intake side on its way up, 0 along the bore.",
            examples=[10],
        ),
    ] = 0.0
    retimed: Annotated[
        bool,
        Meta(
            description="True if the cam will be degreed again after the work, so that the valves keep their timing.",
            examples=[False],
        ),
    ] = False
    distance_across: Annotated[
        Length | None, Meta(description=f"Where the cam stands over the deck. {ACROSS}", examples=[3.0])
    ] = None
    cam_height: Annotated[
        PositiveLength | None,
        Meta(
            description="Cam axis above the head's deck; an angle cut under a leaning chain needs it. Null = not "
            "measured.",
            examples=[5.1],
        ),
    ] = None
    turns_toward: Annotated[
        Literal["intake", "exhaust"] | None,
        Meta(
            description="Side that the top of the cam sprocket turns toward; an angle cut needs it. Null = not given.",
            examples=["intake"],
        ),
    ] = None


class CamDriveAnswer(Answer, kw_only=True, frozen=True):
    """What happens to the cam's timing."""

    head_drop: Annotated[
        LengthOut | None, Meta(description="How far the head drops toward the crank there; null = not measured.")
    ]
    cam_retard: Annotated[
        AngleOut | None,
        Meta(
            description="How much later the cam runs after the work, crank degrees as a degree wheel shows them; "
            "negative: earlier. Null = not measured."
        ),
    ]
    advance_needed: Annotated[
        AngleOut | None,
        Meta(
            description="How far to advance the cam to put its timing back, crank degrees; negative: retard it. Null = "
            "not measured."
        ),
    ]
    sprocket_turn: Annotated[
        AngleOut | None,
        Meta(
            description="The same at the cam sprocket, cam degrees: half as much; positive in the cam's direction of "
            "rotation. Null = not measured."
        ),
    ]
    chain_slack: Annotated[
        LengthOut | None,
        Meta(description="What the tensioner has to take up; negative: it has less room. Null = not measured."),
    ]


_SIGN: Final = {"intake": 1.0, "exhaust": -1.0, None: math.nan}


def cam_drive_of(drive: CamDrive) -> calc.CamDrive:
    """The drive as it was measured."""
    return calc.CamDrive(
        pitch_radius=number_of(drive.pitch_radius),
        chain_angle=drive.chain_angle,
        distance_across=number_of(drive.distance_across),
        cam_height=number_of(drive.cam_height),
        turns_toward=_SIGN[drive.turns_toward],
        retimed=drive.retimed,
    )


def cam_drive_answer(cam: CamAfter) -> CamDriveAnswer:
    """What the movement does to the drive, as it is answered."""
    return CamDriveAnswer(
        head_drop=cam.head_drop,
        cam_retard=cam.shift.cam_retard,
        advance_needed=cam.shift.cam_retard,
        sprocket_turn=cam.shift.sprocket_retard,
        chain_slack=cam.shift.chain_slack,
    )


def open_cam_drive(drive: CamDrive, cam: CamAfter, movement: Movement) -> Iterator[OpenItem]:
    """What is still to be measured of the drive."""

    def item(field: str, needed_for: list[str], detail: str) -> OpenItem:
        return OpenItem(pointer=f"/cam_drive/{field}", position=None, spring=None, needed_for=needed_for, detail=detail)

    timing = ["cam_retard", "advance_needed", "sprocket_turn"]
    places = [("/cam_drive", "The cam", None, drive.distance_across)]
    yield from open_places(movement, places, ["head_drop", *timing, "chain_slack"])
    # a run that keeps its length asks for no sprocket
    if drive.pitch_radius is None and cam.shift.chain_slack != 0.0:
        yield item("pitch_radius", timing, "Measure the pitch radius of the cam sprocket.")
    if movement.flat:
        return
    if drive.cam_height is None and drive.chain_angle != 0.0:
        yield item("cam_height", [*timing, "chain_slack"], "Measure the cam axis above the head's deck.")
    if drive.turns_toward is None:
        detail = "Enter which side the top of the cam sprocket turns toward: intake or exhaust."
        yield item("turns_toward", timing, detail)


def cam_drive_notes(cam: CamAfter, movement: Movement) -> Iterator[Note]:
    """That the timing has moved, by how much, and which way to turn the cam."""
    retard = cam.shift.cam_retard
    if not shows(abs(retard), "angle"):
        return
    by = f"{in_places(math.degrees(abs(retard)), 'deg')} crank deg"
    moves, back = ("retard", "advance") if retard > 0.0 else ("advance", "retard")
    detail = f"{_cause(movement, moves)} the cam {by}; {back} it {by}, then check piston to valve again."
    yield note("cam_timing_moved", "/cam_drive", detail)


def _cause(movement: Movement, moves: str) -> str:
    """Who does what to the cam."""
    milled = not movement.nothing_cut or movement.block_decked > 0.0
    if movement.gasket_thickness_change == 0.0:
        return f"Milling {moves}s"
    return f"Milling and the new gasket {moves}" if milled else f"The new gasket {moves}s"

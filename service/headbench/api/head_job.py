"""The job of a head: everything read at its valves and springs, as far as it was taken."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Final

from msgspec import Meta

from headbench.api.coil_bind import SpringName
from headbench.api.float_lines import IntendedSpeed
from headbench.api.installed_height import HeightReadings
from headbench.api.lobes import Lobes
from headbench.api.moving_mass import Masses, Weighed
from headbench.api.positions import MOST_POSITIONS
from headbench.api.quantities import Model, Name, Units
from headbench.api.retainer_clearance import RetainerToRocker, RetainerToSeal, SealToSpring
from headbench.api.scale import ScaleUsed
from headbench.api.shims import Shims
from headbench.api.springs import SpringList, SpringTable
from headbench.api.targets import Limits, Targets
from headbench.api.tester import Tester
from headbench.api.valvetrain import ValveKind, WholeValvetrain
from headbench.calc import FloatArray, IntArray


class Job(Model, kw_only=True, frozen=True):
    """What the sheet is about."""

    reference: Annotated[Name | None, Meta(description="The shop's name for the job.")] = None
    head: Annotated[Name | None, Meta(description="Which head, if it is one.")] = None


class Position(HeightReadings, kw_only=True, frozen=True):
    """Everything read at one valve so far."""

    retainer_to_seal: RetainerToSeal = None
    retainer_to_rocker: RetainerToRocker = None
    seal_to_spring: SealToSpring = None
    bank: Annotated[Name | None, Meta(description="Its bank, where a pair of heads is one job.")] = None
    spring: SpringName = None
    masses: Masses = Masses()


class HeadAssemblyRequest(Model, kw_only=True, frozen=True):
    """All readings of one head, or of a pair, as far as they were taken."""

    units: Units = Units()
    job: Job = Job()
    limits: Limits = Limits()
    shims: Annotated[Shims | None, Meta(description="The shims at hand; null: the usual sizes, noted.")] = None
    valvetrain: WholeValvetrain = WholeValvetrain()
    targets: Targets = Targets()
    intended_speed: IntendedSpeed = None
    tester: Annotated[Tester | None, Meta(description="Null: the readings are taken as they are.")] = None
    scale: ScaleUsed = None
    springs: SpringList = []
    positions: Annotated[
        list[Position], Meta(min_length=1, max_length=MOST_POSITIONS, description="Every valve, in the order of work.")
    ]


@dataclass(frozen=True, slots=True)
class HeadInSI:
    """What the request comes to in SI, beside what the kernel takes."""

    valves: Sequence[ValveKind]
    lifts: Mapping[ValveKind, float]
    lobes: Lobes
    springs: SpringTable
    rows: IntArray
    weighed: Weighed
    lengths: dict[str, FloatArray]


EXAMPLE: Final[dict[str, Any]] = {
    "units": {"length": "in", "force": "lbf", "mass": "g"},
    "job": {"reference": "KW-0317", "head": "port side"},
    "limits": {
        "installed_height_tolerance": 0.005,
        "coil_bind_clearance_minimum": 0.060,
        "retainer_to_seal_clearance_minimum": 0.050,
        "seat_load_tolerance": 5,
    },
    "shims": {"thicknesses": [0.015, 0.030, 0.060]},
    "valvetrain": {
        "intake": {"lobe_lift": 0.325, "rocker_ratio": 1.5, "lash": 0.0},
        "exhaust": {"valve_lift": 0.490},
    },
    "targets": {
        "intake": {"installed_height": 1.750, "seat_load": 118, "open_load": 262},
        "exhaust": {"installed_height": 1.750},
    },
    "springs": [
        {
            "id": "S1",
            "load_curve": {"kind": "bench", "readings": [{"height": 1.75, "load": 117}, {"height": 1.25, "load": 264}]},
            "coil_bind_height": 1.12,
        }
    ],
    "positions": [
        {
            "id": "1I",
            "valve": "intake",
            "measured_height": 1.871,
            "deduction": 0.090,
            "spring": "S1",
            "retainer_to_seal": 0.602,
            "masses": {"valve": 104.5, "retainer": 19.8, "locks": 5.1},
        }
    ],
}

"""Drives: which parts move between a lobe and its valve, by how the valve is driven."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Final

from headbench.api.train.valvetrain import BUCKET_RATIO, Drive, TrainParts, ValvetrainParts, WholeValvetrain, lift_of
from headbench.api.vocabulary.findings import OpenItem
from headbench.api.vocabulary.names import KINDS, ValveKind
from headbench.errors import Pointed

if TYPE_CHECKING:
    from headbench.api.masses.moving_mass import Masses

OVER_LOBE: Final = {"rocker": "rocker", "pushrod": "pushrod_mass", "lifter": "lifter_mass"}
"""The parts between the lobe and the valve, and where the valve train has them."""

NOT_THERE: Final[Mapping[Drive | None, frozenset[str]]] = {
    "bucket": frozenset({"rocker", "pushrod"}),
    "finger": frozenset({"pushrod", "lifter"}),
    "rocker_and_pushrod": frozenset(),
    # as long as nobody says how a valve is driven, any of them may move
    None: frozenset(),
}
"""Parts that a drive does not have, or that stand still in it."""

_CALLED: Final[Mapping[tuple[Drive | None, str], str]] = {
    ("bucket", "lifter"): "bucket",
    ("finger", "rocker"): "finger",
}
"""What a part is called in a drive, where that is not its own name."""

_WHY_NOT: Final[Mapping[tuple[Drive | None, str], str]] = {
    ("bucket", "rocker"): "a bucket drive has no rocker",
    ("bucket", "pushrod"): "a bucket drive has no pushrod",
    ("finger", "pushrod"): "a finger drive has no pushrod",
    ("finger", "lifter"): "what a finger pivots on stands still and is no moving mass",
}


def drive_faults(
    valvetrain: ValvetrainParts | WholeValvetrain, valves: Sequence[ValveKind], positions: Sequence[Masses]
) -> Iterator[Pointed]:
    """Parts that are weighed though the drive does not have them, or they stand still in it."""
    for kind in KINDS:
        train = getattr(valvetrain, kind) or TrainParts()
        for part, field_name in OVER_LOBE.items():
            if part not in NOT_THERE[train.drive]:
                continue
            detail = f"{_WHY_NOT[train.drive, part]}; leave it out, or correct the drive"
            if getattr(train, field_name):
                yield Pointed(f"/valvetrain/{kind}/{field_name}", detail)
            for place, (valve, masses) in enumerate(zip(valves, positions, strict=True)):
                if valve == kind and getattr(masses, part):
                    yield Pointed(f"/positions/{place}/masses/{part}", detail)
        direct = train.drive == "bucket" and train.rocker_ratio not in {None, 1.0}
        # of a train with a lift the lift's own faults say so
        if isinstance(train, TrainParts) and direct:
            yield Pointed(f"/valvetrain/{kind}/rocker_ratio", BUCKET_RATIO)


def open_parts(
    not_given: Sequence[Collection[str]],
    valvetrain: WholeValvetrain,
    valves: Sequence[ValveKind],
    ids: Sequence[str],
    needed_for: list[str],
) -> Iterator[OpenItem]:
    """The parts between lobe and valve that may move and were not weighed, or how the valves are driven."""
    for kind in KINDS:
        own = [
            (place, none) for place, (none, valve) in enumerate(zip(not_given, valves, strict=True)) if valve == kind
        ]
        drive = lift_of(kind, valvetrain).drive
        if own and drive is None and all(len(none) == len(OVER_LOBE) for _, none in own):
            detail = (
                f"Enter how the {kind} valves are driven (bucket, finger, rocker and pushrod), and weigh the parts."
            )
            yield _open_part(f"/valvetrain/{kind}/drive", None, needed_for, detail)
            continue
        for part, field_name in OVER_LOBE.items():
            lacking = [place for place, none in own if part in none]
            name = _CALLED.get((drive, part), part)
            absent = " (0 if none)"
            if part == "rocker":
                absent = "" if drive else " (no rocker: enter the drive)"
            if lacking and len(lacking) == len(own):
                detail = f"Weigh the {kind} {name}{absent}; moving mass doesn't include it yet."
                yield _open_part(f"/valvetrain/{kind}/{field_name}", None, needed_for, detail)
                continue
            for place in lacking:
                detail = f"{ids[place]}: weigh its {name}{absent}; moving mass doesn't include it yet."
                yield _open_part(f"/positions/{place}/masses/{part}", ids[place], needed_for, detail)


def _open_part(pointer: str, position: str | None, needed_for: list[str], detail: str) -> OpenItem:
    return OpenItem(pointer=pointer, position=position, spring=None, needed_for=needed_for, detail=detail)

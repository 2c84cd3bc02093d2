"""Float on the assembly sheet: there once an intended speed is given."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from headbench.api.masses.moving_mass import Weighed
from headbench.api.train.lobes import Lobes, motion_notes, open_motions
from headbench.api.train.valvetrain import WholeValvetrain
from headbench.api.valve_float.lines import ValveFloat, float_lines, read_valves
from headbench.api.valve_float.setting import FLOAT_HELD, float_setting
from headbench.api.vocabulary.findings import NOTE_CODES, Note, OpenItem, note
from headbench.api.vocabulary.names import KINDS, ValveKind
from headbench.api.vocabulary.targets import Limits
from headbench.calc.head.assembly import HeadSheet
from headbench.calc.valve_float.floats import find_floats


def sheet_floats(
    intended_speed: float | None,
    limits: Limits,
    valves: Sequence[ValveKind],
    lobes: Lobes,
    weighed: Sequence[Weighed],
    own_lift: Sequence[float],
    sheet: HeadSheet,
) -> list[ValveFloat | None]:
    """Float and surge of every position at its height on the sheet; nothing where no speed is given."""
    if intended_speed is None:
        return [None] * len(valves)
    setting = float_setting(intended_speed, limits, valves)
    read = read_valves(
        valves,
        lobes,
        [one.readings.springs for one in sheet.valves],
        [one.height.installed_height for one in sheet.valves],
        [one.trusted for one in sheet.valves],
        [one.readings.valve_lift for one in sheet.valves],
        own_lift,
        weighed,
    )
    return [*float_lines(find_floats(read, setting), setting)]


def held_by_float(intended_speed: float | None) -> list[str]:
    """What waits, beside the rest of the sheet, for a reading that float needs."""
    return [] if intended_speed is None else FLOAT_HELD


def float_open_items(
    intended_speed: float | None, valvetrain: WholeValvetrain, lobes: Lobes, valves: Sequence[ValveKind]
) -> Iterator[OpenItem]:
    """The motions that float waits for."""
    if intended_speed is not None:
        yield from open_motions(valvetrain, lobes, valves, FLOAT_HELD)


def float_notes(intended_speed: float | None, valvetrain: WholeValvetrain, lobes: Lobes) -> Iterator[Note]:
    """What is to be said about float, and about the motions that are given."""
    if intended_speed is not None:
        yield note("rigid_train", "", NOTE_CODES["rigid_train"])
        if any(lobes.proves(kind) for kind in KINDS):
            detail = f"{NOTE_CODES['guard_band']} The uncertainty is that of the lift readings alone."
            yield note("guard_band", "/valvetrain", detail)
    else:
        for waits in lobes.to_read.values():
            yield note("lift_table_incomplete", waits.pointer, f"{waits.detail} Until then the table is not used.")
    yield from motion_notes(valvetrain, lobes)

"""Judging ways: the head put together again with other parts, by the code of the head's own sheet."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, TypeVar

import msgspec

from headbench.api.gauges.scale import calibration_of, corrected_mass
from headbench.api.head.job import HeadRead
from headbench.api.head.job_notes import Judged
from headbench.api.head.sheet import PositionLine
from headbench.api.head.sheet_checks import AnyCheck, checks_of, decide, each_check
from headbench.api.head.sheet_lines import position_lines
from headbench.api.head.sheet_sets import SpreadCheck, spread_checks, spreads_by_kind
from headbench.api.masses.moving_mass import Weighed
from headbench.api.vocabulary.checks import LengthCheck, PercentCheck, VerdictName, length_check, worst_of
from headbench.api.vocabulary.names import ValveKind
from headbench.api.ways_out.catalogue import Kept
from headbench.api.ways_out.request import WaysOutRequest
from headbench.calc.head import assembly
from headbench.calc.heights.installed_height import ShimsAtHand
from headbench.calc.ways_out.changed import Changed, GroupLimits
from headbench.calc.ways_out.parts import AS_FITTED, Choice
from headbench.calc.ways_out.trying import Outcome, part_missed

UNCHANGED: Final = frozenset({"load_loss_check", "rated_load_check", "seal_to_spring_check", "odd_mass_check"})
"""Checks that no way changes: they stay as the head's own sheet has them."""

MISSED: Final = frozenset({"borderline", "reject"})


@dataclass(frozen=True, slots=True)
class ValveJudged:
    """One valve with its parts: its line of the sheet, and the checks that a way changes.

    checks : those that there are, by their fields
    judged : those that count, with what keeps nothing closed
    """

    line: PositionLine
    changed: Changed
    checks: Mapping[str, AnyCheck]
    judged: Sequence[Judged]

    @property
    def verdict(self) -> VerdictName:
        """The worst of the checks that a way changes."""
        return decide(self.judged)[0]

    def outcome(self, shims: int) -> Outcome:
        """What it comes to, of all checks that a way changes."""
        missed = [self.checks[name] for name, verdict, _ in self.judged if verdict in MISSED and name in self.checks]
        clearances = [
            one.to_spare
            for one in self.checks.values()
            if isinstance(one, LengthCheck) and one.check_class == "damage" and one.to_spare is not None
        ]
        return Outcome(
            breaks=int(any(breaks for *_, breaks in self.judged)),
            off=int(any(verdict in MISSED and not breaks for _, verdict, breaks in self.judged)),
            open=int(any(verdict == "not_measured" for _, verdict, _ in self.judged)),
            miss=max((part_missed(_number(one.to_spare), one.limit) for one in missed), default=0.0),
            shims=shims,
            spare=min((one for one in clearances if not math.isnan(one)), default=math.inf),
        )


@dataclass(frozen=True, slots=True)
class KindJudged:
    """All valves of one kind with their parts.

    spreads : the spreads that are limited, by what they are of
    outcomes : what the valves come to; spreads count with the first of them
    """

    valves: Sequence[ValveJudged]
    spreads: Sequence[tuple[str, SpreadCheck]]
    outcomes: Sequence[Outcome]
    shim_choice_proven: bool

    @property
    def verdict(self) -> VerdictName:
        """The worst of the valves and of the spreads."""
        return worst_of([*(one.verdict for one in self.valves), *(check.verdict for _, check in self.spreads)])


@dataclass(frozen=True, slots=True)
class HeadBench:
    """A head that is put together again with other parts.

    readings : its valves as they are, in the order given
    places : of the valves of each kind
    limits : what each kind is held against beside the head's sheet
    """

    request: WaysOutRequest
    head: HeadRead
    readings: Sequence[assembly.ValveReadings]
    at_hand: ShimsAtHand
    places: Mapping[ValveKind, Sequence[int]]
    limits: Mapping[ValveKind, GroupLimits]
    kept: Mapping[ValveKind, Kept]

    def assembled(self, changed: Mapping[int, Changed]) -> assembly.HeadSheet:
        """The sheet of the head with some valves changed, by their places."""
        readings = [changed[at].readings if at in changed else one for at, one in enumerate(self.readings)]
        return assembly.assemble(readings, self.at_hand)

    def judge(
        self, kind: ValveKind, choice: Choice, changed: Sequence[Changed], sheet: assembly.HeadSheet
    ) -> KindJudged:
        """The valves of one kind as they come out on a sheet of the whole head."""
        places, limits = self.places[kind], self.limits[kind]
        own = assembly.HeadSheet([sheet.valves[at] for at in places], sheet.shims_used, sheet.shim_choice_proven)
        positions = [
            self.request.positions[at]
            if one.readings is self.readings[at]
            else msgspec.structs.replace(
                self.request.positions[at],
                shims_fitted=None,
                retainer_to_rocker=None if math.isnan(one.retainer_to_rocker) else one.retainer_to_rocker,
            )
            for at, one in zip(places, changed, strict=True)
        ]
        weighed = [
            self._weighed(kind, self.head.weighed[at], choice, one) for at, one in zip(places, changed, strict=True)
        ]
        request = msgspec.structs.replace(self.request, positions=positions)
        head = dataclasses.replace(
            self.head,
            ids=[self.head.ids[at] for at in places],
            valves=[kind] * len(places),
            weighed=[one for one, _ in weighed],
            heights=[self.head.heights[at] for at in places],
        )
        lines, judgments = position_lines(request, head, own, self.at_hand)
        valves = [
            _valve(line, checks, one, limits, known=known)
            for line, checks, one, (_, known) in zip(lines, judgments, changed, weighed, strict=True)
        ]
        spreads = spreads_by_kind(own.valves, request.limits, head.valves, head.ids)
        all_known = all(known for _, known in weighed)
        limited = [
            (name, check if all_known or name != "moving_mass" else _if_proven(check))
            for _, name, check in spread_checks(spreads)
        ]
        outcomes = [one.outcome(len(valve.height.shims)) for one, valve in zip(valves, own.valves, strict=True)]
        return KindJudged(valves, limited, [*outcomes, *_of_spreads(limited)], sheet.shim_choice_proven)

    def _weighed(self, kind: ValveKind, weighed: Weighed, choice: Choice, changed: Changed) -> tuple[Weighed, bool]:
        """What a valve weighs with other parts, and whether all of them were weighed.

        Where one was not, that of the part it replaces stands in, so that what floats is known to.
        """
        masses, scale = self.kept[kind].masses, calibration_of(self.request.scale)
        others = {"locks": ("locks", changed.locks), "retainer": ("retainers", choice.retainer)}
        others["valve"] = ("valves", choice.valve)
        parts = {
            part: corrected_mass(masses[listed][place], scale)
            for part, (listed, place) in others.items()
            if place != AS_FITTED
        }
        known = {part: mass for part, mass in parts.items() if not math.isnan(mass)}
        return weighed._replace(parts=weighed.parts._replace(**known)), len(known) == len(parts)


_Check = TypeVar("_Check", PercentCheck, SpreadCheck)


def _if_proven(check: _Check) -> _Check:
    """A check that rests on a mass nobody knows: what it misses it misses, and it is not accepted."""
    return check if check.verdict == "reject" else msgspec.structs.replace(check, verdict="not_measured")


def _of_spreads(spreads: Sequence[tuple[str, SpreadCheck]]) -> Iterator[Outcome]:
    """What limited spreads come to, each as if it were one valve more."""
    for _, check in spreads:
        missed = check.verdict in MISSED
        yield Outcome(
            breaks=0,
            off=int(missed),
            open=int(check.verdict == "not_measured"),
            miss=part_missed(_number(check.to_spare), check.limit) if missed else 0.0,
            shims=0,
            spare=math.inf,
        )


def _number(value: float | None) -> float:
    return math.nan if value is None else value


def _valve(
    line: PositionLine, judged: Sequence[Judged], changed: Changed, limits: GroupLimits, *, known: bool
) -> ValveJudged:
    """One valve: what its line judges, its tip and its pocket; `known` says whether its parts were weighed."""
    floats = line.valve_float
    if not known and floats is not None:
        reserve = _if_proven(floats.float_reserve_check)
        line = msgspec.structs.replace(line, valve_float=msgspec.structs.replace(floats, float_reserve_check=reserve))
        judged = [
            (name, reserve.verdict if name == "float_reserve_check" else verdict, breaks)
            for name, verdict, breaks in judged
        ]
    extra: dict[str, LengthCheck] = {}
    # the sheet has the gap to the rocker only where something asks for it beside a retainer that is raised
    rocker = None if line.retainer_to_rocker_check is not None else changed.rocker_verdict(limits)
    for name, verdict, value, limit in (
        (
            "tip_above_retainer_check",
            changed.tip_verdict(limits),
            changed.tip_above_retainer,
            limits.tip_minimum,
        ),
        ("retainer_to_rocker_check", rocker, changed.retainer_to_rocker, limits.rocker_minimum),
        ("pocket_floor_check", changed.floor_verdict(limits), changed.floor_left, limits.floor_minimum),
    ):
        if verdict is not None:
            extra[name] = length_check(value, limit, "at_least", verdict, "damage")
    own = {name: check for name, check in each_check(checks_of(line)) if name not in UNCHANGED}
    counted = [one for one in judged if one[0] not in UNCHANGED]
    counted += [(name, check.verdict, check.verdict == "reject") for name, check in extra.items()]
    return ValveJudged(line, changed, {**own, **extra}, counted)

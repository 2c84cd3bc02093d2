"""Tested springs: what is to be said of readings of a tester, and what is to be tested again."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from headbench.api.gauges.tester_readings import RunRead, disagree
from headbench.api.springs.load_curves import BenchReadings, first_run
from headbench.api.springs.spring import Spring, SpringsRead, each_spring, rating_of
from headbench.api.vocabulary.findings import Note, OpenItem, note
from headbench.api.vocabulary.names import named
from headbench.api.vocabulary.saying import say
from headbench.calc.springs.one_curve import LoadCurve as Curve
from headbench.calc.springs.spring_set import SpringSet
from headbench.calc.springs.two_runs import Compared, compare_runs

_NAMED_AT_MOST: Final = 8
_LOWER_RUN: Final = "The lower run is used; nothing that rests on its loads is accepted."
_CURVE: Final = 2
"""Heights that make a curve."""


@dataclass(frozen=True, slots=True)
class RunsApart:
    """Two runs of one spring that disagree: where, whose, and the sentence that says how."""

    pointer: str
    spring: str
    sentence: str


@dataclass(frozen=True, slots=True)
class TestedSprings:
    """What a tester showed of the springs in use.

    runs: all their runs; off: readings of a second run less the first one's curve [N], by the pointer of the spring;
    apart: the second runs that disagree with the first; elsewhere: pointers and sentences of those that have readings
    where the first has none.
    """

    runs: Sequence[RunRead]
    off: Mapping[str, Sequence[float]]
    apart: Sequence[RunsApart]
    elsewhere: Sequence[tuple[str, str]]


def tested_springs(springs: Sequence[Spring], used: set[str], read: SpringsRead) -> TestedSprings:
    """Look at every reading of the springs in use."""
    runs = [one for one in read.runs.values() if one.run.spring in used]
    if all(one.run.is_first for one in runs):
        return TestedSprings(runs, {}, (), ())
    return TestedSprings(runs, *_second_runs(springs, used, read))


def tested_notes(tested: TestedSprings) -> Iterator[Note]:
    """Readings that were left out or averaged, and those that disagree."""
    for read in tested.runs:
        for place in _left_out(read):
            detail = (
                f"{read.run.name}, reading {place + 1}: the tester's correction turns "
                f"{say(read.shown[place], 'force')} at {read.at(place)} into {say(read.corrected[place], 'force')}; "
                "left out. Check the tester near that load."
            )
            yield note("corrected_below_zero", f"{read.pointer(place)}/load", detail)
    yield from _repeats(tested.runs)
    for apart in tested.apart:
        yield note("second_run_differs", apart.pointer, f"{apart.sentence} {_LOWER_RUN}")
    for pointer, sentence in tested.elsewhere:
        yield note("second_run_elsewhere", pointer, sentence)


def _left_out(read: RunRead) -> list[int]:
    """The readings that the tester's correction leaves nothing of."""
    return [place for place, load in enumerate(read.load) if math.isnan(load)]


def open_tests(tested: TestedSprings, used: set[str], needed_for: Mapping[str, list[str]]) -> Iterator[OpenItem]:
    """What of the springs `used` is to be tested again, or at a second height.

    `needed_for` names the fields of the answer that wait for `load_curve` (there is no load) and for `proof` (there is
    one, but it is not sure).
    """
    runs = [read for read in tested.runs if read.run.spring in used]
    for read in runs:
        for place in _left_out(read):
            detail = (
                f"{read.run.name}: take reading {place + 1} ({read.at(place)}) again, on a tester checked near "
                "that load."
            )
            yield _item(f"{read.pointer(place)}/load", read.run.spring, needed_for["proof"], detail)
    for read in runs:
        run, averaged = read.run, read.averaged
        alone = run.is_first and len(averaged) < _CURVE
        if not (alone or read.in_doubt):
            continue
        what = [
            f"its readings at {read.at(one.first)} disagree; test it there again" for one in averaged if disagree(one)
        ]
        if alone:
            rate = "" if run.has_rate else " (its rated rate, if entered, gives the seat load until then)"
            what.append(
                f"tested at {read.at(averaged[0].first)} only; test it near open height, too{rate}"
                if averaged
                else "no reading is left; test it at two heights or more"
            )
        waits = needed_for["load_curve" if alone and not (run.has_rate and averaged) else "proof"]
        yield _item(run.pointer, run.spring, waits, f"{run.name}: {'; '.join(what)}.")
    for apart in tested.apart:
        if apart.spring in used:
            yield _item(apart.pointer, apart.spring, needed_for["proof"], f"{apart.sentence} Test it again.")


def outside_notes(
    ids: Sequence[str], springs: Sequence[SpringSet], worked: Sequence[tuple[str, Sequence[float]]]
) -> Iterator[Note]:
    """One note on every position whose springs work outside the heights they were tested at by more than a little.

    `worked` has what is said of each height ("valve closed"), and the heights [m], NaN where there is no load to speak
    of.
    """
    sentences = []
    for where, heights in worked:
        outside = [
            (name, own.beyond_readings(height))
            for name, own, height in zip(ids, springs, heights, strict=True)
            if own.works_outside_readings(height)
        ]
        if outside:
            by = say(max(beyond for _, beyond in outside), "length")
            sentences.append(f"{where} at {', '.join(name for name, _ in outside)}, by up to {by}")
    if sentences:
        detail = f"Load extrapolated, springs work outside the heights tested: {'; '.join(sentences)}. Test them there."
        yield note("beyond_readings", "/positions", detail)


def _item(pointer: str, spring: str, needed_for: list[str], detail: str) -> OpenItem:
    return OpenItem(pointer=pointer, position=None, spring=spring, needed_for=needed_for, detail=detail)


def _repeats(runs: Sequence[RunRead]) -> Iterator[Note]:
    """The range of loads that were read more than once at one height, and those to read again."""
    again = [(read, one) for read in runs for one in read.averaged if one.times > 1]
    if not again:
        return
    again.sort(key=lambda both: both[1].highest - both[1].lowest, reverse=True)
    sentences = [
        f"{read.run.name} at {read.at(one.first)} {say(one.load, 'force')} ({one.times} readings, range "
        f"{say(one.highest - one.lowest, 'force')})"
        for read, one in again[:_NAMED_AT_MOST]
    ]
    sentences += [f"and {len(again) - _NAMED_AT_MOST} more"] if len(again) > _NAMED_AT_MOST else []
    read, one = again[0]
    yield note("repeats_averaged", read.pointer(one.first), f"Load averaged: {'; '.join(sentences)}.")
    for read, one in again:
        if disagree(one):
            detail = (
                f"{read.run.name} at {read.at(one.first)}: {say(one.lowest, 'force')} and {say(one.highest, 'force')} "
                "are further apart than a tester repeats; test it again."
            )
            yield note("repeats_disagree", read.pointer(one.first), detail)


def _second_runs(
    springs: Sequence[Spring], used: set[str], read: SpringsRead
) -> tuple[dict[str, list[float]], list[RunsApart], list[tuple[str, str]]]:
    off: dict[str, list[float]] = {}
    apart: list[RunsApart] = []
    elsewhere: list[tuple[str, str]] = []
    for spring, pointer, one in each_spring(springs):
        curve = one.load_curve
        if spring.id not in used or not isinstance(curve, BenchReadings) or not curve.second_run:
            continue
        run, name = f"{pointer}/load_curve/second_run", named(spring.id, pointer)
        first = first_run(curve, pointer, read.runs, rating_of(spring, one))
        again = read.runs[run]
        if first is None:
            off[pointer] = [math.nan] * len(again.load)
            continue
        compared = compare_runs(first, again.height, again.load)
        off[pointer] = [reading.off for reading in compared]
        behind = next((reading for reading in compared if reading.falls_behind), None)
        if behind is not None:
            apart.append(RunsApart(run, spring.id, _behind(name, behind, first)))
        outside = [say(reading.height, "length") for reading in compared if _says_nothing(reading)]
        if outside:
            sentence = (
                f"{name}: second run taken at {', '.join(outside)}, outside the heights of the first; not "
                "compared there. Take both runs at the same heights."
            )
            elsewhere.append((run, sentence))
        if behind is None:
            differing = [reading for reading in compared if reading.differs]
            if differing:
                worst = max(differing, key=lambda reading: abs(reading.off))
                apart.append(RunsApart(run, spring.id, _differing(name, worst)))
    return off, apart, elsewhere


def _says_nothing(reading: Compared) -> bool:
    return reading.is_outside and not reading.falls_behind


def _behind(name: str, reading: Compared, first: Curve) -> str:
    return (
        f"{name}: {say(reading.load, 'force')} at {say(reading.height, 'length')} in the second run, "
        f"{say(first.load_at(reading.end), 'force')} at {say(reading.end, 'length')} in the first; a "
        "spring pressed further pushes more."
    )


def _differing(name: str, reading: Compared) -> str:
    before, after, by = (say(load, "force") for load in (reading.load - reading.off, reading.load, abs(reading.off)))
    return (
        f"{name}: {before} in the first run and {after} in the second at {say(reading.height, 'length')}, {by} "
        "apart, more than a tester repeats."
    )

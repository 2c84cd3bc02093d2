"""Tested springs: what is to be said of readings of a tester, and what is to be tested again."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import msgspec
import numpy as np

from headbench.api.gauges.tester import Tester
from headbench.api.gauges.tester_readings import ToldReadings, corrected_readings
from headbench.api.springs.load_curves import BenchReadings, compare_runs, curves_of, end_of_first, falls_behind
from headbench.api.springs.spring import OneSpring, Spring, SpringTable, each_spring, rating_of, tester_runs
from headbench.api.vocabulary.findings import Note, OpenItem, note
from headbench.api.vocabulary.names import named
from headbench.api.vocabulary.saying import say
from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.springs.nested import beyond_readings, work_outside_readings

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

    told: all their readings, None without any; off: readings of a second run less the first one's curve [N], by the
    pointer of the spring; apart: the second runs that disagree with the first; elsewhere: pointers and sentences of
    those that have readings where the first has none.
    """

    told: ToldReadings | None
    off: Mapping[str, FloatArray]
    apart: Sequence[RunsApart]
    elsewhere: Sequence[tuple[str, str]]


def tested_springs(springs: Sequence[Spring], used: set[str], tester: Tester | None) -> TestedSprings:
    """Look at every reading of the springs in use."""
    runs = [run for run in tester_runs(springs) if run.spring in used]
    if not runs:
        return TestedSprings(None, {}, (), ())
    told = ToldReadings(runs, corrected_readings([run.readings for run in runs], tester))
    return TestedSprings(told, *_second_runs(springs, used, tester))


def tested_notes(tested: TestedSprings) -> Iterator[Note]:
    """Readings that were left out or averaged, and those that disagree."""
    told = tested.told
    if told is None:
        return
    for reading in np.flatnonzero(np.isnan(told.read.load)).tolist():
        shown, true = (told.force(float(load[reading])) for load in (told.read.shown, told.read.corrected))
        detail = (
            f"{told.run(reading).name}, reading {told.number(reading)}: the tester's correction turns {shown} at "
            f"{told.at(reading)} into {true}; left out. Check the tester near that load."
        )
        yield note("corrected_below_zero", f"{told.pointer(reading)}/load", detail)
    yield from _repeats(told)
    for apart in tested.apart:
        yield note("second_run_differs", apart.pointer, f"{apart.sentence} {_LOWER_RUN}")
    for pointer, sentence in tested.elsewhere:
        yield note("second_run_elsewhere", pointer, sentence)


def open_tests(tested: TestedSprings, used: set[str], needed_for: Mapping[str, list[str]]) -> Iterator[OpenItem]:
    """What of the springs `used` is to be tested again, or at a second height.

    `needed_for` names the fields of the answer that wait for `load_curve` (there is no load) and for `proof` (there is
    one, but it is not sure).
    """
    told = tested.told
    if told is None:
        return
    for reading in np.flatnonzero(np.isnan(told.read.load)).tolist():
        run = told.run(reading)
        if run.spring in used:
            detail = (
                f"{run.name}: take reading {told.number(reading)} ({told.at(reading)}) again, on a tester checked near "
                "that load."
            )
            yield _item(f"{told.pointer(reading)}/load", run.spring, needed_for["proof"], detail)
    averaged, disagrees = told.read.averaged, told.read.disagrees
    heights = np.bincount(averaged.spring, minlength=len(told.runs)).tolist()
    apart = np.bincount(averaged.spring, disagrees, minlength=len(told.runs)).tolist()
    for number, run in enumerate(told.runs):
        if run.spring not in used or not (apart[number] or (run.is_first and heights[number] < _CURVE)):
            continue
        own = averaged.spring == number
        what = [
            f"its readings at {told.at(int(averaged.first[place]))} disagree; test it there again"
            for place in np.flatnonzero(own & disagrees)
        ]
        alone = run.is_first and heights[number] < _CURVE
        if alone:
            only = [told.at(int(place)) for place in averaged.first[own]]
            rate = "" if run.has_rate else " (its rated rate, if entered, gives the seat load until then)"
            missing = f"tested at {only[0]} only; test it near open height, too{rate}" if only else ""
            what.append(missing or "no reading is left; test it at two heights or more")
        if what:
            waits = needed_for["load_curve" if alone and not (run.has_rate and own.any()) else "proof"]
            yield _item(run.pointer, run.spring, waits, f"{run.name}: {'; '.join(what)}.")
    for runs in tested.apart:
        if runs.spring in used:
            yield _item(runs.pointer, runs.spring, needed_for["proof"], f"{runs.sentence} Test it again.")


def outside_notes(
    ids: Sequence[str],
    table: SpringTable,
    rows: IntArray,
    worked: Sequence[tuple[str, FloatArray, BoolArray]],
) -> Iterator[Note]:
    """One note on every position whose springs work outside the heights they were tested at by more than a little.

    `worked` has what is said of each height ("valve closed"), the height [m], and whether there is a load to speak of.
    """
    sentences = []
    for where, height, known in worked:
        own = (table.curves, table.curve[rows], height, table.seat_rise[rows])
        outside = np.flatnonzero(known & work_outside_readings(*own))
        if len(outside):
            by = say(float(beyond_readings(*own)[outside].max()), "length")
            sentences.append(f"{where} at {', '.join(ids[place] for place in outside.tolist())}, by up to {by}")
    if sentences:
        detail = f"Load extrapolated, springs work outside the heights tested: {'; '.join(sentences)}. Test them there."
        yield note("beyond_readings", "/positions", detail)


def _item(pointer: str, spring: str, needed_for: list[str], detail: str) -> OpenItem:
    return OpenItem(pointer=pointer, position=None, spring=spring, needed_for=needed_for, detail=detail)


def _repeats(told: ToldReadings) -> Iterator[Note]:
    """The range of loads that were read more than once at one height, and those to read again."""
    averaged, disagrees = told.read.averaged, told.read.disagrees
    spread = averaged.highest - averaged.lowest
    again = np.flatnonzero(averaged.count > 1)
    again = again[np.argsort(-spread[again], kind="stable")]
    if len(again) == 0:
        return
    sentences = [
        f"{told.run(int(averaged.first[place])).name} at {told.at(int(averaged.first[place]))} "
        f"{told.force(float(averaged.load[place]))} ({averaged.count[place]} readings, range "
        f"{told.force(float(spread[place]))})"
        for place in again[:_NAMED_AT_MOST]
    ]
    sentences += [f"and {len(again) - _NAMED_AT_MOST} more"] if len(again) > _NAMED_AT_MOST else []
    first = told.pointer(int(averaged.first[again[0]]))
    yield note("repeats_averaged", first, f"Load averaged: {'; '.join(sentences)}.")
    for place in again[disagrees[again]].tolist():
        reading = int(averaged.first[place])
        low, high = told.force(float(averaged.lowest[place])), told.force(float(averaged.highest[place]))
        detail = (
            f"{told.run(reading).name} at {told.at(reading)}: {low} and {high} are further apart than a tester "
            "repeats; test it again."
        )
        yield note("repeats_disagree", told.pointer(reading), detail)


def _second_runs(
    springs: Sequence[Spring], used: set[str], tester: Tester | None
) -> tuple[dict[str, FloatArray], list[RunsApart], list[tuple[str, str]]]:
    twice: list[tuple[Spring, str, OneSpring, BenchReadings]] = [
        (spring, pointer, one, one.load_curve)
        for spring, pointer, one in each_spring(springs)
        if spring.id in used and isinstance(one.load_curve, BenchReadings) and one.load_curve.second_run
    ]
    if not twice:
        return {}, [], []
    first = [msgspec.structs.replace(curve, second_run=[]) for *_, curve in twice]
    ratings = [rating_of(spring, one) for spring, _, one, _ in twice]
    curves, places = curves_of(first, ratings, tester)
    second = corrected_readings([curve.second_run for *_, curve in twice], tester)
    which = places[second.owner]
    off, differs = compare_runs(curves.fitted, which, second)
    behind = falls_behind(curves.fitted, which, second)
    end = end_of_first(curves.fitted, which, second.height)
    outside = (which >= 0) & ~curves.fitted.is_near_readings(which, second.height)
    apart: list[RunsApart] = []
    elsewhere: list[tuple[str, str]] = []
    for number, (spring, pointer, _, _) in enumerate(twice):
        run, mine = f"{pointer}/load_curve/second_run", second.owner == number
        for reading in np.flatnonzero(behind & mine)[:1].tolist():
            at, load, ends = float(second.height[reading]), float(second.load[reading]), float(end[reading])
            first_load = float(curves.fitted.load_at(which[[reading]], end[[reading]])[0])
            sentence = (
                f"{named(spring.id, pointer)}: {say(load, 'force')} at {say(at, 'length')} in the "
                f"second run, {say(first_load, 'force')} at {say(ends, 'length')} in the first; a "
                "spring pressed further pushes more."
            )
            apart.append(RunsApart(run, spring.id, sentence))
        places_outside = np.flatnonzero(outside & ~behind & mine)
        if len(places_outside):
            where = ", ".join(say(float(at), "length") for at in second.height[places_outside])
            sentence = (
                f"{named(spring.id, pointer)}: second run taken at {where}, outside the heights of the first; not "
                "compared there. Take both runs at the same heights."
            )
            elsewhere.append((run, sentence))
        own = np.flatnonzero(differs & mine)
        if len(own) == 0 or (behind & mine).any():
            continue
        worst = int(own[np.abs(off[own]).argmax()])
        read = float(second.load[worst])
        height, before, after, by = (
            say(value, quantity)
            for value, quantity in (
                (float(second.height[worst]), "length"),
                (read - float(off[worst]), "force"),
                (read, "force"),
                (abs(float(off[worst])), "force"),
            )
        )
        sentence = (
            f"{named(spring.id, pointer)}: {before} in the first run and {after} in the second at {height}, {by} "
            "apart, more than a tester repeats."
        )
        apart.append(RunsApart(run, spring.id, sentence))
    return {pointer: off[second.owner == number] for number, (_, pointer, *_) in enumerate(twice)}, apart, elsewhere

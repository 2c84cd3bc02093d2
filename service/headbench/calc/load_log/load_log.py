"""Load log: one spring's losses over its tests, the shim that makes up for them, and which of a set falls fast."""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import fmean, median
from typing import Final, NamedTuple

from headbench.calc.judging.possible import is_possible
from headbench.calc.judging.touching import is_closed
from headbench.calc.load_log.limits import FALLING_FAST, POSSIBLE_LOSS
from headbench.calc.springs.loads import differ_by_more_than_a_tester, load_loss, repeat_of_a_tester
from headbench.calc.springs.one_curve import LoadCurve

_NAN: Final = math.nan
_SAME_RUN: Final = 1e-3
"""Runs nearer than this are one [-]."""
_FEWEST_OF_A_SET: Final = 3
"""Springs that have a median to fall behind."""


class OnTester(NamedTuple):
    """One time on the tester.

    curve : LoadCurve, or None where one height alone was read and no rate is known [-]
    read_there : float, load of a spring without a curve, where it was read at the very height it works at [N]
    in_doubt : bool, whether the readings of that disagree by more than a tester repeats [-]
    runs : float, runs behind it in all; NaN not known [-]
    is_heat_cycle : bool, whether it was taken after a heat cycle [-]
    """

    curve: LoadCurve | None
    read_there: float = _NAN
    in_doubt: bool = False
    runs: float = _NAN
    is_heat_cycle: bool = False

    def load_at(self, height: float) -> float:
        """Load at the height it works at.

        Parameters
        ----------
        height : float
            That height [m]

        Returns
        -------
        float
            NaN where it is not known [N]

        >>> OnTester(None, read_there=500.0).load_at(0.045)
        500.0
        """
        return self.read_there if self.curve is None else self.curve.load_at(height)

    def is_proven(self, height: float) -> bool:
        """Whether that load was read near that height, beyond doubt.

        Parameters
        ----------
        height : float
            That height [m]

        Returns
        -------
        bool

        >>> OnTester(None).is_proven(0.045), OnTester(None, read_there=500.0).is_proven(0.045)
        (False, True)
        """
        if self.curve is None:
            return not (self.in_doubt or math.isnan(self.read_there))
        return self.curve.is_proven(height)


class Log(NamedTuple):
    """One spring; NaN is a reading not taken.

    tests : tuple of OnTester, in the order they were taken [-]
    height : float, where it works, valve closed [m]
    valve_lift, coil_bind_height : float [m]
    loss_maximum, settled_maximum : float, the most it may lose in all, and since it has settled; NaN no limit [percent]
    """

    tests: tuple[OnTester, ...]
    height: float
    valve_lift: float
    coil_bind_height: float
    loss_maximum: float
    settled_maximum: float = _NAN


class LoadTested(NamedTuple):
    """What one test comes to; NaN where it is not known.

    load : float, at the working height [N]
    loss : float, of the first test's load [percent]
    is_proven : bool, whether this load and the first were read near that height, beyond doubt; none that came back [-]
    came_back : bool, whether it is more than the last one known before by more than a tester repeats [-]
    """

    load: float
    loss: float
    is_proven: bool
    came_back: bool


class Followed(NamedTuple):
    """One spring's log, worked; NaN where something is not known.

    each : tuple of LoadTested, a test each [-]
    settled_from : int, place of the test that losses are compared from [-]
    heat_cycle_loss : float, what the first heat cycle took [percent]
    settled_loss, loss_per_10_runs : float [percent]
    told_loss : float, least loss since then that a tester tells [percent]
    runs_since : float, runs since then; NaN not known [-]
    runs_left : float, runs until the nearer of its limits at that rate; NaN where it loses nothing [-]
    shim : float, what brings its first load back; 0 where a tester tells no difference [m]
    bind_clearance : float, what that leaves between the coils at full lift [m]
    """

    each: tuple[LoadTested, ...]
    settled_from: int
    heat_cycle_loss: float
    settled_loss: float
    loss_per_10_runs: float
    told_loss: float
    runs_since: float
    runs_left: float
    shim: float
    bind_clearance: float

    @property
    def last(self) -> LoadTested:
        """The last test; nothing of a spring that was tested once can be lost."""
        if len(self.each) > 1:
            return self.each[-1]
        return LoadTested(self.each[0].load, _NAN, is_proven=False, came_back=False)


def slipped_tests(log: Log) -> list[bool]:
    """Which tests of a spring cannot be right beside its first one.

    Parameters
    ----------
    log : Log
        The spring, tested once at least [-]

    Returns
    -------
    list of bool
        One a test; the first is what the others are held against [-]

    Notes
    -----
    See `limits.POSSIBLE_LOSS`.

    >>> tests = tuple(OnTester(None, read_there=load) for load in (667.0, 640.0, 62.7))
    >>> slipped_tests(Log(tests, 0.045, 0.012, 0.030, 10.0))
    [False, False, True]
    """
    first, *later = (test.load_at(log.height) for test in log.tests)
    return [False, *(first > 0.0 and not is_possible(load_loss(load, first), POSSIBLE_LOSS) for load in later)]


def without_slips(log: Log) -> Log:
    """A spring as it counts: a test that cannot be right is one that was not taken.

    Parameters
    ----------
    log : Log
        The spring as it was read [-]

    Returns
    -------
    Log

    >>> tests = tuple(OnTester(None, read_there=load) for load in (667.0, 62.7))
    >>> [test.read_there for test in without_slips(Log(tests, 0.045, 0.012, 0.030, 10.0)).tests]
    [667.0, nan]
    """
    tests = zip(log.tests, slipped_tests(log), strict=True)
    return log._replace(tests=tuple(one._replace(curve=None, read_there=_NAN) if slip else one for one, slip in tests))


def follow(log: Log) -> Followed:
    """Follow one spring through its tests: loss = 100 (1 - F / F_first), all at the height it works at.

    Parameters
    ----------
    log : Log
        The spring, tested once at least [-]

    Returns
    -------
    Followed

    Notes
    -----
    The loss per ten runs is the slope of the line of least squares through the losses since the spring has settled,
    and is not known where the runs of one of these tests are not. The shim goes by the curve of the last test. Own
    derivation.

    >>> from headbench.calc.springs.one_curve import curve_of_one_reading
    >>> new, run = (curve_of_one_reading(0.045, load, 50e3) for load in (500.0, 480.0))
    >>> found = follow(Log((OnTester(new, runs=0.0), OnTester(run, runs=10.0)), 0.045, 0.012, 0.030, 10.0))
    >>> [round(one, 6) for one in (found.last.loss, found.loss_per_10_runs, found.runs_left, found.shim * 1e3)]
    [4.0, 4.0, 15.0, 0.4]
    """
    loads = [test.load_at(log.height) for test in log.tests]
    if is_closed(log.height - log.coil_bind_height):
        loads = [_NAN] * len(loads)
    first = loads[0] if loads[0] > 0.0 else _NAN
    sure = [test.is_proven(log.height) for test in log.tests]
    # a test that tells nothing is passed over
    rises, known = [False], loads[0]
    for load in loads[1:]:
        rises.append(load > known and differ_by_more_than_a_tester(known, load))
        known = known if math.isnan(load) else load
    each = tuple(
        LoadTested(load, load_loss(load, first), proven and sure[0] and not rise, rise)
        for load, proven, rise in zip(loads, sure, rises, strict=True)
    )
    cycled = [place for place, test in enumerate(log.tests) if test.is_heat_cycle and place > 0]
    start = cycled[0] if cycled else 0
    losses = [one.loss for one in each[start:]]
    per_run = _slope([test.runs for test in log.tests[start:]], losses)
    settled = losses[-1] - losses[0] if len(losses) > 1 else _NAN
    rooms = (log.loss_maximum - each[-1].loss, log.settled_maximum - settled)
    left = min((room / per_run for room in rooms if room == room), default=_NAN) if per_run > 0.0 else _NAN  # noqa: PLR0124 - NaN is not itself
    shim = _shim(log, loads) if len(each) > 1 else _NAN
    return Followed(
        each=each,
        settled_from=start,
        heat_cycle_loss=each[start].loss if cycled else _NAN,
        settled_loss=settled,
        loss_per_10_runs=10.0 * per_run,
        told_loss=100.0 * repeat_of_a_tester(loads[start], loads[-1]) / first,
        runs_since=log.tests[-1].runs - log.tests[start].runs,
        runs_left=max(left, 0.0) if left == left else _NAN,  # noqa: PLR0124 - NaN is not itself
        shim=shim,
        bind_clearance=log.height - shim - log.valve_lift - log.coil_bind_height,
    )


def _shim(log: Log, loads: Sequence[float]) -> float:
    """What the curve of the last test asks for the load of the first."""
    curve, first, last = log.tests[-1].curve, loads[0], loads[-1]
    if first <= last or (last < first and not differ_by_more_than_a_tester(last, first)):
        return 0.0
    return _NAN if curve is None or math.isnan(first - last) else log.height - curve.height_for(first)


def _slope(runs: Sequence[float], losses: Sequence[float]) -> float:
    """Slope of the line of least squares, sum (x - mx)(y - my) / sum (x - mx)^2; NaN where there is none."""
    mean_run, mean_loss = fmean(runs), fmean(losses)
    below = sum((run - mean_run) ** 2 for run in runs)
    if not below > _SAME_RUN**2:
        return _NAN
    return sum((run - mean_run) * (loss - mean_loss) for run, loss in zip(runs, losses, strict=True)) / below


class SetDrift(NamedTuple):
    """The springs of one set together; NaN where one is not known.

    mean, worst : float, of their losses [percent]
    spread_first, spread_last : float, largest load less the smallest, at their first and last tests [N]
    """

    mean: float
    worst: float
    spread_first: float
    spread_last: float


def drift_of(logs: Sequence[Followed]) -> SetDrift:
    """What the springs of a set lost together, and how far apart their loads are.

    Parameters
    ----------
    logs : sequence (S,)
        Its springs, all at one working height [-]

    Returns
    -------
    SetDrift
        Of those that were tested twice, and did not gain load; NaN where there is none [-]

    >>> from headbench.calc.springs.one_curve import curve_of_one_reading
    >>> def log(*loads):
    ...     tests = tuple(OnTester(curve_of_one_reading(0.045, load, 50e3)) for load in loads)
    ...     return follow(Log(tests, 0.045, 0.012, 0.030, 10.0))
    >>> found = drift_of([log(500.0, 490.0), log(510.0, 480.0)])
    >>> [round(one, 4) for one in found]
    [3.9412, 5.8824, 10.0, 10.0]
    """
    known = [log for log in logs if not (math.isnan(log.last.loss) or log.last.came_back)]
    if not known:
        return SetDrift(_NAN, _NAN, _NAN, _NAN)
    losses = [log.last.loss for log in known]
    first, last = ([log.each[place].load for log in known] for place in (0, -1))
    return SetDrift(fmean(losses), max(losses), max(first) - min(first), max(last) - min(last))


class Fast(NamedTuple):
    """Whether a spring of a set falls faster than the rest.

    value : float, its settled loss, or its loss per ten runs [percent]
    limit : float, twice the median of the set, or what a tester tells if that is more [percent]
    is_by_tester : bool, whether that is what a tester tells [-]
    """

    value: float
    limit: float
    is_by_tester: bool


def fast_of(logs: Sequence[Followed], *, by_run: bool) -> list[Fast]:
    """How fast each spring of a set falls, and how fast is too fast.

    Parameters
    ----------
    logs : sequence (S,)
        Its springs [-]
    by_run : bool
        By the loss per ten runs, so that springs of different age compare; else by the settled loss [-]

    Returns
    -------
    list of Fast
        None of a set that is too small to have a median [-]

    Notes
    -----
    See `limits.FALLING_FAST`. Own derivation.

    >>> fast_of([], by_run=True)
    []
    """
    values = [log.loss_per_10_runs if by_run else log.settled_loss for log in logs]
    known = [one for one in values if not math.isnan(one)]
    if len(logs) < _FEWEST_OF_A_SET or not known:
        return []
    if len(known) < _FEWEST_OF_A_SET:
        # a median of two is none: nothing is known of any until more are
        values = [math.nan] * len(logs)
    usual = FALLING_FAST.values[0] * max(median(known), 0.0)
    told = [
        10.0 * log.told_loss / log.runs_since if by_run and log.runs_since > _SAME_RUN else log.told_loss
        for log in logs
    ]
    return [Fast(value, max(usual, least), least > usual) for value, least in zip(values, told, strict=True)]

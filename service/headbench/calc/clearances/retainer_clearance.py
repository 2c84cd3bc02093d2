"""Retainer clearance: how near the retainer comes to the seal at full lift."""

from __future__ import annotations

from typing import NamedTuple

from headbench.calc.judging.possible import if_possible
from headbench.calc.judging.rules import POSSIBLE_LIFT, POSSIBLE_RETAINER_TO_SEAL
from headbench.calc.judging.touching import clearance_verdict
from headbench.calc.judging.verdicts import only_rejects


def retainer_to_seal_clearance(retainer_to_seal: float, valve_lift: float) -> float:
    """Distance left between retainer and seal at full lift, g_s = distance closed - L.

    Parameters
    ----------
    retainer_to_seal : float
        Distance from the retainer's underside to the top of the seal, valve closed [m]
    valve_lift : float
        Lift at the valve, L [m]

    Returns
    -------
    float
        Retainer-to-seal clearance g_s [m]

    Notes
    -----
    Common practice, no source.

    >>> round(retainer_to_seal_clearance(16e-3, 14e-3), 9)
    0.002
    """
    return retainer_to_seal - valve_lift


def retainer_verdict(clearance: float, retainer_to_seal: float, limit: float) -> int:
    """Verdict on the retainer-to-seal clearance, with what the closed valve says already.

    Parameters
    ----------
    clearance : float
        At full lift; NaN while the lift is not known [m]
    retainer_to_seal : float
        Distance with the valve closed, which is the most it can ever be [m]
    limit : float
        The least that is good [m]

    Returns
    -------
    Verdict code
        REJECT where even the closed valve leaves too little [-]

    >>> retainer_verdict(float("nan"), 1e-3, 1.27e-3), retainer_verdict(float("nan"), 16e-3, 1.27e-3)
    (3, 2)
    """
    return max(clearance_verdict(clearance, limit), only_rejects(clearance_verdict(retainer_to_seal, limit)))


class RetainerCheck(NamedTuple):
    """How near the retainer comes to the seal.

    clearance : float, at full lift [m]
    verdict : int, Verdict code [-]
    """

    clearance: float
    verdict: int


def check_retainer(retainer_to_seal: float, valve_lift: float, limit: float) -> RetainerCheck:
    """Whether the retainer of one valve keeps clear of the seal up to full lift.

    Parameters
    ----------
    retainer_to_seal : float
        Distance from the retainer's underside to the top of the seal, valve closed; NaN not measured [m]
    valve_lift : float
        Lift at the valve; NaN not known [m]
    limit : float
        The least that is to be left between them [m]

    Returns
    -------
    RetainerCheck
        Readings that cannot be right count as not taken [-]

    Notes
    -----
    See `retainer_to_seal_clearance` and `retainer_verdict`.

    >>> found = check_retainer(16e-3, 14e-3, 1.27e-3)
    >>> round(found.clearance, 9), found.verdict
    (0.002, 0)
    """
    distance = if_possible(retainer_to_seal, POSSIBLE_RETAINER_TO_SEAL)
    clearance = retainer_to_seal_clearance(distance, if_possible(valve_lift, POSSIBLE_LIFT))
    return RetainerCheck(clearance, retainer_verdict(clearance, distance, limit))

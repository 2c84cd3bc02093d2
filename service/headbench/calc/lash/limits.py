"""Limits and rules of lash shims, as GET /v1/reference/limits lists them with those of the house."""

from __future__ import annotations

from typing import Final

from headbench.calc.judging.limits import FROM_MEMORY, Limit
from headbench.calc.judging.rules import Rule

_MILLIMETER: Final = 1e-3

LASH_SHIM_STEP: Final = Limit(
    "lash_shim_step",
    "length",
    0.05 * _MILLIMETER,
    "step of the sizes that lash shims are sold in, counted from zero",
    "from memory: steps of 0.05 mm are usual, 0.025 mm can be had",
)
LASH_AIM_SHARE: Final = Rule(
    "lash_aim_share",
    "ratio",
    (0.50, 0.70),
    "where in its range the lash of an intake and of an exhaust valve is aimed at, from the tight end: exhaust seats "
    "sink most, which closes lash",
    "common practice, no source, to leave exhausts wide; how far is an own derivation: in a range of two steps the "
    "middle is still nearer than the end",
)
USUAL_LASH: Final = Rule(
    "usual_lash",
    "length",
    (0.05 * _MILLIMETER, 0.80 * _MILLIMETER),
    "lash usually read on overhead-cam heads; another is noted",
    FROM_MEMORY,
)
USUAL_LASH_SHIM: Final = Rule(
    "usual_lash_shim",
    "length",
    (1.0 * _MILLIMETER, 6.0 * _MILLIMETER),
    "thickness of lash shims usually seen; another is noted",
    FROM_MEMORY,
)

LIMITS: Final = (LASH_SHIM_STEP,)
RULES: Final = (LASH_AIM_SHARE, USUAL_LASH, USUAL_LASH_SHIM)

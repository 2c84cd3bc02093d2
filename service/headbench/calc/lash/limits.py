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
THINNEST_FEELER: Final = Rule(
    "thinnest_feeler",
    "length",
    (0.03 * _MILLIMETER,),
    "the thinnest feeler: a lash below it is no lash, and no number",
    FROM_MEMORY,
)
POSSIBLE_LASH: Final = Rule(
    "possible_lash",
    "length",
    (1.0 * _MILLIMETER,),
    "lash from which on a decimal point has slipped: it counts as not taken; there is no least, because a valve may "
    "well have none",
    "own derivation: ten times the tightest lash usually wanted, 0.10 mm, from memory",
)
POSSIBLE_LASH_WANTED: Final = Rule(
    "possible_lash_wanted",
    "length",
    (THINNEST_FEELER.values[0], POSSIBLE_LASH.values[0]),
    "ends of a range of lash up to and from which a decimal point has slipped: the range counts as not given",
    "own derivation: a lash below the thinnest feeler can't be read, and one from the other on isn't taken",
)
POSSIBLE_LASH_SHIM: Final = Rule(
    "possible_lash_shim",
    "length",
    (0.6 * _MILLIMETER, 10.0 * _MILLIMETER),
    "thickness of lash shims up to and from which a decimal point has slipped: it counts as not taken",
    "own derivation: a tenth of the thickest usual one, and ten times the thinnest",
)
POSSIBLE_SHIM_RATIO: Final = Rule(
    "possible_shim_ratio",
    "ratio",
    (0.25, 5.0),
    "shim ratios up to and from which a decimal point has slipped: the range of lash with it counts as not given",
    "own derivation: buckets have 1 and fingers 0.6 to 2, from memory; a place off is outside of this",
)

LIMITS: Final = (LASH_SHIM_STEP,)
RULES: Final = (
    LASH_AIM_SHARE,
    USUAL_LASH,
    USUAL_LASH_SHIM,
    THINNEST_FEELER,
    POSSIBLE_LASH,
    POSSIBLE_LASH_WANTED,
    POSSIBLE_LASH_SHIM,
    POSSIBLE_SHIM_RATIO,
)

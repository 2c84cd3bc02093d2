"""Findings: what the answer says beside its numbers: notes, open items, cautions."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from typing import Annotated, Final, Literal

import msgspec
from msgspec import Meta

from headbench.api.vocabulary.quantities import Answer

Work = Literal["springs", "tester", "retainer", "milling", "seats", "lifting", "fits", "camshaft", "engine", "boost"]
"""Kinds of work that can hurt someone."""

_ALWAYS: Final = (
    "These results are arithmetic on the readings given. The cam maker's, spring maker's and engine maker's limits and "
    "a qualified machinist's judgment come first, and local rules apply."
)
_BY_WORK: Final[Mapping[Work, str]] = {
    "springs": "A compressed valve spring stores enough energy to injure: use a rated compressor, wear eye protection, "
    "keep clear of the retainer's path, and check that both locks sit before letting go.",
    "tester": "A spring in a tester, or pressed until its coils touch, can jump out: set it square, guard it, keep "
    "your face clear, and never press it in a vise.",
    "retainer": "Lower a retainer toward its seal by hand or with checking springs, never with the engine turning.",
    "milling": "Clamp the head flat and square, wear eye protection, keep hands off moving chips, and measure what is "
    "left over water jackets, oil passages and seat inserts before cutting. Wash every chip out of water and oil "
    "passages afterward.",
    "seats": "Grinding seats and inserts throws dust and chips: wear eye protection and a respirator rated for the "
    "dust, and ventilate.",
    "lifting": "A head or a manifold can crush a hand: lift it with a hoist or two people, and keep fingers out of the "
    "joint.",
    "fits": "Parts heated or chilled for a fit burn skin, and dry ice or liquid nitrogen displaces air: wear gloves, "
    "ventilate, and keep clear of a part being pressed.",
    "camshaft": "Springs push an overhead cam up: loosen and tighten its caps evenly, a little at a time or in the "
    "maker's order, or cam or caps break. With chain or belt off turn neither cam nor crank before the pistons are "
    "clear of the valves.",
    "engine": "Turn the engine by hand when checking a clearance or degreeing a cam, with the starter disconnected.",
    "boost": "An engine under boost can burst hoses and throw turbine and belt parts: keep clear of couplers, the "
    "turbine's plane and belts while it runs, wear eye and ear protection, and build boost up in steps.",
}


def cautions_for(*works: Work) -> list[str]:
    """The cautions of the work at hand, the general one last."""
    return [*(_BY_WORK[work] for work in works), _ALWAYS]


CAUTIONS: Final = tuple(cautions_for(*_BY_WORK))
"""Every caution there is, as the docs page and the schema carry them."""

NOTE_CODES: Final = {
    "preload_range_fitted": "The usual preload range does not fit what was entered for the lifters; the range that was "
    "taken instead.",
    "plain_comparison": "No measurement uncertainty was given, so values are compared with limits directly.",
    "guard_band": "Float reserve is accepted where it clears its limit by 1.65 standard uncertainties, rejected "
    "where it misses by as much, and borderline between (JCGM 106:2012). Surge ratios are compared directly.",
    "usual_shims_assumed": "No shim sizes were entered; the usual ones are assumed.",
    "short_of_height": "A height is under its target with no shims; shims can't help.",
    "stack_limit_reached": "A thicker stack than one pocket may hold would come closer.",
    "locator_assumed": "It was not entered whether a locator was in place when the height was measured; the height is "
    "figured as if it was, and nothing that rests on it is accepted.",
    "read_back_differs": "A height or a seat load measured after assembly differs from the figured one; the measured "
    "one is used.",
    "read_back_left": "Heights that nobody measured again with the shims in; they are figured from the shims.",
    "reading_slip": "A height is off its neighbors by what a known slip makes; measure it again.",
    "wrong_unit_suspected": "Most heights fit the other unit of length; check units.length.",
    "height_carried_by_load": "A height is off its target, but its seat load was tested and is in tolerance; the "
    "load decides.",
    "coil_bind_close": "Coil-bind clearance is under its minimum; what to change.",
    "seal_close": "Retainer-to-seal clearance at full lift is under its minimum; what to change.",
    "gap_close": "A gap around the retainer is under its minimum; what to change.",
    "gaps_not_measured": "Gaps around the retainer that may be left out were not measured, so they are not judged.",
    "retainer_strikes_seal": "A retainer would strike its seal before full lift.",
    "load_off_target": "A load is off its target; what to change.",
    "spread_wide": "The springs or masses of a set differ by more than the job allows.",
    "waiver_refused": "A waiver names a check whose miss breaks parts; it can't be taken on trust.",
    "waiver_unused": "A waiver names a check that is accepted, or not judged.",
    "shims_ran_out": "The stock of shims runs out before every position has its best stack.",
    "off_target": "No stack from the sizes at hand comes within the limit.",
    "beyond_readings": "A spring works outside the heights tested; its load there is extrapolated.",
    "known_by_rating": "A load is the catalog rating and was not tested.",
    "known_by_dimensions": "A load is calculated from dimensions and was not tested.",
    "coil_bind_by_dimensions": "By its dimensions a spring is in coil bind before full lift.",
    "seat_load_out_of_reach": "The springs cannot push the seat load that is aimed at before their coils touch.",
    "seal_too_near": "The retainer is closer to the seal than its minimum with the valve still closed.",
    "deduction_assumed": "No deduction was given; none is taken off.",
    "spring_loose": "A spring is past its free height: no load.",
    "coils_touch": "Coil bind before full lift; there is no load there.",
    "clearance_wide": "Coil-bind clearance is over twice its minimum, or the default if that is more; ask the spring "
    "maker whether less would control surge better.",
    "unusual_reading": "A reading is outside its usual range; check it and its unit.",
    "odd_one_out": "A part's mass is an outlier of its set: its modified z-score, 0.6745 times its distance from the "
    "median over the median of all such distances or the scale's step, is above 3.5, and it is off by more than two "
    "steps and 0.5 % (NIST/SEMATECH e-Handbook of Statistical Methods, 2012, 1.3.5.17, after Iglewicz and Hoaglin).",
    "unusual_coils": "Dimensions of a spring are unusual: check them.",
    "outside_table": "A wire is outside the diameters its material table covers.",
    "corrected_below_zero": "A tool's correction turns a reading negative; the reading is left out.",
    "second_run_differs": "Two runs of one spring differ by more than a tester repeats; the lower one is used, and "
    "not accepted.",
    "second_run_elsewhere": "A second run was taken outside the heights of the first; the two can't be compared there.",
    "share_estimated": "The moving share of a beehive's mass is an estimate; its dimensions were not given.",
    "spring_unused": "A spring is entered that no position uses.",
    "positions_share_spring": "Several positions use one spring's readings.",
    "not_reachable": "What is wanted can't be reached; the closest that can is given.",
    "stays_unequal": "One cut takes the same from every chamber; open up the small ones first.",
    "gasket_overhangs": "The gasket's opening is smaller than the bore; the gasket overhangs the bore.",
    "piston_meets_head": "The flat of the piston reaches or passes the head surface at TDC.",
    "quench_too_small": "Quench is under the minimum entered.",
    "quench_unusual": "Quench is outside the usual range for these rods; nothing is judged by it.",
    "effective_ratio_at_lift": "Intake closing was read at some lift; the valve seats later, and the true effective "
    "ratio is lower.",
    "beyond_pours": "The cut goes deeper than the chamber was cc'd; its volume there is extrapolated.",
    "head_too_thin": "The cut leaves less head than the minimum entered.",
    "thickness_elsewhere": "An angle cut takes more elsewhere than where head thickness was measured.",
    "dome_closer": "Domes come closer to chambers and spark plugs as the head drops; check with clay.",
    "bolt_seats_not_square": "After an angle cut the bolt seats are no longer square to the bolts.",
    "order_of_work": "Metal comes off that cannot be put back: measure, mock up, cut less, check again.",
    "quench_stays": "The cut on the head's own deck does not change the quench.",
    "bolts_bottom": "Head bolts go deeper; check that none bottoms out.",
    "dowels": "Dowels stand prouder or their holes are shallower; check that none holds the head off its gasket.",
    "end_covers": "Covers that seal to head and block no longer fit both; they may need the same cut.",
    "exhaust_alignment": "Exhaust ports drop with the head; check manifold and pipes.",
    "cover_rails": "Valve-cover rails drop, and lean after an angle cut.",
    "no_stock_length": "No stock pushrod length gives preload in range; a custom one is needed.",
    "preload_off": "Preload is out of range; the pushrod or the turns of the nut that bring it back.",
    "sweep_sets_length": "On adjustable rockers the sweep on the valve tip sets pushrod length, the nut sets preload.",
    "mock_up_disagrees": "A mock-up shows a different preload than figured from the earlier readings; the mock-up is "
    "used.",
    "pushrods_swing": "An angle cut swings the rockers sideways; not included in pushrod lengths.",
    "intake_cuts": "What to cut off each intake face and off the end rails, so that ports and bolt holes line up.",
    "metal_missing": "An intake face is short of metal for ports in line; milling can't fix that.",
    "gauge_finds_nothing": "Square intake faces open no gap; only the bolt holes show that the head has dropped.",
    "banks_unequal": "The heads have dropped by different amounts; the manifold moves sideways.",
    "ports_out_of_reach": "No manifold position lines up the ports of both heads.",
    "manifold_too_wide": "The manifold does not go in between upright intake faces.",
    "manifold_lifted": "The intake gaskets lift the manifold off its end rails.",
    "faces_open": "The manifold rests on its end rails with its faces still open.",
    "face_out_of_true": "An intake face is open further at one edge or end than at the other.",
    "bolt_holes_off": "Intake bolt holes are out of line once the manifold is seated.",
    "milling_disagrees": "Gaps and bolt holes at an intake face don't agree with the milling entered.",
    "wedge_turns_face": "An angle cut turns the intake face; it is not compared with flat milling.",
    "manifold_cocked": "The faces open at opposite edges; the manifold may sit cocked.",
    "face_warped": "A corner of an intake face is out of the plane of the others.",
    "cam_timing_moved": "An overhead cam no longer runs as timed.",
    "valve_meets_piston": "A valve and its piston touch or interfere.",
    "piston_to_valve_low": "Piston-to-valve clearance is under its minimum; what gives the room back.",
    "valves_swing": "An angle cut swings the valve heads sideways in their pockets.",
    "valves_sunk": "Valves sit deeper or prouder on seats that were cut; stem and installed heights change as much.",
    "valve_side_only": "Moving mass includes valve-side parts only (no rocker, pushrod or lifter).",
    "train_partly_counted": "Moving mass leaves out parts of the valve train that were not weighed.",
    "spring_heavy": "A spring weighs more than half of what it moves; a third of it is more than 0.4 % out.",
    "rigid_train": "Assumes a rigid valvetrain; flex, lifter bleed-down and coil bind are left out. Real float "
    "comes earlier.",
    "textbook_motion": "A lobe is a textbook stand-in: a rough guide only, not proof.",
    "lifts_differ": "A lobe's readings give a different lift than entered. Clearances use the larger lift, float the "
    "readings.",
    "beyond_calibration": "Readings are far outside the range a scale, a tester or a rocker ratio was checked in; "
    "the correction is extrapolated.",
    "repeats_averaged": "A reading was repeated; the mean is used, and the range is given.",
    "repeats_disagree": "Repeat readings differ by more than the tool repeats; one may be mistyped.",
    "readings_smoother": "A lift table scatters far less than the reading error entered: over-smoothing flattens the "
    "lobe and overstates float speed.",
    "readings_rougher": "A lift table scatters more than the reading error entered.",
    "lift_table_incomplete": "A lift table still needs readings; it is not used until then.",
    "float_short": "Float reserve is under its minimum; how much more spring load, or less moving mass, it takes.",
    "readings_coarse": "A lift table's readings are far apart, which adds to the uncertainty of the float speed.",
    "surge_ratio": "The lowest surge ratio and the lobe's nearest harmonic; valve springs run 6 to 10 (from memory). "
    "Judged only where the job sets a minimum.",
}
"""The notes that several topics share, and those of the topics that have no list of their own: code -> meaning. Codes
keep their meaning; new ones may come."""


class Note(Answer, kw_only=True, frozen=True):
    """Something found about this input."""

    code: Annotated[str, Meta(description="Stable short name; GET /v1/reference/notes lists them.")]
    pointer: Annotated[str, Meta(description="RFC 6901 JSON pointer to what it is about in the request.")]
    detail: Annotated[str, Meta(description="The finding in a sentence, numbers in the request's units.")]


class WaitsFor(Answer, kw_only=True, frozen=True):
    """A part that is not here, and between which days it can be."""

    part: Annotated[str, Meta(description="The part, by its id.")]
    soonest: Annotated[date | None, Meta(description="Soonest day it is here; null = no date is known.")]
    latest: Annotated[date | None, Meta(description="Latest day; null = no date is known.")]


class OpenItem(Answer, kw_only=True, frozen=True):
    """Something still to be measured or entered."""

    pointer: Annotated[str, Meta(description="RFC 6901 JSON pointer to where the reading belongs in the request.")]
    position: Annotated[str | None, Meta(description="The position it is about; null = none, or more than one.")]
    spring: Annotated[str | None, Meta(description="The spring it is about; null = none, or more than one.")]
    needed_for: Annotated[list[str], Meta(description="Fields of the answer that wait for it.")]
    detail: Annotated[str, Meta(description="What to measure, in a sentence.")]
    waits_for: Annotated[
        list[WaitsFor],
        Meta(
            description="Outstanding parts that are not here and that it takes; empty = it can be done, or none named."
        ),
    ] = []


def note(code: str, pointer: str, detail: str, known: Mapping[str, str] = NOTE_CODES) -> Note:
    """A note whose code is one of NOTE_CODES, or of those that a topic has of its own."""
    if code not in known:
        raise KeyError(code)
    return Note(code=code, pointer=pointer, detail=detail)


PLAIN_COMPARISON: Final = note("plain_comparison", "", NOTE_CODES["plain_comparison"])


def merged(items: Iterable[OpenItem]) -> list[OpenItem]:
    """Open items with every reading asked for once, all that it is needed for put together, in the order they come."""

    def sentence(first: str, other: str) -> str:
        """Both details in one: what is to be done is added, whom it is about is said once."""
        name, _, todo = first.partition(": ")
        whom, _, more = other.partition(": ")
        if name != whom or not more or more.lower() in todo.lower():
            return first
        return f"{first.removesuffix('.')}; {more}"

    by_place: dict[tuple[str, str | None], OpenItem] = {}
    for item in items:
        place = (item.pointer, item.position)
        first = by_place.get(place)
        if first is None:
            by_place[place] = msgspec.structs.replace(item, needed_for=list(dict.fromkeys(item.needed_for)))
            continue
        needed_for = list(dict.fromkeys([*first.needed_for, *item.needed_for]))
        detail = sentence(first.detail, item.detail)
        by_place[place] = msgspec.structs.replace(first, needed_for=needed_for, detail=detail)
    return list(by_place.values())

"""POST /v1/outstanding-parts: what waits for which part, and between which days it can be done."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from tests.api.jobs import Job
from tests.api.waiting.asking import PATH, TODAY, Client, ask, column, job, noted, part, refused, step


def test_five_or_six_weeks_are_35_to_42_days_after_the_order(client: Client) -> None:
    # by a calendar: Feb 9, 2026 + 35 days is Mar 16, + 42 days Mar 23
    weeks = {"unit": "weeks", "least": 5, "most": 6}
    (line,) = ask(client, job(part("valves", ordered_on="2026-02-09", lead_time=weeks)))["parts"]
    assert (line["basis"], line["soonest"], line["latest"]) == ("lead_time", "2026-03-16", "2026-03-23")


def test_readings_wait_for_every_part_that_feeds_them_by_the_table_of_the_trade(client: Client) -> None:
    parts = [
        part("stems", kind="valves", promised_on="2026-03-20"),
        part("retainers", kind="retainers_and_locks", promised_on="2026-03-12", promised_latest="2026-03-25"),
        part("springs", kind="springs", in_hand=1),
    ]
    lines = {line["reading"]: line for line in ask(client, job(*parts))["readings"]}
    height = lines["measured_height"]
    assert height["waits_for"] == ["stems", "retainers"]
    assert (height["soonest"], height["latest"], height["readiness"]) == ("2026-03-20", "2026-03-25", "waits")
    assert lines["stem_height"]["waits_for"] == ["stems"]
    assert (lines["coil_bind"]["readiness"], lines["coil_bind"]["soonest"]) == ("ready", TODAY)
    assert "intake_fit" not in lines


def test_what_a_part_feeds_may_be_said_in_place_of_the_table(client: Client) -> None:
    parts = [part("odd valves", kind="valves", feeds=["/springs/3/load_curve", "lap", "coil_bind"])]
    answer = ask(client, job(*parts, steps=[step("lap"), step("wash", "lap")]))
    assert column(answer, "readings", "reading") == ["/springs/3/load_curve", "coil_bind"]
    assert column(answer, "steps", "waits_for") == [["odd valves"], ["lap"]]
    assert answer["parts"][0]["steps"] == ["lap", "wash"]


def test_a_step_called_like_a_reading_is_another_thing(client: Client) -> None:
    parts = [part("stems", kind="valves", promised_on="2026-03-20"), part("stones", feeds=["seats"], in_hand=1)]
    answer = ask(client, job(*parts, steps=[step("seats")]))
    assert {line["reading"]: line["waits_for"] for line in answer["readings"]}["seats"] == ["stems"]
    assert (answer["steps"][0]["readiness"], answer["parts"][0]["steps"]) == ("ready", [])


def test_what_can_be_done_today_is_told_with_what_it_unlocks_the_most_first(client: Client) -> None:
    steps = [step("wash"), step("strip"), step("seats", "strip"), step("guides", "strip", "reamer")]
    answer = ask(client, job(part("reamer"), part("springs", kind="springs", in_hand=1), steps=steps))
    assert answer["do_today"][:2] == [
        {"what": "strip", "unlocks": ["seats"], "brings_nearer": ["guides"]},
        {"what": "wash", "unlocks": [], "brings_nearer": []},
    ]
    assert {"spring_load", "coil_bind"} <= set(column(answer, "do_today", "what"))
    assert column(answer, "steps", "readiness") == ["ready", "ready", "waits", "waits"]


def test_a_part_without_a_date_gives_none_and_is_asked_for(client: Client) -> None:
    answer = ask(
        client, job(part("cam card", kind="cam_card", ordered_on="2026-01-12"), steps=[step("degree", "cam card")])
    )
    assert (answer["parts"][0]["basis"], answer["parts"][0]["latest"]) == ("nothing", None)
    assert answer["finish_latest"] is answer["steps"][0]["start_soonest"] is None
    (item,) = answer["open_items"]
    assert (item["pointer"], item["detail"]) == (
        "/parts/0/promised_on",
        "Cam card: ask when it comes; no date is known.",
    )
    assert noted(answer, "no_finish") == ["No finish can be given: no date is known for cam card. Ask first for these."]


def test_a_late_part_is_named_first_and_has_no_date_any_more(client: Client) -> None:
    late = part("retainers", kind="retainers_and_locks", needed=16, in_hand=12, promised_on="2026-02-23")
    answer = ask(client, job(part("gasket", kind="gasket"), late, steps=[step("set up", "retainers")]))
    line = answer["parts"][1]
    # Feb 23 to Mar 9: 14 days
    assert (line["late_days"], line["soonest"], line["latest"], line["missing"]) == (14, None, None, 4)
    assert answer["notes"][0] == {
        "code": "part_late",
        "pointer": "/parts/1",
        "detail": "Retainers: 4 of 16 missing, promised for Feb 23, 2026, 2 weeks ago: ask.",
    }
    assert answer["open_items"][0]["detail"] == "Retainers: ask for a new date."
    assert answer["steps"][0]["start_latest"] is None


@pytest.mark.parametrize(
    ("known", "told"),
    [
        ({"promised_on": "2026-03-08"}, "promised for Mar 8, 2026, 1 day ago: ask."),
        ({"arrives_on": "2026-02-20"}, "was to arrive Feb 20, 2026, over 2 weeks ago: ask."),
        # Jan 5 + 21 days is Jan 26: 42 days ago
        (
            {"ordered_on": "2026-01-05", "lead_time": {"unit": "weeks", "least": 2, "most": 3}},
            "due by lead time Jan 26, 2026, 6 weeks ago: ask.",
        ),
    ],
)
def test_how_late_a_part_is_is_told_from_what_was_said_of_it(client: Client, known: Job, told: str) -> None:
    (detail,) = noted(ask(client, job(part("gasket", **known))), "part_late")
    assert detail == f"Gasket: not here, {told}"


def test_some_pieces_in_hand_are_told_and_asked_what_they_are_for(client: Client) -> None:
    some = part("springs", kind="springs", needed=16, in_hand=12, promised_on="2026-03-20")
    answer = ask(client, job(some))
    (item,) = answer["open_items"]
    assert item["pointer"] == "/parts/0/in_hand_for"
    assert item["detail"] == "Springs: enter which positions or springs the 12 in hand are for."
    assert noted(answer, "part_partly_here") == ["Springs: 12 of 16 in hand; do what they are for meanwhile."]
    known = ask(client, job(some | {"in_hand_for": ["1I", "1E"]}))
    assert known["open_items"] == []
    assert noted(known, "part_partly_here")[0].startswith("Springs: 12 of 16 in hand (1I and 1E);")
    assert ask(client, job(some | {"in_hand": 17}))["parts"][0]["missing"] == 0


def test_a_promise_that_moved_is_told_with_its_history(client: Client) -> None:
    moved = part(
        "valves", promised_on="2026-03-20", earlier_promises=["2026-02-20", "2026-03-06"], told_on="2026-03-05"
    )
    answer = ask(client, job(moved))
    # Feb 20 to Mar 20: 28 days
    assert noted(answer, "promise_moved") == [
        (
            "Valves: promised for Feb 20, 2026 and Mar 6, 2026, now for Mar 20, 2026, 4 weeks later than at first. "
            "Don't plan closely on it."
        )
    ]
    assert answer["parts"][0]["told_on"] == "2026-03-05"


def test_what_stands_in_lets_readings_be_tried_and_never_steps(client: Client) -> None:
    old = part("gasket", kind="gasket", stand_in="the old gasket", promised_on="2026-03-20")
    more = part("pistons", kind="pistons", promised_on="2026-03-22")
    answer = ask(client, job(old, more, steps=[step("bolt on", "gasket")]))
    readiness = {line["reading"]: line["readiness"] for line in answer["readings"]}
    assert (readiness["quench"], readiness["compression_ratio"]) == ("stand_in", "waits")
    assert answer["steps"][0]["readiness"] == "waits"
    (detail,) = noted(answer, "stand_in_only")
    assert detail.startswith("Gasket: the old gasket can stand in for quench, compression ratio and pushrod length")
    assert "not measured until the part is here" in detail


def test_by_when_to_order_is_what_is_wanted_less_the_chain_less_the_lead_time(client: Client) -> None:
    lead = {"unit": "weeks", "least": 2, "most": 3}
    steps = [step("fit", "springs", days=2), step("bolt on", "fit", days=1)]
    answer = ask(client, job(part("springs", lead_time=lead), steps=steps, wanted_by="2026-04-30"))
    (line,) = answer["parts"]
    # Apr 30 - 3 days = Apr 27; - 21 days = Apr 6; - 14 days = Apr 13
    assert (line["needed_by"], line["order_by"], line["order_by_at_best"]) == ("2026-04-27", "2026-04-06", "2026-04-13")
    assert noted(answer, "order_by") == ["Springs: order by Apr 6, 2026 to be done by Apr 30, 2026."]
    # ordered today it is here Mar 23 to 30, all done Apr 2: 28 days to spare
    assert (answer["finish_latest"], answer["days_to_spare"]) == ("2026-04-02", 28)


def test_what_is_too_late_to_order_is_named_before_what_is_not(client: Client) -> None:
    long, short = ({"unit": "weeks", "least": least, "most": most} for least, most in ((3, 6), (1, 1)))
    parts = [part("gasket", lead_time=short), part("cam", lead_time=long), part("sent", promised_on="2026-04-10")]
    answer = ask(client, job(*parts, steps=[step("fit", "gasket", "cam", "sent")], wanted_by="2026-04-06"))
    codes = [
        note["code"] for note in answer["notes"] if note["code"] in {"order_by", "order_by_passed", "part_too_late"}
    ]
    assert codes == ["order_by_passed", "part_too_late", "order_by"]
    # Apr 6 - 1 = Apr 5; - 42 = Feb 22, passed; - 21 = Mar 15, not yet
    assert noted(answer, "order_by_passed") == [
        (
            "Cam: to be done by Apr 6, 2026 the last day to order was Feb 22, 2026; only the shortest lead time still "
            "makes it. Order now."
        )
    ]
    assert noted(answer, "part_too_late") == [
        "Sent: too late to be done by Apr 6, 2026; needed by Apr 5, 2026. Ask for an earlier date."
    ]
    # Apr 20 by the cam's six weeks, Apr 21 done
    assert answer["days_to_spare"] == -15
    assert noted(answer, "finish_by_chain")[0].endswith(" Over 2 weeks too late for Apr 6, 2026.")


def test_a_part_that_feeds_nothing_is_told(client: Client) -> None:
    answer = ask(client, job(part("fuel pump", promised_on="2026-03-20"), steps=[step("wash")]))
    assert noted(answer, "part_feeds_nothing")[0].startswith("Fuel pump: nothing waits for it.")
    assert answer["finish_latest"] == "2026-03-10"


def test_one_bench_is_planned_by_the_longest_chain_and_told_to_be_a_plan(client: Client) -> None:
    steps = [step("short", days=3, bench=True), step("long", days=2, bench=True), step("after", "long", days=5)]
    answer = ask(client, job(steps=steps))
    # by hand: long first, as 5 days wait behind it; the bench is free again on Mar 11
    assert [(line["step"], line["start"], line["finish"]) for line in answer["plan"]] == [
        ("long", "2026-03-09", "2026-03-11"),
        ("short", "2026-03-11", "2026-03-14"),
        ("after", "2026-03-11", "2026-03-16"),
    ]
    assert answer["plan_finish"] == "2026-03-16"
    assert "a plan, not a promise" in noted(answer, "plan_not_promise")[0]


def test_what_is_to_spare_is_so_with_the_one_bench_there_is(client: Client) -> None:
    steps = [step("seats", "valves", days=10, bench=True), step("guides", days=10, bench=True)]
    valves = part("valves", needed=8, promised_on="2026-03-10")
    steps.append(step("deck", days=10, bench=True))
    answer = ask(client, job(valves, steps=steps, wanted_by="2026-03-25"))
    # by hand: guides until Mar 19, seats until Mar 29, deck until Apr 8: 14 days after Mar 25
    assert (answer["plan_finish"], answer["days_to_spare"]) == ("2026-04-08", -14)
    assert answer["plan_chain"] == ["guides", "seats", "deck"]
    assert noted(answer, "finish_by_chain") == [
        (
            "With the one bench all can be done Apr 8, 2026. What decides is guides, then seats, then deck; a day lost "
            "there is lost at the end. 2 weeks too late for Mar 25, 2026. With no wait for the bench it could be "
            "Mar 20, 2026."
        )
    ]
    # seats and deck are 20 days behind the valves: Mar 25 - 20 days
    assert answer["parts"][0]["needed_by"] == "2026-03-05"
    assert noted(answer, "part_too_late") == [
        (
            "Valves: 20 days of work follow in the plan; for Mar 25, 2026 the last day was Mar 5, 2026. Choose a later "
            "day, or take work off."
        )
    ]
    # on the bench the seats begin on Mar 19, so that the valves may come 9 days later; guides and deck not a day
    assert answer["parts"][0]["slack_days"] == 9
    assert column(answer, "steps", "slack_days") == [0, 0, 0]


def test_one_day_of_work_that_is_too_late_is_told_as_one(client: Client) -> None:
    request = job(part("seals", promised_on="2026-03-12"), steps=[step("fit", "seals")], wanted_by=TODAY)
    assert noted(ask(client, request), "part_too_late") == [
        (
            "Seals: 1 day of work follows in the plan; for Mar 9, 2026 the last day was Mar 8, 2026. Choose a later "
            "day, or take work off."
        )
    ]


def test_by_when_to_order_leaves_the_time_the_bench_takes(client: Client) -> None:
    steps = [step("fit", "springs", days=2, bench=True), step("deck", "gasket", days=5, bench=True)]
    lead = {"unit": "days", "least": 3, "most": 4}
    parts = [part("springs", lead_time=lead), part("gasket", lead_time=lead)]
    answer = ask(client, job(*parts, steps=steps, wanted_by="2026-03-30"))
    # by hand: deck, the longer, first and then fit: springs by Mar 28, gasket by Mar 30 - 2 - 5 = Mar 23; ordered 4
    # days before
    assert column(answer, "parts", "needed_by") == ["2026-03-28", "2026-03-23"]
    assert column(answer, "parts", "order_by") == ["2026-03-24", "2026-03-19"]
    # both here Mar 13, deck until Mar 18, fit until Mar 20
    assert (answer["plan_finish"], answer["days_to_spare"]) == ("2026-03-20", 10)


def test_a_part_without_a_date_is_needed_before_what_the_bench_does_last(client: Client) -> None:
    steps = [step("fit", "springs", days=2, bench=True), step("deck", "gasket", days=5, bench=True)]
    answer = ask(client, job(part("springs"), part("gasket", in_hand=1), steps=steps, wanted_by="2026-03-30"))
    # deck can be planned, fit comes after it
    assert column(answer, "parts", "needed_by") == ["2026-03-28", None]
    assert (answer["days_to_spare"], answer["plan_chain"]) == (None, [])


def test_what_is_wanted_today_may_be_wanted(client: Client) -> None:
    assert ask(client, job(steps=[step("wash", days=0)], wanted_by=TODAY))["days_to_spare"] == 0


def test_that_days_run_on_over_weekends_is_told_where_work_takes_any(client: Client) -> None:
    # Mar 13, 2026 is a Friday: 3 days from there are done on Monday, Mar 16
    answer = ask(client, job(steps=[step("heads on", days=3)]) | {"as_of": "2026-03-13"})
    assert answer["finish_latest"] == "2026-03-16"
    assert noted(answer, "days_run_on") == [
        "Every day counts, Saturdays, Sundays and holidays too. Where the shop is shut then, add those days to a step."
    ]
    assert noted(ask(client, job(steps=[step("wash", days=0)])), "days_run_on") == []


def test_a_reading_waits_for_parts_of_its_own_kind_of_valve(client: Client) -> None:
    parts = [
        part("intakes", kind="valves", valve="intake", in_hand=1),
        part("exhausts", kind="valves", valve="exhaust", promised_on="2026-03-20"),
        part("retainers", kind="retainers_and_locks", promised_on="2026-03-12"),
    ]
    answer = ask(client, job(*parts))
    lines = {(line["reading"], line["valve"]): line for line in answer["readings"]}
    assert lines["measured_height", "intake"]["waits_for"] == ["retainers"]
    assert lines["measured_height", "exhaust"]["waits_for"] == ["exhausts", "retainers"]
    assert lines["stem_height", "intake"]["readiness"] == "ready"
    # a chamber is filled with both valves in it
    assert lines["chamber_volume", None]["waits_for"] == ["exhausts"]
    assert ("chamber_volume", "intake") not in lines
    # of retainers alone nobody said a kind
    assert {line["valve"] for line in ask(client, job(parts[2]))["readings"]} == {None}
    assert "stem_height (intake)" in column(answer, "do_today", "what")
    assert answer["parts"][2]["readings"][:2] == ["measured_height (intake)", "measured_height (exhaust)"]


def test_only_exhaust_valves_late_hold_up_nothing_of_intakes(client: Client) -> None:
    exhausts = part("exhausts", kind="valves", valve="exhaust", promised_on="2026-03-20")
    answer = ask(client, job(exhausts))
    assert {line["valve"] for line in answer["readings"] if line["reading"] == "measured_height"} == {"exhaust"}
    assert "measured height (exhaust)" in noted(answer, "finish_by_chain")[0]


def test_nothing_at_all_is_answered(client: Client) -> None:
    answer = ask(client, job())
    assert (answer["finish_latest"], answer["plan"], answer["notes"], answer["open_items"]) == (None, [], [], [])


def test_a_loop_is_spelled_out(client: Client) -> None:
    steps = [step("set up", "cut"), step("cut", "measure"), step("measure", "set up"), step("wash", "set up")]
    assert refused(client, job(steps=steps)) == {
        "/steps/0/needs/0": "set up needs cut, cut needs measure, measure needs set up: none of them can ever begin; "
        "take one need out"
    }
    assert refused(client, job(steps=[step("cut", "cut")]))["/steps/0/needs/0"].startswith("cut needs cut")


@pytest.mark.parametrize(
    ("request_", "pointers"),
    [
        (job(steps=[step("cut", "valvs")]), ["/steps/0/needs/0"]),
        (job(part("a"), part("a")), ["/parts/1/id"]),
        (job(steps=[step("a"), step("a")]), ["/steps/1/id"]),
        (job(part("a"), steps=[step("a")]), ["/steps/0/id"]),
        (job(part("a", feeds=["coil bind"])), ["/parts/0/feeds/0"]),
        (job(part("a", ordered_on="2026-03-02", promised_on="2026-03-01")), ["/parts/0/promised_on"]),
        (job(part("a", ordered_on="2026-03-02", arrives_on="2026-03-01")), ["/parts/0/arrives_on"]),
        (
            job(part("a", ordered_on="2026-03-02", promised_on="2026-03-09", earlier_promises=["2026-03-01"])),
            ["/parts/0/earlier_promises/0"],
        ),
        (job(part("a", promised_on="2026-03-12", promised_latest="2026-03-11")), ["/parts/0/promised_latest"]),
        (job(part("a", promised_latest="2026-03-11")), ["/parts/0/promised_on"]),
        (job(part("a", ordered_on="2026-03-10")), ["/parts/0/ordered_on"]),
        (job(part("a", told_on="2026-03-10")), ["/parts/0/told_on"]),
        (job(part("a", lead_time={"unit": "days", "least": 4, "most": 3})), ["/parts/0/lead_time/most"]),
        (job(part("a", needed=3, in_hand=1, in_hand_for=["1I", "2I"])), ["/parts/0/in_hand_for"]),
        (job(part("a", promised_on="0206-03-10")), ["/parts/0/promised_on"]),
        (job() | {"as_of": "2126-03-10"}, ["/as_of"]),
        (job(wanted_by="9999-12-31"), ["/wanted_by"]),
        (job(wanted_by="2026-03-08"), ["/wanted_by"]),
        (job(part("a", needed=16, in_hand=12, in_hand_for=["1I", "2I", "1I"])), ["/parts/0/in_hand_for/2"]),
        (
            job(part("a", feeds=["x"]), part("a", promised_latest="1999-01-01"), steps=[step("b", "b", "c")]),
            [
                "/parts/1/id", "/parts/1/promised_latest", "/parts/1/promised_on", "/steps/0/needs/1",
                "/parts/0/feeds/0", "/steps/0/needs/0",
            ],
        ),
    ],
)  # fmt: skip
def test_what_contradicts_itself_is_refused_at_its_place(client: Client, request_: Job, pointers: list[str]) -> None:
    assert list(refused(client, request_)) == pointers


@pytest.mark.parametrize(
    "day", ["2026-02-30", "9 March 2026", "03/09/2026", "2026-3-9", "2026-03-09T12:00:00", "", 20260309]
)
def test_a_date_that_is_none_is_refused_with_one_that_is(client: Client, day: Any) -> None:
    response = client.post(PATH, json=job() | {"as_of": day})
    assert response.status_code == 400
    (error,) = response.json()["errors"]
    assert error["pointer"] == "/as_of"
    assert "a date like 2026-03-17" in error["detail"]


def test_the_largest_job_there_is_is_answered(client: Client) -> None:
    parts = [
        part(f"p{at}", lead_time={"unit": "weeks", "least": 0, "most": 520}, in_hand_for=[], kind="valves")
        for at in range(64)
    ]
    names = [one["id"] for one in parts]
    steps: list[Job] = []
    for at in range(64):
        steps.append(step(f"s{at}", *names, *(one["id"] for one in steps), days=365, bench=True))
    answer = ask(client, job(*parts, steps=steps) | {"as_of": "2099-12-31"})
    # 64 steps of 365 days one after another, behind 3,640 days
    spent = (date.fromisoformat(answer["finish_latest"]) - date(2099, 12, 31)).days
    assert spent == 3640 + 64 * 365
    assert answer["plan_finish"] == answer["finish_latest"]

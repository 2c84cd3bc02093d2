"""POST /v1/outstanding-parts: what holds of every answer, whatever is asked."""

from __future__ import annotations

from copy import deepcopy
from random import Random

from hypothesis import given
from hypothesis import strategies as st
from tests.api.jobs import Job
from tests.api.waiting.asking import TODAY, Client, ask, job, noted, part, step

days = st.integers(1, 28).map(lambda day: f"2026-03-{day:02}")
leads = st.tuples(st.integers(0, 6), st.integers(0, 3)).map(
    lambda one: {"unit": "weeks", "least": one[0], "most": one[0] + one[1]}
)


@st.composite
def asked(draw: st.DrawFn) -> Job:
    parts = [
        part(
            f"p{place}",
            kind=draw(st.none() | st.sampled_from(["valves", "springs", "gasket"])),
            needed=draw(st.integers(1, 3)),
            in_hand=draw(st.integers(0, 3)),
            promised_on=draw(st.none() | days),
            lead_time=draw(st.none() | leads),
        )
        for place in range(draw(st.integers(0, 4)))
    ]
    steps: list[Job] = []
    for place in range(draw(st.integers(0, 5))):
        before = [one["id"] for one in (*parts, *steps)]
        needs = draw(st.lists(st.sampled_from(before), unique=True, max_size=3)) if before else []
        steps.append(step(f"s{place}", *needs, days=draw(st.integers(0, 4)), bench=draw(st.booleans())))
    return job(*parts, steps=steps, wanted_by=draw(st.none() | st.just("2026-05-01")))


@given(request_=asked())
def test_whatever_has_no_date_is_asked_for_and_whatever_is_late_is_told(client: Client, request_: Job) -> None:
    answer = ask(client, request_)
    items = {item["pointer"].split("/")[2] for item in answer["open_items"] if not item["pointer"].endswith("_for")}
    undated = {str(place) for place, line in enumerate(answer["parts"]) if line["latest"] is None}
    assert items == undated
    late = {line["id"] for line in answer["parts"] if line["late_days"] is not None}
    assert len(noted(answer, "part_late")) == len(late)


@given(request_=asked())
def test_a_step_is_ready_when_nothing_is_named_and_begins_today_then(client: Client, request_: Job) -> None:
    answer = ask(client, request_)
    for line in answer["steps"]:
        assert (line["readiness"] == "ready") == (line["waits_for"] == [])
        if line["readiness"] == "ready":
            assert line["start_soonest"] == line["start_latest"] == TODAY
    today = {line["what"] for line in answer["do_today"]}
    assert {line["id"] for line in answer["steps"] if line["readiness"] == "ready"} <= today


@given(request_=asked(), order=st.randoms(use_true_random=False))
def test_the_order_of_parts_and_steps_changes_no_date(client: Client, request_: Job, order: Random) -> None:
    mixed = deepcopy(request_)
    order.shuffle(mixed["parts"])
    order.shuffle(mixed["steps"])
    straight, other = ask(client, request_), ask(client, mixed)
    dates: tuple[str, ...] = ("start_soonest", "start_latest", "finish_soonest", "finish_latest", "slack_days")
    of_parts: tuple[str, ...] = ("soonest", "latest", "needed_by", "order_by")
    if sum(one["bench"] for one in request_["steps"]) > 1:
        # of two as long the bench takes the one that is listed first, which is for the shop to say
        of_parts, dates = of_parts[:2], dates[:4]
    for where, names in (("parts", of_parts), ("steps", dates)):
        lines = [{one["id"]: [one[name] for name in names] for one in each[where]} for each in (straight, other)]
        assert lines[0] == lines[1]
    assert straight["finish_latest"] == other["finish_latest"]

"""The page of one valve: a plain form, its faults beside their fields, and what it came to. Works without scripts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from html import escape
from typing import Any, Final

from headbench.api.bench.forms import Fields
from headbench.api.exchange.problems import Problem
from headbench.api.vocabulary.checks import VerdictName
from headbench.api.vocabulary.findings import cautions_for
from headbench.api.vocabulary.saying import in_places

ADDRESS: Final = "/v1/valve-check"
CAUTIONS: Final = cautions_for("tester", "springs", "retainer", "engine")

_VERDICTS: Final[Mapping[VerdictName, str]] = {
    "accept": "good",
    "borderline": "off target: you decide",
    "not_measured": "not all measured yet",
    "reject": "reject: do not assemble",
}
_WORDS: Final[Mapping[VerdictName, str]] = {
    "accept": "good",
    "borderline": "you decide",
    "not_measured": "open",
    "reject": "reject",
}
"""Verdicts of the valve, and of one check of it."""

_REFUSALS: Final = {400: "This cannot be read. Correct it:", 422: "These cannot all be true. Read again:"}
"""Why nothing was figured, by the status of the refusal; what follows names the fields."""

_RULES: Final = {"at_least": "at least ", "at_most": "at most ", "within": "within ±"}

_GROUPS: Final[Sequence[tuple[str, Sequence[tuple[str, str, str]]]]] = (
    (
        "Wanted",
        (("target_height", "Height, valve closed", "length"), ("target_seat_load", "Seat load", "force")),
    ),
    (
        "Read at the valve",
        (
            ("measured_height", "Spring height, valve closed, no shims", "length"),
            ("deduction", "Height micrometer: subtract", "length"),
            ("valve_lift", "Valve lift", "length"),
            ("retainer_to_seal", "Retainer to top of seal, valve closed", "length"),
        ),
    ),
    (
        "Read on the spring tester",
        (
            ("first_height", "First height", "length"),
            ("first_load", "Load at the first height", "force"),
            ("second_height", "Second height", "length"),
            ("second_load", "Load at the second height", "force"),
            ("coil_bind_height", "Height where the coils touch", "length"),
        ),
    ),
)
"""The fields: group, then name, label and quantity of each."""

_HELD: Final = (
    "locator_thickness", "locator_in_place", "job.head", "job.customer", "job.engine", "job.remarks",
)  # fmt: skip
"""Fields of a job that the form has no room for; they are handed on as they came."""

_CHECKS: Final = (
    ("installed_height_check", "Height off target", "length"),
    ("seat_load_check", "Seat load off target", "percent"),
    ("coil_bind_clearance_check", "Coil-bind clearance, full lift", "length"),
    ("retainer_to_seal_clearance_check", "Seal clearance, full lift", "length"),
)


def page(fields: Fields, answer: Any, problem: Problem | None) -> str:
    """The whole page; everything that a person entered is text in it."""
    faults = {} if problem is None else {_field(one.pointer): _told(one.detail) for one in problem.errors}
    return "\n".join(
        [
            '<!doctype html><html lang="en"><head><meta charset="utf-8">',
            '<meta name="viewport" content="width=device-width, initial-scale=1"><title>One valve · Headbench</title>',
            '<link rel="icon" href="/bench/icon.svg" type="image/svg+xml">',
            '<link rel="stylesheet" href="/bench/style.css"></head><body>',
            '<header><a href="/bench">&lsaquo; Headbench</a></header><main><h1>One valve</h1>',
            *([] if problem is None else _refused(problem, faults)),
            *([_cautions()] if answer is None else _answered(answer)),
            f'<form class="setup" method="post" action="{ADDRESS}">',
            *_form(fields, faults),
            '<button class="main" type="submit">Work it out</button></form></main></body></html>',
        ]
    )


def _cautions() -> str:
    """What to mind before the first reading; an answer brings its own."""
    told = "".join(f"<li>{escape(one)}</li>" for one in CAUTIONS)
    return f'<ul class="cautions">{told}</ul>'


def _field(pointer: str) -> str:
    return pointer[1:].replace("/", ".")


def _told(detail: str) -> str:
    """A sentence for whom sees a form: what is null in JSON is blank there."""
    return detail.replace(" or null", " or blank")


def _form(fields: Fields, faults: Mapping[str, str]) -> Iterator[str]:
    yield '<fieldset class="box"><legend>Valve</legend>'
    yield _input("job.reference", "Job", fields.get("job.reference", ""), faults, "text")
    yield _input("id", "Name of the valve", fields.get("id", ""), faults, "text")
    yield _select("valve", "Kind", [("intake", "intake"), ("exhaust", "exhaust")], fields, faults)
    lengths = [("in", "inches"), ("mm", "millimeters")]
    yield _select("units.length", "Lengths in", lengths, fields, faults)
    forces = [("lbf", "pounds"), ("N", "newtons"), ("kgf", "kilograms-force")]
    yield _select("units.force", "Loads in", forces, fields, faults)
    yield "</fieldset>"
    for legend, group in _GROUPS:
        yield f'<fieldset class="box"><legend>{escape(legend)}</legend>'
        for name, label, _ in group:
            yield _input(name, label, fields.get(name, ""), faults, "decimal")
        yield "</fieldset>"
    for name in _HELD:
        if fields.get(name):
            yield f'<input type="hidden" name="{name}" value="{escape(fields[name])}">'


def _input(name: str, label: str, value: str, faults: Mapping[str, str], mode: str) -> str:
    return (
        f'<div class="one"><label for="{name}">{escape(label)}</label><input id="{name}" name="{name}" '
        f'value="{escape(value)}" inputmode="{mode}" maxlength="60" autocomplete="off"{_fault(name, faults)}</div>'
    )


def _select(
    name: str, label: str, choices: Sequence[tuple[str, str]], fields: Fields, faults: Mapping[str, str]
) -> str:
    options = "".join(
        f'<option value="{value}"{" selected" if fields.get(name) == value else ""}>{escape(word)}</option>'
        for value, word in choices
    )
    head = f'<div class="one"><label for="{name}">{escape(label)}</label><select id="{name}" name="{name}"'
    invalid, _, told = _fault(name, faults).partition(">")
    return f"{head}{invalid}>{options}</select>{told}</div>"


def _fault(name: str, faults: Mapping[str, str]) -> str:
    """What closes the tag of a field, and its fault beside it."""
    if name not in faults:
        return ">"
    told = escape(faults[name])
    return f' aria-invalid="true" aria-describedby="{name}-fault"><p class="fault" id="{name}-fault">{told}</p>'


def _refused(problem: Problem, faults: Mapping[str, str]) -> Iterator[str]:
    there = {
        "job.reference": "Job",
        "id": "Name of the valve",
        "valve": "Kind",
        "units.length": "Lengths in",
        "units.force": "Loads in",
        **{name: label for _, group in _GROUPS for name, label, _ in group},
    }
    told = _REFUSALS.get(problem.status, problem.detail) if faults else problem.detail
    yield f'<div class="problem" role="alert"><p><b>Not figured.</b> {escape(told)}</p><ul>'
    for name, detail in faults.items():
        told = escape(f"{there[name]}: {detail}" if name in there else detail)
        yield f'<li><a href="#{name}">{told}</a></li>' if name in there else f"<li>{escape(name)}: {told}</li>"
    yield "</ul></div>"


def _answered(answer: Any) -> Iterator[str]:
    line, used = answer.position, answer.units

    def length(value: float | None) -> str:
        return _number(value, used.length)

    def force(value: float | None) -> str:
        return _number(value, used.force)

    yield f'<section class="card is-{answer.verdict}" aria-label="Answer">'
    job = "" if answer.job.reference is None else f"{escape(answer.job.reference)}, "
    yield f"<h2>{job}{escape(line.id)}: {_VERDICTS[answer.verdict]}</h2>"
    shims = " + ".join(in_places(one, used.length) for one in line.shims)
    unknown = "not known yet" if line.shim_stack is None else "none"
    wanted = "" if line.target_height is None else f", {length(line.target_height)} wanted"
    rows = [
        ("Spring height as read", length(line.measured_height)),
        ("Shims to lay", shims or unknown),
        ("Stands", f"{length(line.installed_height)}{wanted}"),
        ("Pushes closed", force(line.seat_load)),
        ("Pushes open", force(line.open_load)),
    ]
    yield "<table><tbody>"
    for name, value in rows:
        yield f'<tr><th scope="row">{name}</th><td>{value}</td><td></td></tr>'
    for field, name, quantity in _CHECKS:
        check = getattr(line, field)
        if check is not None:
            unit = used.length if quantity == "length" else "percent"
            value = _number(check.value, unit)
            limit = f"{_RULES[check.rule]}{_number(abs(check.limit), unit)}"
            verdict = _WORDS[check.verdict] if check.counts_toward_verdict else "for information"
            yield f'<tr><th scope="row">{name}<small>{limit}</small></th><td>{value}</td><td>{verdict}</td></tr>'
    yield "</tbody></table>"
    for title, told in (
        ("Still to measure", [one.detail for one in answer.open_items]),
        ("Found", [one.detail for one in answer.notes]),
        ("Cautions", answer.cautions),
    ):
        if told:
            yield f"<h3>{title}</h3><ul>{''.join(f'<li>{escape(one)}</li>' for one in told)}</ul>"
    yield f"<p>Headbench {escape(answer.version)}</p></section>"


def _number(value: float | None, unit: str) -> str:
    if value is None:
        return "not measured"
    return f"{in_places(value, unit)} {'%' if unit == 'percent' else unit}"

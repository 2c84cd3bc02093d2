"""The fingerprint is the SHA-256 of the job's canonical JSON, and changes with every reading."""

from __future__ import annotations

import hashlib
import json
from copy import deepcopy

from tests.api.jobs import DEMO, whole_job
from tests.sheets import sheet

from headbench.sheet.fingerprint import fingerprint


def test_it_is_that_of_the_canonical_form() -> None:
    # RFC 8785, 3.2.4: its example, and the bytes of its canonical form
    job = {
        "numbers": [333333333.33333329, 1e30, 4.50, 2e-3, 0.000000000000000000000000001],
        "string": "\u20ac$\u000f\u000aA'\u0042\u0022\u005c\\\"\u002f",
        "literals": [None, True, False],
    }
    canonical = (
        '{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],'
        '"string":"\u20ac$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}'
    )
    assert fingerprint(job) == hashlib.sha256(canonical.encode()).hexdigest()


def test_spaces_and_the_order_of_fields_do_not_matter_and_readings_do() -> None:
    job = whole_job()
    turned = json.loads(json.dumps(dict(reversed(job.items())), indent=3))
    assert fingerprint(turned) == fingerprint(job)
    other = deepcopy(job)
    other["positions"][0]["measured_height"] += 0.0005
    assert fingerprint(other) != fingerprint(job)


def test_it_is_printed_in_short_on_every_sheet() -> None:
    for which in ("bench", "customer", "labels"):
        assert sheet(DEMO, which).footing.endswith(fingerprint(DEMO)[:16])

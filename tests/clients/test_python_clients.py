"""Python clients generated from the published schema: nothing lost, and every operation called on a live server."""

from __future__ import annotations

import compileall
import importlib
import json
import re
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from tests.vectors import VECTORS

ROOT = Path(__file__).parent.parent.parent
COMMITTED = ROOT / "openapi" / "openapi.json"
BIN = Path(sys.executable).parent


def generate(*command: str) -> str:
    """Run a generator with its own settings; what it says."""
    run = subprocess.run([str(BIN / command[0]), *command[1:]], capture_output=True, text=True, check=False)  # noqa: S603 - ours
    assert run.returncode == 0, run.stdout + run.stderr
    return run.stdout + run.stderr


def snake(name: str) -> str:
    return re.sub(r"(?<!^)(?=[A-Z])", "_", name).lower()


@pytest.fixture(scope="module")
def attrs_client(tmp_path_factory: pytest.TempPathFactory) -> str:
    """A package made by openapi-python-client, ready to be imported by the name that is given."""
    folder = tmp_path_factory.mktemp("attrs")
    # no hooks, else it formats what it made with tools that may not be there; a batch is for it one of a single line
    settings = "post_hooks: []\ncontent_type_overrides: {application/x-ndjson: application/json}\n"
    (folder / "settings.yaml").write_text(settings)
    target = folder / "bench_by_attrs"
    told = generate(
        "openapi-python-client", "generate", f"--path={COMMITTED}", f"--output-path={target}", "--meta=none",
        f"--config={folder / 'settings.yaml'}",
    )  # fmt: skip
    assert "WARNING" not in told.upper(), told
    assert compileall.compile_dir(target, quiet=1)
    sys.path.insert(0, str(folder))
    return target.name


@pytest.fixture(scope="module")
def pydantic_models(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """A module of models made by datamodel-code-generator."""
    folder = tmp_path_factory.mktemp("pydantic")
    target = folder / "bench_by_pydantic.py"
    generate(
        "datamodel-codegen", f"--input={COMMITTED}", "--input-file-type=openapi",
        "--output-model-type=pydantic_v2.BaseModel", f"--output={target}",
    )  # fmt: skip
    assert compileall.compile_file(target, quiet=1)
    sys.path.insert(0, str(folder))
    return importlib.import_module(target.stem)


@pytest.fixture
def bench(attrs_client: str, address: str) -> Iterator[Any]:
    """The generated client of the live server."""
    client = importlib.import_module(f"{attrs_client}.client").Client(base_url=address, raise_on_unexpected_status=True)
    with client:
        yield client


def test_openapi_python_client_loses_no_operation_and_calls_each(
    attrs_client: str, bench: Any, operations: Any
) -> None:
    models = importlib.import_module(f"{attrs_client}.models")
    for one in operations:
        call = importlib.import_module(f"{attrs_client}.api.{one.tag.lower()}.{snake(one.name)}")
        given = {}
        if one.takes:
            given["body"] = getattr(models, one.takes).from_dict(one.job)
            assert given["body"].to_dict() == one.job, one.name
        assert type(call.sync(client=bench, **given)).__name__ == one.gives, one.name


def test_openapi_python_client_answers_every_vector_as_expected(attrs_client: str, bench: Any, operations: Any) -> None:
    models = importlib.import_module(f"{attrs_client}.models")
    by_path = {one.path: one for one in operations}
    for vector in VECTORS:
        one = by_path[f"/v1/{vector.kind}"]
        call = importlib.import_module(f"{attrs_client}.api.{one.tag.lower()}.{snake(one.name)}")
        body = getattr(models, one.takes).from_dict(vector.request)
        assert vector.faults(call.sync(client=bench, body=body).to_dict()) == [], vector.name


def test_openapi_python_client_gives_the_main_job_a_typed_answer(attrs_client: str, bench: Any, main: Any) -> None:
    models = importlib.import_module(f"{attrs_client}.models")
    call = importlib.import_module(f"{attrs_client}.api.bench.assemble_head")
    sheet = call.sync(client=bench, body=models.HeadAssemblyRequest.from_dict(main.job))
    assert sheet.positions[0].bare_height == pytest.approx(bare_height(main.job), abs=1e-9)
    least = models.HeadAssemblyRequest(
        units=models.Units(length=models.LengthUnit("mm")),
        positions=[models.Position(id="1I", valve=models.ValveKind("intake"))],
    )
    assert call.sync(client=bench, body=least).units.length == "mm"


def test_openapi_python_client_gives_a_refusal_as_a_typed_problem(attrs_client: str, bench: Any) -> None:
    models = importlib.import_module(f"{attrs_client}.models")
    call = importlib.import_module(f"{attrs_client}.api.bench.assemble_head")
    twice = [models.Position(id="1I", valve=models.ValveKind(kind)) for kind in ("intake", "exhaust")]
    problem = call.sync(client=bench, body=models.HeadAssemblyRequest(positions=twice))
    assert type(problem).__name__ == "Problem"
    assert [fault.pointer for fault in problem.errors] == ["/positions/1/id"]


def test_openapi_python_client_gives_a_batch_of_one_line_a_typed_answer(
    attrs_client: str, bench: Any, main: Any
) -> None:
    models = importlib.import_module(f"{attrs_client}.models")
    call = importlib.import_module(f"{attrs_client}.api.bench.run_batch")
    line = models.BatchHeadAssembly(
        kind="head-assembly", id="J-17", request=models.HeadAssemblyRequest.from_dict(main.job)
    )
    answered = call.sync(client=bench, body=line)
    assert type(answered).__name__ == "BatchAnswered"
    assert (answered.line, answered.id, answered.status) == (1, "J-17", 200)
    assert answered.answer.positions[0].bare_height == pytest.approx(bare_height(main.job), abs=1e-9)
    line.request.positions.append(line.request.positions[0])
    refused = call.sync(client=bench, body=line)
    assert type(refused).__name__ == "BatchRefused"
    assert refused.problem.errors[0].pointer.startswith("/request/positions/")


def test_datamodel_code_generator_loses_no_component_and_takes_every_job_and_answer(
    pydantic_models: Any, operations: Any, document: Any, address: str
) -> None:
    assert [name for name in document["components"]["schemas"] if not hasattr(pydantic_models, name)] == []
    for one in operations:
        body = getattr(pydantic_models, one.takes).model_validate(one.job) if one.takes else None
        answered = called(address + one.path, None if body is None else body.model_dump_json(exclude_unset=True))
        getattr(pydantic_models, one.gives).model_validate_json(answered)


def test_datamodel_code_generator_answers_every_vector_as_expected(
    pydantic_models: Any, operations: Any, address: str
) -> None:
    by_path = {one.path: one for one in operations}
    for vector in VECTORS:
        one = by_path[f"/v1/{vector.kind}"]
        body = getattr(pydantic_models, one.takes).model_validate(vector.request)
        answered = called(address + one.path, body.model_dump_json(exclude_unset=True))
        answer = getattr(pydantic_models, one.gives).model_validate_json(answered)
        assert vector.faults(answer.model_dump(mode="json")) == [], vector.name


def test_datamodel_code_generator_gives_the_main_job_a_typed_answer(
    pydantic_models: Any, main: Any, address: str
) -> None:
    job = pydantic_models.HeadAssemblyRequest.model_validate(main.job)
    assert json.loads(job.model_dump_json(exclude_unset=True)) == main.job
    answered = called(address + main.path, job.model_dump_json(exclude_unset=True))
    sheet = pydantic_models.AssemblySheet.model_validate_json(answered)
    assert sheet.positions[0].bare_height == pytest.approx(bare_height(main.job), abs=1e-9)


def test_datamodel_code_generator_gives_plain_fields_and_one_type_for_each_choice(pydantic_models: Any) -> None:
    assert type(pydantic_models.Lift(lash=0.006).lash) is float
    assert pydantic_models.Units.model_fields["length"].annotation == pydantic_models.LengthUnit | None
    verdicts = {
        getattr(pydantic_models, name).model_fields["verdict"].annotation
        for name in ("AssemblySheet", "LengthCheck", "ForceCheck", "PositionLine")
    }
    assert verdicts == {pydantic_models.Verdict}


@pytest.mark.parametrize("name", ["KW-0317", "Zylinderkopf links, 2\u00a0St\u00fcck"])
def test_datamodel_code_generator_takes_a_line_of_text_and_null(pydantic_models: Any, name: str) -> None:
    job = pydantic_models.Job(reference=name, remarks=None, parts=None)
    assert job.model_dump() | {"reference": name} == job.model_dump()


@pytest.mark.parametrize("name", ["", "a\n", "a\nb", "\x00", "a\x1b", "a\x85", "a\u2028b", "x" * 61])
def test_datamodel_code_generator_refuses_what_is_no_line_of_text(pydantic_models: Any, name: str) -> None:
    with pytest.raises(ValueError, match="reference"):
        pydantic_models.Job(reference=name)


def test_a_client_that_writes_null_for_what_it_does_not_set_is_answered(
    pydantic_models: Any, main: Any, address: str
) -> None:
    job = pydantic_models.HeadAssemblyRequest.model_validate(main.job)
    with_nulls, without = job.model_dump_json(), job.model_dump_json(exclude_none=True)
    assert with_nulls.count("null") > without.count("null") == 0
    assert called(address + main.path, with_nulls) == called(address + main.path, without)


@pytest.fixture(scope="session")
def main(operations: Any) -> Any:
    """The main job."""
    return next(one for one in operations if one.name == "assembleHead")


def bare_height(job: Any) -> float:
    """What is read less what the gauge over-reads."""
    position = job["positions"][0]
    return float(position["measured_height"] - job["height_corrections"][position["valve"]]["deduction"])


def called(url: str, body: str | None) -> bytes:
    """What the service answers."""
    data = None if body is None else body.encode()
    request = urllib.request.Request(url, data, {"Content-Type": "application/json"})  # noqa: S310 - our own server
    with urllib.request.urlopen(request, timeout=30.0) as response:  # noqa: S310 - likewise
        answered: bytes = response.read()
        return answered

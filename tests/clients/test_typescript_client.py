"""A TypeScript client generated from the published schema: compiles strictly and calls every operation live."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest
from tests.vectors import VECTORS

COMMITTED = Path(__file__).parent.parent.parent / "openapi" / "openapi.json"
SOURCES = Path(__file__).parent / "typescript"
UNREACHED = re.compile(r"ENOTFOUND|EAI_AGAIN|ECONNREFUSED|ECONNRESET|ENETUNREACH|EHOSTUNREACH|ETIMEDOUT|ENOTCACHED")


def run(folder: Path, *command: str, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(  # noqa: S603 - our own commands
        command, cwd=folder, env={**os.environ, **environment}, capture_output=True, text=True, check=False
    )


@pytest.fixture(scope="module")
def compiled(tmp_path_factory: pytest.TempPathFactory, operations: Any) -> Path:
    """The folder of the programs, the client generated with its own settings and compiled strictly."""
    if not (shutil.which("npm") and shutil.which("node")):
        pytest.skip("not tried in this run: the TypeScript client; there is no npm and node here")
    folder = tmp_path_factory.mktemp("typescript")
    shutil.copytree(SOURCES, folder, dirs_exist_ok=True, ignore=shutil.ignore_patterns("node_modules"))
    installed = run(folder, "npm", "ci", "--prefer-offline", "--no-progress")
    if installed.returncode and UNREACHED.search(installed.stderr):
        pytest.skip("not tried in this run: the TypeScript client; its packages cannot be reached from here")
    assert installed.returncode == 0, installed.stderr
    generated = run(folder, "node_modules/.bin/openapi-typescript", str(COMMITTED), "-o", "schema.ts")
    assert generated.returncode == 0, generated.stderr
    (folder / "all_jobs.ts").write_text(all_jobs(operations))
    (folder / "all_vectors.ts").write_text(all_vectors(operations))
    made = run(folder, "node_modules/.bin/tsc", "--strict")
    assert made.returncode == 0, made.stdout[:4000]
    return folder


def all_jobs(operations: Any) -> str:
    """A program that posts every published job, each written out, so that the compiler holds it to its type."""
    calls = []
    for one in operations:
        job = f'const job: components["schemas"]["{one.takes}"] = {json.dumps(one.job)};' if one.takes else ""
        given = ", { body: job }" if one.takes else ""
        calls.append(f"""{{
  {job}
  const shown: components["schemas"]["{one.gives}"] = {json.dumps(one.answer)};
  const {{ data, error }} = await bench.{one.method.upper()}("{one.path}"{given});
  if (error) throw new Error(JSON.stringify(error));
  const answer: components["schemas"]["{one.gives}"] = data;
  told["{one.name}"] = [shown, answer];
}}""")
    head = (SOURCES / "main_job.ts").read_text().split("const job")[0]
    return (
        f"{head}\nconst told: Record<string, unknown[]> = {{}};\n"
        + "\n".join(calls)
        + "\nconsole.log(JSON.stringify(told));\n"
    )


def all_vectors(operations: Any) -> str:
    """A program that posts every vector, each written out, and tells where its answer is not as expected."""
    by_path = {one.path: one for one in operations}
    calls = []
    for vector in VECTORS:
        one = by_path[f"/v1/{vector.kind}"]
        expected = json.dumps({"tolerance": vector.tolerance, "answer": vector.answer})
        calls.append(f"""{{
  const body: components["schemas"]["{one.takes}"] = {json.dumps(vector.request)};
  const {{ data, error }} = await bench.POST("{one.path}", {{ body }});
  if (error) throw new Error(JSON.stringify(error));
  told["{vector.kind}/{vector.name}"] = faults({expected}, data);
}}""")
    head = (SOURCES / "main_job.ts").read_text().split("const job")[0]
    return (
        f'import {{ faults }} from "./check.js";\n{head}\nconst told: Record<string, string[]> = {{}};\n'
        + "\n".join(calls)
        + "\nconsole.log(JSON.stringify(told));\n"
    )


def test_every_vector_is_answered_as_expected(compiled: Path, address: str) -> None:
    called = run(compiled, "node", "made/all_vectors.js", BENCH=address)
    assert called.returncode == 0, called.stderr
    assert json.loads(called.stdout) == {f"{vector.kind}/{vector.name}": [] for vector in VECTORS}


def test_a_vector_that_is_not_met_is_told(compiled: Path) -> None:
    program = """import { faults } from "./made/check.js";
const vector = { tolerance: { relative: 0, absolute: 0.01 }, answer: { "/a/0": 1, "/b": [1, 2], "/c": null } };
console.log(JSON.stringify([faults(vector, { a: [1.009], b: [1, 2], c: null }),
                            faults(vector, { a: [1.02], b: [1], c: 0 }).length]));
"""
    (compiled / "told.mjs").write_text(program)
    called = run(compiled, "node", "told.mjs")
    assert called.returncode == 0, called.stderr
    assert json.loads(called.stdout) == [[], 3]


def test_every_operation_is_called_with_its_published_job(compiled: Path, operations: Any, address: str) -> None:
    called = run(compiled, "node", "made/all_jobs.js", BENCH=address)
    assert called.returncode == 0, called.stderr
    told = json.loads(called.stdout)
    assert list(told) == [one.name for one in operations]
    for name, (shown, answer) in told.items():
        assert shown.keys() == answer.keys(), name


def test_the_main_job_is_answered_and_its_bare_height_is_the_reading_less_the_deduction(
    compiled: Path, operations: Any, address: str
) -> None:
    called = run(compiled, "node", "made/all_jobs.js", BENCH=address)
    _, sheet = json.loads(called.stdout)["assembleHead"]
    job = next(one for one in operations if one.name == "assembleHead").job
    position = job["positions"][0]
    by_hand = position["measured_height"] - job["height_corrections"][position["valve"]]["deduction"]
    assert sheet["positions"][0]["bare_height"] == pytest.approx(by_hand, abs=1e-9)


def test_the_least_job_and_a_refusal_are_typed(compiled: Path, address: str) -> None:
    called = run(compiled, "node", "made/main_job.js", BENCH=address)
    assert called.returncode == 0, called.stderr
    assert json.loads(called.stdout) == {"id": "1I", "length": "mm", "height": None, "pointers": ["/positions/1/id"]}


def test_no_field_is_of_a_type_that_says_nothing(compiled: Path) -> None:
    schema = re.sub(r"/\*.*?\*/", "", (compiled / "schema.ts").read_text(), flags=re.DOTALL)
    # other headers of an answer, which the generator always admits
    assert re.findall(r".*\b(?:unknown|any)\b.*", schema.replace("[name: string]: unknown;", "")) == []
    assert 'length?: components["schemas"]["LengthUnit"] | null;' in schema
    assert re.search(r"\blash\?: number \| null;", schema)


def test_a_job_that_is_not_the_schemas_does_not_compile(compiled: Path) -> None:
    (compiled / "wrong").mkdir()
    settings = {"extends": "../tsconfig.json", "compilerOptions": {"noEmit": True}, "include": ["*.ts"]}
    (compiled / "wrong" / "tsconfig.json").write_text(json.dumps(settings))
    job = 'const job: components["schemas"]["HeadAssemblyRequest"] = { positions: [{ id: "1I", valve: "inlet" }] };'
    (compiled / "wrong" / "job.ts").write_text(
        f'import type {{ components }} from "../schema.js";\n{job}\nexport default job;\n'
    )
    refused = run(compiled, "node_modules/.bin/tsc", "-p", "wrong")
    assert refused.returncode != 0
    assert '"inlet"' in refused.stdout

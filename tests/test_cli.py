"""The command, as a person types it."""

from __future__ import annotations

import socket
import subprocess
import sys
from pathlib import Path

import pytest
from litestar.testing import TestClient
from litestar.types import ASGIApp

from headbench import units
from headbench.cli import main
from headbench.printing import schema_text

DEMO = Path(__file__).parent.parent / "shared" / "demo" / "two-heads.json"


def test_the_demo_starts_the_service_posts_the_job_and_prints_its_sheet(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["demo", str(DEMO)]) == 0
    printed = capsys.readouterr().out
    for part in ("VERDICT:", "Shims needed", "Still to measure", "Cautions", "/docs"):
        assert part in printed


def test_a_refused_job_is_told_why(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = tmp_path / "job.json"
    job.write_text('{"positions": [{"id": "1I", "valve": "inlet"}]}')
    assert main(["demo", str(job)]) == 1
    assert "/positions/0/valve" in capsys.readouterr().err


def test_a_job_file_that_is_not_there_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["demo", str(tmp_path / "nowhere.json")]) == 2
    told = capsys.readouterr()
    assert told.err == f"{tmp_path / 'nowhere.json'} can't be read: no such file or directory.\n"
    assert told.out == ""


def test_the_schema_can_be_printed(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["openapi"]) == 0
    assert capsys.readouterr().out == schema_text()


def test_the_factors_that_are_kept_are_those_that_pint_works_out(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["factors"]) == 0
    assert capsys.readouterr().out == Path(units.__file__).with_name("factors.json").read_text()


@pytest.mark.parametrize("arguments", [[], ["serve", "--ports", "1"], ["demo"]])
def test_a_command_that_is_not_one_is_told_so(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stopped:
        main(arguments)
    assert stopped.value.code == 2
    assert "usage: headbench" in capsys.readouterr().err


def test_a_port_that_is_taken_is_said_so(capsys: pytest.CaptureFixture[str]) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        assert main(["serve", "--port", str(port)]) == 1
    assert f"127.0.0.1:{port} is in use" in capsys.readouterr().err


def test_a_job_is_printed_in_any_form(capfdbinary: pytest.CaptureFixture[bytes]) -> None:
    for form, start in (
        ("text", b"Assembly sheet - KW-0317"),
        ("page", b"<!DOCTYPE html>"),
        ("pdf", b"%PDF-"),
        ("csv", b"name,"),
    ):
        assert main(["sheet", str(DEMO), "--as", form]) == 0
        assert capfdbinary.readouterr().out.startswith(start)


def test_a_sheet_is_printed_as_the_service_answers_it(
    client: TestClient[ASGIApp], capfdbinary: pytest.CaptureFixture[bytes]
) -> None:
    job = DEMO.read_bytes()
    headers = {"Content-Type": "application/json", "Accept": "application/pdf"}
    answered = client.post("/v1/head-assembly?sheet=customer", content=job, headers=headers)
    assert main(["sheet", str(DEMO), "--as", "pdf", "--sheet", "customer"]) == 0
    assert capfdbinary.readouterr().out == answered.content


def test_a_job_of_any_kind_is_printed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = tmp_path / "job.json"
    job.write_text('{"job": {"reference": "KW-0317"}, "positions": [{"id": "1I", "valve": "intake"}]}')
    assert main(["sheet", str(job), "--kind", "coil-bind"]) == 0
    assert capsys.readouterr().out.startswith("Coil bind - KW-0317")
    assert main(["sheet", str(job), "--kind", "coil-bind", "--sheet", "customer"]) == 1
    assert capsys.readouterr().err == "A job of coil-bind has one sheet; leave out --sheet customer.\n"


@pytest.mark.parametrize(
    ("job", "told"),
    [
        ('{"positions": [{"id": "1I", "valve": "inlet"}]}', "  /positions/0/valve: 1I: must be "),
        ('{"positions": [{"id": "1I", "valve": "intake"}, {"id": "1I", "valve": "exhaust"}]}', "  /positions/1/id: "),
        ('{"positions": [', "Not valid JSON at line 1, column 16: the text ends too early"),
        ("", "Not valid JSON"),
    ],
)
def test_what_is_wrong_with_a_job_is_told_with_its_place(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], job: str, told: str
) -> None:
    file = tmp_path / "job.json"
    file.write_text(job)
    assert main(["sheet", str(file)]) == 1
    printed = capsys.readouterr()
    assert told in printed.err
    assert printed.err.startswith(f"{file}: ")
    assert printed.out == ""


def test_a_sheet_of_no_file_is_told_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["sheet", str(tmp_path / "nowhere.json")]) == 2
    assert capsys.readouterr().err == f"{tmp_path / 'nowhere.json'} can't be read: no such file or directory.\n"


def test_what_only_callers_need_is_not_loaded_by_the_service_and_is_asked_for_where_it_is_not_there() -> None:
    program = """
import sys
from headbench.api.app import create_app
from headbench.cli import main
create_app()
assert not {"httpx", "rich", "stamina"} & set(sys.modules)
sys.modules["stamina"] = None
main(["recompute", "jobs.ndjson", "--out", "out.ndjson"])
"""
    told = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False)  # noqa: S603 - our own
    assert (told.returncode, told.stderr) == (
        2,
        "stamina is not installed; this needs: pip install 'headbench[client]'\n",
    )

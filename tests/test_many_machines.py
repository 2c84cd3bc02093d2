"""The example of many machines, on a cluster of two processes of this one."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest
from tests.api.batches import REQUESTS, line

from headbench.api.app import RESOURCES
from headbench.api.batch.jobs import Answering

EXAMPLE = Path(__file__).parent.parent / "shared" / "examples" / "many_machines.py"
distributed = pytest.importorskip(
    "distributed", reason="not tried in this run: the example of many machines; there is no dask here"
)


@pytest.fixture
def example(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """The example as a module that other processes find, too."""
    monkeypatch.syspath_prepend(str(EXAMPLE.parent))
    monkeypatch.setenv("PYTHONPATH", str(EXAMPLE.parent), prepend=":")
    specification = importlib.util.spec_from_file_location("many_machines", EXAMPLE)
    assert specification is not None
    assert specification.loader is not None
    module = importlib.util.module_from_spec(specification)
    monkeypatch.setitem(sys.modules, "many_machines", module)
    specification.loader.exec_module(module)
    return module


@pytest.mark.filterwarnings("default")  # of the cluster's own packages
def test_a_cluster_answers_as_one_machine_does(example: ModuleType, tmp_path: Path) -> None:
    kinds = list(REQUESTS)
    lines = [line(kinds[number % len(kinds)], f"J-{number}") if number % 9 else b"" for number in range(60)]
    lines[7], lines[-1] = b"no job", lines[-1][:-5]
    jobs = tmp_path / "jobs.ndjson"
    jobs.write_bytes(b"\n".join(lines))
    answering = Answering(RESOURCES)
    by_hand = b"".join(answering(number, raw) for number, raw in enumerate(lines, start=1) if raw)

    cluster = distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, dashboard_address=None, local_directory=tmp_path
    )
    with cluster, distributed.Client(cluster) as client:
        answered = example.run(jobs, tmp_path / "answers", client, block_bytes=5_000)

    files = sorted((tmp_path / "answers").iterdir())
    assert len(files) > 2
    assert b"".join(file.read_bytes() for file in files) == by_hand
    assert answered == sum(1 for raw in lines if raw)

"""A cluster's own client takes the labels of a run without new code."""

from __future__ import annotations

from pathlib import Path

import pytest

from cutpaths.inputs.job_file import read_run
from cutpaths.run.run import run


@pytest.mark.filterwarnings("ignore")  # of the cluster's own libraries
def test_the_client_of_a_local_cluster(tmp_path: Path) -> None:
    """Reference: dask.distributed, two worker processes that share nothing with this one."""
    distributed = pytest.importorskip("distributed")
    (tmp_path / "names.csv").write_text("name\nLIT\nTIL\nLIE\nTIE\nHIT\n", encoding="utf-8")
    (tmp_path / "club.toml").write_text(
        '[defaults]\ncap_height_mm = 11\n[[label]]\ntext = "{name}"\nnames = "names.csv"\n', encoding="utf-8"
    )
    job = read_run(tmp_path / "club.toml")
    run(job, tmp_path / "here")
    with (
        distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster,
        distributed.Client(cluster) as client,
    ):
        for folder, workers in (("cluster", None), ("known", 2)):
            ended = run(job, tmp_path / folder, executor=client.get_executor(), workers=workers)
            assert ended.faults == ()
    for file in (tmp_path / "here").iterdir():
        for folder in ("cluster", "known"):
            assert file.read_bytes() == (tmp_path / folder / file.name).read_bytes(), file.name

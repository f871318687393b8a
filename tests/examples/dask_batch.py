"""Many files on a Dask cluster: errors are values, and what is done already is left out."""

import sys
from collections.abc import Iterable
from pathlib import Path

from distributed import Client, LocalCluster

import printprep as pp


def prepare_all(edits: Iterable[Path], out_dir: Path, client: Client) -> list[pp.Prepared]:
    """Prepare files into a folder that all workers see."""
    pipe = pp.pipeline(paper="baryta", room="gallery")
    with client.get_executor(pure=False) as executor:
        return list(pp.prepare_many(edits, out_dir, pipe=pipe, executor=executor, skip_done=True))


if __name__ == "__main__":
    folder, out = map(Path, sys.argv[1:])
    with LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster, Client(cluster) as client:
        for done in prepare_all(sorted(folder.glob("*.tif")), out, client):
            print(done)  # one line each: what was written, or what is wrong and what to do

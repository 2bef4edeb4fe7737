"""Shards of one file on a Dask cluster:  dask_batch.py network.csv OUT SHARDS [--scheduler ADDRESS] [options of standcurve batch]

Every attempt at a shard writes to a file of its own, which takes the shard's name when it is whole. Dask gives a shard to
another worker when its worker is gone; should the first attempt live on all the same, both files are equal, byte for byte.
The workers need the program and the file under the same paths.
"""
import os
import subprocess
import sys
import uuid

from distributed import Client, LocalCluster, as_completed


def run(shard, shards, path, out, program, options):
    final = os.path.join(out, f"{shard}.jsonl")
    if os.path.exists(final):
        return shard
    attempt = f"{final}.{uuid.uuid4()}"
    command = [*program, "batch", path, "--shard", f"{shard}/{shards}", "--workers", "0", "--quiet", "--out", attempt]
    done = subprocess.run([*command, *options], stderr=subprocess.PIPE, text=True)
    if done.returncode not in (0, 1):  # 1: done, but some rows have errors; the results say which
        raise RuntimeError(f"shard {shard}: {done.stderr}")
    os.replace(attempt, final)
    return shard


def main():
    path, out, shards, *options = sys.argv[1:]
    address = None
    if "--scheduler" in options:
        at = options.index("--scheduler")
        address = options[at + 1]
        del options[at : at + 2]
    os.makedirs(out, exist_ok=True)
    program = os.environ.get("STANDCURVE", "standcurve").split()
    cluster = None if address else LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None)
    with Client(address or cluster) as client:
        print("workers", *client.run(os.getpid).values(), flush=True)
        work = [client.submit(run, i, int(shards), path, out, program, options, pure=False, retries=3) for i in range(int(shards))]
        for future in as_completed(work):
            print("done", future.result(), flush=True)
    if cluster is not None:
        cluster.close()
    files = [os.path.join(out, f"{i}.jsonl") for i in range(int(shards))]
    subprocess.run([*program, "batch", "--merge", *files, "--out", os.path.join(out, "all.jsonl")], check=True)


if __name__ == "__main__":
    main()

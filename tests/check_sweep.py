#!/usr/bin/env python3
"""check_sweep.py: sweeps give the same table for any number of threads and workers, after a kill too, and say what is wrong.

DRYFRONT_PROGRAM and DRYFRONT_SOURCE_DIR say where things are; dryfront-sweep is looked for beside the program. Without mpirun the
checks of several workers are left out, and the program says so. Last line: "N passed, N failed".
"""
import csv
import json
import os
import pathlib
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time

ROOT = pathlib.Path(os.environ.get("DRYFRONT_SOURCE_DIR", pathlib.Path(__file__).resolve().parent.parent))
PROGRAM = os.environ.get("DRYFRONT_PROGRAM", str(ROOT / "build" / "release" / "dryfront"))
WORKERS = str(pathlib.Path(PROGRAM).parent / "dryfront-sweep")
MPIRUN = shutil.which("mpirun")
JOB = ROOT / "examples" / "island.yaml"

PLAN = """sweep: check
job: {job}
draws: {draws}
chunk: 10
runs: {runs}
vary:
  - {{field: sample.composition.acetonitrile, values: [10 %v/v, 35 %v/v]}}
  - {{field: "containers[0].fill", from: 3 mL, to: 6 mL, count: 2}}
  - {{field: "recipe[*].shelf_temperature", from: -48 °C, to: -36 °C, draw: yes}}
  - {{field: limits.margin, from: 0.5 K, to: 3 K, draw: yes}}
"""

passed = failed = 0


def check(sound, what):
    global passed, failed
    passed += bool(sound)
    failed += not sound
    if not sound:
        print(f"FAILED: {what}", flush=True)


def environment(threads):
    return dict(os.environ, OMP_NUM_THREADS=str(threads), OMPI_ALLOW_RUN_AS_ROOT="1", OMPI_ALLOW_RUN_AS_ROOT_CONFIRM="1",
                OMPI_MCA_rmaps_base_oversubscribe="1", OMPI_MCA_hwloc_base_binding_policy="none")


def sweep(plan, out, threads=1, before=(PROGRAM,), more=()):
    return subprocess.run([*before, "sweep", str(plan), "--out", str(out), *more], env=environment(threads),
                          stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=600, check=False)


def write_plan(folder, name, draws=12, runs="primary", job=JOB):
    path = folder / name
    path.write_text(PLAN.format(job=job, draws=draws, runs=runs), encoding="utf-8")
    return path


def same_tables(folder):
    plan = write_plan(folder, "plan.yaml")
    one = folder / "one.csv"
    done = sweep(plan, one)
    check(done.returncode == 0 and not done.stderr, f"a sweep: {done.returncode} {done.stderr}")
    check(not (folder / "one.csv.parts").exists(), "the pieces are taken away once the table is there")
    rows = list(csv.DictReader(one.open(encoding="utf-8")))
    check(len(rows) == 48 and [int(r["run"]) for r in rows] == list(range(1, 49)), "48 runs in order")
    check(all(r["status"] == "ok" for r in rows), "all of them run")
    check(len({r["standing"] for r in rows}) > 1, "not all stand alike")
    shelf = "recipe[*].shelf_temperature (°C)"
    for r, other in zip(rows, rows[12:]):  # the same draws at each place of the grid
        check(r[shelf] == other[shelf], "draws repeat over the grid")
    three = folder / "three.csv"
    sweep(plan, three, threads=3)
    check(one.read_bytes() == three.read_bytes(), "one and three threads give the same table")
    if MPIRUN is None or not os.path.exists(WORKERS):
        print("no mpirun or no dryfront-sweep: several workers are not checked")
        return
    for n in (1, 2, 4):
        many = folder / f"workers{n}.csv"
        done = sweep(plan, many, before=(MPIRUN, "-n", str(n), WORKERS))
        check(done.returncode == 0, f"mpirun -n {n}: {done.returncode} {done.stderr}")
        check(done.stdout.count("table:") == 1, f"mpirun -n {n}: one report, not {done.stdout!r}")
        check(many.exists() and many.read_bytes() == one.read_bytes(), f"mpirun -n {n} gives the same table")
    done = sweep(plan, folder / "double.csv", before=(MPIRUN, "-n", "2", PROGRAM))
    check(done.returncode != 0 and "dryfront-sweep" in done.stderr, "the program without MPI refuses to do all twice")


def pieces(folder):
    return len(list(folder.glob("[0-9]*.csv"))) if folder.exists() else 0


def killed(folder, name, before, victim):
    """Kills a sweep in the middle, starts it again, and compares with one that went through."""
    plan = write_plan(folder, f"{name}.yaml", draws=100)
    whole = folder / "whole.csv"
    if not whole.exists():
        sweep(plan, whole, threads=2)
    out = folder / f"{name}.csv"
    parts = folder / f"{name}.csv.parts"
    process = subprocess.Popen([*before, "sweep", str(plan), "--out", str(out)], env=environment(1),
                               stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    limit = time.monotonic() + 120
    while pieces(parts) < 3 and process.poll() is None and time.monotonic() < limit:
        time.sleep(0.002)
    there = pieces(parts)
    victim(process)
    process.wait(timeout=120)
    check(3 <= there < 40 and not out.exists(), f"{name}: stopped in the middle ({there} of 40 pieces)")
    kept = pieces(parts)
    check(kept >= there, f"{name}: what was written is still there")
    done = sweep(plan, out, threads=2, more=["--json"])
    check(done.returncode == 0, f"{name}: goes on: {done.stderr}")
    before_ = json.loads(done.stdout)["pieces_there_before"] if done.returncode == 0 else -1
    check(before_ == kept, f"{name}: {before_} pieces found again, {kept} were kept")
    check(out.exists() and out.read_bytes() == whole.read_bytes(), f"{name}: the table is as from one that went through")


def kill_worker(process):
    """One worker of mpirun that is not the first: by its rank in its own environment."""
    for path in pathlib.Path("/proc").glob("[0-9]*"):
        try:
            if b"OMPI_COMM_WORLD_RANK=1\0" in (path / "environ").read_bytes() and descends(int(path.name), process.pid):
                os.kill(int(path.name), signal.SIGKILL)
                return
        except (OSError, ValueError):
            continue
    process.kill()


def descends(pid, ancestor):
    while pid > 1:
        if pid == ancestor:
            return True
        pid = int((pathlib.Path("/proc") / str(pid) / "stat").read_text().rsplit(")", 1)[1].split()[1])
    return False


def against_run(folder):
    """One row of a sweep beside `dryfront run` of the same job; the sweep's tolerance is ten times as wide."""
    job = re.sub(r"shelf_temperature: -38", "shelf_temperature: -40", JOB.read_text(encoding="utf-8"))
    job = job.replace("fill: 6 mL", "fill: 3 mL")
    path = folder / "job.yaml"
    path.write_text(job, encoding="utf-8")
    plan = folder / "one.yaml"
    plan.write_text(f'sweep: one\njob: {JOB}\nvary:\n  - {{field: "recipe[0].shelf_temperature", values: [-40 °C]}}\n'
                    '  - {field: "recipe[1].shelf_temperature", values: [-40 °C]}\n'
                    '  - {field: "containers[0].fill", values: [3 mL]}\n', encoding="utf-8")
    sweep(plan, folder / "row.csv")
    row = next(csv.DictReader((folder / "row.csv").open(encoding="utf-8")))
    done = subprocess.run([PROGRAM, "run", str(path), "--json"], stdin=subprocess.DEVNULL, capture_output=True, text=True,
                          check=False)
    answer = json.loads(done.stdout)
    check(row["standing"] == answer["standing"], f"standing {row['standing']} against {answer['standing']}")
    hours = answer["run"]["primary_h"]
    check(abs(float(row["primary_h"]) / hours - 1) < 3e-3, f"primary drying {row['primary_h']} against {hours} h")


def wrong_plans(folder):
    good = write_plan(folder, "good.yaml", draws=4).read_text(encoding="utf-8")
    for old, new, says in (
            ("limits.margin", "limits.margn", "did you mean margin"),
            ("sample.composition.acetonitrile", "sample.composition.methanol", "is not in"),
            ("from: 3 mL", "from: 3 L", "unit"),
            ("to: 6 mL", "to: 2 mL", "larger than 'from'"),
            ("count: 2", "count: 1", "count"),
            ("draws: 4\n", "", "'draws' is missing"),
            ("draw: yes}\n  - {field: limits", "count: 3, draw: yes}\n  - {field: limits", "does not go with draw"),
            ("values: [10 %v/v, 35 %v/v]", "values: []", "list"),
            ("values: [10 %v/v, 35 %v/v]", "values: [10 %v/v], from: 1", "either values"),
            ("runs: primary", "runs: half", "half"),
            (f"job: {JOB}", "job: nowhere.yaml", "there is no such file"),
            ("draws: 4", "draws: 1000000", "more than 1000000"),
            ("3 mL, to: 6 mL, count", "3 parsec, to: 6 parsec, count", "parsec")):
        text = good.replace(old, new)
        check(text != good, f"the plan holds {old!r}")
        path = folder / "wrong.yaml"
        path.write_text(text, encoding="utf-8")
        done = sweep(path, folder / "wrong.csv")
        check(done.returncode == 2 and says in done.stderr and not (folder / "wrong.csv").exists(),
              f"{old!r} -> {new!r}: {done.returncode} {done.stderr!r}")
    check(sweep(folder / "good.yaml", folder / "table.txt").returncode == 2, "the table's name ends in .csv")
    # A run that cannot be is a row, not an end.
    path = folder / "part.yaml"
    path.write_text(good.replace("values: [10 %v/v, 35 %v/v]", "values: [10 %v/v, 135 %v/v]"), encoding="utf-8")
    done = sweep(path, folder / "part.csv", more=["--json"])
    check(done.returncode == 0 and json.loads(done.stdout)["no_run"] == 8, f"half of the runs cannot be: {done.stdout}")
    rows = list(csv.DictReader((folder / "part.csv").open(encoding="utf-8")))
    check(all(r["status"] == "input" and "135" in r["note"] for r in rows[8:]), "and their rows say why")
    # Pieces of another plan are left alone.
    parts = folder / "good.csv.parts"
    parts.mkdir()
    (parts / "plan").write_text("something else\n", encoding="utf-8")
    done = sweep(folder / "good.yaml", folder / "good.csv")
    check(done.returncode == 2 and "another plan" in done.stderr, f"pieces of another plan: {done.stderr!r}")


def main():
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        same_tables(folder)
        killed(folder, "killed", (PROGRAM,), lambda process: process.kill())
        if MPIRUN is not None and os.path.exists(WORKERS):
            killed(folder, "worker", (MPIRUN, "-n", "2", WORKERS), kill_worker)
        against_run(folder)
        wrong_plans(folder)
    print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())

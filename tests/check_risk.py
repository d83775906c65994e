#!/usr/bin/env python3
"""check_risk.py: what `dryfront risk` says and refuses, by its text, its JSON and its exit status.

DRYFRONT_PROGRAM and DRYFRONT_SOURCE_DIR say where things are. Last line: "N passed, N failed".
"""
import json
import os
import pathlib
import re
import subprocess
import sys
import tempfile

ROOT = pathlib.Path(os.environ.get("DRYFRONT_SOURCE_DIR", pathlib.Path(__file__).resolve().parent.parent))
PROGRAM = os.environ.get("DRYFRONT_PROGRAM", str(ROOT / "build" / "release" / "dryfront"))
JOB = """job: tray lot
purpose: screening
dryer: bench-85
sample: {composition: "acetonitrile 30 %v/v, water"}
containers:
  - {type: vial_20R, count: 100, fill: 5 mL, place: shelf}
freezing: {means: dry_ice_bath}
recipe:
  - {time: 0 h, shelf_temperature: SHELF}
cake: {r0: 3e4 m/s, a1: 5e6 1/s}
"""

passed = failed = 0


def check(sound, what):
    global passed, failed
    passed += bool(sound)
    failed += not sound
    if not sound:
        print(f"FAILED: {what}", flush=True)


def risk(job, *options, threads=2):
    return subprocess.run([PROGRAM, "risk", str(job), *options], stdin=subprocess.DEVNULL, capture_output=True, text=True,
                          env=dict(os.environ, OMP_NUM_THREADS=str(threads)), timeout=300, check=False)


def main():
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)

        def job(shelf, more=""):
            path = folder / f"job{shelf}{len(more)}.yaml"
            path.write_text(JOB.replace("SHELF", f"{shelf} °C") + more, encoding="utf-8")
            return path

        # Text and JSON agree, and nothing hangs on threads.
        text = risk(job(-37), "--runs", "256", "--indices", "64", "--accept", "20 %")
        check(text.returncode == 0 and not text.stderr, f"risk: {text.returncode} {text.stderr}")
        check(max(len(line) for line in text.stdout.splitlines()) <= 80, "at most 80 columns")
        answers = [risk(job(-37), "--runs", "256", "--indices", "64", "--accept", "20 %", "--json", threads=n).stdout
                   for n in (1, 3)]
        check(answers[0] == answers[1], "one and three threads say the same, byte for byte")
        answer = json.loads(answers[0])
        said = float(re.search(r"leaves rigid ([0-9.]+) ±", text.stdout)[1])
        check(abs(said - 100 * answer["leaves_rigid"]["value"]) < 0.051, f"chance: {said}")
        check(abs(sum(s["chance"]["value"] for s in answer["standings"]) - 1) < 1e-12, "the standings make up all")
        check(answer["primary_median_h"]["value"] < answer["primary_p95_h"]["value"], "percentiles in order")
        shelf = answer["shelf_for_risk"]
        check(shelf["found"] and shelf["shelf_shift_K"]["value"] > 0.5, f"the shelf may be warmer: {shelf['shelf_shift_K']}")
        check(abs(shelf["chance"]["value"] - 0.2) < 0.05, f"with the chance asked for: {shelf['chance']}")
        check(shelf["primary_median_h"]["value"] < answer["primary_median_h"]["value"], "and it dries sooner")
        # With that shelf the job itself has that chance.
        warmer = round(-37 + shelf["shelf_shift_K"]["value"], 3)
        again = json.loads(risk(job(warmer), "--runs", "256", "--indices", "0", "--json").stdout)["leaves_rigid"]
        check(abs(again["value"] - shelf["chance"]["value"]) < 0.01, f"a job with that shelf: {again}")
        # A colder shelf is safer; all taken as sure leaves nothing to chance.
        colder = json.loads(risk(job(-44), "--runs", "256", "--indices", "0", "--json").stdout)
        check(colder["leaves_rigid"]["value"] < answer["leaves_rigid"]["value"], "a colder shelf is safer")
        sure = "uncertainty: {" + ", ".join(
            f"{u['key']}: 0" + {"factor": " %", "K": " K", "sigma": ""}[u["measure"]] for u in answer["inputs"]) + "}\n"
        certain = json.loads(risk(job(-37, sure), "--runs", "32", "--json").stdout)
        check(certain["leaves_rigid"]["value"] in (0.0, 1.0) and certain["influences"] == [], "all sure: one answer")
        check(certain["primary_median_h"]["value"] == certain["primary_p95_h"]["value"], "and one time")
        run = json.loads(subprocess.run([PROGRAM, "run", str(job(-37)), "--json"], capture_output=True, text=True,
                                        check=False).stdout)["run"]["primary_h"]
        check(abs(certain["primary_median_h"]["value"] / run - 1) < 3e-3, "the run's own")
        # Exit status 1: more than is accepted.
        check(risk(job(-25), "--runs", "32", "--indices", "0").returncode == 1, "a warm shelf: the answer is no")
        for options, says in ((("--runs", "0"), "whole number"), (("--runs", "2.5"), "whole number"),
                              (("--accept", "120 %"), "between 0 and 100"), (("--accept", "5"), "%"),
                              (("--seed", "-1"), "whole number"), (("--indices", "many"), "whole number")):
            done = risk(job(-37), *options)
            check(done.returncode == 2 and says in done.stderr and not done.stdout, f"{options}: {done.stderr!r}")
        done = risk(ROOT / "examples" / "flasks.yaml", "--accept", "5 %")
        check(done.returncode == 2 and "manifold" in done.stderr, f"no shelf on a manifold: {done.stderr!r}")
    print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())

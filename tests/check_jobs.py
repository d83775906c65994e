#!/usr/bin/env python3
"""check_jobs.py: each job that routes, stand and recipe hand over in YAML is judged by the program as they say.

The texts are written beside the examples' copies, with the dryers that come with them; `dryfront stand` and `dryfront run`
then have to find the standing and the time of drying. DRYFRONT_PROGRAM and DRYFRONT_SOURCE_DIR say where things are. Last
line: "N passed, N failed".
"""
import json
import os
import pathlib
import shutil
import subprocess
import sys
import tempfile

ROOT = pathlib.Path(os.environ.get("DRYFRONT_SOURCE_DIR", pathlib.Path(__file__).resolve().parent.parent))
PROGRAM = os.environ.get("DRYFRONT_PROGRAM", str(ROOT / "build" / "release" / "dryfront"))
ORDER = ["rigid", "wetted", "afloat", "unheld"]
SAME = 1e-6    # of the time of the same run
TRIAL = 3e-3   # of a time that a trial found, whose integrator is ten times coarser

# Jobs whose routes and remedies change what those of the examples do not: trap, pump, another dryer of the list.
THF = """# from the hood of the left
job: cistus work-up
purpose: intermediate
dryer: bench-55
sample:
  composition: thf 30 %v/v, water
containers:
  - {type: flask_1000, count: 12, fill: 400 mL, place: manifold}  # all that there are
freezing: {means: freezer}
dryers: [deep-105, dryers/two-traps.yaml]
"""
BUTANOL = """job: lavender 2
purpose: archive
dryer: dryers/two-traps.yaml
sample:
  composition: tert-butanol 20 %v/v, water
containers:
  - {type: vial_20R, count: 600, fill: 9 mL, place: shelf}
freezing: {means: dry_ice_bath}
recipe:
  - {time: 0 h, shelf_temperature: -5 °C}
limits: {time: 60 h}
"""


class Check:
    def __init__(self, folder):
        self.folder = folder
        self.passed = self.failed = 0
        self.taken = {"own": 0, "other": 0, "boiled": 0, "loads": 0}

    def check(self, sound, what):
        self.passed += bool(sound)
        self.failed += not sound
        if not sound:
            print(f"FAILED: {what}")

    def ask(self, *words):
        done = subprocess.run([PROGRAM, *words, "--json"], stdin=subprocess.DEVNULL, capture_output=True, timeout=900,
                              check=False, cwd=self.folder)
        if done.returncode not in (0, 1):
            raise RuntimeError(f"{words}: {done.returncode} {done.stderr.decode()}")
        return json.loads(done.stdout.decode())

    def put(self, text, dryers):
        (self.folder / "taken.yaml").write_text(text, encoding="utf-8")
        for name, yaml in dryers.items():
            self.check(f"\ndryer: {name}\n" in text and "/" not in name, f"the job does not call the dryer {name}")
            (self.folder / f"{name}.yaml").write_text(yaml, encoding="utf-8")
            self.taken["own"] += 1

    def near(self, a, b, share, what):
        self.check(a is not None and b is not None and abs(a - b) <= share * abs(b), f"{what}: {a} against {b}")


def original_comments_stay(t, source, text, what):
    kept = [line.split("#", 1)[1] for line in source.splitlines() if "#" in line]
    t.check(all(f"#{c}" in text for c in kept), f"{what}: a comment of the job is lost")


def check_routes(t, job, *words):
    source = (t.folder / job).read_text(encoding="utf-8")
    answer = t.ask("routes", job, *words)
    routes = answer["routes"] + [answer["nearest"]] * (answer["nearest"] is not None)
    for i, route in enumerate(routes):
        what = f"{job}, route {i + 1}"
        t.check(len(route["jobs"]) == 1, f"{what}: {len(route['jobs'])} texts")
        text = route["jobs"][0]
        t.put(text, route["dryers"])
        original_comments_stay(t, source, text, what)
        for boiling in route["boilings"]:
            t.check(f"stop at {boiling['stop_at_g']:.0f} g" in text.replace("\n#   ", " "), f"{what}: where does boiling stop?")
            t.taken["boiled"] += 1
        if route["loads"] > 1:
            t.check(f"# This is one of {route['loads']} loads" in text, f"{what}: how many loads?")
            t.taken["loads"] += 1
        t.taken["other"] += any(a["action"] == "dryer" for a in route["actions"])
        stood = t.ask("stand", "taken.yaml", "--quick")
        t.check(stood["standing"] == route["standing"], f"{what}: {stood['standing']}, not {route['standing']}")
        t.check(stood["cause"] == route["cause"], f"{what}: {stood['cause']}, not {route['cause']}")
        if stood["run"] is not None:
            t.near(stood["run"]["time_h"], route["run_h"], SAME, f"{what}: time of the run")


def check_remedies(t, job):
    source = (t.folder / job).read_text(encoding="utf-8")
    for remedy in t.ask("stand", job)["remedies"]:
        what = f"{job}, remedy {remedy['lever']}"
        t.check(remedy["job"] is not None, f"{what}: no job")
        t.put(remedy["job"], remedy["dryers"])
        original_comments_stay(t, source, remedy["job"], what)
        stood = t.ask("stand", "taken.yaml", "--quick")
        t.check(stood["standing"] == remedy["standing"], f"{what}: {stood['standing']}, not {remedy['standing']}")
        t.near(stood["run"]["primary_h"], remedy["drying_h"], TRIAL, f"{what}: time of drying")


def check_recipe(t, job, *words):
    answer = t.ask("recipe", job, *words)
    plans = [("recommended", answer["recipe"]), ("path", answer["fastest_path"])]
    plans += [(f"{h['holds']} holds", h["plan"]) for h in answer["in_holds"]]
    seen = 0
    for name, plan in plans:
        if plan is None:
            continue
        t.check((plan["job"] is None) == (not plan["dry"]), f"{job}, {name}: a job where it is dry, none where not")
        if plan["job"] is None:
            continue
        t.put(plan["job"], {})
        stood = t.ask("stand", "taken.yaml", "--quick")
        if plan["keeps_limits"]:
            t.check(ORDER.index(stood["standing"]) <= ORDER.index(answer["aim"]), f"{job}, {name}: {stood['standing']}")
        t.near(stood["run"]["primary_h"], plan["primary_h"], 1e-4, f"{job}, {name}: time of primary drying")
        seen += 1
    t.check(seen >= 2, f"{job}: no recipe is handed over")


def main():
    with tempfile.TemporaryDirectory() as folder:
        t = Check(pathlib.Path(folder) / "examples")
        shutil.copytree(ROOT / "examples", t.folder)
        (t.folder / "thf.yaml").write_text(THF, encoding="utf-8")
        (t.folder / "butanol.yaml").write_text(BUTANOL, encoding="utf-8")
        for job in ("island.yaml", "flasks.yaml", "harbour.yaml", "thf.yaml", "butanol.yaml"):
            check_routes(t, job, "--dryer", "bench-85")
            check_remedies(t, job)
        check_recipe(t, "island.yaml", "--pressure", "0 mbar")
        t.check(all(n > 0 for n in t.taken.values()), f"what no route or remedy did: {t.taken}")
    print(f"{t.passed} passed, {t.failed} failed")
    return 1 if t.failed else 0


if __name__ == "__main__":
    sys.exit(main())

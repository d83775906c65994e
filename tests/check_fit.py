#!/usr/bin/env python3
"""check_fit.py: the fit tool reproduces data/pairs.csv, data/pairs_covariance.csv, data/pairs_sample.csv and
docs/residuals.md byte for byte, and does so again. It stands beside the program (DRYFRONT_PROGRAM) in tools/. Last line: "N passed, N failed".
"""
import os
import pathlib
import subprocess
import sys
import tempfile

ROOT = pathlib.Path(os.environ.get("DRYFRONT_SOURCE_DIR", pathlib.Path(__file__).resolve().parent.parent))
PROGRAM = pathlib.Path(os.environ.get("DRYFRONT_PROGRAM", str(ROOT / "build" / "release" / "dryfront")))
SHIPPED = {"pairs.csv": ROOT / "data" / "pairs.csv", "pairs_covariance.csv": ROOT / "data" / "pairs_covariance.csv",
           "pairs_sample.csv": ROOT / "data" / "pairs_sample.csv",
           "residuals.md": ROOT / "docs" / "residuals.md"}


def first_difference(a, b):
    for number, (one, other) in enumerate(zip(a.split(b"\n"), b.split(b"\n")), 1):
        if one != other:
            return f"line {number}: {one[:100]!r} against {other[:100]!r}"
    return f"{len(a)} against {len(b)} bytes"


def main():
    passed = failed = 0

    def check(sound, what):
        nonlocal passed, failed
        passed += bool(sound)
        failed += not sound
        if not sound:
            print(f"FAILED: {what}")

    tool = PROGRAM.parent / "tools" / "fit"
    runs = []
    with tempfile.TemporaryDirectory() as folder:
        for k in range(2):
            place = pathlib.Path(folder) / str(k)
            place.mkdir()
            done = subprocess.run([tool, place / "pairs.csv", "--residuals", place / "residuals.md"], check=False,
                                  stdin=subprocess.DEVNULL, capture_output=True, timeout=900)
            check(done.returncode == 0 and not done.stderr, f"run {k + 1}: {done.returncode} {done.stderr!r}")
            written = sorted(p.name for p in place.iterdir())
            check(written == sorted(SHIPPED), f"run {k + 1}: files {written}")
            runs.append({name: (place / name).read_bytes() for name in SHIPPED if (place / name).exists()})
            runs[-1]["its report"] = done.stdout
        refused = subprocess.run([tool], check=False, stdin=subprocess.DEVNULL, capture_output=True, timeout=60)
        check(refused.returncode == 2 and refused.stderr, "it takes no arguments")
    for name in [*SHIPPED, "its report"]:
        one, other = (run.get(name, b"") for run in runs)
        check(one and one == other, f"{name}: two runs differ: {first_difference(one, other)}")
    for name, path in SHIPPED.items():
        shipped, here = path.read_bytes() if path.exists() else b"", runs[0].get(name, b"")
        check(here and here == shipped, f"{name}: not what is shipped: {first_difference(here, shipped)}")
    print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())

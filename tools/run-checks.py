#!/usr/bin/env python3
"""run-checks.py [PRESET...]: what ./check runs once the packages are there.

Builds each preset (release and asan where none is named) and runs its tests by ctest; a cmocka program counts by its
cases, any other test as one. Then each tests/*.py (where no preset is named) counts as one, or by its own last line
"N passed, N failed". A failed build counts as one failure. Last line: "N passed, N failed".
"""
import os
import pathlib
import re
import subprocess
import sys
import xml.etree.ElementTree as xml

ROOT = pathlib.Path(__file__).resolve().parent.parent
PROGRAM = ROOT / "build" / "release" / "dryfront"
TIME_LIMIT = 1800  # s, for one of tests/*.py


def count_cmocka(output):
    """A failed case is named twice, and the two streams of a program mix in any order."""
    failed = set(re.findall(r"\[  FAILED  \] (?!\d+ test\(s\))(.+)", output))
    return output.count("[       OK ]"), len(failed)


def count_test(case):
    """(passed, failed) of one entry of ctest's JUnit file."""
    output = case.findtext("system-out") or ""
    state = case.get("status", "")
    if state == "disabled" or case.find("skipped") is not None:
        return 0, 0 if state == "disabled" else 1
    passed, failed = count_cmocka(output)
    sound = state == "run" and case.find("failure") is None
    if not sound and failed == 0:
        failed = 1  # a crash, a leak, a time-out: the cases before it have passed
    if sound and passed == 0 and failed == 0:
        passed = 1
    return passed, failed


def run_preset(preset):
    build = ROOT / "build" / preset
    if subprocess.run([ROOT / "tools" / "build.sh", preset], stdin=subprocess.DEVNULL, check=False).returncode != 0:
        return 0, 1
    report = build / "tests.xml"
    report.unlink(missing_ok=True)
    jobs = os.environ.get("DRYFRONT_JOBS") or str(os.cpu_count() or 2)
    done = subprocess.run(["ctest", "--test-dir", build, "-j", jobs, "--output-on-failure", "--no-tests=error",
                           "--test-output-size-passed", "10000000", "--test-output-size-failed", "10000000",
                           "--output-junit", report], stdin=subprocess.DEVNULL, check=False)
    if not report.exists():
        return 0, 1
    passed = failed = 0
    for case in xml.parse(report).getroot().iter("testcase"):
        more = count_test(case)
        passed += more[0]
        failed += more[1]
    if done.returncode != 0 and failed == 0:
        failed = 1
    print(f"{preset}: {passed} passed, {failed} failed", flush=True)
    return passed, failed


def run_script(path):
    environment = dict(os.environ, DRYFRONT_PROGRAM=str(PROGRAM), DRYFRONT_SOURCE_DIR=str(ROOT),
                       PYTHONDONTWRITEBYTECODE="1")
    # Debian's own interpreter first: the packages that the checks use are installed for it.
    python = "/usr/bin/python3" if os.access("/usr/bin/python3", os.X_OK) else sys.executable
    try:
        done = subprocess.run([python, path], cwd=ROOT, env=environment, stdin=subprocess.DEVNULL, text=True,
                              stdout=subprocess.PIPE, stderr=subprocess.STDOUT, timeout=TIME_LIMIT, check=False)
        output, code = done.stdout, done.returncode
    except subprocess.TimeoutExpired as stopped:
        output, code = f"{stopped}\n", 1
    counts = re.search(r"(\d+) passed, (\d+) failed\s*\Z", output)
    passed, failed = (int(counts[1]), int(counts[2])) if counts else (int(code == 0), int(code != 0))
    if code != 0 and failed == 0:
        failed = 1
    if failed:
        sys.stdout.write(output)
    print(f"{path.relative_to(ROOT)}: {passed} passed, {failed} failed", flush=True)
    return passed, failed


def main():
    presets = sys.argv[1:] or ["release", "asan"]
    results = [run_preset(preset) for preset in presets]
    if not sys.argv[1:]:
        results += [run_script(path) for path in sorted((ROOT / "tests").glob("*.py"))]
    passed, failed = (sum(column) for column in zip(*results))
    print(f"{passed} passed, {failed} failed", flush=True)
    return 1 if failed or not passed else 0


if __name__ == "__main__":
    sys.exit(main())

#!/usr/bin/env python3
"""serve_load.py [USERS [SECONDS [PAUSE]]]: people who type at once. Each asks /api/v1/stand for examples/island.yaml with
"quick" and then pauses (s; 0: asks again at once); each time with another fill, so that what depends on the mixture alone is
known from before, and in a second part each time with another composition, so that nothing is. Prints for both percentiles of
the answers' times, the processor time of an answer and the server's greatest memory.
DRYFRONT_PROGRAM: the program, build/release/dryfront unless stated.
"""
import concurrent.futures
import http.client
import json
import os
import pathlib
import re
import subprocess
import sys
import tempfile
import time

ROOT = pathlib.Path(__file__).resolve().parent.parent
PROGRAM = os.environ.get("DRYFRONT_PROGRAM", str(ROOT / "build" / "release" / "dryfront"))
ISLAND = (ROOT / "examples" / "island.yaml").read_text(encoding="utf-8")


def other_fill(number, n):
    return ISLAND.replace("fill: 6 mL", f"fill: {5 + (number * 37 + n) % 200 / 100} mL")


def other_composition(number, n):
    return ISLAND.replace("acetonitrile 35 %v/v", f"acetonitrile {25 + 0.001 * ((number * 997 + n) % 10000):.3f} %v/v")


def user(port, number, seconds, pause, job_of):
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    times, until, n = [], time.monotonic() + seconds, 0
    time.sleep(pause * number / 20)
    while time.monotonic() < until:
        body = json.dumps({"job": job_of(number, n), "quick": True})
        started = time.monotonic()
        connection.request("POST", "/api/v1/stand", body, {"Content-Type": "application/json"})
        answer = connection.getresponse()
        answer.read()
        times.append(time.monotonic() - started)
        if answer.status != 200:
            raise SystemExit(f"answered {answer.status}")
        n += 1
        time.sleep(pause)
    return times


def processor_time(pid):
    fields = pathlib.Path(f"/proc/{pid}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def measure(what, job_of, users, seconds, pause):
    with tempfile.TemporaryDirectory() as folder:
        server = subprocess.Popen([PROGRAM, "serve", "--port", "0", "--workspace", folder], stdout=subprocess.PIPE, text=True)
        port = int(re.search(r":(\d+)/", server.stdout.readline())[1])
        before = processor_time(server.pid)
        with concurrent.futures.ThreadPoolExecutor(users) as pool:
            times = sorted(sum(pool.map(lambda i: user(port, i, seconds, pause, job_of), range(users)), []))
        used = processor_time(server.pid) - before
        status = pathlib.Path(f"/proc/{server.pid}/status").read_text(encoding="utf-8")
        server.terminate()
        server.wait()
    memory = int(re.search(r"VmHWM:\s+(\d+)", status)[1]) / 1024
    at = lambda share: 1e3 * times[min(int(share * len(times)), len(times) - 1)]  # noqa: E731
    print(f"{what}, {users} users, a pause of {pause} s: {len(times)} answers in {seconds:g} s; median {at(0.5):.0f} ms, "
          f"95th percentile {at(0.95):.0f} ms, slowest {at(1):.0f} ms; {1e3 * used / len(times):.1f} ms of a processor each; "
          f"memory at most {memory:.0f} MB")


def main():
    users = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    seconds = float(sys.argv[2]) if len(sys.argv) > 2 else 10.0
    pause = float(sys.argv[3]) if len(sys.argv) > 3 else 0.5
    measure("another fill each time", other_fill, users, seconds, pause)
    measure("another composition each time", other_composition, users, seconds, pause)


if __name__ == "__main__":
    main()

#!/usr/bin/env python3
"""serve_load.py [USERS [SECONDS [PAUSE]]]: people who type at once. Each asks /api/v1/stand for examples/island.yaml with
"quick", each time with another fill, and then pauses (s; 0: asks again at once). Prints percentiles of the answers' times and
the server's greatest memory. DRYFRONT_PROGRAM: the program, build/release/dryfront unless stated.
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


def user(port, number, seconds, pause):
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    times, until, n = [], time.monotonic() + seconds, 0
    time.sleep(pause * number / 20)
    while time.monotonic() < until:
        job = ISLAND.replace("fill: 6 mL", f"fill: {5 + (number * 37 + n) % 200 / 100} mL")
        started = time.monotonic()
        connection.request("POST", "/api/v1/stand", json.dumps({"job": job, "quick": True}), {"Content-Type": "application/json"})
        answer = connection.getresponse()
        answer.read()
        times.append(time.monotonic() - started)
        if answer.status != 200:
            raise SystemExit(f"answered {answer.status}")
        n += 1
        time.sleep(pause)
    return times


def main():
    users = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    seconds = float(sys.argv[2]) if len(sys.argv) > 2 else 10.0
    pause = float(sys.argv[3]) if len(sys.argv) > 3 else 0.5
    with tempfile.TemporaryDirectory() as folder:
        server = subprocess.Popen([PROGRAM, "serve", "--port", "0", "--workspace", folder], stdout=subprocess.PIPE, text=True)
        port = int(re.search(r":(\d+)/", server.stdout.readline())[1])
        with concurrent.futures.ThreadPoolExecutor(users) as pool:
            times = sorted(sum(pool.map(lambda i: user(port, i, seconds, pause), range(users)), []))
        status = pathlib.Path(f"/proc/{server.pid}/status").read_text(encoding="utf-8")
        server.terminate()
        server.wait()
    memory = int(re.search(r"VmHWM:\s+(\d+)", status)[1]) / 1024
    at = lambda share: 1e3 * times[min(int(share * len(times)), len(times) - 1)]  # noqa: E731
    print(f"{users} users, a pause of {pause} s: {len(times)} answers in {seconds:g} s; median {at(0.5):.0f} ms, "
          f"95th percentile {at(0.95):.0f} ms, slowest {at(1):.0f} ms; "
          f"memory at most {memory:.0f} MB")


if __name__ == "__main__":
    main()

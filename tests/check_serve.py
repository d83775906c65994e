#!/usr/bin/env python3
"""check_serve.py: dryfront serve from outside: every path and method of docs/api/openapi.json, answers held against their
schemas, who may ask, malformed and huge bodies, writers side by side, work fetched later, stopping.

DRYFRONT_PROGRAM and DRYFRONT_SOURCE_DIR say where things are. Last line: "N passed, N failed".
"""
import concurrent.futures
import csv
import gzip
import http.client
import io
import json
import os
import pathlib
import random
import re
import signal
import socket
import subprocess
import sys
import tempfile
import time

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent))
from check_schema import PROGRAM, ROOT, breaches  # noqa: E402

API = json.loads((ROOT / "docs" / "api" / "openapi.json").read_text(encoding="utf-8"))
ISLAND = (ROOT / "examples" / "island.yaml").read_text(encoding="utf-8")
DRYER = (ROOT / "data" / "dryer_bench-55.yaml").read_text(encoding="utf-8")
DRYFRONT_PAGES = os.environ.get("DRYFRONT_PAGES", "AUTO")  # ON: it is a failure where there are none
MIXTURE = "acetonitrile 30 %v/v, water"
JAR = """\
key: jar_40
kind: vial
inner_diameter: 30 mm
wall: 1.5 mm
brim_volume: 40 mL
port_diameter: 14 mm
glass_mass: 30 g
source: measured with a calliper
"""
KELP = """\
key: kelp_sugar
molar_mass_g_mol: 342.3
beside_organics: sugar
glass_temperature: 335 K
gordon_taylor_k: 5
anchor_kind: glass
anchor_temperature: -32 °C
critical_kind: Tg'
"""
BRINE = """\
key: seabrine
source: invented for a test
crystallises: readily
molar_mass_g_mol: 60
melting_temperature: -20 °C
boiling_temperature: 100 °C
critical_temperature: 320 °C
critical_pressure: 45 bar
fusion_enthalpy_J_mol: 9000
vapour_pressure: {form: ANTOINE_LN_PA_K, coefficients: [22.58, 3614.9, -46.13], lowest: 0 °C, highest: 150 °C}
liquid_density_kg_m3: 900
solid_density_kg_m3: 1000
liquid_heat_capacity_J_mol_K: 130
solid_heat_capacity_J_mol_K: 90
gas_heat_capacity_J_mol_K: 70
"""


class Server:
    def __init__(self, folder, *words, program=PROGRAM, address="127.0.0.1"):
        self.folder = folder
        self.address = address
        self.place = tempfile.TemporaryDirectory()  # where it runs: nothing is ever written there
        self.process = subprocess.Popen([program, "serve", "--port", "0", "--workspace", folder, *words], cwd=self.place.name,
                                        stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        line = self.process.stdout.readline()
        self.port = int(re.search(r":(\d+)/", line)[1])

    def ask(self, method, path, body=None, headers=None, kind="application/json", limit=60):
        connection = http.client.HTTPConnection(self.address, self.port, timeout=limit)
        if isinstance(body, (dict, list)):
            body = json.dumps(body)
        if isinstance(body, str):
            body = body.encode()
        given = {"Content-Type": kind} if body is not None else {}
        given.update(headers or {})
        try:
            connection.request(method, path, body, given)
            answer = connection.getresponse()
            return answer.status, dict((k.lower(), v) for k, v in answer.getheaders()), answer.read()
        finally:
            connection.close()

    def raw(self, data, limit=30):
        with socket.create_connection(("127.0.0.1", self.port), timeout=limit) as s:
            s.sendall(data)
            s.shutdown(socket.SHUT_WR)
            out = b""
            while part := s.recv(65536):
                out += part
            return out

    def stop(self, how=signal.SIGTERM):
        self.process.send_signal(how)
        try:
            _, said = self.process.communicate(timeout=20)
        except subprocess.TimeoutExpired:
            self.process.kill()
            _, said = self.process.communicate()
        written = os.listdir(self.place.name)
        self.place.cleanup()
        return self.process.returncode, said + (f"written where it runs: {written}" if written else "")


class Tests:
    def __init__(self):
        self.passed = self.failed = 0

    def check(self, sound, what):
        self.passed += bool(sound)
        self.failed += not sound
        if not sound:
            print(f"FAILED: {what}")


def brotli(body):
    """Unpacked by node, which the pages were built with; Python has no brotli of its own."""
    script = 'process.stdout.write(require("zlib").brotliDecompressSync(require("fs").readFileSync(0)))'
    return subprocess.run(["node", "-e", script], input=body, capture_output=True, check=True).stdout


def own(name):
    return API["components"]["schemas"][name]


def fits(body, name):
    return breaches(json.loads(body), own(name), own(name))


def answer_fits(body, content):
    reference = content["application/json"]["schema"]["$ref"]
    if reference.startswith("#"):
        return fits(body, reference.rpartition("/")[2])
    schema = json.loads((ROOT / "docs" / "api" / reference).resolve().read_text(encoding="utf-8"))
    return breaches(json.loads(body), schema, schema)


POSTS = {
    "stand": {"job": ISLAND, "quick": True}, "run": {"job": ISLAND},
    "risk": {"job": ISLAND, "runs": 16, "indices": 0}, "routes": {"job": ISLAND}, "recipe": {"job": ISLAND},
    "compare": {"jobs": {"pool-1": ISLAND, "pool-2": ISLAND}, "dryer": ["bench-55", "bench-85"]}, "figures/space": {"job": ISLAND},
    "ceilings": {"dryer": "bench-55", "solvent": "acetonitrile"},
    "phases": {"mixture": MIXTURE, "temperature": ["-30 °C", "-50 °C"]},
    "vapour": {"mixture": MIXTURE, "temperature": "-30 °C"},
    "strip": {"mixture": MIXTURE, "pressure": "100 mbar", "until": "acetonitrile 5 %v/v"},
    "figures/phases": {"mixture": MIXTURE}, "figures/pressure": {"mixture": MIXTURE, "dryer": "bench-55"},
    "figures/run": {"job": ISLAND},
    "numbers/phases": {"mixture": MIXTURE}, "numbers/pressure": {"mixture": MIXTURE, "dryer": "bench-55"},
    "numbers/run": {"job": ISLAND}, "numbers/space": {"job": ISLAND},
    "check/job": {"text": ISLAND}, "check/dryer": {"text": DRYER}, "check/container": {"text": JAR}, "check/solute": {"text": KELP},
    "check/substance": {"text": "key: x", "name": "x"},
}


def check_paths(t, server):
    """Each path and method of the description is answered as it says, and no other method is."""
    work = json.loads(server.ask("POST", "/api/v1/vapour", POSTS["vapour"], {"Prefer": "respond-async"})[2])["id"]
    for path, item in API["paths"].items():
        real = path.replace("{file}", "stand.json").replace("{id}", work)
        real = real.replace("{name}", "bench-55" if "v1/dryers/" in path else "water" if "substances" in path else
                            "job" if "forms" in path else "pool-1")
        status, headers, _ = server.ask("OPTIONS", real)
        allowed = {m.strip().lower() for m in headers.get("allow", "").split(",")} - {"options", "head", ""}
        t.check(status == 204 and allowed == set(item), f"{path}: takes {allowed}, described are {set(item)}")
        for method in {"GET", "POST", "PUT", "DELETE", "PATCH"} - {m.upper() for m in item}:
            t.check(server.ask(method, real, "{}")[0] == 405, f"{method} {path} is not refused")
    tables = ["substances", "substances/water", "containers", "solutes", "dryers", "dryers/bench-55", "forms", "forms/solute", "about"]
    for path in tables:
        described = API["paths"]["/api/v1/" + re.sub("/.*", "/{name}", path)]["get"]
        status, headers, body = server.ask("GET", "/api/v1/" + path)
        t.check(status == 200 and not answer_fits(body, described["responses"]["200"]["content"]), f"GET {path}: {body[:200]}")
        again = server.ask("GET", "/api/v1/" + path, headers={"If-None-Match": headers["etag"]})
        t.check(again[0] == 304 and not again[2], f"GET {path} again: {again[0]}")
        t.check(server.ask("HEAD", "/api/v1/" + path)[2] == b"", f"HEAD {path} has a body")
    described = {p.removeprefix("/api/v1/") for p, item in API["paths"].items() if "post" in item}
    t.check(described == set(POSTS), f"POST is described for {described}")
    for path, envelope in POSTS.items():
        if path in ("routes", "recipe"):
            continue  # check_later_as_command
        status, headers, body = server.ask("POST", "/api/v1/" + path, envelope)
        content = API["paths"]["/api/v1/" + path]["post"]["responses"]["200"]["content"]
        if path.startswith("figures"):
            t.check(status == 200 and headers["content-type"] == "image/svg+xml" and b"</svg>" in body, f"{path}: {body[:200]}")
        elif path.startswith("numbers"):
            rows = list(csv.reader(io.StringIO(body.decode("utf-8"), newline="")))
            t.check(status == 200 and headers["content-type"] == "text/csv; charset=utf-8" and list(content) == ["text/csv"]
                    and len(rows) > 20 and len({len(row) for row in rows}) == 1, f"{path}: {body[:200]}")
        else:
            found = answer_fits(body, content) if status == 200 else [body[:300]]
            t.check(not found, f"POST {path}: {status} {found[:3]}")
        t.check("default-src 'self'" in headers["content-security-policy"] and headers["x-content-type-options"] == "nosniff"
                and "referrer-policy" in headers and "access-control-allow-origin" not in headers, f"{path}: headers {headers}")
    status, _, body = server.ask("GET", "/api/v1/openapi.json")
    t.check(status == 200 and json.loads(body) == API, "openapi.json is another than docs/api/openapi.json")
    t.check(server.ask("GET", "/")[0] == 200, "nothing at /")


def check_as_command(t, server):
    """The same bytes as the command's own."""
    done = subprocess.run([PROGRAM, "phases", MIXTURE, "--json"], capture_output=True, check=False)
    t.check(server.ask("POST", "/api/v1/phases", {"mixture": MIXTURE})[2] == done.stdout, "phases: not what the command says")
    done = subprocess.run([PROGRAM, "stand", ROOT / "examples" / "island.yaml", "--json"], capture_output=True, check=False)
    t.check(server.ask("POST", "/api/v1/stand", {"job": ISLAND})[2] == done.stdout, "stand: not what the command says")
    done = subprocess.run([PROGRAM, "--version"], capture_output=True, check=False, text=True)
    t.check(f"dryfront {json.loads(server.ask('GET', '/api/v1/about')[2])['version']}" == done.stdout.strip(), f"about: not {done.stdout}")
    job = ROOT / "examples" / "island.yaml"
    for path, words in {"phases": ["phases", MIXTURE], "pressure": ["phases", MIXTURE, "--figure-kind", "pressure", "--dryer", "bench-55"],
                        "run": ["run", job], "space": ["recipe", job]}.items():
        with tempfile.TemporaryDirectory() as folder:
            files = {"figures": pathlib.Path(folder) / "a.svg", "numbers": pathlib.Path(folder) / "a.csv"}
            subprocess.run([PROGRAM, *words, "--figure", files["figures"], "--csv", files["numbers"]], capture_output=True, check=False)
            for word, file in files.items():
                answer = server.ask("POST", f"/api/v1/{word}/{path}", POSTS[f"{word}/{path}"])[2]
                t.check(answer == file.read_bytes(), f"{word}/{path}: not what the command writes")


def check_refusals(t, server):
    good = POSTS["vapour"]
    own_host = f"127.0.0.1:{server.port}"

    def refused(status, what, *words, **more):
        got = server.ask(*words, **more)
        sound = got[0] == status and (not got[2] or not fits(got[2], "error"))
        t.check(sound, f"{what}: {got[0]} {got[2][:200]}")

    for host in ("example.net", "127.0.0.1", f"evil.test:{server.port}", "127.0.0.1:1", "", "[", f"localhost.:{server.port}"):
        refused(403, f"Host {host!r}", "POST", "/api/v1/vapour", good, {"Host": host})
    t.check(server.ask("POST", "/api/v1/vapour", good, {"Host": f"localhost:{server.port}"})[0] == 200, "localhost is refused")
    for origin in ("http://evil.test", "null", f"https://{own_host}", f"http://{own_host}.evil.test"):
        refused(403, f"Origin {origin!r}", "POST", "/api/v1/vapour", good, {"Origin": origin})
    t.check(server.ask("POST", "/api/v1/vapour", good, {"Origin": f"http://{own_host}"})[0] == 200, "own origin is refused")
    refused(403, "another site", "GET", "/api/v1/substances", headers={"Sec-Fetch-Site": "cross-site"})
    refused(415, "text/plain", "POST", "/api/v1/vapour", json.dumps(good), kind="text/plain")
    refused(404, "no such path", "GET", "/api/v1/nothing")
    refused(404, "no such substance", "GET", "/api/v1/substances/unobtainium")
    refused(422, "no such mixture", "POST", "/api/v1/vapour", {"mixture": "unobtainium, water", "temperature": "-30 °C"})
    for wrong in ("", "[]", "{", '{"mixture": 3}', '{"mixture": "water", "mixture": "water"}', '{"figure": "/tmp/x.svg", "mixture": "water"}',
                  '{"temperature": "-30 °C"}', '{"mixture": "water", "csv": "x.csv"}', "[" * 100000):
        refused(400, f"body {wrong[:50]!r}", "POST", "/api/v1/vapour", wrong)
    for path in ("/etc/passwd", "../bench-55.yaml", "dryers/../../x.yaml", "unknown"):
        refused(422, f"dryer {path}", "POST", "/api/v1/stand", {"job": ISLAND.replace("dryer: bench-55", f"dryer: {path}")})
    brought = {"job": ISLAND.replace("dryer: bench-55", "dryer: attic"), "dryers": {"attic": DRYER}, "quick": True}
    t.check(server.ask("POST", "/api/v1/stand", brought)[0] == 200, "a dryer brought along is not found")
    for path in ("/../../etc/passwd", "/%2e%2e/%2e%2e/etc/passwd", "/api/schema/..%2f..%2fetc%2fpasswd",
                 "/api/v1/workspace/jobs/..%2f..%2fx", "/api/v1/workspace/jobs/.hidden", "/api/v1/workspace/jobs/a%00b/"):
        status = server.ask("GET", path)[0]
        t.check(status in (400, 404, 422), f"{path}: {status}")
    refused(413, "five MiB", "POST", "/api/v1/vapour", b" " * (5 << 20))
    answer = server.raw(f"POST /api/v1/vapour HTTP/1.1\r\nHost: {own_host}\r\nContent-Length: 99999999999\r\n\r\n".encode())
    t.check(b" 413 " in answer[:20], f"a stated length of 100 GB: {answer[:60]}")


def check_places(t, server):
    """An error about a text says where it lies."""
    def place(body, path="stand"):
        status, _, answer = server.ask("POST", "/api/v1/" + path, body)
        error = json.loads(answer)["error"]
        t.check(status == 422 and not fits(answer, "error"), f"{path}: {status} {answer[:300]}")
        return error["file"], error["line"], error["field"]

    def line(text, start):
        return 1 + [row.strip().startswith(start) for row in text.splitlines()].index(True)

    changed = ISLAND.replace("purpose: ", "purpose: un")
    t.check(place({"job": changed}) == ("job", line(changed, "purpose"), "purpose"), "place of a choice")
    changed = ISLAND + "limits: [\n"
    t.check(place({"job": changed})[0] == "job" and place({"job": changed})[1:] == (len(changed.splitlines()) + 1, None), "place of no YAML")
    changed = ISLAND.replace("dryer: bench-55", "dryer: nowhere")
    t.check(place({"job": changed}) == ("job", line(changed, "dryer"), "dryer"), "place of a dryer's name")
    wrong = DRYER.replace("kind: oil_sealed", "kind: oily")
    brought = {"job": ISLAND.replace("dryer: bench-55", "dryer: attic"), "dryers": {"attic": wrong}}
    t.check(place(brought) == ("attic", line(wrong, "kind"), "pump.kind"), "place in a dryer brought along")
    t.check(place({"mixture": "unobtainium, water", "temperature": "-30 °C"}, "vapour") == (None, None, None), "place in no text")


def check_fuzz(t, server, count):
    dice = random.Random(7)
    seed = json.dumps({"job": ISLAND, "quick": True}).encode()
    connection = http.client.HTTPConnection("127.0.0.1", server.port, timeout=30)
    seen = {}
    for _ in range(count):
        body = bytearray(seed if dice.random() < 0.3 else json.dumps(POSTS["vapour"]).encode())
        for _ in range(dice.randint(1, 6)):
            at = dice.randrange(len(body) + 1)
            how = dice.randrange(3)
            if how == 0:
                body[at:at + dice.randint(1, 8)] = b""
            elif how == 1:
                body[at:at] = bytes(dice.randrange(256) for _ in range(dice.randint(1, 4)))
            elif at < len(body):
                body[at] = dice.randrange(256)
        connection.request("POST", "/api/v1/stand" if b"job" in body else "/api/v1/vapour", bytes(body),
                           {"Content-Type": "application/json"})
        answer = connection.getresponse()
        text = answer.read()
        seen[answer.status] = seen.get(answer.status, 0) + 1
        if answer.status != 200 and fits(text, "error"):
            t.check(False, f"{bytes(body)!r}: {answer.status} {text[:200]}")
    connection.close()
    t.check(set(seen) <= {200, 400, 422} and seen.get(400, 0) > count // 10, f"mutations: {seen}")


def check_workspace(t, server):
    jobs = "/api/v1/workspace/jobs"
    yaml = {"kind": "application/yaml"}
    status, headers, body = server.ask("PUT", jobs + "/pool-1", ISLAND, **yaml)
    first = headers.get("etag")
    t.check(status == 201 and not fits(body, "kept"), f"new job: {status} {body}")
    t.check(server.ask("GET", jobs + "/pool-1")[2].decode() == ISLAND, "a job comes back changed")
    t.check(server.ask("PUT", jobs + "/pool-1", ISLAND, **yaml)[0] == 428, "overwritten without If-Match")
    changed = ISLAND.replace("240", "200")
    status, headers, _ = server.ask("PUT", jobs + "/pool-1", changed, {"If-Match": first}, **yaml)
    t.check(status == 200 and headers["etag"] != first, f"replaced: {status}")
    t.check(server.ask("PUT", jobs + "/pool-1", ISLAND, {"If-Match": first}, **yaml)[0] == 412, "a stale tag overwrites")
    status, _, body = server.ask("PUT", jobs + "/pool-2", "job: [", **yaml)
    t.check(status == 422 and "pool-2.yaml" in json.loads(body)["error"]["message"], f"unsound job: {status} {body}")
    t.check(server.ask("PUT", jobs + "/pool-2?draft=1", "job: [", **yaml)[0] == 201, "draft refused")
    status, _, body = server.ask("GET", jobs)
    t.check(not fits(body, "kept_jobs") and [(j["name"], j["sound"]) for j in json.loads(body)["jobs"]] ==
            [("pool-1", True), ("pool-2", False)], f"list: {body}")
    for name in ("bench-55", "a b", "x.yaml", "..", "a" * 65):
        got = server.ask("PUT", "/api/v1/workspace/dryers/" + name.replace(" ", "%20"), DRYER, **yaml)[0]
        t.check(got == 422, f"dryer called {name!r}: {got}")
    t.check(server.ask("PUT", "/api/v1/workspace/dryers/attic", DRYER, **yaml)[0] == 201, "dryer refused")
    for path in ("attic", "dryers/attic.yaml", "../dryers/attic.yaml"):
        there = {"job": ISLAND.replace("dryer: bench-55", f"dryer: {path}"), "quick": True}
        t.check(server.ask("POST", "/api/v1/stand", there)[0] == 200, f"the workspace's dryer {path} is not found")
    # Twenty writers who have all seen the same version: one of them writes.
    tag = server.ask("GET", jobs + "/pool-1")[1]["etag"]
    with concurrent.futures.ThreadPoolExecutor(20) as pool:
        got = list(pool.map(lambda i: server.ask("PUT", jobs + "/pool-1", ISLAND.replace("240", str(100 + i)),
                                                 {"If-Match": tag}, **yaml)[0], range(20)))
    t.check(sorted(got) == [200] + [412] * 19, f"writers: {got}")
    t.check(server.ask("DELETE", jobs + "/pool-1", headers={"If-Match": tag})[0] == 412, "a stale tag removes")
    tag = server.ask("GET", jobs + "/pool-1")[1]["etag"]
    t.check(server.ask("DELETE", jobs + "/pool-1", headers={"If-Match": tag})[0] == 204, "not removed")
    t.check(server.ask("GET", jobs + "/pool-1")[0] == 404, "still there")


def check_own(t, server):
    """Containers, solutes and substances of the workspace: kept, listed, computed with; the unsound left out with its reason."""
    yaml = {"kind": "application/yaml"}
    base = "/api/v1/workspace/"
    mine = ISLAND.replace("vial_20R", "jar_40").replace("name: plant_extract", "name: kelp_sugar").replace(", critical_temperature: -28 °C", "")
    shelves = {"containers": ("jar_40", JAR), "solutes": ("kelp_sugar", KELP), "substances": ("seabrine", BRINE)}

    def stand(job, **more):
        return server.ask("POST", "/api/v1/stand", {"job": job, "quick": True, **more})

    def known(shelf):
        body = server.ask("GET", "/api/v1/" + shelf)[2]
        t.check(shelf == "substances" or not fits(body, shelf), f"{shelf}: {body[:200]}")
        return {item["key"] for item in json.loads(body)[shelf] if item["own"] and item.get("has_vapour", True)}

    error = json.loads(stand(mine)[2])["error"]
    t.check(error["field"] == "sample.solutes[0].name" and "kelp_sugar" in error["message"], f"before: {error}")
    tags = {}
    for shelf, (key, text) in shelves.items():
        t.check(known(shelf) == set(), f"{shelf} at first")
        status, headers, body = server.ask("PUT", base + shelf + "/" + key, text, **yaml)
        tags[shelf] = headers.get("etag")
        t.check(status == 201 and not fits(body, "kept"), f"{shelf}: {status} {body}")
        t.check(server.ask("GET", base + shelf + "/" + key)[2].decode() == text, f"{shelf} comes back changed")
        status, _, body = server.ask("GET", base + shelf)
        entry = json.loads(body)[shelf][0]
        t.check(not fits(body, "kept_" + shelf) and entry["sound"] and entry["keys"] == [key], f"list of {shelf}: {body}")
        t.check(known(shelf) >= {key}, f"{shelf}: not among those known")
        error = json.loads(server.ask("PUT", base + shelf + "/other", text, **yaml)[2])["error"]
        t.check(error["file"] == "other.yaml" and error["field"] == "key", f"{shelf}: the same key twice: {error}")
    status, _, body = stand(mine)
    t.check(status == 200, f"own container and solute: {status} {body[:200]}")
    owned = [x["key"] for x in json.loads(body)["sample"]["own_figures"]]
    t.check(owned == ["kelp_sugar", "jar_40"], f"own figures: {owned}")
    vapour = server.ask("POST", "/api/v1/vapour", {"mixture": "seabrine 30 %v/v, water", "temperature": "-30 °C"})
    t.check(vapour[0] == 200, f"own substance: {vapour[2][:200]}")
    jobs = json.loads(server.ask("GET", base + "jobs")[2])["jobs"]
    status = server.ask("PUT", base + "jobs/own-job", mine, **yaml)[0]
    t.check(status == 201, f"a job with own things: {status}")
    # A draft that is unsound leaves the rest as it was; a job that needs it hears which file and why.
    status, headers, _ = server.ask("PUT", base + "containers/jar_40", JAR.replace("30 mm", "30"), {"If-Match": tags["containers"]}, **yaml)
    t.check(status == 422, f"unsound container: {status}")
    status, headers, _ = server.ask("PUT", base + "containers/jar_40?draft=1", JAR.replace("30 mm", "30"), {"If-Match": tags["containers"]}, **yaml)
    t.check(status == 200 and known("containers") == set() and known("solutes") == {"kelp_sugar"}, "a draft is computed with")
    error = json.loads(stand(mine)[2])["error"]
    t.check(error["file"] == "job" and error["field"] == "containers[0].type" and "jar_40.yaml:3: inner_diameter" in error["message"],
            f"needs the unsound: {error}")
    listed = {j["name"]: j for j in json.loads(server.ask("GET", base + "jobs")[2])["jobs"]}
    t.check(len(listed) == len(jobs) + 1 and not listed["own-job"]["sound"] and "jar_40.yaml:3" in listed["own-job"]["problem"], "job in the list")
    t.check(stand(ISLAND)[0] == 200, "a job that needs nothing of it")
    entry = json.loads(server.ask("GET", base + "containers")[2])["containers"][0]
    t.check(not entry["sound"] and entry["problem"].startswith("jar_40.yaml:3: inner_diameter") and entry["keys"] == ["jar_40"], f"{entry}")
    status, headers, _ = server.ask("PUT", base + "containers/jar_40", JAR, {"If-Match": headers["etag"]}, **yaml)
    t.check(status == 200 and stand(mine)[0] == 200, "sound again")
    # A file written past the server counts, too.
    path = pathlib.Path(server.folder) / "containers" / "by-hand.yaml"
    path.write_text(JAR.replace("jar_40", "jar_41"), encoding="utf-8")
    t.check(known("containers") == {"jar_40", "jar_41"}, "a file written by hand is not seen")
    path.unlink()
    t.check(known("containers") == {"jar_40"}, "a file removed by hand is still seen")
    # Requests keep what they began with while it changes: half of them write, half compute.
    def busy(i):
        if i % 2:
            return stand(mine)[0]
        done = server.ask("PUT", base + f"containers/spare-{i}", JAR.replace("jar_40", f"spare_{i}"), **yaml)
        return server.ask("DELETE", base + f"containers/spare-{i}", headers={"If-Match": done[1]["etag"]})[0]
    with concurrent.futures.ThreadPoolExecutor(8) as pool:
        got = list(pool.map(busy, range(40)))
    t.check(got == [204, 200] * 20, f"computing while it changes: {got}")
    # Looked at without keeping it.
    texts = {"job": mine, "dryer": DRYER, "container": JAR.replace("jar_40", "new"), "solute": KELP.replace("kelp", "new"), "substance": BRINE.replace("sea", "new")}
    for word, text in texts.items():
        status, _, body = server.ask("POST", "/api/v1/check/" + word, {"text": text})
        t.check(status == 200 and not fits(body, "checked") and json.loads(body) == {"sound": True, "error": None}, f"check {word}: {body}")
        status, _, body = server.ask("POST", "/api/v1/check/" + word, {"text": text + "zz_field: 1\n"})
        found = json.loads(body)
        place = (word, len(text.splitlines()) + 1, "zz_field")
        t.check(status == 200 and not fits(body, "checked") and not found["sound"]
                and tuple(found["error"][k] for k in ("file", "line", "field")) == place, f"check wrong {word}: {body}")
    clash = json.loads(server.ask("POST", "/api/v1/check/container", {"text": JAR})[2])
    t.check(not clash["sound"] and clash["error"]["field"] == "key", f"a second of one key: {clash}")
    t.check(json.loads(server.ask("POST", "/api/v1/check/container", {"text": JAR, "name": "jar_40"})[2])["sound"], "itself again")
    for wrong in ({}, {"text": 3}, {"text": JAR, "more": 1}, {"text": JAR, "name": "../x"}):
        status = server.ask("POST", "/api/v1/check/container", wrong)[0]
        t.check(status == 400, f"check {wrong}: {status}")
    for shelf, (key, _) in shelves.items():
        tag = server.ask("GET", base + shelf + "/" + key)[1]["etag"]
        t.check(server.ask("DELETE", base + shelf + "/" + key, headers={"If-Match": tag})[0] == 204, f"{shelf}: not removed")
        t.check(known(shelf) == set(), f"{shelf}: removed and still known")


def events(server, path, limit=60):
    """The events of a stream, to its end."""
    text = server.ask("GET", path, headers={"Accept": "text/event-stream"}, limit=limit)[2].decode()
    for block in filter(None, text.split("\n\n")):
        lines = block.split("\n")
        yield lines[0].removeprefix("event: "), "\n".join(line.removeprefix("data: ") for line in lines[1:])


def check_taken_over(t, server):
    """A remedy's job, sent back with the dryer that comes with it, and with that dryer kept in the workspace."""
    job = ("job: cistus work-up\npurpose: intermediate\ndryer: bench-55\nsample:\n  composition: thf 30 %v/v, water\n"
           "containers:\n  - {type: flask_1000, count: 12, fill: 400 mL, place: manifold}\nfreezing: {means: freezer}\n")
    remedies = json.loads(server.ask("POST", "/api/v1/stand", {"job": job})[2])["remedies"]
    own = [r for r in remedies if r["dryers"]]
    t.check(len(own) >= 2 and len(remedies) > len(own), f"remedies: {[r['lever'] for r in remedies]}")
    for remedy in remedies:
        status, _, body = server.ask("POST", "/api/v1/stand", {"job": remedy["job"], "dryers": remedy["dryers"], "quick": True})
        t.check(status == 200 and json.loads(body)["standing"] == remedy["standing"], f"{remedy['lever']}: {body[:300]}")
    for name, text in own[0]["dryers"].items():
        kept = "/api/v1/workspace/dryers/" + name
        status, headers, body = server.ask("PUT", kept, text, kind="application/yaml")
        t.check(status == 201, f"{name}: {status} {body}")
        status, _, body = server.ask("POST", "/api/v1/stand", {"job": own[0]["job"], "quick": True})
        t.check(status == 200 and json.loads(body)["standing"] == own[0]["standing"], f"{name} of the workspace: {body[:300]}")
        server.ask("DELETE", kept, headers={"If-Match": headers["etag"]})


def check_later(t, server):
    prefer = {"Prefer": "respond-async"}
    risk = {"job": ISLAND, "runs": 256, "indices": 0}
    status, headers, body = server.ask("POST", "/api/v1/risk", risk, prefer)
    t.check(status == 202 and not fits(body, "work"), f"later: {status} {body}")
    heard = list(events(server, headers["location"]))
    names = [name for name, _ in heard]
    t.check(names[-1] == "result" and set(names[:-1]) == {"progress"}, f"events: {names}")
    t.check(server.ask("GET", headers["location"])[2].decode().rstrip() == heard[-1][1].rstrip(), "another result than the event's")
    shares = [json.loads(data)["share"] for name, data in heard[:-1]]
    t.check(shares == sorted(shares), f"shares fall: {shares}")
    long = {"job": ISLAND, "runs": 1000000, "indices": 0}
    status, headers, _ = server.ask("POST", "/api/v1/risk", long, prefer)
    time.sleep(0.5)
    started = time.monotonic()
    t.check(server.ask("DELETE", headers["location"])[0] == 204 and server.ask("GET", headers["location"])[0] == 404, "not stopped")
    t.check(server.ask("POST", "/api/v1/vapour", POSTS["vapour"])[0] == 200 and time.monotonic() - started < 10, "busy afterwards")


WET = ISLAND.replace("-38 °C", "-25 °C")  # does not stand: there is something to look for
LONG = {
    "stand": {"job": WET}, "routes": {"job": WET}, "recipe": {"job": ISLAND, "space": True}, "ceilings": {"dryer": "bench-55"},
    "compare": {"jobs": {f"pool-{i}": ISLAND for i in range(8)}, "dryer": ["bench-55", "bench-85", "deep-105"]},
    "figures/space": {"job": ISLAND}, "risk": {"job": ISLAND, "runs": 1000000, "indices": 0},
    "figures/phases": {"mixture": "acetonitrile 20 %v/v, tert-butanol 10 %v/v, water"},
}


def processor_time(process):
    fields = pathlib.Path(f"/proc/{process.pid}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()
    return int(fields[11]) + int(fields[12])


def check_stopping(t, server):
    """Whatever takes long says how far it is and what it does, and is stopped at once: the server is idle within a second."""
    for path, body in LONG.items():
        status, headers, answer = server.ask("POST", "/api/v1/" + path, body, {"Prefer": "respond-async"})
        t.check(status == 202, f"{path}: {status} {answer[:200]}")
        if status != 202:
            continue
        shares, texts, until = [], set(), time.monotonic() + 60
        steps = {"stand": 2, "figures/phases": 1}.get(path, 3)  # short, or of one piece only
        while len(set(shares)) < steps and time.monotonic() < until:
            status, _, answer = server.ask("GET", headers["location"])
            if status != 202:
                break
            found = json.loads(answer)
            shares.append(found["share"])
            texts.add(found["text"])
            time.sleep(0.02 if path == "stand" else 0.1)
        t.check(shares == sorted(shares) and all(0 <= share <= 1 for share in shares), f"{path}: shares {shares}")
        if status == 202 and path != "figures/phases":
            t.check(len(set(shares)) >= steps and (path == "risk" or texts - {""}), f"{path} does not tell: {shares} {texts}")
        if status != 202:
            print(f"{path}: was done before it could be stopped")
            continue
        asked = time.monotonic()
        t.check(server.ask("DELETE", headers["location"])[0] == 204, f"{path}: not stopped")
        still, last = 0, -1
        while still < 3 and time.monotonic() - asked < 20:
            now = processor_time(server.process)
            still = still + 1 if now == last else 0
            last = now
            time.sleep(0.1)
        quiet = time.monotonic() - asked - 0.4
        t.check(quiet < 1.0 + slack(), f"{path}: works on for {quiet:.1f} s after it was stopped")


def slack():
    """s that a machine at work for others is given beyond what is right."""
    return min(4.0, 0.5 * max(0.0, os.getloadavg()[0] / (os.cpu_count() or 1) - 1.0))


def check_later_as_command(t, server):
    """What is fetched later is byte for byte what the command says."""
    with tempfile.TemporaryDirectory() as folder:
        job = pathlib.Path(folder) / "job"
        job.write_text(ISLAND, encoding="utf-8")
        other = pathlib.Path(folder) / "other"
        other.write_text(WET, encoding="utf-8")
        asked = {"routes": ({"job": ISLAND}, ["routes", "job"]), "recipe": ({"job": ISLAND}, ["recipe", "job"]),
                 "compare": ({"jobs": {"job": ISLAND, "other": WET}, "dryer": ["bench-55", "deep-105"]},
                             ["compare", "job", "other", "--dryer", "bench-55", "--dryer", "deep-105"])}
        for path, (body, words) in asked.items():
            status, headers, answer = server.ask("POST", "/api/v1/" + path, body, {"Prefer": "respond-async"})
            done = subprocess.run([PROGRAM, *words, "--json"], cwd=folder, capture_output=True, check=False, timeout=600)
            heard = list(events(server, headers["location"], limit=600))
            status, _, answer = server.ask("GET", headers["location"])
            content = API["paths"]["/api/v1/" + path]["post"]["responses"]["200"]["content"]
            t.check(status == 200 and not answer_fits(answer, content), f"{path}: {status} {answer[:300]}")
            t.check(answer == done.stdout and answer, f"{path}: not what the command says: {done.stderr[:300]}")
            t.check(heard[-1][0] == "result" and heard[-1][1].rstrip() == answer.decode().rstrip(), f"{path}: the event's result")
        for wrong, status in (({"jobs": {}, "dryer": ["bench-55"]}, 400), ({"jobs": {"a": ISLAND}}, 422), ({"jobs": [ISLAND], "dryer": ["bench-55"]}, 400),
                              ({"jobs": {"../a": ISLAND}, "dryer": ["bench-55"]}, 400), ({"jobs": {"a": 3}, "dryer": ["bench-55"]}, 400),
                              ({"jobs": {f"a{i}": ISLAND for i in range(17)}, "dryer": ["bench-55"]}, 400), ({"job": ISLAND}, 400)):
            got = server.ask("POST", "/api/v1/compare", wrong)
            t.check(got[0] == status and not fits(got[2], "error"), f"compare {str(wrong)[:60]}: {got[0]} {got[2][:200]}")
        t.check(server.ask("POST", "/api/v1/recipe", {"job": ISLAND, "space": "yes"})[0] == 400, "space: yes")


def check_clients(t, server):
    with concurrent.futures.ThreadPoolExecutor(20) as pool:
        got = list(pool.map(lambda _: server.ask("POST", "/api/v1/stand", POSTS["stand"]), range(40)))
    t.check({g[0] for g in got} == {200} and len({g[2] for g in got}) == 1, f"20 at once: {[g[0] for g in got]}")
    slow = [socket.create_connection(("127.0.0.1", server.port)) for _ in range(20)]
    for s in slow:
        s.sendall(b"POST /api/v1/vapour HTTP/1.1\r\nHost: 127")
    t.check(server.ask("POST", "/api/v1/vapour", POSTS["vapour"], limit=10)[0] == 200, "slow clients hold the others up")
    for s in slow:
        s.close()


def check_pages(t, server):
    """The pages and what they consist of: types, packing, how long they may be kept, the policy for scripts."""
    status, headers, plain = server.ask("GET", "/")
    policy = headers["content-security-policy"]
    t.check(status == 200 and headers["content-type"].startswith("text/html") and "etag" in headers, f"/: {status} {headers}")
    t.check("unsafe" not in policy and all(part in policy for part in (
        "default-src 'self'", "script-src 'self'", "style-src 'self'", "img-src 'self' blob: data:", "connect-src 'self'",
        "worker-src 'self'", "object-src 'none'", "base-uri 'none'", "frame-ancestors 'none'", "form-action 'self'")), policy)
    text = plain.decode()
    t.check(not re.search(r"<script(?![^>]*\ssrc=)|<style|\son\w+=|\sstyle=|javascript:", text), "something inline stands in the page")
    t.check(headers["cache-control"] == "no-cache", f"/ may be kept: {headers}")
    t.check(server.ask("GET", "/", headers={"If-None-Match": headers["etag"]})[0] == 304, "/ again")
    for path in ("/nothing.js", "/assets/", "/assets/nothing.js", "/index.html.gz", "/index.html.br", "/assets", "//", "/index.html/", "/..%2findex.html",
                 "/assets/..%2f..%2f..%2fetc%2fpasswd", "/../../etc/passwd", "/%2e%2e/%2e%2e/etc/passwd", "/assets/%00", "/.htaccess"):
        got = server.ask("GET", path)
        t.check(got[0] in (400, 404) and b"root:" not in got[2], f"{path}: {got[0]}")
    t.check(server.ask("POST", "/", "{}")[0] == 405, "POST / is not refused")
    found = re.findall(r'(?:src|href)="(/[^"]+)"', text)
    if "built without its pages" in text:
        t.check(DRYFRONT_PAGES != "ON", "there are no pages")
        return
    t.check(any(path.startswith("/assets/") for path in found), f"the page names {found}")
    for path in found + ["/service-worker.js"]:
        status, headers, plain = server.ask("GET", path)
        if status == 404 and path == "/service-worker.js":
            continue  # there need not be one
        kind = {"js": "text/javascript", "css": "text/css", "svg": "image/svg+xml",
                "webmanifest": "application/manifest+json"}[path.rpartition(".")[2]]
        t.check(status == 200 and headers["content-type"].partition(";")[0] == kind, f"{path}: {status} {headers}")
        lasting = headers["cache-control"] == "public, max-age=31536000, immutable"
        t.check(lasting == path.startswith("/assets/"), f"{path}: {headers['cache-control']}")
        tags = {}
        t.check("content-encoding" not in headers and len(plain) == int(headers["content-length"]), f"{path}: packed unasked")
        for accept, coding in (("gzip, deflate, br, zstd", "br"), ("*", "br"), ("br;q=1, gzip;q=0.5", "br"), ("br;q=0.5, gzip", "gzip"),
                               ("gzip, deflate", "gzip"), ("x-gzip", "gzip"), ("GZIP ; q=0.3 , BR;q=0.3", "br"), ("br", "br"), ("br;q=0, *", "gzip"),
                               ("br;q=0, gzip", "gzip"), ("gzip;q=0", None), ("br;q=0.000", None), ("gzip; q=0.000, *;q=0", None),
                               ("identity, br;q=0.5, gzip;q=0.5", None), ("identity;q=0.5, gzip;q=0.8", "gzip"), ("identity;q=0, gzip", "gzip"),
                               ("br;q=nan", None), ("br;q=", None), ("brotli, gzipped", None), ("identity", None), ("", None)):
            _, there, body = server.ask("GET", path, headers={"Accept-Encoding": accept})
            if "vary" not in there:
                t.check(len(plain) < 500, f"{path}: {len(plain)} bytes that are never packed")
                continue  # not worth packing
            sound = there["vary"] == "Accept-Encoding" and there.get("content-encoding") == coding and int(there["content-length"]) == len(body)
            unpacked = body if coding is None else gzip.decompress(body) if coding == "gzip" else brotli(body)
            t.check(sound and unpacked == plain, f"{path} for '{accept}': {there}")
            tags.setdefault(coding, set()).add(there["etag"])
        t.check(all(len(some) == 1 for some in tags.values()) and len(set().union(*tags.values())) == len(tags), f"{path}: tags of its forms {tags}")
        head = server.ask("HEAD", path)
        t.check(head[0] == 200 and head[2] == b"" and head[1]["content-length"] == headers["content-length"], f"HEAD {path}: {head[1]}")


def check_open(t, folder):
    """--open calls xdg-open with the address; where there is none the server says so and runs on."""
    os.mkdir(folder + "/bin")
    opener = pathlib.Path(folder + "/bin/xdg-open")
    opener.write_text(f"#!/bin/sh\necho \"$@\" > {folder}/opened.new; mv {folder}/opened.new {folder}/opened\n", encoding="utf-8")
    opener.chmod(0o755)
    before = os.environ["PATH"]
    try:
        os.environ["PATH"] = folder + "/bin:" + before
        server = Server(folder + "/open", "--open")
        opened = pathlib.Path(folder + "/opened")
        for _ in range(100):
            if opened.exists():
                break
            time.sleep(0.1)
        t.check(opened.exists() and opened.read_text(encoding="utf-8") == f"http://127.0.0.1:{server.port}/\n", "the browser is not opened")
        t.check(server.stop() == (0, ""), "stopped")
        opener.unlink()
        os.environ["PATH"] = folder + "/bin"
        server = Server(folder + "/open", "--open")
        t.check(server.ask("GET", "/")[0] == 200, "without xdg-open it does not run")
        code, said = server.stop()
        t.check(code == 0 and "xdg-open" in said and f":{server.port}/" in said, f"without xdg-open: {code} {said}")
    finally:
        os.environ["PATH"] = before


def check_six(t, folder):
    """The loopback of IPv6, with its name in brackets."""
    try:
        with socket.socket(socket.AF_INET6) as s:
            s.bind(("::1", 0))
    except OSError:
        print("no IPv6 here: not checked")
        return
    server = Server(folder, "--listen", "::1", address="::1")
    own_host = f"[::1]:{server.port}"
    t.check(server.ask("GET", "/api/v1/containers")[0] == 200, "[::1] does not answer")
    t.check(server.ask("GET", "/", headers={"Host": own_host, "Origin": "http://" + own_host})[0] == 200, "own origin refused at [::1]")
    for host in (f"[::2]:{server.port}", "[::1]", f"::1:{server.port}", f"[::1]:{server.port + 1}", f"[::1]x:{server.port}", f"[:{server.port}"):
        t.check(server.ask("GET", "/", headers={"Host": host})[0] == 403, f"Host {host} is not refused")
    t.check(server.ask("GET", "/", headers={"Host": own_host, "Origin": f"http://[::1]:{server.port}.evil.test"})[0] == 403, "Origin")
    code, said = server.stop()
    t.check(code == 0 and not said, f"at ::1: {code} {said}")
    refused = subprocess.run([PROGRAM, "serve", "--port", "0", "--workspace", folder, "--listen", "localhost"], capture_output=True,
                             text=True, timeout=20, check=False)
    t.check(refused.returncode == 2 and "numeric address" in refused.stderr, f"--listen localhost: {refused}")


def check_slow(t, server):
    """Headers and bodies that come drop by drop: after half a minute nobody waits for them any more."""
    half = [b"GET / HTTP/1.1\r\nHost: 127", b"POST /api/v1/vapour HTTP/1.1\r\nHost: 127.0.0.1:%d\r\nContent-Type: application/json\r\n"
            b"Content-Length: 1000\r\n\r\n{" % server.port]
    open_at, slow = time.monotonic(), []
    for start in half:
        s = socket.create_connection(("127.0.0.1", server.port))
        s.sendall(start)
        slow.append(s)
    dropped = {}
    while len(dropped) < len(slow) and time.monotonic() - open_at < 60:
        for i, s in enumerate(slow):
            if i in dropped:
                continue
            try:
                s.sendall(b" " if i else b"0")
                s.settimeout(0.01)
                if s.recv(65536) == b"":
                    dropped[i] = time.monotonic() - open_at
            except TimeoutError:
                pass
            except OSError:
                dropped[i] = time.monotonic() - open_at
        time.sleep(1.0)
    for s in slow:
        s.close()
    t.check(sorted(dropped) == [0, 1] and max(dropped.values()) < 45, f"slow clients are held: {dropped}")


def check_stop(t, folder, program=PROGRAM):
    server = Server(folder, program=program)
    with concurrent.futures.ThreadPoolExecutor(1) as pool:
        waiting = pool.submit(server.ask, "POST", "/api/v1/risk", {"job": ISLAND, "runs": 1000000, "indices": 0})
        time.sleep(1.0)
        code, said = server.stop()
        status = waiting.result(timeout=20)[0]
    t.check(code == 0 and not said and status == 503, f"stopped in the middle: {code} {said!r}, answered {status}")


def check_begun(t, folder):
    """A workspace remembers that something was kept in it, removed since or not, over a new start."""
    def begun(server):
        return json.loads(server.ask("GET", "/api/v1/about")[2])["begun"]

    server = Server(folder)
    path = "/api/v1/workspace/dryers/attic"
    t.check(begun(server) is False, "a new workspace has begun")
    t.check(server.ask("PUT", path, "name: [", kind="application/yaml")[0] == 422 and begun(server) is False, "what is refused begins it")
    etag = server.ask("PUT", path, DRYER, kind="application/yaml")[1]["etag"]
    t.check(begun(server) is True, "what is kept does not begin it")
    t.check(server.ask("DELETE", path, headers={"If-Match": etag})[0] == 204 and begun(server) is True, "what is removed unbegins it")
    server.stop()
    server = Server(folder)
    t.check(begun(server) is True, "a new start forgets it")
    server.stop()


def main():
    t = Tests()
    sanitized = ROOT / "build" / "asan" / "dryfront"
    with tempfile.TemporaryDirectory() as folder:
        server = Server(folder + "/a")
        for check in (check_paths, check_as_command, check_refusals, check_places, check_workspace, check_own, check_taken_over,
                      check_later, check_clients, check_later_as_command, check_stopping, check_pages, check_slow):
            check(t, server)
        check_fuzz(t, server, 400)
        code, said = server.stop(signal.SIGINT)
        t.check(code == 0 and not said, f"stopped: {code} {said!r}")
        check_stop(t, folder + "/b")
        check_six(t, folder + "/six")
        check_open(t, folder)
        check_begun(t, folder + "/begun")
        if sanitized.exists():
            server = Server(folder + "/c", program=str(sanitized))
            for check in (check_refusals, check_workspace, check_own):
                check(t, server)
            check_fuzz(t, server, 60)
            code, said = server.stop()
            t.check(code == 0 and not said, f"sanitized: {code} {said[:2000]!r}")
    print(f"{t.passed} passed, {t.failed} failed")
    return 1 if t.failed else 0


if __name__ == "__main__":
    sys.exit(main())

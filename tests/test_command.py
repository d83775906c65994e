#!/usr/bin/env python3
"""test_command.py: the program from outside: exit statuses, sentences on bad input, output that cannot be written.

Bad input: exit status 2, nothing on stdout, one line on stderr with file, line and field where there is one.
DRYFRONT_PROGRAM and DRYFRONT_SOURCE_DIR say where things are. Last line: "N passed, N failed".
"""
import csv
import json
import os
import pathlib
import pty
import re
import signal
import socket
import subprocess
import sys
import tempfile
import time
import xml.etree.ElementTree

ROOT = pathlib.Path(os.environ.get("DRYFRONT_SOURCE_DIR", pathlib.Path(__file__).resolve().parent.parent))
PROGRAM = os.environ.get("DRYFRONT_PROGRAM", str(ROOT / "build" / "release" / "dryfront"))

JOB = """\
job: eelgrass pool 2
purpose: screening
dryer: bench-55
sample:
  composition: acetonitrile 20 %v/v, water
  solutes:
    - {name: sucrose, concentration: 10 g/L}
containers:
  - {type: vial_20R, count: 20, edge: 8, fill: 5 mL, place: shelf}
freezing:
  means: dry_ice_bath
recipe:
  - {time: 0 h, shelf_temperature: -45 °C}
limits: {margin: 1 K, time: 200 h}
"""

DRYER = (ROOT / "data" / "dryer_bench-55.yaml").read_text(encoding="utf-8")

SUBSTANCE = """\
substances:
  - key: seabrine
    aliases: SB
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


class Tests:
    def __init__(self, folder):
        self.folder = folder
        self.passed = self.failed = 0

    def check(self, sound, what):
        self.passed += bool(sound)
        self.failed += not sound
        if not sound:
            print(f"FAILED: {what}")

    def run(self, *words, environment=None, cwd=None, limit=60):
        started = time.monotonic()
        done = subprocess.run([PROGRAM, *words], stdin=subprocess.DEVNULL, capture_output=True, timeout=limit,
                              env=environment, cwd=cwd or self.folder, check=False)
        done.seconds = time.monotonic() - started
        done.out = done.stdout.decode("utf-8")
        done.err = done.stderr.decode("utf-8")
        return done

    def json(self, *words):
        """The answer in JSON; empty where there is none, which fails a test of its own."""
        done = self.run(*words, "--json")
        try:
            return json.loads(done.out)
        except ValueError:
            self.check(False, f"{' '.join(words)} --json: {done.returncode} {done.err}")
            return {}

    def refused(self, words, *needles, status=2):
        """Exit status 2 and one sentence that holds each needle."""
        done = self.run(*words)
        shown = " ".join(w if len(w) < 60 else w[:57] + "..." for w in words)
        missing = [n for n in needles if n not in done.err]
        sound = (done.returncode == status and not done.out and done.err.startswith("dryfront: ") and
                 done.err.count("\n") == 1 and done.err.endswith("\n") and len(done.err) > 20 and not missing)
        self.check(sound, f"{shown}: status {done.returncode}, wanted {status} with {missing or 'one sentence'}: "
                          f"{done.err!r}")
        return done

    def file(self, name, text):
        path = self.folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
        return str(path.relative_to(self.folder))

    def job(self, old, new, *needles, line=None, name="job.yaml", base=JOB):
        """A job with one thing changed is refused; the sentence names file and line."""
        assert old in base, old
        text = base.replace(old, new, 1)
        path = self.file(name, text)
        where = f"{name}:{line}" if line else name
        return self.refused(["stand", path], where, *needles)


def command_line(t):
    done = t.refused([], "stand", "phases", "help")
    t.refused(["stant", "x.yaml"], "stant", "did you mean stand?")
    t.refused(["qqqqqqqqqqqq"], "qqqqqqqqqqqq", "dryfront help")
    # A eutectic is as sure beside it, where either solid may be the first, as far from it.
    far, beside = (json.loads(t.run("phases", f"acetic acid {w} %w/w, water", "--json").out)["solidus_sigma_K"] for w in (20, 59))
    t.check(0.5 < far < 2 and abs(beside / far - 1) < 0.05, f"solidus of acetic acid: ± {far} and ± {beside} K")
    t.refused(["phases", "water", "--temprature", "1 K"], "--temprature", "--temperature")
    t.refused(["--jsn", "substances"], "--jsn", "--json")
    t.refused(["phases", "water", "--zzzzzzzzzzzz"], "--zzzzzzzzzzzz", "dryfront help phases")
    t.refused(["phases", "water", "--json=yes"], "--json takes no value")
    t.refused(["phases", "water", "--temperature"], "--temperature needs a value")
    t.refused(["phases", "water", "--temperature", "--json"], "--temperature needs a value")
    t.refused(["vapour", "water", "--pressure", "1 bar", "--pressure", "2 bar"], "--pressure is given twice")
    t.refused(["phases", "water", *["--temperature=1 K"] * 65], "more than 64")
    t.refused(["phases"], "phases needs a mixture")
    t.refused(["stand"], "stand needs a job file")
    t.refused(["ceilings"], "ceilings needs a dryer")
    t.refused(["phases", "acetonitrile", "30", "%v/v"], "one word too many")
    t.refused(["help", "fases"], "fases", "phases")
    t.refused(["phases", "--", "--json"], "--json")
    for words in (["help"], ["--help"], ["-h"], ["help", "stand"], ["stand", "--help"], ["phases", "-h"], ["--version"]):
        done = t.run(*words)
        t.check(done.returncode == 0 and done.out.endswith("\n") and not done.err, f"{words}: {done.returncode} {done.err}")
    version = re.search(r"VERSION (\d+\.\d+\.\d+)", (ROOT / "CMakeLists.txt").read_text(encoding="utf-8"))[1]
    t.check(t.run("--version").out == f"dryfront {version}\n", "--version")
    overview = t.run("help").out
    for command in ("tune", "stand", "run", "ceilings", "phases", "vapour", "substances", "help"):
        t.check(f"\n  {command} " in overview, f"help names {command}")
        t.check(t.run("help", command).out.startswith(f"usage: dryfront {command} "), f"help {command}")


def mixtures(t):
    t.refused(["phases", "acetonitrle 30 %v/v, water"], "acetonitrle", "acetonitrile")
    t.refused(["phases", "watr"], "watr", "water")
    t.refused(["phases", "acetonitrile 30 %v/v, water 60 %v/v"], "add up to 90 %")
    t.refused(["phases", "acetonitrile 70 %v/v, methanol 40 %v/v, water"], "110 %", "water")
    t.refused(["phases", "acetonitrile -3 %v/v, water"], "negative")
    t.refused(["phases", "acetonitrile \N{MINUS SIGN}3 %v/v, water"], "negative")
    t.refused(["phases", "acetonitrile 300 %v/v, water"], "more than 100 %")
    t.refused(["phases", "acetonitrile 30, water"], "unit is missing", "%v/v")
    t.refused(["phases", "acetonitrile 30 %, water"], "'acetonitrile 30 %'", "%v/v")
    t.refused(["phases", "acetonitrile 30 ml, water"], "unit is not known", "%v/v")
    t.refused(["phases", "acetonitrile 30 %v/v, methanol 3 %w/w, water"], "%v/v and %w/w")
    t.refused(["phases", "acetonitrile nan %v/v, water"], "nan")
    t.refused(["phases", "acetonitrile inf %v/v, water"], "inf")
    t.refused(["phases", "acetonitrile 1e999 %v/v, water"], "1e999")
    t.refused(["phases", "acetonitrile 100 %v/v"], "does not name water")
    t.refused(["phases", "acetonitrile, water"], "acetonitrile", "water", "without an amount")
    t.refused(["phases", "acetonitrile 10 %v/v, ACN 10 %v/v, water"], "named twice")
    t.refused(["phases", ""], "empty part")
    t.refused(["phases", ","], "empty part")
    t.refused(["phases", "water,,acetonitrile 3 %v/v"], "empty part")
    t.refused(["phases", "acetonitrile 0 %v/v, water 0 %v/v"], "0 %")
    t.refused(["phases", "x" * 5000], "longer than")
    t.refused(["phases", ", ".join(["water 1 %v/v"] * 11)], "more than 10")
    done = subprocess.run([PROGRAM, "phases", b"\xff\xfe 30 %v/v, water"], capture_output=True, check=False)
    t.check(done.returncode == 2 and done.stderr.count(b"\n") == 1, f"a name that is not UTF-8: {done.returncode}")
    t.refused(["phases", "water\n30"], "dryfront: ")
    t.check(t.run("phases", "1,4-dioxane 20 %v/v; N,N-dimethylformamide 3 %v/v; water").returncode == 0, "commas in names")
    t.check("none: " not in t.run("phases", "water").out, "pure water has a solidus")


def quantities(t):
    mixture = "acetonitrile 30 %v/v, water"
    t.refused(["phases", mixture, "--temperature", "-30"], "--temperature", "'-30' has no unit", "°C or K")
    t.refused(["phases", mixture, "--temperature", "-30 °F"], "--temperature", "-30 °F", "°C or K")
    t.refused(["phases", mixture, "--temperature", "-30 mbar"], "--temperature", "°C or K")
    t.refused(["phases", mixture, "--temperature", "-300 °C"], "below absolute zero")
    t.refused(["phases", mixture, "--temperature", "-200 °C"], "outside -173 °C")
    t.refused(["phases", mixture, "--temperature", "200 °C"], "outside")
    t.refused(["phases", mixture, "--temperature", "nan °C"], "nan °C", "finite number")
    t.refused(["phases", mixture, "--temperature", ""], "--temperature")
    t.refused(["phases", mixture, "--temperature", "-30,5 °C"], "decimal")
    t.refused(["vapour", mixture], "--temperature T or --pressure P")
    t.refused(["vapour", mixture, "--temperature", "0 °C", "--pressure", "1 mbar"], "not both")
    t.refused(["vapour", mixture, "--pressure", "1"], "--pressure", "no unit", "mbar")
    t.refused(["vapour", mixture, "--pressure", "0 mbar"], "--pressure", "outside")
    t.refused(["vapour", mixture, "--pressure", "-1 mbar"], "--pressure")
    t.refused(["vapour", mixture, "--pressure", "1e9 bar"], "--pressure")
    t.refused(["vapour", mixture, "--pressure", "inf Pa"], "--pressure", "finite number")
    t.refused(["vapour", mixture, "--temperature", "320 °C"], "critical temperature of acetonitrile")
    same = [t.run("vapour", mixture, "--temperature", x).out for x in ("-30 °C", "243.15 K", "\N{MINUS SIGN}30 degC")]
    t.check(same[0] and same[0] == same[1] == same[2], "one temperature in three ways of writing")
    same = [t.json("vapour", mixture, "--pressure", x).get("temperature_C", 0.0)
            for x in ("1013.25 mbar", "101325 Pa", "760 Torr", "1013.25 hPa", "1 atm")]
    t.check(max(same) - min(same) < 1e-4, f"one pressure in five units: {same}")
    boiling = t.json("vapour", "water", "--pressure", "1 atm").get("temperature_C", 0.0)
    t.check(abs(boiling - 99.97) < 0.02, f"water boils at {boiling} °C under 1 atm")
    ice = t.json("vapour", "water", "--temperature", "230 K").get("pressure_mbar", 0.0)
    t.check(abs(ice / 0.0894735 - 1) < 1e-5, f"ice at 230 K: {ice} mbar (IAPWS R14-08: 0.0894735)")


def names(t):
    t.refused(["substances", "acetonitrle"], "acetonitrle", "acetonitrile")
    t.refused(["ceilings", "bench-55", "--solvent", "etanol"], "--solvent", "ethanol")
    t.refused(["ceilings", "bench-55", "--solvent", "water"], "water")
    t.refused(["ceilings", "bench-55", "--solvent", "sucrose"], "without vapour")
    t.refused(["ceilings", "bench-55", "--solvent", "ACN", "--solvent", "acetonitrile"], "twice")
    t.refused(["ceilings", "bench55"], "bench55", "did you mean bench-55", "bench-85", "deep-105")
    for name in ("ACN", "acetonitrile", "Acetonitrile", "MeCN"):
        t.check(t.run("substances", name).out.startswith("acetonitrile ("), f"substances {name}")


def files(t):
    t.refused(["stand", "absent.yaml"], "absent.yaml", "no such file")
    t.refused(["stand", ""], "dryfront: ")
    t.refused(["stand", "."], "folder")
    t.refused(["stand", "/"], "folder")
    t.refused(["ceilings", "./absent.yaml"], "absent.yaml", "no such file")
    t.refused(["--substances", "absent.yaml", "substances"], "absent.yaml", "no such file")
    t.refused(["stand", "/dev/zero"], "/dev/zero", "device")
    t.refused(["stand", t.file("plain.txt", "x") + "/job.yaml"], "plain.txt/job.yaml")
    os.mkfifo(t.folder / "fifo")
    t.refused(["stand", "fifo"], "fifo", "pipe")
    with socket.socket(socket.AF_UNIX) as s:
        s.bind(str(t.folder / "sock"))
        t.refused(["stand", "sock"], "sock", "socket")
    (t.folder / "circle").symlink_to("circle")
    t.refused(["stand", "circle"], "circle")
    path = t.file("secret.yaml", JOB)
    os.chmod(t.folder / path, 0)
    if os.access(t.folder / path, os.R_OK):  # root reads all the same: a folder has stood in for it above
        os.chmod(t.folder / path, 0o600)
    else:
        t.refused(["stand", path], "secret.yaml", "permissions")
    with open(t.folder / "giant.yaml", "wb") as giant:
        giant.truncate(1 << 30)
    for words in (["stand", "giant.yaml"], ["ceilings", "giant.yaml"], ["--substances", "giant.yaml", "substances"]):
        done = t.refused(words, "giant.yaml", "larger than 4 MiB")
        t.check(done.seconds < 2.0, f"a file of 1 GiB is refused at once, not after {done.seconds:.1f} s")
    t.refused(["stand", t.file("large.yaml", b"#" * ((4 << 20) + 1))], "large.yaml", "larger than 4 MiB")
    t.check(t.run("stand", t.file("full.yaml", JOB.encode() + b"#" * ((4 << 20) - len(JOB.encode())))).returncode == 0,
            "a file of just 4 MiB is read")
    t.refused(["stand", t.file("nul.yaml", JOB.encode()[:30] + b"\0" + JOB.encode()[30:])], "nul.yaml:2", "NUL")
    t.refused(["stand", t.file("empty.yaml", "")], "empty.yaml")
    t.refused(["stand", t.file("latin.yaml", JOB.encode("latin-1"))], "latin.yaml")
    t.refused(["stand", t.file("list.yaml", "- a\n- b\n")], "list.yaml:1")
    t.refused(["stand", t.file("word.yaml", "hello\n")], "word.yaml:1")
    long = "d" * 120 + "/" + "e" * 120 + ".yaml"
    t.refused(["stand", t.file(long, JOB.replace("20 %v/v", "x %v/v"))], "e.yaml:5: sample.composition")


def broken_yaml(t):
    t.job("sample:\n", "sample: [\n", "YAML")
    t.job("purpose: screening", "purpose: screening\npurpose: archive", "purpose", line=3)
    t.job("count: 20", "count: 20, count: 21", "count", line=9)
    t.job("job: eel", "job: *eel", "alias", line=1)
    t.job("job: ", "\tjob: ", line=1)
    t.job("limits:", "---\nlimits:", line=None)
    t.file("bomb.yaml", "a: &a [x, x, x, x, x, x, x, x, x, x]\n" +
           "".join(f"{chr(98 + i)}: &{chr(98 + i)} [{', '.join(['*' + chr(97 + i)] * 10)}]\n" for i in range(9)))
    done = t.run("stand", "bomb.yaml")
    t.check(done.returncode in (2, 3) and done.err.count("\n") == 1 and done.seconds < 5, f"aliases without end: {done.err}")
    t.file("deep.yaml", "a: " + "[" * 100000 + "\n")
    t.refused(["stand", "deep.yaml"], "deep.yaml")


def jobs(t):
    t.check(t.run("stand", t.file("sound.yaml", JOB)).returncode in (0, 1), "the job that the tests spoil is itself sound")
    t.job("acetonitrile 20", "acetonitril 20", "sample.composition", "acetonitrile", line=5)
    t.job("20 %v/v, water", "20 %v/v, water 70 %v/v", "sample.composition", "90 %", line=5)
    t.job("20 %v/v, water", "100 %v/v", "sample.composition", "water", line=5)
    t.job("20 %v/v", ".nan %v/v", "sample.composition", line=5)
    t.job("fill: 5 mL", "fill: 5", "containers[0].fill", "no unit", "mL", line=9)
    t.job("fill: 5 mL", "fill: 5 mbar", "containers[0].fill", "mL", line=9)
    t.job("fill: 5 mL", "fill: 5 furlong", "containers[0].fill", line=9)
    t.job("fill: 5 mL", "fill: 0 mL", "containers[0].fill", line=9)
    t.job("fill: 5 mL", "fill: -5 mL", "containers[0].fill", line=9)
    t.job("fill: 5 mL", "fill: .nan", "containers[0].fill", line=9)
    t.job("fill: 5 mL", "fill: nan mL", "containers[0].fill", line=9)
    t.job("fill: 5 mL", "fill: 1e400 mL", "containers[0].fill", line=9)
    t.job("fill: 5 mL", "fill: 60 mL", "containers[0].fill", line=9)
    t.job("fill: 5 mL", "fill: [5 mL]", "containers[0].fill", line=9)
    t.job("fill: 5 mL, ", "", "fill", line=9)
    t.job("count: 20", "count: 0", "containers[0].count", line=9)
    t.job("count: 20", "count: -20", "containers[0].count", line=9)
    t.job("count: 20", "count: 2.5", "containers[0].count", line=9)
    t.job("count: 20", "count: 99999999999999999999", "containers[0].count", line=9)
    t.job("count: 20", "count: 90000", "containers[0]", "shelf", line=9)
    t.job("edge: 8", "edge: 21", "containers[0].edge", line=9)
    t.job("type: vial_20R", "type: vial_20", "containers[0].type", "vial_20R", line=9)
    t.job("place: shelf", "place: shelves", "containers[0].place", "shelf", line=9)
    t.job("lie", "lie", base=JOB.replace("place: shelf", "place: shelf, lie: shell"), line=9)
    t.job("place: shelf", "plaice: shelf", "plaice", "place", line=9)
    t.job("  - {type", "  # {type", "containers", line=None)
    t.job("name: sucrose", "name: sucros", "sample.solutes[0].name", "sucrose", line=7)
    t.job("10 g/L", "10 mg", "sample.solutes[0].concentration", "g/L", line=7)
    t.job("10 g/L", "-10 g/L", "sample.solutes[0].concentration", line=7)
    t.job("10 g/L", "1e9 g/L", "sample.solutes[0].concentration", line=7)
    t.job("  solutes:", "  crystallises: [dmso]\n  solutes:", "sample.crystallises[0]", line=6)
    t.job("  solutes:", "  stays_liquid: {a: b}\n  solutes:", "sample.stays_liquid", line=6)
    t.job("water\n", "sucrose 3 %v/v, water\n", "sample.composition", "solutes", line=5)
    t.job("purpose: screening", "purpose: fun", "purpose", "screening", line=2)
    t.job("purpose: screening\n", "", "purpose")
    t.job("purpose", "porpoise", "porpoise", "purpose", line=2)
    t.job("eelgrass pool 2", "''", "job", line=1)
    t.job("eelgrass pool 2", "x" * 200, "job", line=1)
    t.job("dry_ice_bath", "dry_ice", "freezing.means", "dry_ice_bath", line=11)
    t.job("means: dry_ice_bath", "means: freezer\n  temperature: 30 °C", "freezing.temperature", line=12)
    t.job("-45 °C", "-45", "recipe[0].shelf_temperature", "°C", line=13)
    t.job("-45 °C", "-145 °C", "recipe[0].shelf_temperature", line=None)
    t.job("time: 0 h", "time: 3 h", "recipe[0]", line=13)
    t.job("recipe:\n  - {time: 0 h, shelf_temperature: -45 °C}\n", "", "recipe")
    t.job("margin: 1 K", "margin: -1 K", "limits.margin", line=14)
    t.job("time: 200 h", "time: 200", "limits.time", line=14)
    t.job("bench-55", "bench-5", "job.yaml:3: dryer", "bench-55", line=3)
    t.job("bench-55", "other/absent.yaml", "dryer", "other/absent.yaml", "no such file", line=3)
    t.job("bench-55", "/dev/null", "dryer", "/dev/null", line=3)
    t.job("bench-55", ".", "dryer", "folder", line=3)


def dryers(t):
    def dryer(old, new, *needles):
        assert old in DRYER, old
        t.refused(["ceilings", t.file("dryer.yaml", DRYER.replace(old, new, 1))], "dryer.yaml:", *needles)

    t.check(t.run("ceilings", t.file("dryer.yaml", DRYER), "--solvent", "ACN").returncode == 0, "a dryer from a file")
    dryer("volume: 60 L", "volume: 60", "chamber.volume", "no unit")
    dryer("volume: 60 L", "volume: -60 L", "chamber.volume")
    dryer("volume: 60 L", "volume: 60 L\n  volume: 61 L", "volume")
    dryer("kind: oil_sealed", "kind: oil", "pump.kind", "oil_sealed")
    dryer("capacity: 6 kg", "capacity: 6 L", "trap.capacity", "kg")
    dryer("capacity: 6 kg", "capacity: nan kg", "trap.capacity")
    dryer("{temperature: -55 °C, power: 0 W}", "{temperature: -55 °C, power: 10 W}", "trap.refrigeration")
    dryer("{temperature: -50 °C", "{temperature: -56 °C", "trap.refrigeration")
    dryer("duct:", "dukt:", "dukt", "duct")
    dryer("container: vial_20R", "container: vial_20Q", "reference_load.container", "vial_20R")
    # A job finds its dryer from its own folder, whatever folder it is started from.
    t.file("lab/mine.yaml", DRYER)
    path = t.file("lab/job.yaml", JOB.replace("bench-55", "mine.yaml"))
    t.check(t.run("stand", path).out == t.run("stand", str(t.folder / path), cwd="/").out != "", "a dryer beside its job")
    t.file("lab/mine.yaml", DRYER.replace("volume: 60 L", "volume: 60"))
    t.refused(["stand", path], "lab/mine.yaml:", "chamber.volume")
    # In a workspace it finds it by name, in the folder next to its own.
    t.file("kept/dryers/attic.yaml", DRYER)
    path = t.file("kept/jobs/job.yaml", JOB.replace("bench-55", "attic"))
    t.check(t.run("stand", path).out != "", "a dryer of the workspace")
    t.refused(["stand", t.file("kept/jobs/job.yaml", JOB.replace("bench-55", "atic"))], "kept/jobs/job.yaml:", "'atic'")


def own_substances(t):
    path = t.file("own.yaml", SUBSTANCE)
    t.check(t.run("--substances", path, "substances", "SB").out.startswith("seabrine ("), "a substance of one's own")
    done = t.run("phases", "seabrine 20 %v/v, water", "--substances", path)
    t.check(done.returncode == 0 and "WARNING" in done.out, "a pair without data is shown with a warning")
    t.refused(["phases", "seabrine 20 %v/v, water"], "seabrine")

    def own(old, new, *needles):
        assert old in SUBSTANCE, old
        t.refused(["--substances", t.file("own.yaml", SUBSTANCE.replace(old, new, 1)), "substances"], "own.yaml", *needles)

    whole = "\n".join(row[4:] for row in SUBSTANCE.splitlines()[1:]) + "\n"  # one substance as the whole file
    t.check(t.run("--substances", t.file("whole.yaml", whole), "substances", "SB").out.startswith("seabrine ("), "one substance")
    own("molar_mass_g_mol: 60", "molar_mass_g_mol: -60", "molar_mass_g_mol")
    own("molar_mass_g_mol: 60", "molar_mass_g_mol: 60 g", "molar_mass_g_mol")
    own("key: seabrine", "kee: seabrine", "kee")
    own("boiling_temperature: 100 °C", "boiling_temperature: 30 °C", "101325 Pa")
    own("[22.58, 3614.9, -46.13]", "[22.58, [1, 2], -46.13]", "coefficients")
    own("[22.58, 3614.9, -46.13]", "[22.58, 3614.9]", "coefficients")
    own("    source: invented for a test\n", "", "source")


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
solutes:
  - key: kelp_sugar
    molar_mass_g_mol: 342.3
    beside_organics: sugar
    density: 1580 g/L
    heat_capacity_J_gK: 1.25
    glass_temperature: 335 K
    gordon_taylor_k: 5
    anchor_kind: glass
    anchor_temperature: 241.15 K
    critical_kind: Tg'
"""


def own_containers_and_solutes(t):
    """A job with them, what reports say of them, and that a solute with sucrose's figures freezes as sucrose does."""
    given = ["--containers", t.file("jar.yaml", JAR), "--solutes", t.file("kelp.yaml", KELP)]
    job = t.file("mine.yaml", JOB.replace("vial_20R", "jar_40").replace("sucrose", "kelp_sugar"))
    t.refused(["stand", job], "mine.yaml:", "kelp_sugar")
    t.refused(["stand", job, *given[2:]], "mine.yaml:", "jar_40")
    mine = json.loads(t.run("run", job, "--json", *given).out)
    t.check(mine["sample"]["own_figures"] == [{"kind": "solute", "key": "kelp_sugar", "source": "stated by the user"},
                                              {"kind": "container", "key": "jar_40", "source": "measured with a calliper"}],
            f"own figures: {mine['sample'].get('own_figures')}")
    for command in ("run", "stand"):
        said = " ".join(t.run(command, job, *given).out.split())
        for key, source in (("kelp_sugar", "stated by the user"), ("jar_40", "measured with a calliper")):
            t.check(re.search(key + ": your own figures[^;]*; source: " + source, said), f"{command} does not say whose {key} is")
    for words in (["risk", job, "--runs", "16", "--indices", "0"], ["compare", job, "--dryer", "bench-85"]):
        said = " ".join(t.run(*words, *given).out.split())
        t.check("jar_40: your own figures of this container" in said and "kelp_sugar: your own figures of this solute" in said,
                f"{words[0]} does not say whose figures: {said[-600:]}")
    known = json.loads(t.run("run", t.file("known.yaml", JOB.replace("vial_20R", "jar_40")), "--json", *given).out)
    t.check([x["kind"] for x in known["sample"]["own_figures"]] == ["container"], "sucrose is nobody's own")
    for key in ("first_solid_C", "solidus_C", "solute_critical_C"):  # the molar mass is rounded
        a, b = mine["sample"][key], known["sample"][key]
        t.check(abs(a - b) < 1e-3, f"{key}: {a} and {b}")
    t.check(t.run("substances", "kelp sugar", *given).out.startswith("kelp_sugar"), "a solute of one's own is not listed")
    for option, text, old, new, *needles in (
            ("--containers", JAR, "jar_40", "vial_10R", "key", "built-in"), ("--containers", JAR, "30 mm", "30", "inner_diameter", "unit"),
            ("--solutes", KELP, "kelp_sugar", "sucrose", "key", "built-in"), ("--solutes", KELP, "key:", "keey:", "keey"),
            ("--containers", KELP, "", "", "containers"), ("--containers", "containers: []\n", "", "", "containers", "list")):
        t.refused([option, t.file("wrong.yaml", text.replace(old, new, 1) if old else text), "substances"], "wrong.yaml:", *needles)


def tuning(t):
    """dryfront tune: what it learns, what it writes, what it refuses."""
    source = ROOT / "examples" / "tune"
    for path in source.iterdir():
        t.file(f"tune/{path.name}", path.read_bytes())
    old = (source / "dryer.yaml").read_text(encoding="utf-8")
    where = t.folder / "tune" / "dryer.yaml"
    d, all_logs = "tune/dryer.yaml", [f"tune/{n}.csv" for n in ("isolation", "pump-down", "trap", "ice")]
    done = t.run("tune", d, *all_logs, "--try")
    t.check(done.returncode == 0 and where.read_text(encoding="utf-8") == old, "--try writes nothing")
    t.check(not [line for line in done.out.split("\n") if len(line) > 80], "tune: wider than 80 columns")
    # What went into the invented logs: 0.0125 mbar L/s, 2.7 m3/h, -56.55 °C, 7.2 kJ/K.
    found = {c["field"]: c for f in t.json("tune", d, *all_logs, "--try")["fits"] for c in f["constants"]}
    for field, truth in (("chamber.leak", 0.0125), ("chamber.degassing", 0.004), ("pump.ultimate_pressure", 0.0045),
                         ("pump.speed[2].flow", 2.7), ("trap.heat_capacity", 7.2), ("shelf.contact", 9.5)):
        c = found.get(field, {"value": 0.0, "band": 0.0})
        t.check(abs(c["value"] - truth) < 3 * c["band"], f"{field}: {c}, put in: {truth}")
    done = t.run("tune", d, *all_logs, "--date", "2026-03-02", "--output", "tune/new.yaml")
    t.check(done.returncode == 0 and where.read_text(encoding="utf-8") == old, f"--output leaves the old file: {done.err}")
    new = (t.folder / "tune" / "new.yaml").read_text(encoding="utf-8")
    t.check(new.startswith(old.split("\n", 1)[0]) and "date: 2026-03-02, field: chamber.leak" in new, "comment and history")
    t.check(t.run("ceilings", "tune/new.yaml", "--solvent", "ACN").returncode == 0, "the new file is a dryer")
    done = t.run("tune", d, "tune/isolation.csv", "--date", "2026-03-02")
    t.check(done.returncode == 0 and (t.folder / "tune" / "dryer.yaml.bak").read_text(encoding="utf-8") == old,
            f"the old file is kept: {done.err}")
    first = where.read_text(encoding="utf-8")
    t.run("tune", d, "tune/isolation.csv", "--date", "2026-03-03")
    second = where.read_text(encoding="utf-8")
    t.check(second.count("field: chamber.leak") == 2 and first.split("history:")[1] in second, "the history grows")
    t.check(second.split("history:")[0] == first.split("history:")[0], "the same log gives the same constants")
    # The log's cake has r0 22000 m/s, a1 3.8e7 1/s, a2 180 1/m: 1.182e5 m/s at half the depth of 9.302 mm, 1.542e5 m/s at all of
    # it. On the dryer of the file, whose shelf is taken as known to 5 %, and, better, on the dryer learnt from the other logs.
    product = ["--product", "tune/product.csv", "--job", "tune/product.yaml", "--try"]
    answer = t.json("tune", d, *all_logs, *product)
    for what, a, widest in (("the dryer of the file", t.json("tune", d, *product), 1.2e4), ("the dryer learnt with it", answer, 8e3)):
        found = {c["field"]: c for c in a["fits"][-1]["constants"]}
        for field, truth in (("resistance at half depth", 1.182e5), ("resistance at full depth", 1.542e5), ("cake.r0", 2.2e4),
                             ("cake.a1", 3.8e7), ("cake.a2", 180.0)):
            t.check(abs(found[field]["value"] - truth) < 2.5 * found[field]["band"], f"{what}: {found[field]}")
        t.check(found["resistance at half depth"]["band"] < widest, f"{what}: {found['resistance at half depth']}")
    t.check(answer["cake"]["a2_per_m"] > 0, "cake for the job")
    narrow = t.json("tune", d, "--isolation", "tune/isolation.csv", "--note", "volume: 36 L", "--try")
    t.check(abs(narrow["fits"][0]["constants"][0]["value"] / 0.00625 - 1) < 0.05, "half the volume, half the leak")
    # Not what its test describes: 1, and nothing is written.
    text = "# test: isolation\ntime [min],chamber [mbar]\n" + "".join(f"{i},{0.1 + (i % 7) / 50 + i / 9000}\n" for i in range(60))
    before = where.read_text(encoding="utf-8")
    done = t.run("tune", d, t.file("tune/odd.csv", text))
    t.check(done.returncode == 1 and where.read_text(encoding="utf-8") == before, f"another model: {done.returncode} {done.err}")
    t.refused(["tune"], "tune needs a dryer")
    t.refused(["tune", d], "needs a log")
    t.refused(["tune", "bench-55", "tune/isolation.csv"], "built in", "--output")
    t.refused(["tune", d, "tune/absent.csv"], "tune/absent.csv", "no such file")
    t.refused(["tune", d, "tune/isolation.csv", "--date", "3.3.2026"], "--date", "YYYY-MM-DD")
    t.refused(["tune", d, "tune/isolation.csv", "--output", "x.csv"], "--output", ".yaml")
    t.refused(["tune", d, "tune/isolation.csv", "--output", "x.yaml", "--try"], "--try")
    t.refused(["tune", d, "tune/isolation.csv", "--note", "volume: 3 L"], "--note")
    t.refused(["tune", d, "--isolation", "tune/isolation.csv", "--note", "volum: 3 L"], "--note", "did you mean volume?")
    t.refused(["tune", d, "--isolation", "tune/isolation.csv", "--note", "volume: 3 g"], "isolation.csv: volume", "L")
    t.refused(["tune", d, "--product", "tune/product.csv"], "--job")
    t.refused(["tune", d, "tune/isolation.csv", "--job", "tune/product.yaml"], "--product")
    t.refused(["tune", d, "--trap", "tune/isolation.csv"], "trap_temperature")
    t.refused(["tune", d, "--isolation", "tune/trap.csv"], "chamber_pressure")
    t.refused(["tune", d, "--isolation", "tune/pump-down.csv"], "does not rise")
    t.refused(["tune", d, "--pump-down", "tune/isolation.csv"], "does not fall")
    t.refused(["tune", d, "--ice-test", t.file("tune/i.csv", "vial,before [g],after [g]\n1,5,4\n")], "tune/i.csv:2", "duration")
    t.refused(["tune", d, t.file("tune/flat.csv", "time [s],p [Pa]\n" + "".join(f"{i},5\n" for i in range(9)))], "do not tell")
    t.refused(["tune", d, t.file("tune/bad.csv", "time [s],p [Pa]\n0,1\n1,x\n")], "tune/bad.csv:3: p [Pa]", "'x'")
    t.file("tune/mapped.yaml", old + "log: {columns: [{column: K1, quantity: time, unit: min}, {column: K2, quantity: "
           "chamber_pressure, unit: mbar}]}\n")
    rows = "K1;K2\n" + "".join(f"{i};{0.02 + 0.001 * i:.5f}\n" for i in range(30))
    done = t.run("tune", "tune/mapped.yaml", t.file("tune/k.csv", rows), "--note=evacuated: 9 h", "--try")
    t.check(done.returncode == 2, "a note before any log")
    done = t.run("tune", "tune/mapped.yaml", "--isolation", "tune/k.csv", "--note=evacuated: 90 h", "--try")
    t.check(done.returncode == 0 and "chamber.leak" in done.out, f"columns by the dryer's own map: {done.err}")


def output(t):
    """What cannot be written is said: exit status 3."""
    with open("/dev/full", "wb") as full:
        done = subprocess.run([PROGRAM, "substances"], stdout=full, stderr=subprocess.PIPE, check=False)
    t.check(done.returncode == 3 and done.stderr.count(b"\n") == 1, f"a full disk: {done.returncode} {done.stderr!r}")
    done = subprocess.run([PROGRAM, "substances"], stderr=subprocess.PIPE, check=False, preexec_fn=lambda: os.close(1))
    t.check(done.returncode == 3 and done.stderr.count(b"\n") == 1, f"stdout closed: {done.returncode} {done.stderr!r}")
    reading, writing = os.pipe()
    os.close(reading)
    done = subprocess.run([PROGRAM, "substances"], stdout=writing, stderr=subprocess.PIPE, check=False,
                          preexec_fn=lambda: signal.signal(signal.SIGPIPE, signal.SIG_DFL))
    os.close(writing)
    t.check(done.returncode == 3 and done.stderr.count(b"\n") == 1, f"a closed pipe: {done.returncode} {done.stderr!r}")
    # The complaint has nowhere to go either: still the right status.
    done = subprocess.run([PROGRAM, "stand", "absent.yaml"], cwd=t.folder, check=False, stdout=subprocess.DEVNULL,
                          preexec_fn=lambda: os.close(2))
    t.check(done.returncode == 2, f"stderr closed: {done.returncode}")


def answers(t):
    sound = t.file("sound.yaml", JOB)
    poor = t.file("poor.yaml", JOB.replace("acetonitrile 20", "acetone 60").replace("screening", "release"))
    done = t.run("stand", poor)
    t.check(done.returncode == 1 and done.out and not done.err, f"not acceptable: {done.returncode} {done.err}")
    t.check(t.json("stand", poor).get("acceptable") is False, "and JSON says the same")
    done = t.run("stand", sound)
    accepted = t.json("stand", sound).get("acceptable")
    t.check(done.returncode == (0 if accepted else 1), f"acceptable {accepted}: {done.returncode}")
    whole = {**os.environ}
    for words in (["phases", "acetonitrile 30 %v/v, water"], ["vapour", "acetic acid 9 %w/w, water", "--temperature=-9 °C"],
                  ["substances"], ["substances", "TFA"], ["ceilings", "bench-85", "--solvent", "dioxane"],
                  ["stand", sound], ["help"], ["help", "stand"], ["help", "vapour"]):
        plain = t.run(*words)
        shown = " ".join(words)
        t.check(plain.returncode == 0 or words[0] == "stand", f"{shown}: {plain.returncode} {plain.err}")
        wide = [line for line in plain.out.split("\n") if len(line) > 80]
        t.check(not wide, f"{shown}: wider than 80 columns: {wide[:2]}")
        t.check(plain.out == t.run(*words).out, f"{shown}: the same twice")
        bare = t.run(*words, environment={})
        comma = t.run(*words, environment={**whole, "LC_ALL": "de_DE.UTF-8", "LANG": "de_DE.UTF-8"})
        t.check(bare.out == plain.out == comma.out, f"{shown}: the same in every locale")
        if words[0] != "help":
            t.check(t.json(*words), f"{shown} --json")
    one, two = (t.run("ceilings", "bench-55", environment={**whole, "OMP_NUM_THREADS": n}).out for n in ("1", "3"))
    t.check(one and one == two, "ceilings do not depend on the number of threads")


# What happens on the way: loading, a power cut, a finger that runs dry; and two classes in the CSV.
EVENTFUL = (ROOT / "examples" / "harbour.yaml").read_text(encoding="utf-8").replace(
    "dryers/two-traps.yaml", str(ROOT / "examples" / "dryers" / "two-traps.yaml"))


def close(a, b, share=1e-6):
    return abs(a - b) <= share * max(abs(a), abs(b), 1e-9)


def routes(t):
    """dryfront routes and compare: text, JSON, exit statuses, ceilings side by side."""
    hot = JOB.replace("-45 °C", "-20 °C")
    job = t.file("routes.yaml", hot)
    done = t.run("routes", job, "--dryer", "bench-85", limit=120)
    t.check(done.returncode == 0 and not done.err, f"routes: {done.returncode} {done.err}")
    wide = [line for line in done.out.split("\n") if len(line) > 80]
    t.check(not wide, f"routes: wider than 80 columns: {wide[:2]}")
    for word in ("as it is", "routes", "machine", "chance", "cost", "reads", "assumption", "local rules"):
        t.check(word in done.out, f"routes says '{word}'")
    answer = t.json("routes", job, "--dryer", "bench-85")
    costs = [r["cost_h"] for r in answer["routes"]]
    t.check(costs == sorted(costs) and costs, f"routes by rising cost: {costs}")
    t.check(all(r["acceptable"] and len(r["actions"]) <= 3 for r in answer["routes"]), "routes are acceptable")
    # Nothing helps a sample that has no time to dry.
    done = t.run("routes", t.file("hopeless.yaml", hot.replace("time: 200 h", "time: 1 h")), limit=120)
    t.check(done.returncode == 1 and "comes nearest" in done.out and "misses by" in done.out,
            f"routes without an answer: {done.returncode} {done.out[:300]}{done.err}")
    t.refused(["routes", job, "--dryer", "bench55"], "--dryer", "did you mean bench-55")
    t.refused(["routes", t.file("list.yaml", hot + "dryers: bench-55\n")], "dryers", "list")
    t.refused(["compare", job], "--dryer")
    done = t.run("compare", job, job, "--dryer", "bench-55", "--dryer", "deep-105")
    wide = [line for line in done.out.split("\n") if len(line) > 80]
    t.check(done.returncode == 0 and not wide, f"compare: {done.returncode} {done.err} {wide[:2]}")
    answer = t.json("compare", job, "--dryer", "bench-55", "--dryer", "deep-105")
    stand = t.json("stand", job)
    same = [c for c in answer["jobs"][0]["on"] if c["dryer"] == "bench-55"]
    t.check(len(same) == 1 and same[0]["standing"] == stand["standing"], "compare stands as stand does")
    both = t.json("ceilings", "bench-55", "deep-105", "--solvent", "acetone")
    one = t.json("ceilings", "deep-105", "--solvent", "acetone")
    t.check(both["dryers"][1] == one, "ceilings side by side are those of each")
    done = t.run("ceilings", "bench-55", "deep-105", "bench-85", "--solvent", "acetone")
    wide = [line for line in done.out.split("\n") if len(line) > 80]
    t.check(done.returncode == 0 and not wide, f"ceilings side by side: {wide[:2]}")


def runs(t):
    """dryfront run: text, JSON, series, exit statuses."""
    for word in ("events:\n", "residual:", "loading:"):
        assert word in EVENTFUL
    job = t.file("run.yaml", EVENTFUL)
    done = t.run("run", job, "--csv", "run.csv")
    t.check(done.returncode == 0 and not done.err, f"run: {done.returncode} {done.err}")
    wide = [line for line in done.out.split("\n") if len(line) > 80]
    t.check(not wide, f"run: wider than 80 columns: {wide[:2]}")
    for word in ("rigid", "phases", "loading 15 min", "evacuation", "primary drying until", "secondary drying",
                 "!! ALARM: power is cut", "first trap", "second trap", "at its set point", "The account, g",
                 "410 ppm class 2: cannot be told", "FLAMMABLE once thawed", "at least", "kWh", "local rules"):
        t.check(word in done.out, f"run says '{word}'")
    t.check("\033" not in done.out and not done.err, "no bar where there is no terminal")
    answer = t.json("run", job)
    run = answer.get("run", {})
    t.check(answer.get("dry") is True and run.get("end") == "dry", f"run --json: {answer.get('dry')} {run.get('end')}")
    for a in run.get("account", []):
        parts = sum(a[k] for k in ("product_g", "bound_g", "gas_g", "trap_g", "drained_g", "oil_g", "exhaust_g"))
        t.check(close(parts, a["loaded_g"], 1e-8), f"the account of {a['substance']}: {parts} of {a['loaded_g']}")
        held = sum(trap["deposit_g"][a["substance"]] for trap in run["traps"])
        t.check(close(held, a["trap_g"], 1e-8), f"{a['substance']} in the traps: {held} of {a['trap_g']}")
        thawed = sum(w["mass_g"][a["substance"]] for w in answer["waste"])
        t.check(close(thawed, a["trap_g"] + a["drained_g"], 1e-8), f"{a['substance']} as waste: {thawed}")
    keys = [n["key"] for n in run["notices"]]
    for key in ("evacuated", "solvent_gone", "power_cut", "power_back", "refill", "primary_end", "target_met"):
        t.check(key in keys, f"{key} is told: {keys}")
    times = [n["time_h"] for n in run["notices"]]
    t.check(times == sorted(times), f"notices in the order of time: {times}")
    # The series: a rectangle of numbers, its last row the account, the shelf as the recipe has it.
    with open(t.folder / "run.csv", encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    last = rows[-1]
    t.check(all(None not in r and None not in r.values() for r in rows), "every row has every column")
    t.check(all(re.search(r"_(h|C|mbar|percent|kg|g|mm|W)$", c) or c == "held_up_by" or c.endswith(("_g_h", "_mg_g"))
                for c in last), f"a column without its unit: {list(last)}")
    t.check(float(rows[0]["time_h"]) == -0.25 and close(float(last["time_h"]), run["time_h"]), "from loading to the end")
    for a in run["account"]:
        t.check(close(float(last[f"traps_{a['substance']}_g"]), a["trap_g"] + a["drained_g"]), "traps in the last row")
        t.check(close(float(last[f"exhaust_{a['substance']}_g"]), a["exhaust_g"]), "exhaust in the last row")
    for r in rows:
        parts = [float(v) for c, v in r.items() if re.fullmatch(r"chamber_.+_mbar", c)]
        t.check(close(sum(parts), float(r["chamber_mbar"]), 1e-7), f"partial pressures at {r['time_h']} h")
    hold = [float(r["shelf_C"]) for r in rows if float(r["time_h"]) <= 14.0]
    t.check(all(close(s, -47.0) for s in hold), f"the shelf holds: {min(hold)} to {max(hold)}")
    t.check(t.run("run", job).out == done.out, "the same run twice")
    # The figure: one SVG document with its words, the same twice.
    done = t.run("run", job, "--figure", "run.svg", "--csv", "run.csv")
    t.check(done.returncode == 0, f"run --figure: {done.err}")
    drawn = (t.folder / "run.svg").read_bytes()
    root = xml.etree.ElementTree.fromstring(drawn)
    words = root.findtext("{http://www.w3.org/2000/svg}desc")
    t.check(root.tag == "{http://www.w3.org/2000/svg}svg" and "harbour lot 7" in root.findtext(
        "{http://www.w3.org/2000/svg}title"), "the figure has its title")
    for word in ("temperature, °C", "chamber, mbar", "left, % of load", "dried, mm", "in traps, g", "traps, °C",
                 "time since the pump was started, h", "set point", "total", "acetonitrile", "water", "shelf",
                 "limit of what is frozen", "Tg of the dried cake", "50 x vial_20R, edge", "second trap, surface",
                 "!! 22.0 h power is cut"):
        t.check(word in words, f"the figure says '{word}'")
    t.run("run", job, "--figure", "again.svg")
    t.check((t.folder / "again.svg").read_bytes() == drawn, "the same figure twice")
    # No dry product: too little time; a framework lost; never solid; each is told and has exit status 1.
    short = t.file("short.yaml", EVENTFUL.replace("time: 200 h", "time: 20 h"))
    done = t.run("run", short)
    t.check(done.returncode == 1 and "NOT DRY" in done.out and "time limit" in done.out, f"time limit: {done.returncode}")
    t.check(t.json("run", short).get("run", {}).get("end") == "time_limit", "JSON: time limit")
    lost = t.file("lost.yaml", JOB.replace("acetonitrile 20", "acetonitrile 60").replace("-45 °C", "20 °C"))
    done = t.run("run", lost)
    t.check(done.returncode == 1 and "NOT DRY" in done.out, f"framework lost: {done.returncode} {done.out[:300]}")
    # ... even before the pump starts: the axes hold up.
    early = t.file("early.yaml", EVENTFUL.replace("acetonitrile 8", "acetonitrile 60").replace("-47 °C", "20 °C"))
    done = t.run("run", early, "--figure", "early.svg", "--csv", "early.csv")
    t.check(done.returncode == 1 and "while loading" in done.out, f"lost while loading: {done.returncode}")
    t.check((t.folder / "early.svg").exists() and (t.folder / "early.csv").exists(), "and it is drawn")
    liquid = t.file("liquid.yaml", JOB.replace("acetonitrile 20", "dmf 80").replace("dry_ice_bath", "freezer"))
    done = t.run("run", liquid, "--csv", "liquid.csv")
    t.check(done.returncode == 2 and "no run" in done.err and not (t.folder / "liquid.csv").exists(),
            f"no run, no series: {done.returncode} {done.err}")
    done = t.run("run", liquid)
    t.check(done.returncode == 1 and "afloat" in done.out and "NOT DRY" in done.out, f"afloat: {done.returncode}")
    t.check(t.json("run", liquid).get("run", 0) is None, "afloat: no run in JSON")
    # A finger left to run dry is told; so is a flask taken off wet.
    dry = t.file("dry.yaml", "\n".join(line for line in EVENTFUL.split("\n") if "refill" not in line))
    keys = [n["key"] for n in t.json("run", dry).get("run", {}).get("notices", [])]
    t.check("coolant_gone" in keys, f"an empty finger: {keys}")
    flask = JOB.replace("vial_20R, count: 20, edge: 8, fill: 5 mL, place: shelf",
                        "flask_500, count: 2, fill: 100 mL, lie: shell, place: manifold, off: 1 h")
    keys = [n["key"] for n in t.json("run", t.file("flask.yaml", flask)).get("run", {}).get("notices", [])]
    t.check("taken_wet" in keys, f"taken off wet: {keys}")
    # What cannot be asked or written.
    t.refused(["run"], "run needs a job file")
    t.refused(["run", "absent.yaml"], "absent.yaml", "no such file")
    t.refused(["run", "-"], "no such file")
    t.refused(["run", job, "--csv", "run.yaml"], "--csv", ".csv")
    t.refused(["run", job, "--csv", ".csv"], "--csv", ".csv")
    t.refused(["run", job, "--figure", "run.yaml"], "--figure", ".svg")
    t.refused(["run", job, "--figure", "nowhere/run.svg"], "--figure", "no such folder")
    t.refused(["run", liquid, "--figure", "liquid.svg"], "no run")
    t.refused(["run", job, "--csv", "nowhere/run.csv"], "--csv", "no such folder")
    os.mkfifo(t.folder / "fifo.csv")
    t.refused(["run", job, "--csv", "fifo.csv"], "pipe")
    t.check(not [p for p in t.folder.iterdir() if p.name.startswith("run.csv.")], "no half-written file is left")
    for old, new, needle in (("event: power_cut", "event: power_cit", "events[0].event"),
                             ("event: power_cut, time: 22 h", "event: power_cut, time: -1 h", "events[0].time"),
                             ("time: 24 h, trap: 2", "time: 24 h, trap: 3", "events[1].trap"),
                             ("length: 20 min", "length: 20 min, thaw: 5 min", "events[0].thaw"),
                             ("residual: {water: 2 %}", "residual: {watr: 2 %}", "water"),
                             ("residual: {water: 2 %}", "residual: {methanol: 2 %}", "residual.methanol"),
                             ("loading: 15 min", "loading: 15", "loading"),
                             ("edge: 50", "edge: 50, door: 160", "containers[0].door")):
        assert old in EVENTFUL, old
        t.refused(["run", t.file("bad.yaml", EVENTFUL.replace(old, new, 1))], "bad.yaml:", needle)
    # On a terminal the answer is the same and the line of the bar is left empty.
    main_end, other_end = pty.openpty()
    shown = subprocess.run([PROGRAM, "run", job], stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=other_end,
                           cwd=t.folder, timeout=60, check=False)
    os.close(other_end)
    os.set_blocking(main_end, False)
    try:
        left = os.read(main_end, 65536).decode()
    except OSError:
        left = ""
    os.close(main_end)
    t.check(shown.stdout.decode() == t.run("run", job).out, "the same answer on a terminal")
    t.check(not left or left.endswith("\r\033[K"), f"the bar is cleared: {left[-60:]!r}")


def main():
    with tempfile.TemporaryDirectory() as folder:
        t = Tests(pathlib.Path(folder))
        for part in (command_line, mixtures, quantities, names, files, broken_yaml, jobs, dryers, own_substances, own_containers_and_solutes, tuning, output,
                     runs, routes, answers):
            try:
                part(t)
            except (OSError, ValueError, subprocess.SubprocessError) as wrong:
                t.check(False, f"{part.__name__}: {type(wrong).__name__}: {wrong}")
    print(f"{t.passed} passed, {t.failed} failed")
    return 1 if t.failed else 0


if __name__ == "__main__":
    sys.exit(main())

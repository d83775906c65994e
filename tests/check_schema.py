#!/usr/bin/env python3
"""check_schema.py: runs the program with --json and holds each answer against docs/schema/COMMAND.json.

The validator knows the keywords that the schemas use and refuses any other, so that none is passed over. It is itself
checked: each answer is spoilt in several ways, and each of those must be refused. DRYFRONT_PROGRAM and
DRYFRONT_SOURCE_DIR say where things are. Last line: "N passed, N failed".
"""
import copy
import json
import os
import pathlib
import subprocess
import sys
import tempfile

ROOT = pathlib.Path(os.environ.get("DRYFRONT_SOURCE_DIR", pathlib.Path(__file__).resolve().parent.parent))
PROGRAM = os.environ.get("DRYFRONT_PROGRAM", str(ROOT / "build" / "release" / "dryfront"))

KEYWORDS = {"$schema", "$id", "$defs", "$ref", "title", "description", "type", "required", "properties",
            "additionalProperties", "items", "minItems", "enum", "minimum", "maximum", "anyOf"}

TYPES = {
    "object": lambda v: isinstance(v, dict),
    "array": lambda v: isinstance(v, list),
    "string": lambda v: isinstance(v, str),
    "boolean": lambda v: isinstance(v, bool),
    "null": lambda v: v is None,
    "integer": lambda v: isinstance(v, int) and not isinstance(v, bool),
    "number": lambda v: isinstance(v, (int, float)) and not isinstance(v, bool),
}


def resolve(reference, root):
    """The part of a schema that "#/$defs/run" or "dryfront:run#/$defs/run" names, and the schema it stands in."""
    name, _, way = reference.partition("#/$defs/")
    if name:
        file = name.removeprefix("dryfront:") + ".json"
        root = json.loads((ROOT / "docs" / "schema" / file).read_text(encoding="utf-8"))
    return root["$defs"][way], root


def breaches(value, schema, root, path="$"):
    """Sentences on what does not fit; empty where all does."""
    unknown = set(schema) - KEYWORDS
    if unknown:
        return [f"{path}: the schema has keywords this check does not know: {sorted(unknown)}"]
    found = []
    if "$ref" in schema:
        found += breaches(value, *resolve(schema["$ref"], root), path)
    if "anyOf" in schema and all(breaches(value, s, root, path) for s in schema["anyOf"]):
        found.append(f"{path}: fits none of the forms allowed")
    if "enum" in schema and value not in schema["enum"]:
        found.append(f"{path}: {value!r} is none of {schema['enum']}")
    types = schema.get("type", list(TYPES))
    if not any(TYPES[t](value) for t in ([types] if isinstance(types, str) else types)):
        return found + [f"{path}: {value!r} is no {types}"]
    if TYPES["number"](value):
        if value < schema.get("minimum", value) or value > schema.get("maximum", value):
            found.append(f"{path}: {value} is out of bounds")
    if isinstance(value, list):
        if len(value) < schema.get("minItems", 0):
            found.append(f"{path}: has only {len(value)} items")
        for i, item in enumerate(value):
            found += breaches(item, schema.get("items", {}), root, f"{path}[{i}]")
    if isinstance(value, dict):
        properties, further = schema.get("properties", {}), schema.get("additionalProperties", True)
        found += [f"{path}: {key} is missing" for key in schema.get("required", []) if key not in value]
        for key, item in value.items():
            if key in properties:
                found += breaches(item, properties[key], root, f"{path}.{key}")
            elif further is False:
                found.append(f"{path}: {key} is not in the schema")
            elif isinstance(further, dict):
                found += breaches(item, further, root, f"{path}.{key}")
    return found


def open_objects(schema, path="$"):
    """Objects of a schema that would let anything through."""
    found = []
    if isinstance(schema, dict):
        types = schema.get("type", [])
        if "object" in ([types] if isinstance(types, str) else types) and "additionalProperties" not in schema:
            found.append(path)
        for key, part in schema.items():
            found += open_objects(part, f"{path}.{key}")
    elif isinstance(schema, list):
        for i, part in enumerate(schema):
            found += open_objects(part, f"{path}[{i}]")
    return found


def spoilt(answer):
    """The same answer with one thing wrong in each."""
    first = next(iter(answer))
    for key in (first, list(answer)[-1]):
        without = copy.deepcopy(answer)
        del without[key]
        yield f"without {key}", without
        other = copy.deepcopy(answer)
        other[key] = 3.5 if not isinstance(other[key], (int, float)) or isinstance(other[key], bool) else "x"
        yield f"{key} of another type", other
    more = copy.deepcopy(answer)
    more["surplus"] = 1
    yield "with a surplus key", more
    for key, value in answer.items():
        if isinstance(value, list) and value and isinstance(value[0], dict):
            deep = copy.deepcopy(answer)
            deep[key][0]["surplus"] = None
            yield f"with a surplus key in {key}[0]", deep


def no_constant(name):
    raise ValueError(f"{name} is no JSON")


TUNE = ROOT / "examples" / "tune"
CASES = [
    ("phases", ["phases", "acetonitrile 30 %v/v, water"]),
    ("phases", ["phases", "methanol 20 %w/w, acetonitrile 20 %w/w, tfa 0.1 %w/w, water"]),
    ("phases", ["phases", "water", "--temperature", "-30 °C", "--temperature", "280 K"]),
    ("phases", ["phases", "thf 30 %v/v, water", "--freezing", "equilibrium", "--temperature=-20 °C"]),
    ("phases", ["phases", "acetone 100 %v/v, water 0 %v/v"]),
    ("vapour", ["vapour", "acetonitrile 30 %v/v, tfa 1 %v/v, water", "--temperature", "-50 °C"]),
    ("vapour", ["vapour", "acetic acid 50 mol%, water", "--pressure", "760 Torr"]),
    ("vapour", ["vapour", "acetonitrile 30 %v/v, water", "--pressure", "1 mbar", "--freezing", "equilibrium"]),
    ("strip", ["strip", "acetonitrile 30 %v/v, tfa 0.1 %v/v, water", "--pressure", "100 mbar", "--until", "ACN 5 %v/v"]),
    ("strip", ["strip", "formic acid 10 %w/w, water", "--pressure", "1 atm", "--until", "water 5 mol%"]),
    ("strip", ["strip", "thf 40 %v/v, DCM 5 %v/v, water", "--bath", "30 °C", "--floor", "200 mbar", "--amount", "250 mL"]),
    ("strip", ["strip", "water", "--pressure", "3 mbar", "--until", "120 g", "--amount", "200 g"]),
    ("strip", ["strip", "ethanol 50 %v/v, water", "--pressure", "1 atm", "--bath", "20 °C", "--until", "10 mL"]),
    ("ceilings", ["ceilings", "bench-55", "--solvent", "ACN", "--solvent", "acetone"]),
    ("ceilings", ["ceilings", "deep-105"]),
    ("tune", ["tune", f"{TUNE}/dryer.yaml", f"{TUNE}/isolation.csv", f"{TUNE}/pump-down.csv", f"{TUNE}/trap.csv",
              f"{TUNE}/ice.csv", "--try"]),
    ("tune", ["tune", f"{TUNE}/dryer.yaml", "--product", f"{TUNE}/product.csv", "--job", f"{TUNE}/product.yaml", "--try"]),
    ("ceilings", ["ceilings", "bench-55", "deep-105", "--solvent", "ACN", "--solvent", "acetone"]),
    ("routes", ["routes", "examples/island.yaml"]),
    ("routes", ["routes", "examples/flasks.yaml", "--dryer", "deep-105"]),
    ("compare", ["compare", "examples/flasks.yaml", "examples/island.yaml", "--dryer", "bench-55", "--dryer",
                 "examples/dryers/two-traps.yaml"]),
    ("substances", ["substances"]),
    ("substances", ["substances", "water"]),
    ("substances", ["substances", "acetic acid"]),
    ("substances", ["substances", "TFA"]),
    ("substances", ["substances", "sucrose"]),
    ("substances", ["substances", "NaCl"]),
    ("phases", ["phases", "sucrose 5 %w/w, sodium chloride 1 %w/w, acetonitrile 5 %w/w, water"]),
    ("risk", ["risk", str(ROOT / "examples" / "flasks.yaml"), "--runs", "32", "--indices", "16"]),
    ("risk", ["risk", str(ROOT / "examples" / "harbour.yaml"), "--runs", "32", "--indices", "0", "--accept", "20 %"]),
    ("sweep", ["sweep", str(ROOT / "examples" / "plans" / "island-shelf.yaml"), "--out",
               os.path.join(tempfile.gettempdir(), f"check-schema-{os.getpid()}.csv")]),
    ("vapour", ["vapour", "sucrose 5 %w/w, water", "--temperature", "-20 °C"]),
]


def main():
    passed = failed = 0

    def check(sound, what):
        nonlocal passed, failed
        passed += sound
        failed += not sound
        if not sound:
            print(f"FAILED: {what}")

    schemas = {}
    for path in sorted((ROOT / "docs" / "schema").glob("*.json")):
        schemas[path.stem] = json.loads(path.read_text(encoding="utf-8"))
        found = open_objects(schemas[path.stem])
        check(not found, f"{path.name}: lets further keys through at {found}")
    check(set(schemas) == {"stand", "run", "risk", "sweep", "routes", "compare", "ceilings", "phases", "vapour",
                            "strip", "substances", "tune", "recipe"},
          f"schemas: {sorted(schemas)}")
    cases = CASES + [(command, [command, str(job)]) for job in sorted((ROOT / "examples").glob("*.yaml"))
                     for command in ("stand", "run")]
    cases += [("recipe", ["recipe", str(ROOT / "examples" / "island.yaml"), "--pressure", "0 mbar"])]
    check(any(name == "stand" for name, _ in cases), "no job under examples/")
    for name, words in cases:
        shown = "dryfront " + " ".join(words)
        try:
            done = subprocess.run([PROGRAM, *words, "--json"], stdin=subprocess.DEVNULL, capture_output=True,
                                  timeout=120, check=False, cwd=ROOT)
        except subprocess.TimeoutExpired:
            check(False, f"{shown}: does not end")
            continue
        check(done.returncode in (0, 1) and not done.stderr, f"{shown}: {done.returncode} {done.stderr!r}")
        try:
            answer = json.loads(done.stdout.decode("utf-8"), parse_constant=no_constant)
        except ValueError as wrong:
            check(False, f"{shown}: {wrong}")
            continue
        found = breaches(answer, schemas[name], schemas[name])
        check(not found, f"{shown}: " + "; ".join(found[:5]))
        unseen = [how for how, other in spoilt(answer) if not breaches(other, schemas[name], schemas[name])]
        check(not unseen, f"{shown}: the check passes it {', '.join(unseen)}")
    for left in pathlib.Path(tempfile.gettempdir()).glob(f"check-schema-{os.getpid()}.csv"):
        left.unlink()
    print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())

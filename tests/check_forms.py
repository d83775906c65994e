#!/usr/bin/env python3
"""check_forms.py: the description of every field (data/fields.csv, /api/v1/forms) against the parsers, through /api/v1/check.

For each field: its bounds are taken and what lies just outside is refused, with the very bounds that are described; so with choices,
units, what is needed and what is not; the keys that a parser knows are those described; a default stated is a default left out.

DRYFRONT_PROGRAM and DRYFRONT_SOURCE_DIR say where things are. Last line: "N passed, N failed".
"""
import copy
import json
import pathlib
import re
import sys
import tempfile

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent))
from check_serve import BRINE, JAR, KELP, Server, Tests, fits  # noqa: E402

FORMS = ("job", "dryer", "container", "solute", "substance")
NUMBER = re.compile(r"^(-?[0-9.]+(?:e[-+]?[0-9]+)?) ?(.*)$")

# ---- documents that hold every field, as JSON, which is YAML ------------------------------------------------------

POINT = [{"time": "0 h", "shelf_temperature": "-40 °C", "chamber_pressure": "0.1 mbar"},
         {"time": "5 h", "shelf_temperature": "-30 °C", "chamber_pressure": "0.2 mbar"}]
SPREADS = {"cake_r0": "40 %", "cake_a1": "40 %", "shelf_contact": "10 %", "shelf_gas": "10 %", "frost": "10 %", "fill": "2 %",
           "critical_temperature": "1 K", "thermodynamics": "1", "shelf_temperature": "1 K", "pressure": "5 %", "trap_temperature": "2 K",
           "trap_power": "10 %", "leak": "50 %", "room_temperature": "2 K", "bound": "1", "sorption_rate": "1", "sorption_activation": "1"}
JOB = {
    "job": "all fields", "purpose": "archive", "dryer": "bench-55",
    "sample": {"composition": "acetonitrile 10 %v/v, water",
               "solutes": [{"name": "sucrose", "concentration": "20 g/L", "critical_temperature": "-32 °C", "density": "1580 g/L"}],
               "crystallises": ["acetonitrile"], "stays_liquid": ["acetonitrile"]},
    "containers": [{"type": "vial_10R", "count": 20, "edge": 2, "corner": 1, "door": 1, "fill": "3 mL", "lie": "at_rest", "place": "shelf"}],
    "freezing": {"means": "freezer", "temperature": "-60 °C"},
    "recipe": POINT, "loading": "0.5 h",
    "events": [{"event": "defrost", "time": "3 h", "length": "1 h", "thaw": "0.4 h", "trap": 1}],
    "residual": {"water": "2 %"}, "dryers": ["bench-85"],
    "limits": {"margin": "2 K", "time": "200 h", "product_temperature": "40 °C"},
    "cake": {"r0": "1e4 m/s", "a1": "1e7 1/s", "a2": "10 1/m"},
    "model": {"solids": "practice", "least_framework": "45 %", "trace_liquid": "1 %", "top_coefficient": "1 W/m2/K",
              "dry_conductivity": "0.03 W/m/K", "pore_exponent": "1.5"},
    "uncertainty": {key: {"spread": spread, "distribution": "normal", **({"correlation": "0.5"} if key in ("cake_a1", "trap_power") else {})}
                    for key, spread in SPREADS.items()},
}
FLASKS = {**JOB, "containers": [{"type": "flask_500", "count": 2, "fill": "100 mL", "lie": "shell", "place": "manifold", "on": "1 h", "off": "9 h"}]}
DRYER = {
    "name": "all fields", "description": "of a coil and oil",
    "chamber": {"volume": "60 L", "room_temperature": "21 °C", "leak": "0.01 mbar L/s", "degassing": "0.001 mbar L/s", "control": "bleed"},
    "duct": {"diameter": "90 mm", "length": "0.2 m"},
    "trap": {"refrigeration": [{"temperature": "-55 °C", "power": "0 W"}, {"temperature": "-30 °C", "power": "950 W"}], "area": "0.2 m2",
             "volume": "12 L", "capacity": "6 kg", "heat_capacity": "8 kJ/K", "power": "500 W"},
    "second_trap": {"coolant": "dry_ice", "charge": "2 kg", "loss": "20 W", "area": "0.05 m2", "volume": "2 L", "capacity": "1 kg",
                    "heat_capacity": "0.5 kJ/K", "power": "0 W", "link": {"diameter": "40 mm", "length": "0.3 m"}},
    "pump": {"kind": "oil_sealed", "speed": [{"pressure": "0.01 mbar", "flow": "3 m3/h"}, {"pressure": "1000 mbar", "flow": "3 m3/h"}],
             "ultimate_pressure": "0.003 mbar", "solvent_limit": "250 g", "oil": "0.8 kg", "oil_temperature": "70 °C", "ballast": "0.1 m3/h",
             "power": "400 W"},
    "shelf": {"area": "1 m2", "lowest": "-50 °C", "highest": "60 °C", "contact": "8 W/m2/K", "gas": "1.04 W/m2/K/Pa",
              "gas_bend": "0.029 1/Pa", "drift": "2 h", "ramp": "1 K/min"},
    "manifold": {"ports": 12, "port_diameter": "19 mm", "frost": "2 mm"}, "hood_flow": "600 m3/h",
    "reference_load": {"container": "vial_20R", "count": 1000, "fill": "3 mL", "place": "shelf", "lie": "at_rest", "recipe": POINT},
}
OTHER = copy.deepcopy(DRYER)
OTHER["trap"] = {**DRYER["second_trap"]}
del OTHER["trap"]["link"]
OTHER["second_trap"] = {**DRYER["trap"], "link": {"diameter": "40 mm", "length": "0.3 m"}}
OTHER["pump"] = {"kind": "scroll", "nominal_speed": "10 m3/h", "ultimate_pressure": "0.01 mbar"}


def plain(text):
    """The flat maps of check_serve's examples."""
    return {k: v for k, v in (row.split(": ", 1) for row in text.splitlines()) if not v.startswith("{")}


SUGAR = {**plain(KELP), "name": "sugar of kelp", "aliases": "KS", "cas": "1-2-3", "formula": "C12H22O11", "family": "sugar", "particles": "1",
         "density": "1580 g/L", "heat_capacity_J_gK": "1.25", "anchor_w": "81 %", "note": "invented", "source": "invented", "crystal_water": "0",
         "crystallises": "not in practice"}
SALT = {"key": "kelp_salt", "molar_mass_g_mol": "58.4", "particles": "2", "anchor_kind": "eutectic", "anchor_temperature": "-21.1 °C",
        "anchor_w": "23.3 %", "fusion_enthalpy_J_mol": "21000", "crystal": "kelp salt dihydrate", "crystal_water": "2", "crystallises": "readily"}
CURVE = {"form": "LINEAR", "coefficients": ["100", "0.1"], "lowest": "200 K", "highest": "350 K"}
CURVES = {key: dict(CURVE) for key in ("liquid_density_kg_m3", "solid_density_kg_m3", "liquid_heat_capacity_J_mol_K", "solid_heat_capacity_J_mol_K",
                                 "gas_heat_capacity_J_mol_K")}
LIQUID = {**plain(BRINE), "name": "sea brine", "aliases": "SB", "cas": "1-2-4", "formula": "C3H8O", "flash_point": "20 °C",
          "lower_explosive_limit": "2 %", **CURVES,
          "vapour_pressure": {"form": "ANTOINE_LN_PA_K", "coefficients": ["22.58", "3614.9", "-46.13"], "lowest": "273.15 K", "highest": "423.15 K"}}
VESSEL = {**plain(JAR), "name": "a jar", "outer_diameter": "33 mm"}
FLASK = {"key": "ball", "kind": "flask", "inner_diameter": "60 mm", "wall": "2 mm", "port_diameter": "20 mm", "glass_mass": "50 g"}
WHOLE = {"job": [JOB, FLASKS], "dryer": [DRYER, OTHER], "container": [VESSEL, FLASK], "solute": [SUGAR, SALT], "substance": [LIQUID]}


# ---- paths --------------------------------------------------------------------------------------------------------

def steps(path):
    """a.b[].c as keys and, for a list, None."""
    for part in path.split("."):
        yield part.removesuffix("[]")
        if part.endswith("[]"):
            yield None


def reach(document, path):
    """What holds the last step, that step, and the path with real indices; None where the document has no such place."""
    at, real, way = document, "", list(steps(path))
    for i, step in enumerate(way):
        if step is None:
            step = len(at) - 1 if isinstance(at, list) and at else None
            if step is None:
                return None
        if (isinstance(step, int) != isinstance(at, list)) or (isinstance(at, dict) and step not in at) or not isinstance(at, (dict, list)):
            return None
        real += f"[{step}]" if isinstance(step, int) else f"{'.' if real else ''}{step}"
        if i == len(way) - 1:
            return at, step, real
        at = at[step]
    return None


class Form:
    def __init__(self, t, server, name, fields):
        self.t, self.server, self.name, self.fields = t, server, name, fields

    def check(self, document):
        answer = json.loads(self.server.ask("POST", "/api/v1/check/" + self.name, {"text": json.dumps(document, ensure_ascii=False)})[2])
        return answer["error"]

    def changed(self, path, change):
        """The error after a change at the path, and the path with its indices."""
        for whole in WHOLE[self.name]:
            document = copy.deepcopy(whole)
            found = reach(document, path)
            if found is not None:
                change(found[0], found[1])
                return self.check(document), found[2]
        self.t.check(False, f"{self.name}: no document of this check holds {path}")
        return None, ""

    def set(self, path, value):
        return self.changed(path, lambda at, step: at.__setitem__(step, value))

    def say(self, sound, path, what, error):
        self.t.check(sound, f"{self.name} {path}: {what}: {error}")


def refuses(error, real, *words):
    return error is not None and error["field"] == real and any(word in error["message"] for word in words)


BOUND = ("must lie between", "must be at least", "must be at most", "must be a whole number between")


def bounds_said(error):
    message = error["message"]
    found = re.search(r"between (.*?) and (.*?), not|at least (.*?), not|at most (.*?), not", message)
    return (found[1] or found[3], found[2] or found[4]) if found else (None, None)


def check_bounds(form, field):
    path = field["path"]
    for which, side in (("lowest", -1), ("highest", 1)):
        if field[which] == "":
            continue
        number, unit = NUMBER.match(field[which]).groups()
        bound = float(number)
        error, real = form.set(path, field[which])
        form.say(not refuses(error, real, *BOUND), path, f"{field[which]} is refused", error)
        whole = field["kind"] == "number" and "whole number" in str(form.set(path, "x")[0])
        step = 1 if whole else max(abs(bound) * 1e-4, 1e-9)
        outside = f"{int(bound) + side if whole else repr(bound + side * step)}{' ' + unit if unit else ''}"
        error, real = form.set(path, outside)
        form.say(refuses(error, real, *BOUND), path, f"{outside} is taken", error)
        if refuses(error, real, *BOUND):
            said = bounds_said(error)[0 if side < 0 else 1]
            same = said is not None and NUMBER.match(said)[2] == unit and abs(float(NUMBER.match(said)[1]) - bound) <= 1e-5 * abs(bound)
            form.say(same, path, f"described is {field[which]}, the parser says {said}", error["message"])
    if field["lowest"] == "" or field["highest"] == "":  # where none is described there is none
        big = "-1e-30" if field["lowest"] == "" else "1e30"
        error, real = form.set(path, f"{big} {field['units'][0]}".strip())
        described = "1 K above" in field["meaning"] or "first part" in field["meaning"] or field["highest"] == ""
        form.say(described or not refuses(error, real, *BOUND), path, "has a bound that is not described", error)


def check_field(form, field):
    path, kind = field["path"], field["kind"]
    error, real = form.changed(path, lambda at, step: at.pop(step))
    missing = error is not None and error["field"] == real
    if field["needed"] and real and not real.endswith("]"):
        form.say(missing, path, "is not missed", error)
    elif real and not form.depends(path):
        form.say(not missing, path, "cannot be left out", error)
    if kind in ("quantity", "number"):
        check_bounds(form, field)
        error, real = form.set(path, "many")
        form.say(refuses(error, real, "number"), path, "'many' is taken", error)
        for unit in field["units"]:
            error, real = form.set(path, f"1 {unit}")
            form.say(not refuses(error, real, "unit", "write"), path, f"unit {unit}", error)
        if field["units"]:
            error, real = form.set(path, "1")
            form.say(refuses(error, real, "has no unit"), path, "1 without a unit is taken", error)
    if kind == "choice":
        for choice in field["choices"]:
            error, real = form.set(path, choice)
            form.say(not refuses(error, real, "must be"), path, f"choice {choice}", error)
        error, real = form.set(path, "zzzz")
        form.say(refuses(error, real, "must be"), path, "'zzzz' is taken", error)
        if refuses(error, real, "must be"):
            said = re.split(", | or ", re.search("must be (.*), not 'zzzz'", error["message"])[1])
            extra = {"lognormal"} if path.startswith("uncertainty.") else set()
            form.say(set(said) - extra == set(field["choices"]) - extra, path, f"choices {field['choices']}", said)
    if field["otherwise"] not in ("", "curve") and kind in ("quantity", "number", "choice"):
        error, real = form.set(path, field["otherwise"])
        form.say(error is None or error["field"] != real, path, f"otherwise {field['otherwise']}", error)
    form.say(len(field["meaning"]) > 3 and field["meaning"][-1] != ".", path, "meaning", field["meaning"])


def check_keys(form):
    """What a parser knows under each map is what is described there."""
    places = {""} | {f["path"].rpartition(".")[0] for f in form.fields}
    for place in sorted(places):
        mine = {f["path"].rpartition(".")[2] for f in form.fields if f["path"].rpartition(".")[0] == place}
        probe = "zqzqzqzqzqzqzqzqzqzqzqzq"
        if place == "":
            error = form.check({**WHOLE[form.name][0], probe: 1})
        else:
            error, _ = form.changed(place, lambda at, step: at[step].__setitem__(probe, 1))
        known = set(re.split(", | or ", error["message"].partition("known here: ")[2])) if error else set()
        extra = {"correlation"} if place.startswith("uncertainty.") else set()
        form.say({m.removesuffix("[]") for m in mine} - extra == known - extra, place or "top level", f"described {sorted(mine)}", sorted(known))


def check_defaults(t, server, forms):
    """A default that is stated gives the answer to the byte that it gives left out."""
    base = copy.deepcopy(JOB)
    for key in ("limits", "model", "events", "dryers", "loading", "uncertainty"):
        base.pop(key, None)
    base["cake"] = {"r0": "1e4 m/s", "a1": "1e7 1/s"}
    base["sample"] = {"composition": "acetonitrile 5 %v/v, water", "solutes": [{"name": "sucrose", "concentration": "20 g/L"}]}
    base["containers"] = [{"type": "vial_10R", "count": 20, "fill": "3 mL", "place": "shelf"}]
    dryer = copy.deepcopy(DRYER)
    for path in ("shelf.drift", "shelf.ramp", "manifold.frost", "pump.oil", "pump.oil_temperature", "pump.ballast", "chamber.degassing",
                 "chamber.control", "reference_load.lie"):
        section, _, key = path.partition(".")
        del dryer[section][key]
    base["dryer"] = "attic"
    base["events"] = [{"event": "power_cut", "time": "1 h", "length": "2 h"}]  # drift and ramp of the shelf bear on it
    for point in base["recipe"]:
        point.pop("chamber_pressure", None)

    def answer(job, machine):
        body = {"job": json.dumps(job, ensure_ascii=False), "dryers": {"attic": json.dumps(machine, ensure_ascii=False)}, "quick": True}
        status, _, text = server.ask("POST", "/api/v1/stand", body)
        t.check(status == 200, f"stand: {text[:300]}")
        return text

    left_out = answer(base, dryer)
    for form, fields in forms.items():
        for field in fields:
            if field["otherwise"] in ("", "curve") or form not in ("job", "dryer") or field["path"].startswith(("events", "reference_load.recipe")):
                continue
            job, machine = copy.deepcopy(base), copy.deepcopy(dryer)
            at, way = (job if form == "job" else machine), list(steps(field["path"]))
            for i, step in enumerate(way[:-1]):
                at = at[0] if step is None else at.setdefault(step, [] if way[i + 1] is None else {})
            at[way[-1]] = field["otherwise"]
            t.check(answer(job, machine) == left_out, f"{form} {field['path']}: {field['otherwise']} stated is another than left out")


def main():
    t = Tests()
    with tempfile.TemporaryDirectory() as folder:
        server = Server(folder)
        all_forms = json.loads(server.ask("GET", "/api/v1/forms")[2])["forms"]
        t.check([f["form"] for f in all_forms] == list(FORMS), f"forms: {[f['form'] for f in all_forms]}")
        forms = {}
        for name in FORMS:
            status, _, body = server.ask("GET", "/api/v1/forms/" + name)
            t.check(status == 200 and not fits(body, "form"), f"form {name}: {body[:200]}")
            forms[name] = json.loads(body)["fields"]
            t.check([f for f in all_forms if f["form"] == name][0]["fields"] == forms[name], f"form {name} alone is another")
            form = Form(t, server, name, forms[name])
            form.depends = lambda path, fields=forms[name]: next(f for f in fields if f["path"] == path)["depends"]
            for document in WHOLE[name]:
                error = form.check(document)
                t.check(error is None, f"{name}: the document of this check is not sound: {error}")
            for field in forms[name]:
                if field["path"] not in ("log", "history", "trap.link"):
                    check_field(form, field)
            check_keys(form)
        check_defaults(t, server, forms)
        t.check(server.ask("GET", "/api/v1/forms/nothing")[0] == 404, "a form that is none")
        code, said = server.stop()
        t.check(code == 0 and not said, f"stopped: {code} {said!r}")
    print(f"{t.passed} passed, {t.failed} failed")
    return 1 if t.failed else 0


if __name__ == "__main__":
    sys.exit(main())

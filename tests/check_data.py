#!/usr/bin/env python3
"""Checks the tables under data/: columns, sources, grades, numbers, and that every correlation behaves.

Usage: check_data.py [folder]. Each fault is a sentence on standard output. Last line: "N passed, N failed", by tables.
"""
import csv
import math
import os
import sys

R = 8.31446261815324
ATM = 101325.0
GRADES = {"measured", "correlation", "estimated", "from memory"}
POINT_GRADES = {"measured", "secondary", "from memory", "smoothed"}

COLUMNS = {
    "substances.csv": "key,name,aliases,cas,formula,family,crystallises,crystallises_source,source",
    "constants.csv": "key,property,value,unit,uncertainty,grade,source,note",
    "correlations.csv": "key,property,form,unit,c1,c2,c3,c4,c5,c6,Tc_K,Pc_Pa,Tmin_K,Tmax_K,grade,source,note",
    "unifac_subgroups.csv": "subgroup,name,main_group,main_name,R,Q,source",
    "unifac_interactions.csv": "main_i,main_j,a_K,b,c_per_K,source",
    "unifac_assignments.csv": "key,subgroup,count,source",
    "dimers.csv": "key,enthalpy_J_mol,entropy_J_molK,standard_pressure_Pa,Tmin_K,Tmax_K,grade,source",
    "solutes.csv": "key,name,aliases,cas,formula,family,molar_mass_g_mol,particles,beside_organics,density_kg_m3,"
                   "heat_capacity_J_gK,glass_temperature_K,gordon_taylor_k,anchor_kind,anchor_temperature_K,anchor_w,"
                   "critical_kind,crystal,crystal_water,fusion_enthalpy_J_mol,crystallises,grade,source,note",
    "dissociation.csv": "key,gases,gas_moles,water_moles,enthalpy_J_mol,gibbs_J_mol,pressure_sigma_ln,grade,source",
    "salting.csv": "key,kind,ln_gamma,grade,source",
    "uncertain.csv": "key,group,what,measure,distribution,spread,spread_assumed,correlated_with,correlation,grade,source",
    "containers.csv": "key,name,kind,inner_diameter_mm,outer_diameter_mm,brim_volume_mL,wall_mm,glass_mass_g,"
                      "port_diameter_mm,source",
    "safety.csv": "key,quantity,value,unit_or_scope,grade,source",
    "efforts.csv": "key,value,unit,grade,source",
    "residual_limits.csv": "key,class,limit_ppm,pde_mg_day,revision,grade,source",
    "sorption.csv": "solute,species,unfrozen_kg_kg,bound_kg_kg,bound_sigma_ln,tight_kg_kg,rate_per_s,rate_sigma_ln,"
                    "activation_J_mol,activation_sigma_J_mol,monolayer_kg_kg,gab_c,gab_k,grade,source,note",
    "freezing_points.csv": "key,w_solvent,temperature_K,solid,source,grade,note",
    "invariants.csv": "key,kind,temperature_K,w_solvent,phases,source,grade,note",
    "lle.csv": "key,phase,temperature_K,w_solvent,source,grade",
    "azeotropes.csv": "key,kind,temperature_K,pressure_Pa,x_solvent,source,grade",
    "hydrates.csv": "key,water_per_solvent,name,saturation_temperature_K,saturation_x_solvent,"
                    "saturation_uncertainty_K,melting_kind,fusion_enthalpy_J_mol,crystallises,grade,source,note",
}
NUMERIC = {
    "constants.csv": (["value"], ["uncertainty"]),
    "correlations.csv": (["Tmin_K", "Tmax_K"], ["c1", "c2", "c3", "c4", "c5", "c6", "Tc_K", "Pc_Pa"]),
    "unifac_subgroups.csv": (["subgroup", "main_group", "R", "Q"], []),
    "unifac_interactions.csv": (["main_i", "main_j", "a_K", "b", "c_per_K"], []),
    "unifac_assignments.csv": (["subgroup", "count"], []),
    "dimers.csv": (["enthalpy_J_mol", "entropy_J_molK", "standard_pressure_Pa", "Tmin_K", "Tmax_K"], []),
    "solutes.csv": (["molar_mass_g_mol", "particles", "density_kg_m3", "heat_capacity_J_gK", "anchor_temperature_K",
                     "crystal_water"],
                    ["glass_temperature_K", "gordon_taylor_k", "anchor_w", "fusion_enthalpy_J_mol"]),
    "salting.csv": (["ln_gamma"], []),
    "efforts.csv": (["value"], []),
    "dissociation.csv": (["gas_moles", "water_moles", "enthalpy_J_mol", "gibbs_J_mol", "pressure_sigma_ln"], []),
    "containers.csv": (["inner_diameter_mm", "outer_diameter_mm", "brim_volume_mL", "wall_mm", "glass_mass_g",
                        "port_diameter_mm"], []),
    "residual_limits.csv": ([], ["limit_ppm", "pde_mg_day"]),
    "sorption.csv": (["unfrozen_kg_kg", "bound_kg_kg", "bound_sigma_ln", "tight_kg_kg", "monolayer_kg_kg"],
                     ["rate_per_s", "rate_sigma_ln", "activation_J_mol", "activation_sigma_J_mol", "gab_c", "gab_k"]),
    "uncertain.csv": (["spread", "spread_assumed"], ["correlation"]),
    "freezing_points.csv": (["w_solvent", "temperature_K"], []),
    "invariants.csv": ([], ["temperature_K", "w_solvent"]),
    "lle.csv": (["temperature_K", "w_solvent"], []),
    "azeotropes.csv": (["pressure_Pa"], ["temperature_K", "x_solvent"]),
    "hydrates.csv": (["water_per_solvent", "saturation_temperature_K", "saturation_x_solvent",
                      "saturation_uncertainty_K", "fusion_enthalpy_J_mol"], []),
}
WORDS = {
    ("substances.csv", "crystallises"): {"readily", "reluctantly", "not in practice"},
    ("solutes.csv", "anchor_kind"): {"glass", "eutectic"},
    ("solutes.csv", "critical_kind"): {"Tg'", "collapse", "eutectic", ""},
    ("solutes.csv", "beside_organics"): {"salt", "sugar", "ideal"},
    ("salting.csv", "kind"): {"salt", "sugar"},
    ("containers.csv", "kind"): {"vial", "flask", "tube", "tray"},
    ("uncertain.csv", "measure"): {"factor", "K", "sigma"},
    ("uncertain.csv", "distribution"): {"normal", "lognormal", "uniform"},
    ("hydrates.csv", "melting_kind"): {"congruent", "incongruent", "peritectic"},
    ("hydrates.csv", "crystallises"): {"readily", "reluctantly", "not in practice"},
    ("azeotropes.csv", "kind"): {"minimum", "maximum", "heterogeneous", "none"},
}
NEEDED_CONSTANTS = ["molar_mass", "melting_temperature", "boiling_temperature", "critical_temperature",
                    "critical_pressure", "acentric_factor", "fusion_enthalpy", "liquid_density_293"]
NEEDED_CORRELATIONS = ["liquid_vapour_pressure", "liquid_density", "solid_density", "liquid_heat_capacity",
                       "solid_heat_capacity", "gas_heat_capacity"]
CONSTANT_UNITS = {
    "molar_mass": "g/mol", "melting_temperature": "K", "boiling_temperature": "K", "critical_temperature": "K",
    "critical_pressure": "Pa", "acentric_factor": "-", "fusion_enthalpy": "J/mol", "transition_temperature_1": "K",
    "transition_enthalpy_1": "J/mol", "transition_temperature_2": "K", "transition_enthalpy_2": "J/mol",
    "liquid_density_293": "kg/m3", "glass_temperature": "K", "flash_point": "K", "lower_explosive_limit": "%",
    "upper_explosive_limit": "%", "exposure_limit_8h": "ppm",
}
ASSOCIATED = {"acetic_acid", "formic_acid", "trifluoroacetic_acid"}   # real vapour is dimerised: no Watson check

faults = []


def fault(sentence):
    faults.append(sentence)


def number(text):
    try:
        value = float(text)
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def read(folder, name):
    path = os.path.join(folder, name)
    if not os.path.exists(path):
        fault(f"{name}: the file is missing.")
        return []
    with open(path, encoding="utf-8", newline="") as handle:
        lines = [line for line in handle if line.strip() and not line.startswith("#")]
    rows = list(csv.reader(lines, strict=True))
    header, body = rows[0], rows[1:]
    if header != COLUMNS[name].split(","):
        fault(f"{name}: the columns are not those expected.")
        return []
    out = []
    for cells in body:
        if len(cells) != len(header):
            fault(f"{name}: the row starting {cells[0]!r} has {len(cells)} cells, not {len(header)}.")
            continue
        row = dict(zip(header, cells))
        label = f"{name}: row {cells[0]} {cells[1]}"
        if "source" in row and not row["source"].strip():
            fault(f"{label}: no source.")
        needed, optional = NUMERIC.get(name, ([], []))
        for column in needed + optional:
            if row[column] == "" and column in optional:
                continue
            if number(row[column]) is None:
                fault(f"{label}: {column} {row[column]!r} is not a number.")
        if "grade" in row:
            allowed = POINT_GRADES if name in ("freezing_points.csv", "invariants.csv", "lle.csv",
                                               "azeotropes.csv") else GRADES
            if name in ("safety.csv", "residual_limits.csv"):
                allowed = GRADES | POINT_GRADES
            if name == "uncertain.csv":
                allowed = {"assumption", "common practice", "computed", "measured"}
            if name == "efforts.csv":
                allowed = {"assumption"}
            if row["grade"] not in allowed:
                fault(f"{label}: grade {row['grade']!r} is not one of {sorted(allowed)}.")
            if "from memory" in row["source"] and row["grade"] in ("measured", "smoothed", "secondary"):
                fault(f"{label}: the source says from memory but the grade is {row['grade']}.")
        for (file, column), words in WORDS.items():
            if file == name and row[column] not in words:
                fault(f"{label}: {column} {row[column]!r} is not one of {sorted(words)}.")
        out.append(row)
    return out


class Correlation:
    """One row of correlations.csv; value(T) holds the end value outside Tmin..Tmax."""

    def __init__(self, row):
        self.row = row
        self.form = row["form"]
        self.c = [number(row[f"c{i}"]) or 0.0 for i in range(1, 7)]
        self.low, self.high = float(row["Tmin_K"]), float(row["Tmax_K"])
        self.tc, self.pc = number(row["Tc_K"]), number(row["Pc_Pa"])

    def raw(self, t):
        c, form = self.c, self.form
        if form == "DIPPR101":
            return math.exp(c[0] + c[1] / t + c[2] * math.log(t) + c[3] * t ** c[4])
        if form == "ANTOINE_LN_PA_K":
            return math.exp(c[0] - c[1] / (t + c[2]))
        if form == "WAGNER25":
            s = max(1.0 - t / self.tc, 0.0)
            return self.pc * math.exp(self.tc / t * (c[0] * s + c[1] * s ** 1.5 + c[2] * s ** 2.5 + c[3] * s ** 5))
        if form == "IAPWS_SR1_86":
            s = max(1.0 - t / 647.096, 0.0)
            if self.row["property"] == "liquid_density":
                b = ((1.99274064, 1), (1.09965342, 2), (-0.510839303, 5), (-1.75493479, 16), (-45.5170352, 43),
                     (-6.74694450e5, 110))
                return 322.0 * (1.0 + sum(x * s ** (n / 3.0) for x, n in b))
            a = ((-7.85951783, 1), (1.84408259, 1.5), (-11.7866497, 3), (22.6807411, 3.5), (-15.9618719, 4),
                 (1.80122502, 7.5))
            return 22.064e6 * math.exp(647.096 / t * sum(x * s ** n for x, n in a))
        if form == "DIPPR105":
            return c[0] / c[1] ** (1.0 + max(1.0 - t / c[2], 0.0) ** c[3])
        if form == "PPDS10":
            s = max(1.0 - t / self.tc, 0.0)
            return c[0] + c[1] * s ** 0.35 + c[2] * s ** (2 / 3) + c[3] * s + c[4] * s ** (4 / 3)
        if form in ("DIPPR100", "POLING_CP", "LINEAR", "CONSTANT"):
            return sum(x * t ** i for i, x in enumerate(c[:5]))
        raise ValueError(f"form {form} is not known")

    def value(self, t, molar_mass=1.0):
        v = self.raw(min(max(t, self.low), self.high))
        unit = self.row["unit"]
        factor = {"Pa": 1.0, "kg/m3": 1.0, "kmol/m3": molar_mass, "mol/dm3": molar_mass, "J/mol/K": 1.0,
                  "J/kmol/K": 1e-3, "-": R}
        if unit not in factor:
            raise ValueError(f"unit {unit} is not known")
        return v * factor[unit]

    def heat(self, t):
        """Apparent heat of vaporisation R T2 dlnp/dT, J/mol."""
        d = 1e-4 * t
        return R * t * t * (math.log(self.raw(t + d)) - math.log(self.raw(t - d))) / (2.0 * d)


def check_substance(key, constants, rows):
    def constant(name):
        return constants[key][name]

    m, tm, tb = constant("molar_mass"), constant("melting_temperature"), constant("boiling_temperature")
    tc, pc = constant("critical_temperature"), constant("critical_pressure")
    p, rl, rs = rows["liquid_vapour_pressure"], rows["liquid_density"], rows["solid_density"]
    cl, cs, cg = rows["liquid_heat_capacity"], rows["solid_heat_capacity"], rows["gas_heat_capacity"]
    if not 90.0 < tm < tb < tc < 1000.0:
        fault(f"{key}: melting, boiling and critical temperature {tm}, {tb}, {tc} K are out of order.")
    if not p.low <= tb <= p.high:
        fault(f"{key}: the vapour pressure row does not span the boiling temperature {tb} K.")
    ratio = p.raw(tb) / ATM
    limit = 0.07 if key == "dmso" else 0.01
    if abs(ratio - 1.0) > limit:
        fault(f"{key}: the vapour pressure at {tb} K is {100 * (ratio - 1):+.1f} % off one atmosphere.")
    if p.high >= tc - 1.0:
        end = p.raw(tc) / pc
        if abs(end - 1.0) > 0.05:
            fault(f"{key}: the vapour pressure at the critical temperature is {100 * (end - 1):+.1f} % off.")
    # inside the range: rising, heat of vaporisation near a Watson line through the boiling point
    top = min(p.high, tc - 10.0)
    hb = p.heat(tb)
    t, last = p.low, 0.0
    while t <= top:
        v, h = p.raw(t), p.heat(t)
        if v <= last or h <= 0.0:
            fault(f"{key}: the vapour pressure does not rise at {t:.0f} K.")
            break
        if key not in ASSOCIATED and t <= tb:
            watson = hb * ((1.0 - t / tc) / (1.0 - tb / tc)) ** 0.38
            if abs(h / watson - 1.0) > 0.15:
                fault(f"{key}: the heat of vaporisation at {t:.0f} K, {h / 1e3:.1f} kJ/mol, is far from "
                      f"{watson / 1e3:.1f} (Watson).")
                break
        last, t = v, t + 2.0
    # below the range: Clausius-Clapeyron with dh/dT = cp_gas - cp_liquid
    h, t, lnp = p.heat(p.low), p.low, math.log(p.raw(p.low))
    hold = h
    while t > 120.0:
        step = min(1.0, t - 120.0)
        h_next = h - step * (cg.value(t - step / 2) - cl.value(t - step / 2))
        drop = step * (h + h_next) / 2.0 / (R * (t - step / 2.0) ** 2)
        if h_next <= 0.0 or drop <= 0.0 or h_next > 1.6 * hold:
            fault(f"{key}: the continued vapour pressure misbehaves at {t:.0f} K (heat {h_next / 1e3:.1f} kJ/mol).")
            break
        lnp, h, t = lnp - drop, h_next, t - step
    for name, row, low, high in (("liquid", rl, tm, min(tb, rl.high)), ("solid", rs, 150.0, tm)):
        t = min(low, high)
        while t <= high:
            rho = row.value(t, m)
            if not 600.0 < rho < 2000.0:
                fault(f"{key}: the {name} density at {t:.0f} K is {rho:.0f} kg/m3.")
                break
            t += 5.0
    change = rs.value(tm, m) / rl.value(tm, m)
    if key != "water" and not 1.0 < change < 1.25:
        fault(f"{key}: solid over liquid density at the melting temperature is {change:.3f}.")
    if key == "water" and not 0.90 < change < 0.93:
        fault(f"{key}: ice over water density at 273.16 K is {change:.3f}.")
    rho = rl.value(293.15, m)
    if abs(rho / constant("liquid_density_293") - 1.0) > 1e-3:
        fault(f"{key}: liquid_density_293 is {constant('liquid_density_293')} but the correlation gives {rho:.1f}.")
    for name, row, low, high in (("liquid", cl, tm, tb), ("solid", cs, 120.0, tm), ("gas", cg, 120.0, tb)):
        t = min(low, high)
        while t <= high:
            v = row.value(t)
            if not 20.0 < v < 400.0 and not (name == "solid" and 10.0 < v):
                fault(f"{key}: the {name} heat capacity at {t:.0f} K is {v:.1f} J/mol/K.")
                break
            t += 5.0
    if cl.value(tm) <= cs.value(tm):
        fault(f"{key}: at the melting temperature the liquid heat capacity is not above the solid's.")
    if cl.value(298.15) <= cg.value(298.15):
        fault(f"{key}: the liquid heat capacity at 298 K is not above the gas's.")
    entropy = constant("fusion_enthalpy") / tm
    if not 7.0 < entropy < 70.0:
        fault(f"{key}: the entropy of fusion {entropy:.1f} J/mol/K is implausible.")
    for i in ("1", "2"):
        name = "transition_temperature_" + i
        if name in constants[key]:
            if not 50.0 < constant(name) < tm or "transition_enthalpy_" + i not in constants[key]:
                fault(f"{key}: transition {i} is not below melting or has no enthalpy.")


def main():
    beside = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "data")
    folder = sys.argv[1] if len(sys.argv) > 1 else beside
    tables = {name: read(folder, name) for name in COLUMNS}
    keys = [row["key"] for row in tables["substances.csv"]]
    if len(set(keys)) != len(keys):
        fault("substances.csv: a key appears twice.")
    names = {}
    for row in tables["substances.csv"]:
        for name in {row["key"], row["name"], row["cas"]} | set(filter(None, row["aliases"].split(";"))):
            plain = name.lower().replace("_", " ").replace("-", " ")
            if names.setdefault(plain, row["key"]) != row["key"]:
                fault(f"substances.csv: the name {name!r} belongs to {names[plain]} and {row['key']}.")
    for name in ("constants.csv", "correlations.csv", "unifac_assignments.csv", "dimers.csv", "safety.csv",
                 "residual_limits.csv", "freezing_points.csv", "invariants.csv", "lle.csv", "azeotropes.csv",
                 "hydrates.csv"):
        for row in tables[name]:
            if row["key"] not in keys:
                fault(f"{name}: {row['key']!r} is no substance.")
    constants, correlations = {k: {} for k in keys}, {k: {} for k in keys}
    for row in tables["constants.csv"]:
        if row["key"] not in constants:
            continue
        if CONSTANT_UNITS.get(row["property"]) != row["unit"]:
            fault(f"constants.csv: {row['key']} {row['property']} has the unit {row['unit']!r}.")
        if row["property"] in constants[row["key"]]:
            fault(f"constants.csv: {row['key']} {row['property']} appears twice.")
        constants[row["key"]][row["property"]] = number(row["value"])
    for row in tables["correlations.csv"]:
        if row["key"] not in correlations:
            continue
        if row["property"] in correlations[row["key"]]:
            fault(f"correlations.csv: {row['key']} {row['property']} appears twice.")
        try:
            correlations[row["key"]][row["property"]] = Correlation(row)
        except ValueError as problem:
            fault(f"correlations.csv: {row['key']} {row['property']}: {problem}.")
    for key in keys:
        lacking = [n for n in NEEDED_CONSTANTS if constants[key].get(n) is None]
        lacking += [n for n in NEEDED_CORRELATIONS if n not in correlations[key]]
        if lacking:
            fault(f"{key}: lacks {', '.join(lacking)}.")
            continue
        try:
            check_substance(key, constants, correlations[key])
        except (ValueError, OverflowError, ZeroDivisionError, KeyError) as problem:
            fault(f"{key}: {problem}.")
    # UNIFAC: groups exist, and which directed pairs are absent
    groups = {row["subgroup"]: row["main_group"] for row in tables["unifac_subgroups.csv"]}
    pairs = {(row["main_i"], row["main_j"]) for row in tables["unifac_interactions.csv"]}
    if len(pairs) != len(tables["unifac_interactions.csv"]):
        fault("unifac_interactions.csv: a directed pair appears twice.")
    for row in tables["unifac_assignments.csv"]:
        if row["subgroup"] not in groups:
            fault(f"unifac_assignments.csv: subgroup {row['subgroup']} of {row['key']} is not defined.")
    for i, j in pairs:
        if (j, i) not in pairs:
            fault(f"unifac_interactions.csv: {i},{j} has no counterpart {j},{i}.")
    water = {groups[r["subgroup"]] for r in tables["unifac_assignments.csv"] if r["key"] == "water"}
    for row in tables["unifac_assignments.csv"]:
        main_group = groups.get(row["subgroup"])
        if water and main_group not in water and not any((main_group, w) in pairs for w in water):
            fault(f"unifac_interactions.csv: main group {main_group} of {row['key']} has no pair with water.")
    # acetic acid vapour: density at 1 atm and the boiling point, apparent molar mass known to be 92 to 98 g/mol
    for row in tables["dimers.csv"]:
        t = {"acetic_acid": 391.05}.get(row["key"])
        k = math.exp((-number(row["enthalpy_J_mol"]) / 298.15 + number(row["entropy_J_molK"])) / R)
        if not 50.0 < k < 5e3:
            fault(f"dimers.csv: the constant of {row['key']} at 298 K is {k:.3g} per standard pressure.")
        if t:
            k = math.exp((-number(row["enthalpy_J_mol"]) / t + number(row["entropy_J_molK"])) / R) \
                * ATM / number(row["standard_pressure_Pa"])
            monomer = (-1.0 + math.sqrt(1.0 + 4.0 * k)) / (2.0 * k)
            mass = 60.052 * (monomer + 2.0 * (1.0 - monomer))
            if not 90.0 < mass < 99.0:
                fault(f"dimers.csv: apparent molar mass of boiling acetic acid vapour is {mass:.1f} g/mol.")
    for name in ("freezing_points.csv", "lle.csv", "invariants.csv"):
        for row in tables[name]:
            w, t = number(row["w_solvent"]), number(row["temperature_K"])
            if (w is not None and not 0.0 <= w <= 1.0) or (t is not None and not 100.0 < t < 400.0):
                fault(f"{name}: {row['key']} has w {row['w_solvent']} at {row['temperature_K']} K.")
    for row in tables["containers.csv"]:
        inner, outer, wall = (number(row[n]) for n in ("inner_diameter_mm", "outer_diameter_mm", "wall_mm"))
        if abs(outer - inner - 2.0 * wall) > 0.05 * outer:
            fault(f"containers.csv: diameters and wall of {row['key']} do not agree.")
        if row["kind"] == "flask":
            volume = math.pi / 6.0 * (inner / 10.0) ** 3
            if abs(volume / number(row["brim_volume_mL"]) - 1.0) > 0.02:
                fault(f"containers.csv: the sphere of {row['key']} holds {volume:.0f} mL, not the brim volume.")
    solutes = {row["key"] for row in tables["solutes.csv"]} | {"amorphous", "crystalline"}
    held = [(row["solute"], row["species"]) for row in tables["sorption.csv"]]
    if len(set(held)) != len(held):
        fault("sorption.csv: a solute and species appear twice.")
    for solute, species in held:
        if solute not in solutes:
            fault(f"sorption.csv: {solute!r} is no solute.")
        if species not in keys and species != "solvent":
            fault(f"sorption.csv: {species!r} is no substance.")
    for pair in ((k, s) for k in ("amorphous", "crystalline") for s in ("water", "solvent")):
        if pair not in held:
            fault(f"sorption.csv: no row for {pair[1]} in {pair[0]} cakes.")
    # ICH Q3C option 1: ppm = 1000 PDE (mg a day) / 10 g a day
    for row in tables["residual_limits.csv"]:
        ppm, daily = number(row["limit_ppm"]), number(row["pde_mg_day"])
        if row["class"] in ("2", "3") and (ppm is None or daily is None or abs(ppm - 100.0 * daily) > 1e-6 * ppm):
            fault(f"residual_limits.csv: limit and PDE of {row['key']} do not agree.")
        if row["class"] not in ("1", "2", "3", "none") or (row["class"] == "none") != (ppm is None):
            fault(f"residual_limits.csv: {row['key']} has class {row['class']!r} with the limit {row['limit_ppm']!r}.")
    for sentence in faults:
        print(sentence)
    bad = len({name for name in tables if any(sentence.startswith(name) for sentence in faults)}) or bool(faults)
    print(f"{len(tables) - bad} passed, {int(bad)} failed")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())

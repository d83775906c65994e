#!/usr/bin/env python3
"""The same model of a run, primary and secondary drying, with NumPy and SciPy: a second opinion, and something to be
timed against.

    peer_model_a.py CASE.json [--repeat N] [--tolerance RTOL] [--verbose]

The case holds properties of pure substances, tables of phase equilibria (frozen path, mixed deposit), shapes and the
dryer's figures (dump_case.c), and what our own run gave. Only those inputs are shared: the equations are written here
again. Exit status 1 where the two disagree.

The right-hand side takes many states at once (columns), so that a Jacobian by differences is a single call.
"""
import argparse
import json
import statistics
import sys
import time

import numpy as np
from scipy.integrate import solve_ivp

R = 8.31446261815324  # J/(mol K)
SIGMA = 5.670374419e-8  # W/(m2 K4)
WATER, AIR = 0.0180152675, 0.0289652  # kg/mol
ATMOSPHERE = 101325.0  # Pa
STICKING = 0.05  # share of the kinetic limit at which the coil takes vapour
BARE_FILM, BARE_K = 1e-4, 2.0  # m and W/(m K) of the film of ice that is always on a coil
SKIN = 400.0  # J/K of the deposit's surface
FADE = 2e-3  # of a species' load: amount on the trap over which it behaves as a deposit
THIN = 0.01  # of all those amounts: counts as water in the share of organics, so that a trace has no share of its own
DEW, DEW_LEAST = 0.05, 0.4  # of the pressure over the deposit, and Pa: where vapour begins to condense
LEAVE, LEAVE_LEAST = 0.005, 0.02  # of a solvent's pressure, and Pa: where it stops to leave
AIR_DIFFUSION = 1.713e-5  # m2/s of water vapour in air at 240 K and one atmosphere
OPENNESS = 0.6  # porosity over tortuosity of the dried layer
SLOWEST, FASTEST = -3.0, 50.0  # Peclet numbers
OIL_MOLAR = 0.45  # kg/mol
OIL_BACK, BALLAST_BACK, BOILING = 1e-3, 1e-5, 0.95
DEGASSING_TIME, LEAST_GAS_TIME = 3600.0, 60.0  # s
SONIC, SPEED_FALL = 250.0, 0.01  # m/s and share of the pressure lost at that speed
TIGHT_GONE = 308.15  # K, half-way to letting go of what is held tightly
GLASS, SOLUTE = 830.0, 1250.0  # J/(kg K)
POCKET = 0.02  # share behind the framework's front over which a pocket opens
GONE = 1e-7  # share of a species that counts as gone
LEAST_BODY = 0.01  # of the framework, for the hottest point that is compared
CONTROL = 1e-3  # band of a pressure controller, of its set point
VISCOSITY, GAMMA = 1.0e-5, 1.25
EMISSIVITY, FROST = 0.9, 0.25


# ---- closures ---------------------------------------------------------------------------------------------------


def formula_pressure_ln(sub, table, temperature):
    """ln(p1 + 2 p2) over the pure substance; its crystal where that forms in practice."""
    crystal = sub["crystallises_readily"] * (temperature < sub["melting_temperature"]) > 0
    total = np.where(crystal, table["solid_pressure"], table["liquid_pressure"])
    k = np.asarray(table["dimer_constant"])
    # p1 + K p1^2 = p, in the form that also holds for K = 0
    monomer = 2.0 * total / (1.0 + np.sqrt(1.0 + 4.0 * k * total))
    return np.log(2.0 * total - monomer), crystal


def room_flux(room, surface, diameter, frost):
    """W/m2 from the room to a wall with frost on it: natural convection on a sphere and radiation, bisected.
    Diameter 0: inside the vacuum, where only radiation is left."""
    low, high = surface.copy(), np.maximum(surface, room)

    def given(outside):
        radiation = EMISSIVITY * SIGMA * (room**4 - outside**4)
        if diameter <= 0.0:
            return radiation
        film = 0.5 * (room + outside)
        ratio = film / 273.15
        nu, alpha = 1.32e-5 * ratio**1.75, 1.85e-5 * ratio**1.75
        conductivity = 0.0241 * ratio**0.85
        ra = 9.81 * np.abs(room - outside) / film * diameter**3 / (nu * alpha)
        h = conductivity / diameter * (2.0 + 0.589 * ra**0.25 / (1.0 + (0.469 * alpha / nu) ** (9 / 16)) ** (4 / 9))
        return h * (room - outside) + radiation

    if frost <= 0.0:
        return given(surface)
    for _ in range(60):
        middle = 0.5 * (low + high)
        too_cold = given(middle) * frost / FROST > middle - surface
        low, high = np.where(too_cold, middle, low), np.where(too_cold, high, middle)
    warm = surface > room  # no frost to speak of there; the outside lies at the room's side
    return np.where(warm, given(surface), given(0.5 * (low + high)))


def bernoulli(x):
    """x/(e^x - 1)."""
    small = np.abs(x) < 1e-5
    safe = np.where(small, 1.0, np.minimum(x, 500.0))
    return np.where(small, 1.0 - 0.5 * x, safe / np.expm1(safe))


def softplus(x):
    """ln(1 + e^x)"""
    return np.logaddexp(0.0, x)


class Duct:
    """Molecular and viscous flow through a round tube with a smooth sonic limit; arrays of (species, columns)."""

    def __init__(self, diameter, length, molar_mass, temperature):
        area = np.pi / 4.0 * diameter**2
        self.root = np.sqrt(molar_mass)[:, None]
        self.molecular = area / np.sqrt(2.0 * np.pi * R * temperature) / (1.0 + 0.75 * length / diameter) * self.root
        self.peclet = molar_mass[:, None] / (R * temperature) / self.molecular
        # Resistances in series to the mean pressure's fall, Pa for each m3/s at upstream pressure.
        self.viscous = 128.0 * VISCOSITY * length / (np.pi * diameter**4)
        self.inertial = SPEED_FALL / (area * SONIC)
        critical = (2.0 / (GAMMA + 1.0)) ** ((GAMMA + 1.0) / (2.0 * GAMMA - 2.0))
        self.sonic = area * np.sqrt(GAMMA / (R * temperature)) * critical

    def __call__(self, p1, p2):
        t1, t2 = p1.sum(0), p2.sum(0)
        upstream = (t1**4 + t2**4) ** 0.25
        pe = self.peclet * 0.5 * (t1**2 - t2**2) / (upstream * (self.viscous + self.inertial * upstream))
        flow = self.molecular * (p1 * bernoulli(-pe) - p2 * bernoulli(pe))
        load = (flow / self.root).sum(0) / (self.sonic * upstream)
        return flow / (1.0 + load**4) ** 0.25


# ---- tables -----------------------------------------------------------------------------------------------------


def cell(at, points):
    """Index of the cell and place in it, held at the ends."""
    at = np.clip(at, 0.0, points - 1.0)
    i = np.minimum(at.astype(np.intp), points - 2)
    return i, at - i


class Model:
    """State (rows): free masses (class, species), bound masses (class, bound species), enthalpies (class), gas in
    chamber and trap (species and air each), deposit, coil, deposit surface, solvent in the pump's oil, exhaust (species
    and air), air let in, heat in, heat out. One trap with a compressor, no events."""

    def __init__(self, case):
        self.case = case
        subs, dryer, classes, path = case["substances"], case["dryer"], case["classes"], case["path"]
        self.B, self.S = B, S = len(classes), len(subs)
        self.low, self.step = path["lowest"], path["step"]
        self.room = dryer["room_temperature"]
        self.dryer = dryer
        molar = np.array([s["molar_mass"] for s in subs])
        self.molar = np.append(molar, AIR)
        phi = np.array(path["volume_fraction"])

        # Frozen body: tables on the path's grid, last axis species.
        h = np.array([s["enthalpy"] for s in path["species"]]).T
        liquid = np.array([s["liquid"] for s in path["species"]]).T
        self.P = P = len(h)
        grid = self.low + self.step * np.arange(P)
        body = [s["body"] for s in subs]
        vaporise = np.array([t["vaporisation_enthalpy"] for t in body]).T
        fuse = np.array([t["fusion_enthalpy"] for t in body]).T
        pure = np.array([formula_pressure_ln(s, t, grid)[0] for s, t in zip(subs, body)]).T
        self.h_table = h
        held = np.array([s["pressure_ln"] for s in path["species"]]).T
        vapour = h + (vaporise + (1.0 - liquid) * fuse) / molar
        # What the dried cake holds behaves as a liquid.
        liquid_h = np.array([t["liquid_enthalpy"] for t in body]).T / molar
        liquid_ln = np.log(np.array([t["liquid_pressure"] for t in body]).T)
        self.body_tables = np.stack([held, pure, vapour, liquid_ln, liquid_h + vaporise / molar], axis=1)  # (P, 5, S)
        self.framework = int(np.argmax(phi))
        relative = np.sqrt(molar / WATER)
        self.closed = (phi ** case["pore_exponent"] * relative)[:, None]
        self.opened = relative[:, None]

        # Classes.
        def column(key):
            return np.array([c[key] for c in classes], dtype=float)

        self.count = column("count")
        loaded = column("mass")[:, None] * np.array([c["mass_fraction"] for c in classes])
        self.solids = column("solids")[:, None]
        self.loaded = self.count @ loaded
        sorption = {k: np.array([[s[k] for s in c["sorption"]] for c in classes], dtype=float)
                    for k in classes[0]["sorption"][0]}
        caught = np.minimum(sorption["bound"] * self.solids, 0.9 * loaded) * case["secondary"]
        self.held = held_species = np.flatnonzero(caught.any(0))  # species that some cake holds
        self.H = len(held_species)
        self.initial = loaded - caught
        self.caught = caught[:, held_species]
        # (B, H, 1), as the rest is (class, species, column)
        self.sorption = {k: v[:, held_species, None] for k, v in sorption.items()}
        self.target = np.array(case["target"])[held_species]
        shelf = column("on_shelf") > 0.0
        self.on_shelf = shelf
        self.r0, self.a1, self.a2 = (column(k)[:, None, None] for k in ("r0", "a1", "a2"))
        port = np.minimum(np.where(np.isnan(column("port_diameter")), np.inf, column("port_diameter")),
                          dryer["port_diameter"] or np.inf)
        with np.errstate(invalid="ignore"):
            conductance = (np.pi / 4.0 * port**2)[:, None] * np.sqrt(molar / (2.0 * np.pi * R * self.room)) / (
                1.0 + 0.75 * 0.05 / port)[:, None]
        self.port_resistance = np.where(shelf[:, None], 0.0, 1.0 / conductance)[:, :, None]
        # Peclet number of a mol/s of water in a way of 1 m through gas over 1 m2: R T/(D P), without the pressure.
        self.way = R * 240.0 / (AIR_DIFFUSION * ATMOSPHERE)
        self.free_area = column("free_area")[:, None]
        head = np.maximum(column("brim_volume") - column("body_volume"), 0.0)[:, None] / self.free_area
        self.head_way = self.way * head / self.free_area
        self.dry_way = self.way / OPENNESS * column("thickness")[:, None] / self.free_area
        self.top, self.dry_k = column("top_coefficient")[:, None], column("dry_conductivity")[:, None]
        self.shape = np.array([[c["depth"], c["area"], c["path"], c["contact"]] for c in classes]).transpose(0, 2, 1)
        self.G = self.shape.shape[1]
        self.least_contact = 0.02 * column("heated_area")[:, None]
        outer = np.where(column("is_flask") > 0.0, self.shape[:, -1, 3], np.pi / 4.0 * column("outer_diameter") ** 2)
        self.kv_area = np.where(shelf, column("kv_factor") * outer, 0.0)[:, None]
        self.room_area = column("room_area")[:, None]
        self.area_ratio = np.where(shelf, 0.0, (column("outer_diameter") / column("inner_diameter")) ** 2)[:, None]
        self.sees_room = bool(np.any(self.room_area > 0.0) or np.any(~shelf))
        self.flux = np.array([
            room_flux(self.room, grid, *((0.0, 0.0) if c["on_shelf"] else (c["outer_diameter"], dryer["frost"])))
            for c in classes])
        k_solid = np.where([s["is_water"] for s in subs], 2.0, 0.25)
        stated = column("conductivity")[:, None]
        self.k_frozen = np.where(stated > 0.0, stated, np.exp(phi @ np.log(k_solid)))
        wetted = np.minimum(1.0, column("body_volume") / column("brim_volume") + 0.1)
        self.rest = column("glass_mass") * wetted * GLASS + column("solids") * SOLUTE
        self.rest_table = (self.rest[:, None] * self.step * np.arange(P))[:, :, None]
        self.bound_h_table = liquid_h[:, held_species]

        # Trap.
        coil = [s["coil"] for s in subs]
        self.trap_low, self.trap_step = coil[0]["lowest"], coil[0]["step"]
        trap_grid = self.trap_low + self.trap_step * np.arange(len(coil[0]["liquid_pressure"]))
        self.T = len(trap_grid)
        ln, heat, solid = [], [], []
        for s, t in zip(subs, coil):
            p, crystal = formula_pressure_ln(s, t, trap_grid)
            latent = np.where(crystal, t["sublimation_enthalpy"], t["vaporisation_enthalpy"])
            ln.append(p)
            heat.append((latent + np.array(s["mean_gas_heat_capacity"]) * (self.room - trap_grid)) / s["molar_mass"])
            solid.append(np.where(crystal, np.minimum(1.0, (s["melting_temperature"] - trap_grid) / 2.0), 0.0))
        self.trap_tables = np.stack([np.array(ln).T, np.array(heat).T, np.array(solid).T], axis=1)  # (T, 3, S)
        mixed = case["deposit"]
        self.mixed = bool(mixed["mixed"])
        if self.mixed:  # (share, T, 2, S): ln of the pressure over that of the pure deposit, share that is liquid
            self.share = np.array(mixed["share"])
            self.mixed_low, self.mixed_step = mixed["lowest"], mixed["step"]
            self.mixed_tables = np.array([[t["activity_ln"], t["liquid"]] for t in mixed["species"]]).transpose(2, 3, 1, 0)
        self.organic = ~np.array([bool(s["is_water"]) for s in subs])
        self.fading = FADE * self.loaded[:, None]
        self.kinetic = (STICKING * dryer["coil_area"] * np.sqrt(molar / (2.0 * np.pi * R * self.room)))[:, None]
        self.deposit_density = np.array([s["solid_density_220"] for s in subs])[:, None]
        self.deposit_k_ln = np.log(np.where([s["is_water"] for s in subs], 2.2, 0.3))[:, None]
        self.duct = Duct(dryer["duct_diameter"], dryer["duct_length"], self.molar, self.room)
        curve = dryer["refrigeration"]
        self.cold_x, self.cold_y = np.array(curve["x"]), np.array(curve["y"])
        self.pump_ln = np.log(dryer["pump_speed"]["x"])
        self.pump_y = np.array(dryer["pump_speed"]["y"])
        per_mole = R * self.room / self.molar[:, None]
        self.to_chamber, self.to_trap = per_mole / dryer["chamber_volume"], per_mole / dryer["trap_volume"]
        self.air_mass = AIR / (R * self.room)  # kg for each Pa m3
        self.oil_sealed = bool(dryer["oil"] > 0.0)
        self.oil_pressure = np.array([s["oil_pressure"] for s in subs])[:, None]
        self.oil_moles = dryer["oil"] / OIL_MOLAR
        self.ballast = dryer["ballast"] * ATMOSPHERE  # Pa m3/s

        # Rows of the state.
        edges = np.cumsum([0, B * S, B * self.H, B, S + 1, S + 1, S, 1, 1, S if self.oil_sealed else 0, S + 1, 1, 1, 1])
        (self.mass, self.bound, self.enthalpy, self.chamber, self.trap, self.deposit, self.coil, self.surface, self.oil,
         self.exhaust, self.air, self.heat_in, self.heat_out) = [slice(a, b) for a, b in zip(edges[:-1], edges[1:])]
        self.n = int(edges[-1])
        self.moving = self.exhaust.start  # what follows only adds up
        self.gone = np.zeros((B, S), dtype=bool)

    # -- pieces ---------------------------------------------------------------------------------------------------

    def set_points(self, t):
        r = self.case["recipe"]
        if not r["time"]:
            return 0.0, 0.0
        return np.interp(t, r["time"], r["shelf_temperature"]), np.interp(t, r["time"], r["pressure"])

    def temperature(self, mass, bound, enthalpy):
        """The enthalpy of a body is a broken line in temperature: find its cell, then it is inverted exactly."""
        profile = np.tensordot(self.h_table, mass, axes=(1, 1)).swapaxes(0, 1) + self.rest_table  # (B, P, k)
        if self.H:
            profile = profile + np.tensordot(self.bound_h_table, bound, axes=(1, 1)).swapaxes(0, 1)
        i = np.clip((profile <= enthalpy[:, None, :]).sum(1) - 1, 0, self.P - 2)
        here = np.take_along_axis(profile, i[:, None, :], 1)[:, 0]
        rise = np.take_along_axis(profile, i[:, None, :] + 1, 1)[:, 0] - here
        return self.low + self.step * (i + (enthalpy - here) / rise)

    def classes(self, y, p, total, shelf):
        """Flow of each species (B, S, k) and release of what is bound (B, H, k), heat in, heat out, wall (B, k)."""
        k, S, fw = y.shape[1], self.S, self.framework
        mass = y[self.mass].reshape(self.B, S, k)
        bound = y[self.bound].reshape(self.B, self.H, k)
        front = self.temperature(mass, bound, y[self.enthalpy])
        left = np.where(self.gone[:, :, None], 0.0, np.clip(mass / self.initial[:, :, None], 0.0, 1.0))
        framework = left[:, fw]

        i, f = cell((front - self.low) / self.step, self.P)
        f = f[:, :, None, None]
        rows = (self.body_tables[i] * (1.0 - f) + self.body_tables[i + 1] * f).transpose(2, 0, 3, 1)  # (5, B, S, k)
        pressure, pure = np.exp(rows[:2])
        s = np.clip((left - framework[:, None]) / POCKET, 0.0, 1.0)
        s[self.gone[:, fw]] = 1.0  # no body is left to lie in
        s[:, fw] = 0.0
        s = s * s * (3.0 - 2.0 * s)
        pressure = pressure + s * (pure - pressure)
        opening = self.closed + s * (self.opened - self.closed)

        i, f = cell(left * (self.G - 1), self.G)
        b = np.arange(self.B)[:, None, None]
        f = f[..., None]
        depth, area = (self.shape[b, i, :2] * (1.0 - f) + self.shape[b, i + 1, :2] * f).transpose(3, 0, 1, 2)
        conductance = area / ((self.r0 + self.a1 * depth / (1.0 + self.a2 * depth)) / opening
                              + area * self.port_resistance)
        conductance[self.gone] = 0.0
        ice = np.maximum(area[:, fw], 1e-9)
        way = self.head_way + np.where(self.gone[:, fw, None], self.dry_way, self.way / OPENNESS * depth[:, fw] / ice)
        flow = self.through_gas(pressure, p[None, :S], conductance, way, total)
        # Only the framework takes vapour back; the others stop without a corner.
        width = np.maximum(conductance, 1e-300) * (LEAVE * pressure + LEAVE_LEAST)
        stopping = width * softplus(flow / width)
        stopping[:, fw] = flow[:, fw]
        flow = np.where(self.gone[:, :, None], 0.0, stopping)
        heat_out = (flow * rows[2]).sum(1)

        release = np.zeros_like(bound)
        if self.H:
            q, frozen = self.sorption, framework[:, None]
            t = front[:, None]
            liquid = np.exp(rows[3][:, self.held])
            ka = np.minimum(q["gab_k"] * np.clip(p[None, self.held] / liquid, 0.0, 1.0), 0.98)
            rest = q["monolayer"] * q["gab_c"] * ka / ((1.0 - ka) * (1.0 + (q["gab_c"] - 1.0) * ka))
            tight = q["tight"] / (1.0 + np.exp(np.minimum(t - TIGHT_GONE, 50.0)))
            wanted = self.caught[:, :, None] * frozen + np.maximum(rest, tight) * self.solids[:, :, None] * (1.0 - frozen)
            speed = q["rate"] * np.exp(q["activation"] / R * (1.0 / 298.15 - 1.0 / t))
            release = speed * q["known"] * (bound - wanted)
            heat_out = heat_out + (release * (rows[4][:, self.held] + q["heat"])).sum(1)

        i, f = cell(left.max(1) * (self.G - 1), self.G)
        b, f = np.arange(self.B)[:, None], f[..., None]
        way, contact = (self.shape[b, i, 2:] * (1.0 - f) + self.shape[b, i + 1, 2:] * f).transpose(2, 0, 1)
        contact = np.maximum(contact, self.least_contact)
        through = self.k_frozen * contact / np.maximum(way, 1e-9)
        d = self.dryer
        kv = self.kv_area * (d["kv_contact"] + d["kv_gas"] * total / (1.0 + d["kv_bend"] * total))
        room = self.room_area + self.area_ratio * contact
        wall = (kv * shelf + through * front) / (kv + through)
        if self.sees_room:
            wall = front  # Newton on: kv (shelf - wall) + room flux(wall) = through (wall - front)
            for _ in range(4):
                i, f = cell((wall - self.low) / self.step, self.P)
                here, slope = self.flux[b, i], self.flux[b, i + 1] - self.flux[b, i]
                residual = kv * (shelf - wall) + room * (here + f * slope) - through * (wall - front)
                wall = wall + residual / (kv + through - room * slope / self.step)
        heat_in = through * (wall - front)
        if np.any(self.top > 0.0):  # from above, through the dried layer
            facing = np.where(self.on_shelf[:, None], shelf, self.room)
            open_area = np.where(framework > 0.0, area[:, fw], self.free_area)
            with np.errstate(divide="ignore"):
                heat_in = heat_in + open_area * (facing - front) / (1.0 / self.top + depth[:, fw] / self.dry_k)
        return flow, release, heat_in, heat_out, wall

    def through_gas(self, pressure, chamber, conductance, way, total):
        """kg/s of each species (B, S, k) that a conductance lets out to where the gas begins, and that gas carries off
        by diffusion and by the flow of all (Stefan's tube)."""
        molar = self.molar[:-1, None]
        g = conductance / molar  # mol/(s Pa)
        # N_i = g (p - s) = K_i [B(-Pe_i) s - B(Pe_i) q] without s: N_i = g (B(-Pe_i) p - B(Pe_i) q)/(g/K_i + B(-Pe_i))
        root = np.sqrt(molar / WATER)  # K/K_i
        ratio = g * root * (way * np.maximum(total, 1e-3))[:, None]
        pe = np.zeros_like(way)
        for _ in range(40):
            x = root * pe[:, None]
            b, small = bernoulli(x), np.abs(x) < 1e-4
            fall = np.where(small, -0.5 + x / 6.0, b * (1.0 - b) / np.where(small, 1.0, x) - b)  # of B(x)
            share = g / (ratio + b + x)
            n = share * ((b + x) * pressure - b * chamber)
            slope = root * (share * ((1.0 + fall) * pressure - fall * chamber) - n * (1.0 + fall) / (ratio + b + x))
            residual = way * n.sum(1) - pe
            step = residual / np.maximum(1.0 - way * slope.sum(1), 0.2)
            pe, before = np.clip(pe + step, SLOWEST, FASTEST), pe
            if np.all(np.abs(pe - before) < 1e-9):
                break
        x = root * pe[:, None]
        b = bernoulli(x)
        return conductance / (ratio + b + x) * ((b + x) * pressure - b * chamber)

    def air_in(self, t, total, wanted):
        """Leak, what the walls give off and the controller's bleed, kg/s."""
        d = self.dryer
        let_in = d["leak"] * np.maximum(1.0 - total / ATMOSPHERE, 0.0) * self.air_mass
        if t > 0.0:
            let_in = let_in + d["degassing"] * DEGASSING_TIME / max(t, LEAST_GAS_TIME) * self.air_mass
        if wanted > 0.0 and d["control"] == "bleed":
            band = CONTROL * wanted
            let_in = let_in + band * softplus((wanted - total) / band) / self.to_chamber[-1]
        return let_in

    def over_deposit(self, deposit, surface):
        """Of each species on the coil (S, k): pressure over it, heat given up on condensing, share that is solid."""
        i, w = cell((surface - self.trap_low) / self.trap_step, self.T)
        w = w[:, None, None]
        ln, heat, solid = (self.trap_tables[i] * (1.0 - w) + self.trap_tables[i + 1] * w).transpose(1, 2, 0)
        if self.mixed:
            there = np.maximum(deposit, 0.0)
            share = there[self.organic].sum(0) / (there.sum(0) + THIN * self.fading.sum())
            j = np.clip(np.searchsorted(self.share, share, side="right") - 1, 0, len(self.share) - 2)
            v = np.clip((share - self.share[j]) / (self.share[j + 1] - self.share[j]), 0.0, 1.0)[:, None, None]
            i, w = cell((surface - self.mixed_low) / self.mixed_step, self.mixed_tables.shape[1])
            w = w[:, None, None]
            low, high = (self.mixed_tables[r, i] * (1.0 - w) + self.mixed_tables[r, i + 1] * w for r in (j, j + 1))
            activity_ln, liquid = (low * (1.0 - v) + high * v).transpose(1, 2, 0)
            ln, solid = ln + activity_ln, np.minimum(solid, 1.0 - liquid)
        return np.exp(ln), heat, solid

    def condense(self, deposit, coil, surface, p):
        """kg/s of each species onto the deposit, W given up by it, W through it to the coil."""
        over, heat, solid = self.over_deposit(deposit, surface)
        drive = p - over
        deep = deposit / (np.abs(deposit) + self.fading)
        width = DEW * (over + DEW_LEAST)
        dew = width * (softplus(drive / width) - softplus(-over / width))
        condensed = self.kinetic * (deep * drive + (1.0 - deep) * dew)
        volume = np.maximum(deposit, 0.0) / self.deposit_density * solid
        area = self.dryer["coil_area"]
        film = BARE_FILM * area
        all_volume = film + volume.sum(0)
        k = np.exp((film * np.log(BARE_K) + (volume * self.deposit_k_ln).sum(0)) / all_volume)
        return condensed, (condensed * heat).sum(0), k * area**2 / all_volume * (surface - coil)

    def pump(self, gas, pressure, oil):
        """kg/s of each gas that the pump takes, and of solvent out of its oil: a stirred bath by Raoult's law."""
        d, ultimate = self.dryer, self.dryer["ultimate"]
        if self.oil_sealed:
            n = np.maximum(oil, 0.0) / self.molar[:-1, None]
            over = n / (self.oil_moles + n.sum(0)) * self.oil_pressure
            ultimate = ultimate + OIL_BACK * over.sum(0) + BALLAST_BACK * self.ballast / self.pump_y[-1]
        safe = np.maximum(pressure, 1e-12)
        speed = np.interp(np.log(safe), self.pump_ln, self.pump_y) * np.maximum(0.0, 1.0 - ultimate / safe)
        taken = speed * gas / d["trap_volume"]
        if not self.oil_sealed:
            return taken, None
        carrier = np.maximum(taken[-1], 0.0) / AIR + self.ballast / (R * self.room)  # mol/s of gas through the oil
        share = over.sum(0) / ATMOSPHERE
        swept = carrier * over / ATMOSPHERE / np.maximum(1.0 - share, 1.0 - BOILING) * self.molar[:-1, None]
        return taken, swept + np.maximum(share - BOILING, 0.0) * np.maximum(oil, 0.0)

    def rates(self, t, y):
        """dy/dt for y of shape (n,) or (n, k)."""
        flat = y.ndim == 1
        if flat:
            y = y[:, None]
        f = np.zeros_like(y)
        S = self.S
        chamber, trap = y[self.chamber] * self.to_chamber, y[self.trap] * self.to_trap
        total = chamber.sum(0)
        shelf, wanted = self.set_points(t)

        flow, release, heat_in, heat_out, _ = self.classes(y, chamber, total, shelf)
        f[self.mass] = -flow.reshape(self.B * S, y.shape[1])
        f[self.bound] = -release.reshape(self.B * self.H, y.shape[1])
        f[self.enthalpy] = heat_in - heat_out
        f[self.heat_in] = self.count @ heat_in
        f[self.heat_out] = self.count @ heat_out

        through = self.duct(chamber, trap)
        if wanted > 0.0 and self.dryer["control"] == "throttle":
            through = through / (1.0 + np.exp((wanted - total) / (CONTROL * wanted)))
        let_in = self.air_in(t, total, wanted)
        f[self.chamber] = -through
        f[self.chamber][:S] += np.tensordot(self.count, flow, axes=1)
        f[self.chamber][self.held] += np.tensordot(self.count, release, axes=1)
        f[self.chamber][S] += let_in
        f[self.air] = let_in

        coil, surface = y[self.coil][0], y[self.surface][0]
        condensed, given, link = self.condense(y[self.deposit], coil, surface, trap[:S])
        f[self.deposit] = condensed
        f[self.coil] = (link - self.refrigeration(coil)) / self.dryer["coil_heat_capacity"]
        f[self.surface] = (given - link) / SKIN
        taken, swept = self.pump(y[self.trap], trap.sum(0), y[self.oil])
        f[self.exhaust] = taken
        if self.oil_sealed:
            f[self.oil] = taken[:S] - swept
            f[self.exhaust][:S] = swept
        f[self.trap] = through - taken
        f[self.trap][:S] -= condensed
        return f[:, 0] if flat else f

    def refrigeration(self, coil):
        x, q = self.cold_x, self.cold_y
        beyond = np.maximum(coil - x[-1], 0.0) * (q[-1] - q[-2]) / (x[-1] - x[-2])
        return np.interp(coil, x, q) + beyond

    def jacobian(self, t, y):
        moving = self.moving
        step = 1e-7 * np.maximum(np.abs(y[:moving]), 1e-9)
        step[self.coil.start:self.surface.stop] = 1e-5
        columns = np.repeat(y[:, None], moving + 1, axis=1)
        columns[np.arange(moving), np.arange(moving)] += step
        step = columns[np.arange(moving), np.arange(moving)] - y[:moving]
        f = self.rates(t, columns)
        jacobian = np.zeros((self.n, self.n))
        jacobian[:, :moving] = (f[:, :moving] - f[:, moving:]) / step
        return jacobian

    # -- the run --------------------------------------------------------------------------------------------------

    def start(self):
        case, d = self.case, self.dryer
        y, tolerance = np.zeros(self.n), np.zeros(self.n)
        start = np.array([c["start_temperature"] for c in case["classes"]])
        i, f = cell((start - self.low) / self.step, self.P)
        h = self.h_table[i] * (1.0 - f[:, None]) + self.h_table[i + 1] * f[:, None]
        mass = self.initial.sum(1) + self.caught.sum(1)
        everything = float(self.count @ mass)
        # a hundredth of what counts as gone: the last of a species decides when it is gone
        y[self.mass], tolerance[self.mass] = self.initial.ravel(), 0.01 * GONE * self.initial.ravel()
        y[self.bound], tolerance[self.bound] = self.caught.ravel(), np.maximum(1e-5 * self.caught.ravel(), 1e-12)
        bound_h = self.bound_h_table[i] * (1.0 - f[:, None]) + self.bound_h_table[i + 1] * f[:, None]
        y[self.enthalpy] = ((self.initial * h).sum(1) + (self.caught * bound_h).sum(1)
                            + self.rest * (start - self.low))
        tolerance[self.enthalpy] = 1e-3 * (self.rest + 2000.0 * mass)
        for rows, convert in ((self.chamber, self.to_chamber), (self.trap, self.to_trap)):
            y[rows][self.S] = case["start_pressure"] / convert[self.S, 0]
            tolerance[rows] = 1e-3 / convert[:, 0]
        tolerance[self.deposit] = tolerance[self.oil] = tolerance[self.exhaust] = 1e-6 * everything
        tolerance[self.exhaust][self.S] = tolerance[self.air] = 1e-4 * everything
        rising = int(np.argmax(self.cold_y > 0.0))
        (x0, x1), (q0, q1) = self.cold_x[rising - 1:rising + 1], self.cold_y[rising - 1:rising + 1]
        y[self.coil] = y[self.surface] = x1 - q1 * (x1 - x0) / (q1 - q0) if rising > 0 else self.cold_x[0]
        tolerance[self.coil] = tolerance[self.surface] = 1e-3
        tolerance[self.heat_in] = tolerance[self.heat_out] = 1e-5 * everything * 2.8e6
        assert d["control"] in ("none", "bleed", "throttle")
        return y, tolerance

    def run(self, relative):
        """Integrates until all is gone and the targets are met; restarts where a species is gone or a target is met,
        and at the recipe's corners."""
        y, tolerance = self.start()
        y0, now, limit = y, 0.0, self.case["time_limit"]
        corners = [c for c in self.case["recipe"]["time"] if 0.0 < c < limit] + [limit]
        flat_initial = self.initial.ravel()
        asked = self.target * self.solids * np.ones((self.B, self.H))  # kg in one container
        asked[(self.caught <= 0.0) | (self.sorption["known"][..., 0] == 0.0)] = 0.0
        asked = asked.ravel()
        when, met = np.full(self.B * self.S, np.nan), np.where(asked > 0.0, np.nan, 0.0)
        hottest = np.full(self.B, -np.inf)
        calls = 0

        def falls_to(row, level, terminal=True):
            def event(_, state):
                return state[row] / level - 1.0
            event.terminal, event.direction = terminal, -1
            return event

        while now < limit and not (self.gone.all() and not np.isnan(met).any()):
            events = [falls_to(j, GONE * flat_initial[j]) for j in np.flatnonzero(~self.gone.ravel())]
            events += [falls_to(self.bound.start + j, asked[j]) for j in np.flatnonzero(np.isnan(met))]
            # The last moment at which a framework's temperature counts.
            frameworks = np.arange(self.B) * self.S + self.framework
            events += [falls_to(j, 1.0001 * LEAST_BODY * flat_initial[j], False) for j in frameworks]
            stop = next(c for c in corners if c > now)
            part = solve_ivp(self.rates, (now, stop), y, method="BDF", jac=self.jacobian, events=events,
                             rtol=relative, atol=tolerance, first_step=min(1e-4, stop - now))
            if not part.success:
                raise RuntimeError(part.message)
            calls += part.nfev
            seen = [(part.t, part.y)] + [(t, s.T) for t, s in zip(part.t_events, part.y_events) if len(t)]
            np.maximum(hottest, self.hottest(*(np.hstack(x) for x in zip(*seen))), out=hottest)
            now, y = part.t[-1], part.y[:, -1]
            fresh = ~self.gone.ravel() & (y[self.mass] / flat_initial <= 1.0001 * GONE)
            when[fresh] = now
            self.gone |= fresh.reshape(self.gone.shape)
            met[np.isnan(met) & (y[self.bound] <= asked * (1.0 + 1e-6))] = now
        when = when.reshape(self.B, self.S)
        dry = when.max(1)
        met = met.reshape(self.B, self.H)
        asked = asked.reshape(self.B, self.H)
        mass = (y[self.mass] - y0[self.mass]).reshape(self.B, self.S)
        bound = np.zeros((self.B, self.S))
        bound[:, self.held] = y[self.bound].reshape(self.B, self.H)
        return {
            "dry": bool(self.gone.all()),
            "time": now,
            "species_time": when,
            "time_dry": dry,
            "target_time": np.where(asked.any(1), np.maximum(met.max(1, initial=0.0), dry), np.nan),
            "hottest": hottest,
            "initial": self.loaded,
            "product": self.count @ (mass + self.initial),
            "bound": self.count @ bound,
            "gas": (y[self.chamber] + y[self.trap])[:self.S],
            "deposit": y[self.deposit],
            "oil": y[self.oil] if self.oil_sealed else np.zeros(self.S),
            "exhaust": y[self.exhaust][:self.S],
            "heat_in": y[self.heat_in][0],
            "heat_out": y[self.heat_out][0],
            "heat_stored": self.count @ (y[self.enthalpy] - y0[self.enthalpy]),
            "calls": calls,
        }

    def hottest(self, times, states):
        """Warmest wall of each class over some moments, while LEAST_BODY of its framework or more is there."""
        shelf = np.array([self.set_points(t)[0] for t in times])
        chamber = states[self.chamber] * self.to_chamber
        wall = self.classes(states, chamber, chamber.sum(0), shelf)[-1]
        framework = states[self.mass].reshape(self.B, self.S, -1)[:, self.framework]
        left = framework / self.initial[:, self.framework, None]
        there = ~self.gone[:, self.framework, None] & (left >= LEAST_BODY)
        return np.where(there, wall, -np.inf).max(1)


def simulate(case, relative):
    """From inputs to results, tables included: what df_run_simulate does."""
    return Model(case).run(relative)


# ---- comparison -------------------------------------------------------------------------------------------------


def replace_null(item):
    if isinstance(item, dict):
        return {k: replace_null(v) for k, v in item.items()}
    if isinstance(item, list):
        return [replace_null(v) for v in item]
    return np.nan if item is None else item


def compare(case, ours, peer):
    """Rows of (what, ours, peer, difference, allowed); differences relative, save for temperatures."""
    names = [s["name"] for s in case["substances"]]
    load = sum(ours["initial"])
    rows = []

    def relative(what, a, b):
        rows.append((what, a, b, abs(a - b) / max(abs(b), 1e-300), 0.005))

    if not ours["dry"] == peer["dry"]:
        rows.append(("all dry", ours["dry"], peer["dry"], np.inf, 0.0))
    relative("drying time, s", ours["time"], peer["time"])
    for k, c in enumerate(ours["classes"]):
        relative(f"class {k}: dry, s", c["time_dry"], peer["time_dry"][k])
        for i, name in enumerate(names):
            relative(f"class {k}: {name} gone, s", c["species_time"][i], peer["species_time"][k, i])
        if not np.isnan(c["target_time"]) or not np.isnan(peer["target_time"][k]):
            relative(f"class {k}: target met, s", c["target_time"], peer["target_time"][k])
        warm, peer_warm = c["hottest"], peer["hottest"][k]
        rows.append((f"class {k}: hottest, K", warm, peer_warm, abs(warm - peer_warm), 0.1))
    for account in ("initial", "product", "bound", "gas", "deposit", "oil", "exhaust"):
        for i, name in enumerate(names):
            if max(ours[account][i], peer[account][i]) > 1e-3 * load:
                relative(f"{account} of {name}, kg", ours[account][i], peer[account][i])
    for account in ("heat_in", "heat_out", "heat_stored"):
        relative(f"{account}, J", ours[account], peer[account])
    return rows


def main():
    parser = argparse.ArgumentParser(description="model (a) with SciPy against ours")
    parser.add_argument("case")
    parser.add_argument("--repeat", type=int, default=3)
    parser.add_argument("--tolerance", type=float, help="relative; as ours where not given")
    parser.add_argument("--verbose", action="store_true")
    options = parser.parse_args()
    with open(options.case, encoding="utf-8") as file:
        case = replace_null(json.load(file))
    ours = case["ours"]
    seconds = []
    for _ in range(options.repeat):
        begun = time.process_time()
        peer = simulate(case, options.tolerance or case["tolerance"])
        seconds.append(time.process_time() - begun)
    median = statistics.median(seconds)
    rows = compare(case, ours, peer)
    bad = [r for r in rows if not r[3] <= r[4]]
    for row in rows if options.verbose else bad:
        print("  {:<34} ours {:<14.8g} peer {:<14.8g} difference {:.2e} (allowed {:.0e})".format(*row))
    worst = max((r[3] for r in rows if "hottest" not in r[0]), default=0.0)
    warm = max((r[3] for r in rows if "hottest" in r[0]), default=0.0)
    print(f"{case['case']:<14} ours {1e3 * ours['seconds']:8.2f} ms   SciPy {1e3 * median:9.1f} ms   "
          f"ratio {median / ours['seconds']:6.0f}   largest difference {100 * worst:.3f} %, {warm:.3f} K   "
          f"{'DISAGREE' if bad else 'agree'}")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())

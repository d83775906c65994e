#!/usr/bin/env python3
"""The same model of primary drying with NumPy and SciPy: a second opinion, and something to be timed against.

    peer_model_a.py CASE.json [--repeat N] [--tolerance RTOL] [--verbose]

The case holds properties of pure substances, tables of the frozen path, shapes and the dryer's figures (dump_case.c),
and what our own run gave. Only those inputs are shared: the equations are written here again. Exit status 1 where the
two disagree.

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
STICKING = 0.05  # share of the kinetic limit at which the coil takes vapour
BARE_FILM = 1e-4  # m of deposit that is always there
SKIN = 400.0  # J/K of the deposit's surface
FADE = 1e-5  # kg over which re-evaporation ends
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


class Duct:
    """Molecular and viscous flow through a round tube with a smooth sonic limit; arrays of (species, columns)."""

    def __init__(self, diameter, length, molar_mass, temperature):
        area = np.pi / 4.0 * diameter**2
        self.root = np.sqrt(molar_mass)[:, None]
        self.molecular = area / np.sqrt(2.0 * np.pi * R * temperature) / (1.0 + 0.75 * length / diameter) * self.root
        self.peclet = molar_mass[:, None] / (R * temperature) / self.molecular
        self.viscous = np.pi * diameter**4 / (256.0 * VISCOSITY * length)
        critical = (2.0 / (GAMMA + 1.0)) ** ((GAMMA + 1.0) / (2.0 * GAMMA - 2.0))
        self.sonic = area * np.sqrt(GAMMA / (R * temperature)) * critical

    def __call__(self, p1, p2):
        t1, t2 = p1.sum(0), p2.sum(0)
        upstream = (t1**4 + t2**4) ** 0.25
        pe = self.peclet * (self.viscous * (t1**2 - t2**2) / upstream)
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
    """State (rows): masses (class, species), enthalpies (class), gas in chamber and trap (species and air each),
    deposit, coil, deposit surface, exhaust (species and air), air let in, heat in, heat out."""

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
        self.body_tables = np.stack([held, pure, vapour], axis=1)  # (P, 3, S)
        self.framework = int(np.argmax(phi))
        relative = np.sqrt(molar / WATER)
        self.closed = (phi ** case["pore_exponent"] * relative)[:, None]
        self.opened = relative[:, None]

        # Classes.
        def column(key):
            return np.array([c[key] for c in classes], dtype=float)

        self.count = column("count")
        self.initial = column("mass")[:, None] * np.array([c["mass_fraction"] for c in classes])
        shelf = column("on_shelf") > 0.0
        self.on_shelf = shelf
        self.r0, self.a1, self.a2 = (column(k)[:, None, None] for k in ("r0", "a1", "a2"))
        port = np.minimum(np.where(np.isnan(column("port_diameter")), np.inf, column("port_diameter")),
                          dryer["port_diameter"] or np.inf)
        with np.errstate(invalid="ignore"):
            conductance = (np.pi / 4.0 * port**2)[:, None] * np.sqrt(molar / (2.0 * np.pi * R * self.room)) / (
                1.0 + 0.75 * 0.05 / port)[:, None]
        self.port_resistance = np.where(shelf[:, None], 0.0, 1.0 / conductance)[:, :, None]
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
        self.k_frozen = np.exp(phi @ np.log(k_solid))
        wetted = np.minimum(1.0, column("body_volume") / column("brim_volume") + 0.1)
        self.rest = column("glass_mass") * wetted * GLASS + column("solids") * SOLUTE
        self.rest_table = (self.rest[:, None] * self.step * np.arange(P))[:, :, None]

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
        self.leak = dryer["leak"] * AIR / (R * self.room)

        # Rows of the state.
        edges = np.cumsum([0, B * S, B, S + 1, S + 1, S, 1, 1, S + 1, 1, 1, 1])
        (self.mass, self.enthalpy, self.chamber, self.trap, self.deposit, self.coil, self.surface, self.exhaust,
         self.air, self.heat_in, self.heat_out) = [slice(a, b) for a, b in zip(edges[:-1], edges[1:])]
        self.n = int(edges[-1])
        self.moving = int(edges[7])  # what follows only adds up
        self.gone = np.zeros((B, S), dtype=bool)

    # -- pieces ---------------------------------------------------------------------------------------------------

    def set_points(self, t):
        r = self.case["recipe"]
        if not r["time"]:
            return 0.0, 0.0
        return np.interp(t, r["time"], r["shelf_temperature"]), np.interp(t, r["time"], r["pressure"])

    def temperature(self, mass, enthalpy):
        """The enthalpy of a body is a broken line in temperature: find its cell, then it is inverted exactly."""
        profile = np.tensordot(self.h_table, mass, axes=(1, 1)).swapaxes(0, 1) + self.rest_table  # (B, P, k)
        i = np.clip((profile <= enthalpy[:, None, :]).sum(1) - 1, 0, self.P - 2)
        here = np.take_along_axis(profile, i[:, None, :], 1)[:, 0]
        rise = np.take_along_axis(profile, i[:, None, :] + 1, 1)[:, 0] - here
        return self.low + self.step * (i + (enthalpy - here) / rise)

    def classes(self, y, p, total, shelf):
        """Flow of each species (B, S, k), heat in, heat out and wall temperature (B, k)."""
        k = y.shape[1]
        mass = y[self.mass].reshape(self.B, self.S, k)
        front = self.temperature(mass, y[self.enthalpy])
        left = np.clip(mass / self.initial[:, :, None], 0.0, 1.0)

        i, f = cell((front - self.low) / self.step, self.P)
        f = f[:, :, None, None]
        rows = (self.body_tables[i] * (1.0 - f) + self.body_tables[i + 1] * f).transpose(2, 0, 3, 1)  # (3, B, S, k)
        pressure, pure = np.exp(rows[:2])
        framework = np.where(self.gone[:, self.framework, None], 0.0, left[:, self.framework])[:, None]
        s = np.clip((left - framework) / POCKET, 0.0, 1.0)
        s[:, self.framework] = 0.0
        s = s * s * (3.0 - 2.0 * s)
        pressure = pressure + s * (pure - pressure)
        opening = self.closed + s * (self.opened - self.closed)

        i, f = cell(left * (self.G - 1), self.G)
        b = np.arange(self.B)[:, None, None]
        f = f[..., None]
        depth, area = (self.shape[b, i, :2] * (1.0 - f) + self.shape[b, i + 1, :2] * f).transpose(3, 0, 1, 2)
        resistance = (self.r0 + self.a1 * depth / (1.0 + self.a2 * depth)) / opening + area * self.port_resistance
        flow = area / resistance * np.maximum(pressure - p[None, :self.S], 0.0)
        flow[self.gone] = 0.0
        heat_out = (flow * rows[2]).sum(1)

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
        return flow, through * (wall - front), heat_out, wall

    def rates(self, t, y):
        """dy/dt for y of shape (n,) or (n, k)."""
        flat = y.ndim == 1
        if flat:
            y = y[:, None]
        f = np.zeros_like(y)
        S = self.S
        chamber, trap = y[self.chamber] * self.to_chamber, y[self.trap] * self.to_trap
        total, trap_total = chamber.sum(0), trap.sum(0)
        shelf, wanted = self.set_points(t)

        flow, heat_in, heat_out, _ = self.classes(y, chamber, total, shelf)
        f[self.mass] = -flow.reshape(self.B * S, -1)
        f[self.enthalpy] = heat_in - heat_out
        f[self.heat_in] = self.count @ heat_in
        f[self.heat_out] = self.count @ heat_out
        vapour = np.tensordot(self.count, flow, axes=1)

        through = self.duct(chamber, trap)
        let_in = self.leak
        if wanted > 0.0 and self.dryer["control"] == "throttle":
            through = through / (1.0 + np.exp((wanted - total) / (CONTROL * wanted)))
        elif wanted > 0.0 and self.dryer["control"] == "bleed":
            band = CONTROL * wanted
            let_in = let_in + band * np.logaddexp(0.0, (wanted - total) / band) / self.to_chamber[-1]
        f[self.chamber] = -through
        f[self.chamber][:S] += vapour
        f[self.chamber][S] += let_in
        f[self.air] = let_in

        coil, surface, deposit = y[self.coil][0], y[self.surface][0], y[self.deposit]
        i, w = cell((surface - self.trap_low) / self.trap_step, self.T)
        w = w[:, None, None]
        ln, heat, solid = (self.trap_tables[i] * (1.0 - w) + self.trap_tables[i + 1] * w).transpose(1, 2, 0)
        there = np.maximum(deposit, 0.0)
        drive = trap[:S] - np.exp(ln)
        condensed = self.kinetic * drive * np.where(drive < 0.0, there / (there + FADE), 1.0)
        volume = there / self.deposit_density * solid
        all_volume = volume.sum(0)
        weighted = (volume * self.deposit_k_ln).sum(0)
        k = np.where(all_volume > 0.0, np.exp(weighted / np.where(all_volume > 0.0, all_volume, 1.0)), 2.0)
        area = self.dryer["coil_area"]
        link = area * k / (all_volume / area + BARE_FILM) * (surface - coil)
        f[self.deposit] = condensed
        f[self.coil] = (link - self.refrigeration(coil)) / self.dryer["coil_heat_capacity"]
        f[self.surface] = ((condensed * heat).sum(0) - link) / SKIN
        pumped = self.pump(trap_total) * y[self.trap] / self.dryer["trap_volume"]
        f[self.exhaust] = pumped
        f[self.trap] = through - pumped
        f[self.trap][:S] -= condensed
        return f[:, 0] if flat else f

    def refrigeration(self, coil):
        x, q = self.cold_x, self.cold_y
        beyond = np.maximum(coil - x[-1], 0.0) * (q[-1] - q[-2]) / (x[-1] - x[-2])
        return np.interp(coil, x, q) + beyond

    def pump(self, pressure):
        safe = np.maximum(pressure, 1e-12)
        speed = np.interp(np.log(safe), self.pump_ln, self.pump_y)
        return speed * np.maximum(0.0, 1.0 - self.dryer["ultimate"] / safe)

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
        mass = self.initial.sum(1)
        everything = float(self.count @ mass)
        # a hundredth of what counts as gone: the last of a species decides when it is gone
        y[self.mass], tolerance[self.mass] = self.initial.ravel(), 0.01 * GONE * self.initial.ravel()
        y[self.enthalpy] = (self.initial * h).sum(1) + self.rest * (start - self.low)
        tolerance[self.enthalpy] = 1e-3 * (self.rest + 2000.0 * mass)
        for rows, convert in ((self.chamber, self.to_chamber), (self.trap, self.to_trap)):
            y[rows][self.S] = case["start_pressure"] / convert[self.S, 0]
            tolerance[rows] = 1e-3 / convert[:, 0]
        tolerance[self.deposit] = tolerance[self.exhaust] = 1e-6 * everything
        tolerance[self.exhaust][self.S] = tolerance[self.air] = 1e-4 * everything
        rising = int(np.argmax(self.cold_y > 0.0))
        (x0, x1), (q0, q1) = self.cold_x[rising - 1:rising + 1], self.cold_y[rising - 1:rising + 1]
        y[self.coil] = y[self.surface] = x1 - q1 * (x1 - x0) / (q1 - q0) if rising > 0 else self.cold_x[0]
        tolerance[self.coil] = tolerance[self.surface] = 1e-3
        tolerance[self.heat_in] = tolerance[self.heat_out] = 1e-5 * everything * 2.8e6
        assert d["control"] in ("none", "bleed", "throttle")
        return y, tolerance

    def run(self, relative):
        """Integrates until all is gone; restarts where a species is gone and at the recipe's corners."""
        y, tolerance = self.start()
        y0, now, limit = y, 0.0, self.case["time_limit"]
        corners = [c for c in self.case["recipe"]["time"] if 0.0 < c < limit] + [limit]
        flat_initial = self.initial.ravel()
        when = np.full(self.B * self.S, np.nan)
        hottest = {least: np.full(self.B, -np.inf) for least in (0.0, LEAST_BODY)}
        calls = 0
        while now < limit and not self.gone.all():
            watched = np.flatnonzero(~self.gone.ravel())
            events = []
            for j in watched:
                def event(_, state, j=j):
                    return state[j] / flat_initial[j] - GONE
                event.terminal, event.direction = True, -1
                events.append(event)
            stop = next(c for c in corners if c > now)
            part = solve_ivp(self.rates, (now, stop), y, method="BDF", jac=self.jacobian, events=events,
                             rtol=relative, atol=tolerance, first_step=min(1e-4, stop - now))
            if not part.success:
                raise RuntimeError(part.message)
            calls += part.nfev
            for least, kept in hottest.items():
                np.maximum(kept, self.hottest(part.t, part.y, least), out=kept)
            now, y = part.t[-1], part.y[:, -1]
            left = y[self.mass] / flat_initial
            fresh = ~self.gone.ravel() & (left <= 1.0001 * GONE)
            when[fresh] = now
            self.gone |= fresh.reshape(self.gone.shape)
        when = when.reshape(self.B, self.S)
        mass = (y[self.mass] - y0[self.mass]).reshape(self.B, self.S)
        return {
            "dry": bool(self.gone.all()),
            "time": now,
            "species_time": when,
            "time_dry": when.max(1),
            "hottest": hottest[0.0],
            "hottest_body": hottest[LEAST_BODY],
            "initial": self.count @ self.initial,
            "product": self.count @ (mass + self.initial),
            "gas": (y[self.chamber] + y[self.trap])[:self.S],
            "deposit": y[self.deposit],
            "exhaust": y[self.exhaust][:self.S],
            "heat_in": y[self.heat_in][0],
            "heat_out": y[self.heat_out][0],
            "heat_stored": self.count @ (y[self.enthalpy] - y0[self.enthalpy]),
            "calls": calls,
        }

    def hottest(self, times, states, least):
        """Warmest wall of each class over some moments, while the share `least` of its framework or more is there."""
        shelf = np.array([self.set_points(t)[0] for t in times])
        chamber = states[self.chamber] * self.to_chamber
        wall = self.classes(states, chamber, chamber.sum(0), shelf)[3]
        framework = states[self.mass].reshape(self.B, self.S, -1)[:, self.framework]
        left = framework / self.initial[:, self.framework, None]
        there = ~self.gone[:, self.framework, None] & (left >= least)
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
        warm, peer_warm = c["hottest_body"], peer["hottest_body"][k]
        rows.append((f"class {k}: hottest, K", warm, peer_warm, abs(warm - peer_warm), 0.1))
    for account in ("initial", "product", "gas", "deposit", "exhaust"):
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
        begun = time.perf_counter()
        peer = simulate(case, options.tolerance or case["tolerance"])
        seconds.append(time.perf_counter() - begun)
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

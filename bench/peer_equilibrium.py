#!/usr/bin/env python3
"""One phase equilibrium with NumPy and SciPy: a second opinion, and something to be timed against.

    peer_equilibrium.py CASE.json [--repeat N] [--verbose]

The case holds the pairs' parameters at the temperature, ln K of the solids (dump_equilibrium.c) and what ours gave.
The equations are written here again: G/RT over the moles of each component in two liquids and of each allowed solid
is minimised by SLSQP, with the potentials as gradient, under the mass balances. Exit status 1 where the amounts
differ or ours has the higher energy.

Cold: SLSQP stays in the basin it starts in, so it starts from 2 n + 1 points (n components), and the lowest end is
kept: all in one liquid beside a little rich in a component, most of a component in a liquid of its own (each in
turn), and most in crystals. Where two liquids part, some starts end with one. Warm: one start, from the phases half a
kelvin above.

That the phases are the global minimum is also shown without SciPy: the plane of our potentials meets the energy at z,
and no solid and no liquid on a grid of compositions lies below it.
"""
import argparse
import itertools
import json
import statistics
import sys
import time
import warnings

import numpy as np
from scipy.optimize import minimize

BALANCE = 1e-10  # moles of a component by which an end may miss the balance
LEAST = 1e-13  # moles of a component in a liquid
AMOUNT, ENERGY = 1e-5, 1e-9  # allowed: difference in any amount, energy of ours above the peer's
SAME = 1e-3  # mole fraction: liquids nearer than that are one
GONE = 1e-7  # moles of a liquid that counts as gone
BELOW = 1e-8  # RT per mole below the plane that refutes ours
OPTIONS = {"ftol": 1e-13, "maxiter": 500}  # 1e-12 leaves up to 3e-7 mol, 1e-15 takes twice as long
GRID = {2: 4000, 3: 200, 4: 60}  # divisions of a side


class Problem:
    """Unknowns: moles in the first liquid, in the second, of each allowed solid."""

    def __init__(self, case):
        self.z = np.array(case["z"])
        self.n = n = len(self.z)
        self.allowed = [k for k, s in enumerate(case["solids"]) if s["allowed"]]
        self.solids = len(case["solids"])
        solids = [case["solids"][k] for k in self.allowed]
        self.constant = np.array([s["constant_ln"] for s in solids])
        self.formula = np.array([s["formula"] for s in solids])
        tau = np.array(case["tau"])
        self.g = np.exp(-np.array(case["alpha"]) * tau)
        self.tau_g = tau * self.g
        cold = np.array([case[f"cold_{k}"] for k in range(3)])
        self.cold = cold + np.array([1.0, -1.0, 1.0])[:, None, None] * cold.transpose(0, 2, 1)  # of all i, j
        self.corrected = bool(self.cold.any())
        self.balance = np.hstack([np.eye(n), np.eye(n), self.formula.T])
        self.most = np.concatenate([self.z, self.z, np.min(
            np.where(self.formula > 0.0, self.z / np.where(self.formula > 0.0, self.formula, 1.0), np.inf), axis=1)])

    def potentials(self, x):
        """ln(x gamma) in liquids of mole fractions x (rows)."""
        c = x @ self.g
        ratio = x @ self.tau_g / c
        weight = x / c
        mu = np.log(x) + ratio + weight @ self.tau_g.T - (weight * ratio) @ self.g.T
        if not self.corrected:
            return mu
        d = x[:, :, None] - x[:, None, :]
        u = x[:, :, None] * x[:, None, :]
        k0, k1, k2 = self.cold
        power = k0 + d * (k1 + d * k2)
        first = (x[:, None, :] * power + u * (k1 + 2.0 * d * k2)).sum(2)
        return mu + 0.5 * (u * power).sum((1, 2))[:, None] + first - (x * first).sum(1)[:, None]

    def energy(self, v):
        """G/RT over pure liquids, and its gradient."""
        liquid = v[:2 * self.n].reshape(2, self.n)
        mu = self.potentials(liquid / liquid.sum(1)[:, None])
        gradient = np.concatenate([mu.ravel(), self.constant])
        return gradient @ v, gradient

    def descend(self, start):
        return minimize(self.energy, start, jac=True, method="SLSQP", bounds=self.bounds(), options=OPTIONS,
                        constraints={"type": "eq", "fun": self.left, "jac": lambda v: self.balance}).x

    def bounds(self):
        low = np.concatenate([np.full(2 * self.n, LEAST), np.zeros(len(self.allowed))])
        return np.stack([low, self.most], axis=1)

    def left(self, v):
        return self.balance @ v - self.z

    def starts(self):
        n, none = self.n, np.zeros(len(self.allowed))
        for share in (0.02, 0.9):
            for i in range(n):
                second = 0.02 * share * self.z
                second[i] = share * self.z[i]
                yield np.concatenate([self.z - second, second, none])
        crystals = none.copy()
        for k, nu in enumerate(self.formula):
            if (nu > 0.0).sum() == 1:
                crystals[k] = 0.9 * self.most[2 * n + k]
        rest = self.z - crystals @ self.formula
        yield np.concatenate([0.6 * rest, 0.4 * rest, crystals])

    def cold_start(self):
        """The ends of all starts, and which is the lowest of those that hold the balance."""
        ends = [self.descend(start) for start in self.starts()]
        energies = [self.energy(v)[0] if np.abs(self.left(v)).max() < BALANCE else np.inf for v in ends]
        return ends, np.array(energies), ends[int(np.argmin(energies))]

    def warm_start(self, guess):
        liquid = np.full((2, self.n), LEAST)
        for row, amounts in zip(liquid, guess["liquid"]):
            row[:] = amounts
        return self.descend(np.concatenate([liquid.ravel(), np.array(guess["solid"])[self.allowed]]))

    def phases(self, v):
        solid = np.zeros(self.solids)
        solid[self.allowed] = v[2 * self.n:]
        return solid, one_each(v[:2 * self.n].reshape(2, self.n))

    def lowest_below(self, plane):
        """The lowest point of all candidates under a plane of potentials, in RT per mole."""
        m = GRID[self.n]
        bars = np.array(list(itertools.combinations(range(m + self.n - 1), self.n - 1)))
        ends = np.hstack([np.full((len(bars), 1), -1), bars, np.full((len(bars), 1), m + self.n - 1)])
        x = np.maximum((np.diff(ends, axis=1) - 1) / m, 1e-9)
        x /= x.sum(1)[:, None]
        lowest = min(((x[k:k + 4096] * (self.potentials(x[k:k + 4096]) - plane)).sum(1)).min()
                     for k in range(0, len(x), 4096))
        return min(lowest, ((self.constant - self.formula @ plane) / self.formula.sum(1)).min())


def one_each(liquids):
    """Liquids, richest in the first component first; those next to nothing left out, two of a kind made one."""
    out = []
    for liquid in sorted((l for l in map(np.asarray, liquids) if l.sum() > GONE), key=lambda l: -l[0] / l.sum()):
        if out and np.abs(out[-1] / out[-1].sum() - liquid / liquid.sum()).max() < SAME:
            out[-1] = out[-1] + liquid
        else:
            out.append(liquid)
    return out


def difference(a, b):
    """Largest difference in any amount of two sets of phases."""
    if len(a[1]) != len(b[1]):
        return np.inf
    return max(np.abs(x - y).max() for x, y in [(a[0], b[0]), *zip(a[1], b[1])])


def timed(action, repeat):
    seconds = []
    for _ in range(repeat):
        begun = time.perf_counter()
        result = action()
        seconds.append(time.perf_counter() - begun)
    return result, statistics.median(seconds)


def main():
    parser = argparse.ArgumentParser(description="one phase equilibrium with SciPy against ours")
    parser.add_argument("case")
    parser.add_argument("--repeat", type=int, default=3, help="3 N cold and 10 N warm runs are timed")
    parser.add_argument("--verbose", action="store_true")
    options = parser.parse_args()
    with open(options.case, encoding="utf-8") as file:
        case = json.load(file)
    warnings.filterwarnings("ignore", message="Values in x were outside bounds")
    ours = case["ours"]
    problem = Problem(case)
    (ends, energies, cold), cold_seconds = timed(problem.cold_start, 3 * options.repeat)
    warm, warm_seconds = timed(lambda: problem.warm_start(case["guess"]), 10 * options.repeat)
    mine = (np.array(ours["solid"]), one_each(ours["liquid"]))
    energy = energies.min()
    amount = difference(mine, problem.phases(cold))
    plane = np.array(ours["activity_ln"])
    below, gap = problem.lowest_below(plane), abs(problem.z @ plane - ours["energy"])
    if options.verbose:
        print("  ours ", mine, "\n  SciPy", problem.phases(cold), "\n  warm ", problem.phases(warm))
        for end, height in zip(ends, energies):
            print(f"  one start: G/RT above the lowest {height - energy:.2e}, balance "
                  f"{np.abs(problem.left(end)).max():.1e}, amounts {difference(mine, problem.phases(end)):.1e}")
        print(f"  warm: {problem.energy(warm)[0] - energy:.2e}, amounts {difference(mine, problem.phases(warm)):.1e}")
        print(f"  lowest above the plane of ours {below:.1e}, from it to the energy {gap:.1e}")
    bad = not (amount <= AMOUNT and ours["energy"] - energy <= ENERGY and ours["energy_warm"] - energy <= ENERGY
               and below > -BELOW and gap <= ENERGY)
    found = (energies - energy < ENERGY).sum()
    print(f"{case['case']:<19} ours cold {1e6 * ours['cold']:5.1f} us, warm {1e6 * ours['warm']:5.1f} us   "
          f"SciPy cold {1e3 * cold_seconds:6.1f} ms ({found} of {len(ends)} starts find it), warm "
          f"{1e3 * warm_seconds:5.1f} ms   ratio {cold_seconds / ours['cold']:6.0f}, "
          f"{warm_seconds / ours['warm']:5.0f}   G/RT {ours['energy'] - energy:+.0e}, amounts {amount:.0e} mol   "
          f"{'DISAGREE' if bad else 'agree'}")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())

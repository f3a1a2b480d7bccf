"""Search for the borders of the spectral bands: print edges in nm and the CIEDE2000 they cost against 5 nm.

Run by hand: python tests/reference/choose_bands.py [BANDS]. The edges in render/colour.py come from a run with other
random cases; their cost here is printed last (.717, where the best of 8 bands found here costs .708).

Cost of a set of edges: mean and worst difference over random pigments in films over plaster, twice: once
with spectra upsampled from sRGB as the program does, once with smooth spectra that no basis made.
"""

from __future__ import annotations

import sys
from itertools import product

import numpy as np
from numpy.typing import NDArray

from render import colour

Array = NDArray[np.float64]
CASES = 400


def smooth(rng: np.random.Generator) -> Array:
    """Reflectances (CASES, 81) with a step and a hump, like measured pigments."""
    nm = colour.wavelengths_nm()
    step = 1 / (1 + np.exp(-(nm - rng.uniform(430, 670, (CASES, 1))) / rng.uniform(12, 40, (CASES, 1))))
    hump = np.exp(-(((nm - rng.uniform(420, 680, (CASES, 1))) / rng.uniform(25, 60, (CASES, 1))) ** 2))
    level = rng.uniform(0.05, 0.3, (CASES, 1)) + rng.uniform(-0.2, 0.6, (CASES, 1)) * step
    return np.clip(level + rng.uniform(-0.15, 0.4, (CASES, 1)) * hump, 0.03, 0.85)


class Trial:
    """Random cases, and their colours computed at 5 nm."""

    def __init__(self, rng: np.random.Generator) -> None:
        """Draw the cases."""
        self.weights = colour.xyz_weights()
        self.basis = colour.upsampling_basis()
        self.mils = 10 ** rng.uniform(-2, 1, CASES)
        masstone = colour.srgb_to_linear(rng.uniform(0.06, 0.8, (CASES, 3)))
        tint = masstone + (0.88 - masstone) * rng.uniform(0.25, 0.8, (CASES, 1))
        plaster = colour.srgb_to_linear(rng.uniform(0.35, 0.95, (CASES, 3)))
        self.linear = (masstone, tint, plaster)
        alone, ground = smooth(rng), np.clip(0.35 + 0.6 * smooth(rng), 0, 0.95)
        self.smooth = (alone, alone + (0.88 - alone) * rng.uniform(0.3, 0.7, (CASES, 1)), ground)
        fine = tuple(value @ self.basis.T for value in self.linear)
        self.truths = [self.lab(self.glazed(case), self.weights) for case in (fine, self.smooth)]

    def glazed(self, case: tuple[Array, ...]) -> Array:
        """Films of the pigments over the plasters."""
        masstone, tint, plaster = case
        return colour.film_exact(plaster, *colour.pigment_ks(masstone, tint, 0.1), self.mils)

    def lab(self, seen: Array, weights: Array) -> Array:
        """CIELAB of reflectances, by weights (bands, 3)."""
        return colour.xyz_to_lab(seen @ weights, weights.sum(axis=0))

    def cost(self, edges: Array) -> float:
        """Weighted mean and worst difference; edges are places in the table of wavelengths."""
        member = (np.searchsorted(edges, np.arange(81), side="right") == np.arange(edges.size + 1)[:, None]) * 1.0
        within = member * self.weights.sum(axis=1)
        average = within / within.sum(axis=1, keepdims=True)
        weights = member @ self.weights
        forth = colour._XYZ_TO_RGB @ colour.adaptation(weights.sum(axis=0)) @ weights.T
        basis = average @ self.basis
        basis = basis - np.linalg.pinv(forth) @ (forth @ basis - np.eye(3))
        lacking = max(0.0, 0.003 - basis.min())
        cases = (tuple(value @ np.clip(basis, 1e-4, 1).T for value in self.linear),
                 tuple(value @ average.T for value in self.smooth))  # fmt: skip
        total = 300 * lacking
        for case, truth, factor in zip(cases, self.truths, (2.0, 1.0), strict=True):
            difference = colour.delta_e(self.lab(self.glazed(case), weights), truth)
            total += factor * (difference.mean() + 0.1 * difference.max())
        return float(total)


def search(trial: Trial, edges: Array) -> tuple[float, Array]:
    """Move one edge at a time while that lowers the cost."""
    best, moved = trial.cost(edges), True
    while moved:
        moved = False
        for place, step in product(range(edges.size), (-4, -2, -1, 1, 2, 4)):
            other = edges.copy()
            other[place] += step
            if other[0] < 1 or other[-1] > 79 or np.any(np.diff(other) < 1):
                continue
            cost = trial.cost(other)
            if cost < best - 1e-6:
                best, edges, moved = cost, other, True
    return best, edges


def main() -> None:
    """Start from bands of equal weight, shaken a little, five times, and print the best."""
    bands = int(sys.argv[1]) if len(sys.argv) > 1 else 9
    rng = np.random.default_rng(5)
    trial = Trial(rng)
    seen = np.cumsum(trial.weights.sum(axis=1)) / trial.weights.sum()
    found = []
    for shake in (0.0, 0.3, 0.3, 0.3, 0.3):
        shares = (np.arange(1, bands) + rng.uniform(-shake, shake, bands - 1)) / bands
        edges = np.searchsorted(seen, shares)
        for place in range(1, bands - 1):
            edges[place] = max(edges[place], edges[place - 1] + 1)
        found.append(search(trial, edges))
    cost, edges = min(found, key=lambda one: one[0])
    print(f"{bands} bands, cost {cost:.3f}, edges in nm:", ", ".join(f"{380 + 5 * edge - 2.5:.1f}" for edge in edges))
    now = (np.array(colour.BAND_EDGES_NM) - 377.5) / 5
    print(f"render/colour.py: {now.size + 1} bands, cost {trial.cost(now.astype(int)):.3f}")


if __name__ == "__main__":
    main()

# SPDX-License-Identifier: GPL-3.0-or-later
"""Rows about inversions, and the same methods written with NumPy and SciPy, step by step as their headers in
cpp/sievelight/distribution describe them: the quick look (Tikhonov by block pivoting, strength by evidence) and the
sampler (Hamiltonian moves in eigen-coordinates, strength drawn along)."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from bench_timing import Row, Target, interleave, ratio, require, row
from numpy.typing import NDArray
from scipy import linalg

import sievelight as sl
from sievelight import distribution

Array = NDArray[np.float64]
POINTS = 200


def curve(seed: int = 1) -> sl.Curve:
    """Spheres, log-normal around 12 nm (form factor: Rayleigh 1911), 2 % and more of noise, a flat background."""
    q = np.geomspace(0.05, 3.0, POINTS)
    x = np.linspace(-4, 4, 161)
    diameter = 12.0 * np.exp(0.2 * x)
    volume = np.pi / 6 * diameter**3
    y = np.multiply.outer(q, diameter / 2)
    form = (3 * (np.sin(y) - y * np.cos(y)) / y**3) ** 2
    weight = np.exp(-0.5 * x**2)
    intensity = form @ (weight * volume) / (weight.sum())
    intensity = 30.0 * intensity / intensity[0] + 0.01
    u = np.sqrt((0.02 * intensity) ** 2 + (0.002) ** 2)
    noisy = intensity + u * np.random.default_rng(seed).standard_normal(q.size)
    return sl.Curve(q_per_nm=q, intensity=noisy, private_u=u, unit="1/cm")


@dataclass
class Reduced:
    """Whitened kernel and data in the few rows that carry anything."""

    m: Array
    y: Array
    rest: float
    points: int


def reduced(kernel: Array, intensity: Array, u: Array) -> Reduced:
    """Whitening with a free flat level, then a rank-revealing QR factorisation."""
    flat = 10.0 * np.abs(intensity).max()
    root = linalg.cholesky(np.diag(u**2) + flat**2 * np.ones((u.size, u.size)), lower=True)
    ceiling = np.abs(intensity) + 5 * u
    most = (ceiling[:, None] / np.maximum(kernel, 1e-300)).min(axis=0)
    white = linalg.solve_triangular(root, kernel * most, lower=True)
    q, r, order = linalg.qr(white, mode="economic", pivoting=True)
    rank = int(np.argmax(np.append(np.abs(np.diag(r)) <= 1e-3, True)))
    m = np.empty((rank, kernel.shape[1]))
    m[:, order] = r[:rank]
    data = linalg.solve_triangular(root, intensity, lower=True)
    y = q[:, :rank].T @ data
    return Reduced(m / most, y, max(0.0, data @ data - y @ y), u.size)


def non_negative(h: Array, b: Array, start: NDArray[np.bool_]) -> Array:
    """Block principal pivoting (J. Portugal, J. Judice, L. Vicente, Math. Comput. 63 (1994) 625, from memory)."""
    unit = 1 / np.sqrt(np.diag(h))
    h, b = h * unit * unit[:, None], b * unit
    tolerance = 1e-9 * np.abs(b).max()
    free = start.copy()
    for _ in range(60):
        x = np.zeros_like(b)
        if free.any():
            x[free] = linalg.cho_solve(linalg.cho_factor(h[np.ix_(free, free)]), b[free])
        wrong = np.where(free, x < 0, h @ x - b < -tolerance)
        if not wrong.any():
            return x * unit
        free = free ^ wrong
    raise AssertionError("the pivoting of the peer went in circles")


@dataclass
class Look:
    """What the quick look says: volume per size, its bands under four weights, cumulative, curve, sizes, resolution."""

    x: Array
    weighted: list[Array]
    cumulative: Array
    fit: Array
    x50: Array
    resolution: Array


def look(kernel: Array, intensity: Array, u: Array, diameter: Array, window: sl.Range, draws: int = 200) -> Look:
    """The fit, and what is told of the window from 200 draws around it: the outputs of our result that take time."""
    x, data, root = quick_look(kernel, intensity, u)
    drawn = np.maximum(x[:, None] + root @ np.random.default_rng(1).standard_normal((root.shape[1], draws)), 0.0)
    seen = (diameter >= 0.999 * window.low) & (diameter <= 1.001 * window.high)
    apart = (np.log(diameter[seen])[:, None] - np.log(diameter)) / 0.1
    smooth = np.exp(-0.5 * apart**2)
    smooth /= smooth.sum(axis=1)[:, None]
    fit = kernel @ drawn
    density = (smooth @ drawn) / diameter[seen, None]
    diameter, drawn = diameter[seen], drawn[seen]
    probabilities = (0.025, 0.158655, 0.5, 0.841345, 0.975)
    bands = []
    for power in (0, -3, -1, 3):
        weighted = density * diameter[:, None] ** float(power)
        bands.append(np.quantile(weighted / np.trapezoid(weighted, diameter, axis=0), probabilities, axis=1))
    cumulative = (np.cumsum(drawn, axis=0) - 0.5 * drawn) / drawn.sum(axis=0)  # half of a hat lies below its top
    half = np.array([np.interp((0.1, 0.5, 0.9), c, diameter) for c in cumulative.T])
    resolution = (smooth @ root) @ (root.T @ data.m.T) @ data.m
    return Look(
        x,
        bands,
        np.quantile(cumulative, probabilities, axis=1),
        np.quantile(fit, probabilities, axis=1),
        np.quantile(half, probabilities, axis=0),
        resolution,
    )


def quick_look(kernel: Array, intensity: Array, u: Array) -> tuple[Array, Reduced, Array]:
    """Non-negative Tikhonov fit with its strength by the largest evidence; the volume per size and a root of its
    covariance."""
    data = reduced(kernel, intensity, u)
    n = kernel.shape[1]
    gram, b = data.m.T @ data.m, data.m.T @ data.y
    d = np.diag(np.full(n, -2.0)) + np.diag(np.ones(n - 1), 1) + np.diag(np.ones(n - 1), -1)
    shape = np.trace(gram) / n * (d.T @ d)
    fits: list[tuple[float, float, Array]] = []
    free = np.zeros(n, bool)

    def add(log10: float) -> None:
        nonlocal free
        prior = 10.0**log10 * shape
        x = non_negative(gram + prior, b, free)
        free = x > 0
        if not free.any():
            return
        misfit = data.m @ x - data.y
        on = np.ix_(free, free)
        root_prior, root_all = linalg.cholesky(prior[on]), linalg.cholesky(gram[on] + prior[on])
        evidence = -0.5 * (misfit @ misfit + data.rest + x @ prior @ x)
        evidence += np.log(np.diag(root_prior)).sum() - np.log(np.diag(root_all)).sum()
        fits.append((evidence, log10, x))

    for log10 in np.arange(4.0, -8.5, -1.0):
        add(log10)
        if len(fits) > 2 and max(fits[-1][0], fits[-2][0]) < max(f[0] for f in fits) - 30:
            break
    top = max(fits, key=lambda f: f[0])[1]
    for beside in (top - 0.5, top + 0.5):
        add(beside)
    _, log10, x = max(fits, key=lambda f: f[0])
    free = np.flatnonzero(x > 0)
    root = np.zeros((n, free.size))
    whole = (gram + 10.0**log10 * shape)[np.ix_(free, free)]
    root[free] = linalg.solve_triangular(linalg.cholesky(whole), np.eye(free.size))
    return x, data, root


def preview_row(sizes: int, repeats: int) -> Row:
    """The quick look: 200 points, about `sizes` sizes."""
    c = curve()
    window = window_for(c, sizes)
    kernel = distribution.make_kernel(c, diameter_nm=window)
    volume = np.asarray(kernel.volume_nm3)
    scale = volume.max()
    diameter = np.asarray(kernel.grid.diameter_nm)

    def ours() -> sl.SizeDistribution:
        return sl.invert(c, kernel=kernel, method="evidence", look_for_order=False)

    def peer() -> Look:
        return look(volume / scale, c.intensity, c.private_u, diameter, kernel.grid.window_nm)

    theirs, mine = peer().x50[:, 1], ours().x50_nm
    require(abs(theirs[2] / mine.value - 1) < 0.02, "median size of the quick look against NumPy")
    require(
        0.7 < (theirs[3] - theirs[1]) / (mine.band68.high - mine.band68.low) < 1.4,
        "width of the band of the median size against NumPy",
    )
    # The look for peaks of an ordered structure is a step before the inversion; the row times the inversion.
    times = interleave({"ours": ours, "NumPy and SciPy": peer}, repeats)
    out = row(f"preview inversion with its bands, {POINTS} points × {diameter.size} sizes, strength by evidence", times)
    out.targets = [
        Target("× NumPy", ratio(times, "NumPy and SciPy", "ours"), 10.0, True),
        Target("ms", 1e3 * out.ours, 5.0, False),
        Target("ms", 1e3 * out.ours, 1.0, False, must=False),
    ]
    return out


def window_for(c: sl.Curve, sizes: int) -> tuple[float, float]:
    """A window of diameters around 12 nm whose grid has about so many sizes."""
    low, high = 3.0, 60.0
    step = np.log(high / low) / max(
        1, np.asarray(distribution.make_kernel(c, diameter_nm=(low, high)).grid.diameter_nm).size
    )
    half = 0.5 * step * sizes
    return float(12.0 * np.exp(-half)), float(12.0 * np.exp(half))


class NumpySampler:
    """One chain of the sampler of sample.hpp: the same coordinates, moves and adaptation, in NumPy."""

    def __init__(self, data: Reduced, reference: float, order: int, strengths: tuple[float, float], seed: int) -> None:
        self.m, self.y = data.m * reference, data.y
        self.p, self.order, self.range = data.m.shape[1], order, strengths
        d = np.diff(np.eye(self.p), n=order, axis=0)
        self.penalty = d.T @ d
        self.gram = self.m.T @ self.m
        self.random = np.random.default_rng(seed)
        self.dof = self.p - order

    def evaluate(self, g: Array) -> tuple[float, Array, Array]:
        """The misfit with the prior of the edges, its gradient, and x."""
        x = np.exp(np.minimum(g, 60.0))
        r = self.m @ x - self.y
        gradient = (self.m.T @ r) * x
        value = 0.5 * (r @ r)
        for j in (0, -1):
            off = (g[j] + 3.0) / 16.0
            value += 0.5 * off * (g[j] + 3.0)
            gradient[j] += off
        return value, gradient, x

    def curvature(self, outer: Array) -> Array:
        """Gauss-Newton curvature of the misfit."""
        h = self.gram * outer
        h[0, 0] += 1 / 16
        h[-1, -1] += 1 / 16
        return h

    def most_probable(self, ln_strength: float, g: Array) -> tuple[Array, float]:
        """Newton's method with damping; the Laplace evidence."""
        prior = np.exp(ln_strength) * self.penalty
        value, gradient, x = self.evaluate(g)
        value += 0.5 * g @ prior @ g
        damping = 0.0
        for _ in range(200):
            h = self.curvature(np.outer(x, x)) + prior
            slope = gradient + prior @ g
            move = -linalg.cho_solve(linalg.cho_factor(h + damping * np.eye(self.p)), slope)
            if not -slope @ move > 1e-5 * (1 + damping):
                break
            longest = np.abs(move).max()
            trial = g + move * min(1.0, 2.0 / longest)
            new, new_gradient, new_x = self.evaluate(trial)
            new += 0.5 * trial @ prior @ trial
            if new < value:
                g, value, gradient, x = trial, new, new_gradient, new_x
                damping = 0.0 if damping < 1e-3 else damping / 5
            else:
                damping = max(4 * damping, 1e-2)
                if damping > 1e8:
                    break
        root = linalg.cholesky(self.curvature(np.outer(x, x)) + prior)
        return g, -value + 0.5 * self.dof * ln_strength - np.log(np.diag(root)).sum()

    def path(self, start: Array) -> None:
        """The most probable densities over the strengths."""
        at = np.linspace(self.range[1], self.range[0], 25)
        found, best, g = [], -np.inf, start
        for ln_strength in at:
            g, evidence = self.most_probable(ln_strength, g)
            found.append((ln_strength, g, evidence))
            best = max(best, evidence)
            if len(found) > 2 and evidence < best - 15:
                break
        self.found = found[::-1]

    def set_coordinates(self, curvature: Array, ln_strength: float) -> None:
        """Generalised eigenvectors of the prior and the whole."""
        strength = np.exp(ln_strength)
        whole = curvature + strength * self.penalty
        values, self.t = linalg.eigh(self.penalty, whole)
        self.inverse = self.t.T @ whole
        self.prior = np.maximum(values, 0.0)
        self.data = np.maximum(1 - strength * self.prior, 0.0)
        self.widen = np.ones(self.p)
        self.centres = np.array([self.inverse @ g for _, g, _ in self.found])
        self.centre_at = np.array([s for s, _, _ in self.found])

    def centre(self, ln_strength: float) -> Array:
        """Most probable coordinates at a strength, between those of the path."""
        at = np.interp(ln_strength, self.centre_at, np.arange(self.centre_at.size))
        k = min(int(at), self.centre_at.size - 2)
        return (1 - (at - k)) * self.centres[k] + (at - k) * self.centres[k + 1]

    def at(self, ln_strength: float) -> dict:
        """What follows from the strength alone."""
        scale = self.widen / np.sqrt(np.maximum(self.data + np.exp(ln_strength) * self.prior, 1e-12))
        return dict(ln_strength=ln_strength, scale=scale, centre=self.centre(ln_strength), ln_scale=np.log(scale).sum())

    def look(self, at: dict, xi: Array) -> dict:
        """A state without its force."""
        c = at["centre"] + xi * at["scale"]
        g = self.t @ c
        value, gradient, x = self.evaluate(g)
        return self.weigh(at | dict(xi=xi, c=c, g=g, x=x, value=value, gradient=gradient))

    def weigh(self, s: dict) -> dict:
        """The energy of a state."""
        rough = 0.5 * np.exp(s["ln_strength"]) * (self.prior @ s["c"] ** 2)
        s["energy"] = s["value"] + rough - 0.5 * self.dof * s["ln_strength"] - s["ln_scale"]
        return s

    def push(self, s: dict) -> dict:
        """The force on a state."""
        if "pull" not in s:
            s["pull"] = self.t.T @ s["gradient"]
        s["force"] = s["scale"] * (s["pull"] + np.exp(s["ln_strength"]) * self.prior * s["c"]) - s["xi"]
        return s

    def place(self, g: Array, ln_strength: float) -> dict:
        """The state at a density."""
        at = self.at(ln_strength)
        return self.push(self.look(at, (self.inverse @ g - at["centre"]) / at["scale"]))

    def move(self) -> float:
        """One Hamiltonian trajectory."""
        angle = (0.6 + 0.8 * self.random.random()) * np.pi / 2
        kicks = int(np.clip(np.ceil(angle / self.step), 1, 24))
        step = min(angle / kicks, self.step)
        cosine, sine = np.cos(step), np.sin(step)
        s, v = self.state, self.random.standard_normal(self.p)
        at = {key: s[key] for key in ("ln_strength", "scale", "centre", "ln_scale")}
        before = s["energy"] + 0.5 * (v @ v)
        for _ in range(kicks):
            v = v - 0.5 * step * s["force"]
            xi, v = cosine * s["xi"] + sine * v, cosine * v - sine * s["xi"]
            s = self.push(self.look(at, xi))
            v = v - 0.5 * step * s["force"]
            if not s["energy"] < before + 1000:
                break
        accept = min(1.0, np.exp(min(0.0, before - s["energy"] - 0.5 * (v @ v))))
        if self.random.random() < accept:
            self.state = s
        return accept

    def move_strength(self) -> float:
        """A Metropolis move of the strength at fixed xi."""
        new = self.state["ln_strength"] + self.strength_step * self.random.standard_normal()
        chance = self.random.random()
        if not self.range[0] <= new <= self.range[1]:
            return 0.0
        s = self.look(self.at(new), self.state["xi"])
        accept = min(1.0, np.exp(min(0.0, self.state["energy"] - s["energy"])))
        if chance < accept:
            self.state = self.push(s)
        return accept

    def draw_strength(self) -> None:
        """The strength given the density: a Gamma law."""
        rough = max(0.5 * (self.prior @ self.state["c"] ** 2), 1e-300)
        new = np.log(self.random.gamma(0.5 * self.dof, 1 / rough))
        if self.range[0] <= new <= self.range[1]:
            s = self.state | self.at(new)  # at the same density: no new look at the data
            s["xi"] = (s["c"] - s["centre"]) / s["scale"]
            self.state = self.push(self.weigh(s))

    def sweep(self, adapting: bool) -> None:
        """One draw."""
        accept = self.move()
        if adapting:
            self.adapted += 1
            eta = 1 / (self.adapted + 10)
            self.shortfall = (1 - eta) * self.shortfall + eta * (0.8 - accept)
            self.step = float(np.clip(np.exp(np.log(0.5) - np.sqrt(self.adapted) / 0.08 * self.shortfall), 0.02, 1.6))
            weight = self.adapted**-0.75
            self.ln_step = weight * np.log(self.step) + (1 - weight) * self.ln_step
        self.move_strength()
        jump = self.move_strength()
        if adapting:
            self.strength_step = float(
                np.clip(self.strength_step * np.exp((jump - 0.35) / np.sqrt(self.adapted)), 0.1, 6.0)
            )
        self.draw_strength()

    def restart(self) -> None:
        """Adaptation from the beginning."""
        self.adapted, self.shortfall, self.ln_step, self.step = 0, 0.0, np.log(0.5), 0.5

    def run(self, warm_up: int, draws: int) -> Array:
        """Draws of x, one a row, after two warm-ups."""
        best = max(self.found, key=lambda f: f[2])
        x = np.exp(best[1])
        self.set_coordinates(self.curvature(np.outer(x, x)), best[0])
        self.strength_step = 1.2
        self.restart()
        self.state = self.place(best[1], best[0])
        past = []
        for k in range(warm_up):
            self.sweep(True)
            if 2 * k >= warm_up:
                past.append((self.state["g"], self.state["ln_strength"]))
        xs = np.exp([g for g, _ in past])
        self.set_coordinates(self.curvature(xs.T @ xs / len(xs)), float(np.mean([s for _, s in past])))
        square = np.full(self.p, 30.0)
        for g, s in past:
            square += (self.inverse @ g - self.centre(s)) ** 2 * (self.data + np.exp(s) * self.prior)
        self.widen = np.clip(np.sqrt(square / (len(past) + 30)), 0.5, 8.0)
        self.restart()
        self.state = self.place(*past[-1])
        for _ in range(warm_up // 2):
            self.sweep(True)
        self.step = float(np.exp(self.ln_step))
        out = []
        for _ in range(draws):
            self.sweep(False)
            out.append(self.state["x"])
        return np.array(out)


def numpy_sampled(
    kernel: Array, step: float, intensity: Array, u: Array, *, chains: int, warm_up: int, draws: int
) -> Array:
    """Draws of the density under both smoothness priors; `draws` of every chain."""
    x, data, _ = quick_look(kernel, intensity, u)
    reference = max(x.max(), 1e-300)
    start = np.maximum(np.log(x / reference + 1e-3), -12.0)
    ln10, shift = np.log(10.0), np.log(step / (np.log(10.0) / 60))
    out = []
    for order in (2, 3):
        strengths = (-2 * ln10 - 3 * shift, 4 * ln10 - 3 * shift) if order == 2 else (-5 * shift, 8 * ln10 - 5 * shift)
        first = NumpySampler(data, reference, order, strengths, 0)
        first.path(start)
        for chain in range(chains):
            sampler = NumpySampler(data, reference, order, strengths, 10 * order + chain)
            sampler.found = first.found
            out.append(sampler.run(warm_up, draws))
    return np.concatenate(out)


def sampled_row(repeats: int, *, short: bool) -> Row:
    """The default inversion: bands from draws of effective size 400 and more."""
    c = curve()
    kernel = distribution.make_kernel(c)
    volume = np.asarray(kernel.volume_nm3)
    diameter = np.asarray(kernel.grid.diameter_nm)
    scale = volume.max()
    step = float(np.log(diameter[1] / diameter[0]))
    draws = 60 if short else 300

    # A seed each time: some runs reach the effective size in one round, some need another.
    seeds = itertools.count(1)

    def ours() -> sl.SizeDistribution:
        return sl.invert(c, kernel=kernel, look_for_order=False, draws=480 if short else 2400, seed=next(seeds))

    def peer() -> Array:
        return numpy_sampled(
            volume / scale,
            step,
            c.intensity,
            c.private_u,
            chains=1 if short else 4,
            warm_up=60 if short else 200,
            draws=draws,
        )

    result = ours()
    xs = peer()
    grow = np.cumsum(xs, axis=1) / xs.sum(axis=1, keepdims=True)
    x50 = np.array([np.interp(0.5, g, diameter) for g in grow])
    # A cell's whole volume counts from its middle here: half a cell of difference at most, besides the noise of draws.
    apart = abs(np.median(x50) - result.x50_nm.value)
    require(apart < 4 * result.x50_nm.u + 0.5 * step * result.x50_nm.value, "median size of the sampler against NumPy")
    effective = min(result.effective_draws.values())
    times = interleave({"ours": ours, "NumPy, the same sampler": peer}, repeats)
    out = row(
        f"default inversion, {POINTS} points × {diameter.size} sizes, sampled bands",
        times,
        note=f"{effective:.0f} effective draws" + (", short form" if short else ""),
    )
    out.targets = [
        Target("× NumPy", ratio(times, "NumPy, the same sampler", "ours"), 8.0, True),
        Target("s", out.ours, 0.7, False),
        Target("s", out.ours, 0.15, False, must=False),
    ]
    return out

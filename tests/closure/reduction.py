# SPDX-License-Identifier: GPL-3.0-or-later
"""A simulated experiment through the public interface, as a user would write it, and chi squared of the result."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import stats

from closure.simulate import BEAM_PX, BEAM_RADIUS_PX
from sievelight import reduce
from sievelight._core import Curve, DetectorGeometry, Factor, Frame, PixelMap, pixel_map

TABLE_ID = "absolute scale: table"


def told_geometry(setup) -> DetectorGeometry:
    g = setup.geometry
    pitch, yaw, roll = g.tilt_deg
    return DetectorGeometry(
        wavelength_nm=g.wavelength_nm,
        distance_mm=g.distance_mm,
        beam_center_x_px=g.beam_px[0],
        beam_center_y_px=g.beam_px[1],
        pixel_size_x_mm=g.pixel_mm,
        pixel_size_y_mm=g.pixel_mm,
        pitch_deg=pitch,
        yaw_deg=yaw,
        roll_deg=roll,
    )


def carbon() -> tuple[np.ndarray, np.ndarray, float]:
    """The certified table as data for the simulator."""
    table = reduce.srm3600()
    return table.q_per_nm, table.intensity_per_cm, table.relative_u


@dataclass
class Reduced:
    curve: Curve
    truth: np.ndarray  # 1/cm, mean over the pixels of each bin
    standard_error: float  # true error of the standard in units of its u
    sample_counts: float  # all counts of the sample's frames

    def deviation(self) -> np.ndarray:
        return self.curve.intensity - self.truth

    def parts(self) -> tuple[np.ndarray, np.ndarray]:
        """Variance of the points on their own (private and pointwise), and the coherent causes as columns."""
        variance = self.curve.private_u**2
        columns = [np.zeros(variance.size)]
        for cause in self.curve.causes.values():
            if cause.kind == "coherent":
                columns.append(cause.u)
            else:
                variance = variance + cause.u**2
        return variance, np.column_stack(columns)

    def chi2(self, *, own_counts=True) -> float:
        """Chi squared of the curve with its full covariance, or as if its own counts were exact."""
        variance, causes = self.parts()
        if not own_counts:
            variance = variance - self.curve.private_u**2
        r = self.deviation()
        return float(r @ np.linalg.solve(np.diag(variance) + causes @ causes.T, r))

    def chi2_of_points(self) -> tuple[float, int]:
        """Chi squared of what no combination of coherent causes explains, and its degrees of freedom.

        Directions shorter than 0.3 of the points' sd stay in (they add less than 0.1 to chi squared): causes are
        proportional to measured values, so that their smallest combinations are noise, and projecting on them would
        take the noise away with them.
        """
        variance, causes = self.parts()
        sd = np.sqrt(variance)
        basis, size, _ = np.linalg.svd(causes / sd[:, None], full_matrices=False)
        basis = basis[:, size > 0.3]
        r = self.deviation() / sd
        return float(r @ r - np.sum((basis.T @ r) ** 2)), r.size - basis.shape[1]

    def probability(self, **options) -> float:
        return float(stats.chi2.sf(self.chi2(**options), self.truth.size))

    def scale(self) -> tuple[float, float]:
        """Best common factor on the truth and its u, with the standard's own error set to what it truly was."""
        # Weights from the points' own variance: with the coherent causes in the weights, which are proportional to the
        # measured values, a common factor comes out low (R. W. Peelle's puzzle).
        variance, _ = self.parts()
        value = self.curve.intensity
        weight = self.truth / variance
        weight = weight / (weight @ self.truth)
        u2 = weight**2 @ variance
        for name, cause in self.curve.causes.items():
            if name == TABLE_ID:
                value = value + self.standard_error * cause.u
            elif cause.kind == "coherent":
                u2 += (weight @ cause.u) ** 2
        return float(weight @ value), float(np.sqrt(u2))


class Reducer:
    """One experiment's averager and its common arguments. `off` names steps to leave out; `without` names those that
    cannot be switched off and get a neutral value: "mask", "exposure and flux", "dispersant"."""

    def __init__(self, experiment, *, bins=90, spacing="log", off=(), without=()):
        setup = experiment.setup
        self.experiment, self.setup, self.off, self.without = experiment, setup, list(off), without
        self.geometry = told_geometry(setup)
        self.map: PixelMap = pixel_map(self.geometry, setup.rows, setup.columns)
        mask = np.zeros_like(experiment.mask) if "mask" in without else experiment.mask
        self.edges = reduce.make_bins(self.map, mask=experiment.mask, bins=bins, spacing=spacing)
        share, share_u, plane = setup.polarisation
        self.corrections = {
            "dead_time_s": experiment.dead_time_s or None,
            "dead_time_model": "paralyzable" if setup.paralysable else "non-paralyzable",
            "dead_time_u_s": experiment.dead_time_s * setup.dead_time_relative_u,
            "flat_field": self.flat_field(),
            "sensor": self.layer(setup.sensor) if setup.sensor else None,
            "flight_path": [self.layer(a) for a in setup.air],
            "polarization_fraction": share,
            "polarization_u": share_u,
            "polarization_plane_deg": plane,
            "off": [step for step in self.off if step in AVERAGING],
        }
        self.averager = reduce.Averager(self.map, edges_per_nm=self.edges, mask=mask, **self.corrections)
        self.dark = self.frames("dark")[0]
        self.shifts = None
        if setup.distance_relative_u:
            longer = self.geometry.replace(distance_mm=self.geometry.distance_mm * (1 + setup.distance_relative_u))
            self.shifts = reduce.geometry_shifts(
                [("distance", longer)], table=self.averager.table, geometry=self.geometry
            )

    def flat_field(self):
        if self.setup.flat_counts:
            return reduce.flat_field(Frame(self.experiment.flat, exposure_s=1.0), name="lamp")
        return reduce.FlatField("known", self.experiment.flat) if self.setup.flat_sd else None

    @staticmethod
    def layer(layer):
        return reduce.Absorber(
            mu_per_cm=layer.mu_per_cm, length_mm=layer.length_mm, relative_u=layer.relative_u, name=layer.name
        )

    def frames(self, name):
        counts = self.experiment.measured[name]
        known = "exposure and flux" not in self.without
        return [
            Frame(n, exposure_s=t if known else 1.0, monitor=m if known else 1.0)
            for n, t, m in zip(counts.frames, counts.exposures_s, counts.monitors)
        ]

    def averaged(self, name):
        return self.averager.average(
            self.frames(name),
            name=name,
            dark=self.dark,
            normalise_by="monitor" if self.setup.by_monitor else "exposure",
            normalise_relative_u=self.setup.amount_relative_u,
        )

    def beam(self, name):
        counts = self.experiment.beams[name]
        return Frame(counts.frames[0], exposure_s=counts.exposures_s[0], monitor=counts.monitors[0])

    def spot(self):
        return {"beam_center_px": (BEAM_PX // 2, BEAM_PX // 2), "radius_px": BEAM_RADIUS_PX}

    def transmission(self, name):
        return reduce.transmission_from_frames(
            name,
            self.beam(name),
            empty_name="beam",
            empty=self.beam("empty"),
            dead_time_s=self.experiment.dead_time_s or None,
            dead_time_model=self.corrections["dead_time_model"],
            dark_per_s=self.experiment.dark_per_pixel_s,
            **self.spot(),
        )

    def shape(self, sample, in_cell):
        if sample.form == "capillary":
            return reduce.CapillaryShape(
                inner_diameter_mm=sample.thickness_mm,
                beam_width_mm=sample.beam_width_mm,
                beam_offset_mm=sample.beam_offset_mm,
                axis=sample.axis,
            )
        return reduce.PlateShape(rotation_deg=sample.rotation_deg, walls="both" if in_cell else "ignore")

    def per_cm(self, name, scale, background="cell"):
        """Sample, solvent or standard (scale None) from its averages."""
        setup = self.setup
        sample = setup.standard_sample if name == "standard" else setup.sample
        result = reduce.absolute_curve(
            self.averaged(name),
            transmission=self.transmission(name),
            background=self.averaged(background),
            background_transmission=self.transmission(background) if background != "air" else 1.0,
            background_scale_u=setup.background_scale_u if name == "sample" else 0.0,
            thickness_mm=sample.thickness_mm,
            thickness_u_mm=sample.thickness_mm * sample.thickness_relative_u,
            absolute_scale=scale,
            shape=self.shape(sample, background == "cell"),
            wavelength_nm=setup.geometry.wavelength_nm,
            off=[step for step in self.off if step not in AVERAGING],
        )
        if self.shifts:
            result = reduce.with_curve(result, reduce.add_geometry_causes(result.curve, self.shifts))
        return result

    def absolute_scale(self):
        setup = self.setup
        if setup.scale == "direct beam":
            return reduce.scale_from_direct_beam(
                "beam",
                self.beam("empty"),
                attenuator=(self.experiment.attenuator, setup.attenuator_relative_u * self.experiment.attenuator),
                dark_per_s=self.experiment.dark_per_pixel_s,
                by_monitor=setup.by_monitor,
                geometry=self.geometry,
                **self.spot(),
                **self.corrections,
            )
        water = setup.scale == "water"
        measured = self.per_cm("standard", None, "cell" if water else "air")
        return reduce.absolute_scale(measured, standard=reduce.water_standard(20.0) if water else reduce.srm3600())

    def run(self) -> Reduced:
        self.result = self.per_cm("sample", self.absolute_scale())
        if self.setup.solvent and "dispersant" not in self.without:
            share = Factor(self.setup.solvent_share, {"1 - phi": self.setup.solvent_share_u})
            solvent = self.per_cm("solvent", self.absolute_scale())
            self.result = reduce.dispersant(self.result, solvent, share=share, name="solvent")
        counts = sum(float(n.sum()) for n in self.experiment.measured["sample"].frames)
        curve = self.result.curve
        return Reduced(curve, self.truth(curve), self.experiment.standard_error, counts)

    def truth(self, curve):
        """The estimator's expectation is sum(h I) / sum(h), so the truth is averaged over the pixels with the response h
        as weight; binned here by NumPy with the simulator's own q."""
        e = self.experiment
        good = ~e.mask
        h, q = e.response[good], e.q[good]
        # The first and last edge are the q of a pixel: rounding must not lose it.
        edges = self.edges.copy()
        edges[0] *= 1 - 1e-9
        edges[-1] *= 1 + 1e-9
        total = np.histogram(q, edges, weights=h)[0]
        mean = np.histogram(q, edges, weights=h * e.truth[good])[0] / np.where(total > 0, total, 1)
        middle = np.sqrt(curve.q_low_per_nm * curve.q_high_per_nm)
        return mean[np.searchsorted(self.edges, middle) - 1]


AVERAGING = {step.name for step in reduce.reduction_steps()[:10]}


def reduce_experiment(experiment, **options) -> Reduced:
    return Reducer(experiment, **options).run()

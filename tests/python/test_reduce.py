# SPDX-License-Identifier: GPL-3.0-or-later
"""sievelight.reduce from Python: shapes, units, options, messages, and the whole way from frames to 1/cm."""

import pickle

import numpy as np
import pytest

from sievelight import InputError, reduce
from sievelight._core import Curve, DetectorGeometry, Factor, Frame, pixel_map

ROWS, COLUMNS = 60, 70


def geometry(**changes):
    values = dict(
        wavelength_nm=0.154,
        distance_mm=400.0,
        beam_center_x_px=31.3,
        beam_center_y_px=27.8,
        pixel_size_x_mm=0.5,
        pixel_size_y_mm=0.5,
    )
    return DetectorGeometry(**{**values, **changes})


@pytest.fixture(scope="module")
def view():
    return pixel_map(geometry(), ROWS, COLUMNS)


def polarised(view):
    sine2 = 1 - view.cos_two_theta**2
    return 1 - 0.5 * sine2  # unpolarised: (1 + cos^2)/2


def frame_of(counts, exposure_s=1.0, **options):
    return Frame(np.asarray(counts, float), exposure_s=exposure_s, **options)


def test_bins_begin_outside_the_mask(view):
    mask = view.q_per_nm < 0.3
    edges = reduce.make_bins(view, mask=mask, bins=50)
    assert edges.shape == (51,)
    assert edges[0] == view.q_per_nm[~mask].min()
    assert edges[-1] == view.q_per_nm.max()
    assert np.allclose(np.diff(np.log(edges)), np.log(edges[-1] / edges[0]) / 50)
    linear = reduce.make_bins(view, bins=4, spacing="linear", q_range_per_nm=(0.2, 1.0))
    assert np.allclose(linear, [0.2, 0.4, 0.6, 0.8, 1.0])
    assert reduce.usable_q(view, mask=mask) == (edges[0], edges[-1])


def test_several_frames_add(view):
    rng = np.random.default_rng(1)
    frames = [frame_of(rng.poisson(3.0, (ROWS, COLUMNS)), t) for t in (1.0, 2.0, 4.0)]
    edges = reduce.make_bins(view, bins=20)
    many = reduce.average(iter(frames), map=view, edges_per_nm=edges, name="A")
    one = reduce.average(frame_of(sum(f.counts for f in frames), 7.0), map=view, edges_per_nm=edges, name="A")
    assert many.exposure_s == 7.0
    assert np.array_equal(many.curve.intensity, one.curve.intensity)
    again = reduce.Averager(view, edges_per_nm=edges).average(frames, name="A")
    assert np.array_equal(again.curve.intensity, one.curve.intensity)
    assert repr(many).startswith("Averaged('A', ")


def test_sectors_take_degrees(view):
    counts = np.where(view.azimuth_rad > 0, 5.0, 1.0) * view.solid_angle_sr * polarised(view) * 1e9
    edges = reduce.make_bins(view, bins=12)
    up = reduce.average(frame_of(counts), map=view, edges_per_nm=edges, sectors_deg=[(1, 179)])
    down = reduce.average(frame_of(counts), map=view, edges_per_nm=edges, sectors_deg=[(181, 359)])
    assert np.allclose(up.curve.intensity, 5e9)
    assert np.allclose(down.curve.intensity, 1e9)


def test_steps_stand_in_the_declared_order_and_say_what_they_did(view):
    done = reduce.average(
        frame_of(np.full((ROWS, COLUMNS), 10.0), 5.0),
        map=view,
        edges_per_nm=reduce.make_bins(view, bins=20),
        sensor=reduce.Absorber(mu_per_cm=148.12, length_mm=0.45),
        dead_time_s=1e-7,
    )
    names = [step.name for step in reduce.reduction_steps()]
    assert [step.name for step in done.steps] == names[:10]
    effect = {step.name: step for step in done.steps}
    assert effect["dead time"].applied and "tau = 1e-07 s" in effect["dead time"].parameters
    assert effect["exposure and flux"].factor_mid == pytest.approx(0.2)
    # Solid angle falls as cos^3(2theta): raised by its inverse; the last bin's mean is inside the corner.
    cosine = view.cos_two_theta.min()
    assert 1.0 < effect["solid angle"].factor_high < cosine**-3
    assert not effect["flat field"].applied and effect["flat field"].note
    assert "left out" in repr(effect["flight path"])


def test_q_resolution_is_beam_and_wavelength_not_the_bin(view):
    blur = reduce.Blur(beam_fwhm_mm=0.8, pixel_size_x_mm=0.5, pixel_size_y_mm=0.5, wavelength_spread=0.01)
    frame = frame_of(np.ones((ROWS, COLUMNS)))
    coarse, fine = (
        reduce.average(frame, map=view, edges_per_nm=reduce.make_bins(view, bins=n), blur=blur).curve for n in (5, 50)
    )
    at = np.interp(coarse.q_per_nm[2], fine.q_per_nm, fine.q_resolution_per_nm)
    assert coarse.q_resolution_per_nm[2] == pytest.approx(at, rel=0.05)
    assert len(reduce.average(frame, map=view, edges_per_nm=reduce.make_bins(view)).curve.q_resolution_per_nm) == 0


def test_results_pickle(view):
    edges = reduce.make_bins(view, bins=20)
    averaged = reduce.average(frame_of(np.full((ROWS, COLUMNS), 4.0), monitor=5.0), map=view, edges_per_nm=edges)
    absolute = reduce.absolute_curve(averaged, transmission=0.5)
    sample = reduce.Measured("s", averaged.curve)
    values = [
        averaged,
        absolute,
        sample,
        reduce.given_transmission("s", 0.5, u=0.01),
        reduce.fit_background_factor(averaged, sample, 0.5, 1.0),
        reduce.over_subtracted(averaged.curve),
        reduce.Averager(view, edges_per_nm=edges).table,
        reduce.absolute_scale(averaged.curve),
        *reduce.geometry_shifts(
            [("distance", geometry(distance_mm=401.0))],
            table=reduce.Averager(view, edges_per_nm=edges).table,
            geometry=geometry(),
        ),
        *averaged.steps,
    ]
    for value in values:
        copy = pickle.loads(pickle.dumps(value))
        assert type(copy) is type(value)
    copy = pickle.loads(pickle.dumps(averaged))
    assert np.array_equal(copy.curve.intensity, averaged.curve.intensity)
    assert copy.monitor == 5.0
    factor = pickle.loads(pickle.dumps(values[4]))
    assert factor.q_range_per_nm.low == values[4].q_range_per_nm.low


def test_transmissions_of_every_kind(view):
    monitors = reduce.transmission_from_monitors(
        "s",
        incident=(1000, 10),
        transmitted=400,
        empty_name="air",
        empty_incident=1000,
        empty_transmitted=(800, 8),
    )
    assert monitors.value == pytest.approx(0.5)
    assert monitors.factor.causes["transmission: s"] == pytest.approx(0.005)
    assert monitors.factor.causes["empty beam: air"] == pytest.approx(-0.005)
    beam = 1e4 * np.exp(-((np.arange(COLUMNS) - 31) ** 2 + (np.arange(ROWS)[:, None] - 28) ** 2) / 8)
    direct = reduce.transmission_from_frames(
        "s",
        frame_of(0.3 * beam, 2.0),
        empty_name="air",
        empty=frame_of(0.5 * beam, 1.0),
        beam_center_px=(31, 28),
        radius_px=10,
    )
    assert direct.value == pytest.approx(0.3)
    assert "within 10 pixels" in direct.method
    with pytest.raises(InputError, match=r"the transmission is 1.34 \(u = 0\) for 'Z-41'.*\n.*swapped"):
        reduce.given_transmission("Z-41", 1.34)


def test_a_geometry_cause_moves_like_the_curve(view):
    law = 1e12 * view.q_per_nm**-3.0
    edges = reduce.make_bins(view, bins=40, q_range_per_nm=(0.2, 1.0))
    averager = reduce.Averager(view, edges_per_nm=edges, off=["polarisation"])
    curve = averager.average(frame_of(law * view.solid_angle_sr)).curve
    shifts = reduce.geometry_shifts(
        [("distance", geometry(distance_mm=400.4))], table=averager.table, geometry=geometry()
    )
    u = reduce.add_geometry_causes(curve, shifts).causes["distance"].u
    # I ~ q^-3 and q ~ 1/L: a longer distance puts the curve at lower q, so it falls by 3 x 0.1 %. Whole pixels in narrow
    # bins make the curve uneven by a percent or two, hence 3 %.
    assert np.allclose(u / curve.intensity, -0.003, rtol=0.03)
    wave = reduce.add_wavelength_cause(curve, relative_u=0.001).causes["wavelength"].u
    assert np.allclose(wave / curve.intensity, -0.003, rtol=0.03)


def draw(rng, value, u):
    return value + u * rng.standard_normal()


def test_the_whole_way_is_covered_by_its_uncertainty(view):
    """Frames of standard, sample and empty cell are simulated by NumPy from the forward equation, every cause drawn once
    a study; 68 % of the absolute intensities must lie within total_u. Bins of a study share causes, so the share is
    averaged over 300 studies: its own scatter is below 0.68 (1 - 0.68)/300 -> 2.7 %, tested at 3.5 of it."""
    rng = np.random.default_rng(7)
    q = view.q_per_nm
    mask = q < 0.2
    edges = reduce.make_bins(view, mask=mask, bins=25, q_range_per_nm=(0.2, 1.2))
    averager = reduce.Averager(view, edges_per_nm=edges, mask=mask)
    weight = view.solid_angle_sr * polarised(view)
    standard = reduce.srm3600()
    carbon = np.interp(q, standard.q_per_nm, standard.intensity_per_cm)
    pores = 400 / (1 + 30 * q**2) ** 2 + 1.0
    parasitic = 0.3 / q
    k, exposure = 2e-5, 60.0
    inside = []
    truth = None
    for _ in range(300):
        t = {"gc": 0.72, "s": 0.31, "cell": 0.93}
        u_t = {"gc": 0.004, "s": 0.003, "cell": 0.004}
        d, u_d = {"gc": 0.1055, "s": 0.1}, {"gc": 0.001, "s": 0.004}
        table_error = 1 + standard.relative_u * rng.standard_normal()
        scattering = {"gc": d["gc"] * carbon * table_error, "s": d["s"] * pores, "cell": 0.0}
        averaged, transmission = {}, {}
        for name in t:
            level = exposure * weight / k * t[name] * (scattering[name] + parasitic)
            frame = frame_of(rng.poisson(level), exposure)
            averaged[name] = averager.average(frame, name=name)
            transmission[name] = reduce.given_transmission(name, draw(rng, t[name], u_t[name]), u=u_t[name])
        common = dict(background=averaged["cell"], background_transmission=transmission["cell"])
        gc = reduce.absolute_curve(
            averaged["gc"],
            transmission=transmission["gc"],
            thickness_mm=10 * draw(rng, d["gc"], u_d["gc"]),
            thickness_u_mm=10 * u_d["gc"],
            **common,
        )
        scale = reduce.absolute_scale(gc)
        result = reduce.absolute_curve(
            averaged["s"],
            transmission=transmission["s"],
            thickness_mm=10 * draw(rng, d["s"], u_d["s"]),
            thickness_u_mm=10 * u_d["s"],
            absolute_scale=scale,
            **common,
        ).curve
        if truth is None:  # mean over the pixels of each bin
            exact = averager.average(frame_of(weight * pores), check_scatter=False).curve
            truth = exact.intensity
        variance = result.private_u**2 + sum(cause.u**2 for cause in result.causes.values())
        inside.append(np.mean(np.abs(result.intensity - truth) <= np.sqrt(variance)))
        assert scale.relative_u > 0.0258
    assert result.unit == "1/cm"
    assert {"transmission: s", "transmission: cell", "thickness: s", "thickness: gc", "absolute scale: table"} <= set(
        result.causes
    )
    assert result.causes["counts: cell"].kind == "pointwise"
    assert np.mean(inside) == pytest.approx(0.683, abs=3.5 * 0.027)


def test_numbers_serve_as_factors(view):
    edges = reduce.make_bins(view, bins=20)
    s = reduce.average(frame_of(np.full((ROWS, COLUMNS), 9.0)), map=view, edges_per_nm=edges, name="s")
    b = reduce.average(frame_of(np.full((ROWS, COLUMNS), 4.0)), map=view, edges_per_nm=edges, name="b")
    out = reduce.absolute_curve(
        s,
        transmission=0.5,
        background=b,
        background_transmission=Factor(0.8),
        background_scale=0.9,
        background_scale_u=0.02,
        thickness_mm=2.0,
        absolute_scale=1.0,
    )
    expected = (s.curve.intensity / 0.5 - 0.9 * b.curve.intensity / 0.8) / 0.2
    assert np.allclose(out.curve.intensity, expected)
    assert np.allclose(out.curve.causes["background scale: b"].u, -0.02 * b.curve.intensity / 0.8 / 0.2)
    water = reduce.dispersant(out, out, share=0.25, name="water")
    assert np.allclose(water.curve.intensity, 0.75 * out.curve.intensity)
    assert water.steps[-1].name == "dispersant" and water.steps[-1].applied


def test_the_whole_chain_states_what_each_step_adds(view):
    edges = reduce.make_bins(view, bins=20)
    options = {"map": view, "edges_per_nm": edges, "dead_time_s": 1e-7, "dead_time_u_s": 2e-8, "off": ["solid angle"]}
    s = reduce.average(frame_of(np.full((ROWS, COLUMNS), 9.0)), name="s", **options)
    b = reduce.average(frame_of(np.full((ROWS, COLUMNS), 4.0)), name="b", **options)
    t = reduce.given_transmission("s", 0.5, u=0.01)
    out = reduce.absolute_curve(
        s, transmission=t, background=b, background_transmission=0.8, thickness_mm=2.0, thickness_u_mm=0.1
    )
    chain = {step.name: step for step in reduce.whole_chain(s, out)}
    assert list(chain) == [step.name for step in reduce.reduction_steps()]
    net = (9 / 0.5 - 4 / 0.8) / (9 / 0.5)  # what the background leaves
    assert chain["transmission"].relative_u_mid == pytest.approx(0.02 / net, rel=1e-3)
    assert chain["thickness"].relative_u_mid == pytest.approx(0.05)
    assert chain["counts"].relative_u_low > chain["counts"].relative_u_high  # outer rings count more
    assert chain["solid angle"].note == "switched off" and not chain["solid angle"].applied
    assert "dead time" in out.curve.causes


def test_a_capillary_is_not_as_thick_as_its_diameter(view):
    s = reduce.average(frame_of(np.full((ROWS, COLUMNS), 9.0)), map=view, edges_per_nm=reduce.make_bins(view, bins=20))
    options = {"transmission": 0.4, "thickness_mm": 1.0, "wavelength_nm": 0.154}
    pencil = reduce.absolute_curve(s, shape=reduce.CapillaryShape(inner_diameter_mm=1.0), **options)
    bathed = reduce.absolute_curve(s, shape=reduce.CapillaryShape(inner_diameter_mm=1.0, beam_width_mm=1.0), **options)
    assert pencil.path_mm == pytest.approx(1.0)
    assert 0.5 < bathed.path_mm < np.pi / 4  # less than the mean chord: the thick middle lets least through
    assert bathed.curve.intensity[0] / pencil.curve.intensity[0] == pytest.approx(1 / bathed.path_mm, rel=1e-3)


def refusals(view):
    edges = reduce.make_bins(view, bins=20)
    good = frame_of(np.ones((ROWS, COLUMNS)))
    call = lambda frame=good, **o: reduce.average(frame, **{"map": view, "edges_per_nm": edges, "name": "Z-41", **o})  # noqa: E731
    wrong = np.ones((50, 70))
    return {
        "frame size": (lambda: call(frame_of(wrong)), r"frame of 'Z-41' has 50 x 70.*pixel map has 60 x 70"),
        "dark size": (lambda: call(dark=frame_of(wrong), dark_name="night"), r"dark frame 'night' has 50 x 70"),
        "flat size": (lambda: call(flat_field=reduce.FlatField("lamp", wrong)), r"flat field 'lamp' has 50 x 70"),
        "mask size": (lambda: call(mask=wrong > 2), r"mask has 50 x 70.*map has 60 x 70"),
        "mask of all": (lambda: call(mask=np.ones((ROWS, COLUMNS), bool)), r"hides every one of the 4200 pixels"),
        "no exposure": (lambda: call(frame_of(good.counts, np.nan)), r"'Z-41' has no exposure"),
        "negative exposure": (lambda: call(frame_of(good.counts, -1.0)), r"exposure of the frame of 'Z-41' is -1 s"),
        "no monitor": (lambda: call(normalise_by="monitor"), r"'Z-41' has no monitor reading"),
        "edges": (lambda: call(edges_per_nm=[0.1, 0.3, 0.2]), r"edge 2 is 0.2 after 0.3 1/nm"),
        "range": (lambda: call(edges_per_nm=[50.0, 60.0]), r"no pixel lies in the bins from q = 50 to 60 1/nm"),
        "no frame": (lambda: call([]), r"'Z-41' has no frame"),
        "spacing": (lambda: reduce.make_bins(view, spacing="cubic"), r"'cubic' is not a spacing.*\n.*'log', 'linear'"),
        "model": (lambda: call(dead_time_s=1e-7, dead_time_model="ideal"), r"'ideal' is not a dead-time model"),
        "dead time": (lambda: call(dead_time_s=2.0), r"recorded rate of 1 counts/s is not possible"),
        "thickness": (lambda: reduce.absolute_curve(call(), thickness_mm=-1), r"thickness of 'Z-41' is -1 mm"),
        "overlap": (
            lambda: reduce.absolute_scale(Curve(q_per_nm=[3.0, 4.0, 5.0], intensity=[1.0, 1.0, 1.0])),
            r"0 bins of the standard's curve lie in the certified range",
        ),
    }


@pytest.mark.parametrize(
    "case",
    "frame size|dark size|flat size|mask size|mask of all|no exposure|negative exposure|no monitor|edges|range|no frame|"
    "spacing|model|dead time|thickness|overlap".split("|"),
)
def test_bad_input_is_named(view, case):
    call, message = refusals(view)[case]
    with pytest.raises(InputError, match=message):
        call()


def test_a_flat_field_is_not_applied_twice_and_the_note_says_so(view):
    from sievelight._core import FrameMetadata

    metadata = FrameMetadata()
    metadata.flatfield_applied = True
    frame = frame_of(np.full((ROWS, COLUMNS), 50.0), metadata=metadata)
    flat = reduce.FlatField("lamp", np.linspace(0.5, 1.5, ROWS * COLUMNS).reshape(ROWS, COLUMNS))
    edges = reduce.make_bins(view, bins=10)
    got = reduce.average(frame, map=view, edges_per_nm=edges, flat_field=flat)
    plain = reduce.average(frame, map=view, edges_per_nm=edges)
    assert np.array_equal(got.curve.intensity, plain.curve.intensity)
    assert any("flat field not applied" in note for note in got.notes)

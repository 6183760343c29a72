# SPDX-License-Identifier: GPL-3.0-or-later
"""Many Python threads call the library at once: the same numbers, and long work leaves Python to the others."""

import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest

import sievelight as sl
from sievelight import frames, geometry, reduce

THREADS = 4


def spheres(radius_nm, points=60):
    """A curve of spheres (form factor: Rayleigh 1911) with 2 % errors."""
    edges = np.geomspace(0.1, 2.5, points + 1)
    q = np.sqrt(edges[:-1] * edges[1:])
    x = q * radius_nm
    truth = 50 * (3 * (np.sin(x) - x * np.cos(x)) / x**3) ** 2 + 0.05
    noise = np.random.default_rng(int(100 * radius_nm)).standard_normal(points)
    return sl.Curve(
        q_per_nm=q, intensity=truth * (1 + 0.02 * noise), private_u=0.02 * truth, q_low_per_nm=edges[:-1],
        q_high_per_nm=edges[1:], unit="1/cm",
    )  # fmt: skip


def some_frames(seed, count=3, side=120):
    rng = np.random.default_rng(seed)
    row, column = np.indices((side, side))
    mean = 200 * np.exp(-np.hypot(row - side / 2, column - side / 2) / 20)
    return [frames.Frame(rng.poisson(mean).astype(float), exposure_s=1.0) for _ in range(count)]


DETECTOR = geometry.DetectorGeometry(
    wavelength_nm=0.154, distance_mm=400.0, beam_center_x_px=60.0, beam_center_y_px=60.0, pixel_size_x_mm=0.2,
    pixel_size_y_mm=0.2,
)  # fmt: skip


@pytest.fixture(scope="module")
def averager():
    view = geometry.pixel_map(DETECTOR, 120, 120)
    return reduce.Averager(view, edges_per_nm=reduce.log_edges(0.1, 1.0, 40))


def work(who, averager, folder):
    """Reduce, write, read, analyse, invert: numbers that may not depend on who else works."""
    exposures = some_frames(who)
    averaged = averager.average(exposures, name=str(who))
    curve = spheres(4 + 0.2 * who)
    path = folder / f"{who}.h5"
    sl.write_nxcansas(path, curve)
    back = sl.read_curves(path)[0].curve
    np.save(folder / f"{who}.npy", exposures[0].counts.astype("i4"))
    sizes = sl.invert(back, contrast_per_cm2=1e11, method="evidence")
    return [
        averaged.curve.intensity.tobytes(), reduce.find_spikes(exposures).share.tobytes(), back.intensity.tobytes(),
        sizes.q3_per_nm.tobytes(), sl.open_frames(folder / f"{who}.npy").read(0).counts.tobytes(),
        sl.fit_guinier(back, q_range_per_nm=(0.1, 0.3)).rg_nm.value,
    ]  # fmt: skip


def test_threads_that_work_at_once_get_what_one_gets_alone(averager, tmp_path, capfd):
    start = threading.Barrier(THREADS)

    def together(who):
        start.wait()
        return [work(who, averager, tmp_path) for _ in range(3)]

    with ThreadPoolExecutor(THREADS) as pool:
        found = list(pool.map(together, range(THREADS)))
    for who in range(THREADS):
        alone = work(who, averager, tmp_path)
        assert all(got == alone for got in found[who])
    assert capfd.readouterr() == ("", "")  # the core never prints


def test_one_sampled_inversion_in_two_threads_is_the_same_to_the_bit():
    curve = spheres(5.0)
    with ThreadPoolExecutor(2) as pool:
        a, b = pool.map(lambda seed: sl.invert(curve, contrast_per_cm2=1e11, seed=seed), [1, 1])
    assert np.array_equal(a.q3_per_nm, b.q3_per_nm) and a.x50_nm.value == b.x50_nm.value


@pytest.fixture(scope="module")
def long_calls():
    """Calls that work for long, their inputs made before."""
    curve, big, many = spheres(5.0), some_frames(1, 2, 1000), some_frames(2, 4, 400)
    wide = reduce.Averager(geometry.pixel_map(DETECTOR, 1000, 1000), edges_per_nm=reduce.log_edges(0.1, 1.0, 40))
    return {
        "invert": lambda: sl.invert(curve, contrast_per_cm2=1e11),
        "pixel_map": lambda: geometry.pixel_map(DETECTOR, 800, 800),
        "find_defects": lambda: frames.find_defects(big[0].counts),
        "find_spikes": lambda: reduce.find_spikes(many),
        "sum_frames": lambda: frames.sum_frames(big * 10),
        "average": lambda: wide.average(big * 4, name="x"),
    }


@pytest.mark.parametrize("name", ["invert", "pixel_map", "find_defects", "find_spikes", "sum_frames", "average"])
def test_long_calls_let_other_threads_of_python_run(name, long_calls):
    """With a switch interval of minutes another thread runs only where this one gives Python's lock away by itself."""
    end, seen = threading.Event(), []

    def other():
        while not end.is_set():
            seen.append(1)
            time.sleep(0)  # gives the lock back

    before = sys.getswitchinterval()
    sys.setswitchinterval(600)
    thread = threading.Thread(target=other)
    try:
        thread.start()
        while not seen:
            time.sleep(0.001)
        inside = 0
        for _ in range(10):
            start = len(seen)
            long_calls[name]()
            inside = max(inside, len(seen) - start)
            if inside > 3:
                break
    finally:
        end.set()
        sys.setswitchinterval(before)
        time.sleep(0.001)
        thread.join()
    assert inside > 3, f"other threads ran {inside} steps during the call"

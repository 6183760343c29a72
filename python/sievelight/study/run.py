# SPDX-License-Identifier: GPL-3.0-or-later
"""Run a study: frames to curves, sizes, batches, findings and the record.

One bad measurement never stops the others. Every sample's result is kept as soon as it exists, under a key made of
everything it depends on: a second call redoes only what changed, and a killed run goes on where it was.
"""

from __future__ import annotations

import platform
from collections.abc import Callable
from datetime import datetime, timezone
from pathlib import Path
from typing import Any

import msgspec
import numpy as np

from sievelight import curve as curves
from sievelight import distribution, geometry, reduce
from sievelight._core import Curve, __version__
from sievelight.errors import SIEVELIGHT_ERRORS, input_error
from sievelight.study import batches, prepare
from sievelight.study import sample as one
from sievelight.study.checkpoint import key_of, load_checkpoint, save_checkpoint
from sievelight.study.files import safe_name, sha256, whole_file
from sievelight.study.findings import Finding, Findings
from sievelight.study.outputs import write_tables
from sievelight.study.results import SampleResult, StudyResult, estimate_from_list, estimate_to_list
from sievelight.study.settings import Settings, read_settings
from sievelight.study.table import Measurement, read_table

Progress = Callable[[int, int, str], None]


def run_study(path: str | Path, *, progress: Progress | None = None) -> StudyResult:
    """Run the study of a `study.toml` and write everything but the report (see `sievelight.report.write_report`).

    Parameters
    ----------
    path : path of the study file.
    progress : called as progress(done, total, what) before each step.

    Returns
    -------
    StudyResult, also where measurements failed: those are findings of severity "error".

    Raises
    ------
    DataError, InputError
        The study file or its table cannot be understood as a whole; nothing is written then.
    """
    path = Path(path)
    settings = read_settings(path)
    table = read_table(path.parent / settings.study.measurements)
    findings = Findings()
    samples_asked = [m for m in table if m.role == "sample"]
    steps = len(samples_asked) + 3
    tell = progress or (lambda done, total, what: None)

    for m in table:
        for problem, mend in m.problems:
            findings.add("error", m.name, problem, settings.study.measurements, mend)
    sound = {m.name: m for m in table if not m.problems}
    output = path.parent / settings.study.output

    tell(0, steps, "checksums of the inputs")
    inputs, hashes = _hash_inputs(path, settings, list(sound.values()), findings)
    for name in [n for n in sound if n not in hashes]:
        del sound[name]

    tell(1, steps, "geometry, mask, shared frames")
    try:
        shared = _prepare(settings, path.parent, {m.name: m for m in table}, sound, findings)
    except SIEVELIGHT_ERRORS as error:
        findings.add_error("study", path.name, error)
        shared = None

    results: list[SampleResult] = []
    redone: list[str] = []
    common = key_of(__version__, _relevant(settings), [(n, hashes[n], _row(sound[n])) for n in sorted(sound) if sound[n].role != "sample"],
                    inputs.get(settings.detector.mask or "", ""))  # fmt: skip
    for number, m in enumerate(samples_asked, start=2):
        tell(number, steps, m.name)
        if shared is None or m.name not in sound:
            continue
        key = key_of(common, hashes[m.name], _row(m))
        place = output / "checkpoints" / f"{safe_name(m.name)}.npz"
        saved = load_checkpoint(place, key)
        if saved is not None and _products(output, m.name):
            result, own = _restore(saved)
        else:
            own = Findings()
            try:
                result = one.process(shared, m, own)
            except SIEVELIGHT_ERRORS as error:
                findings.add_error(m.name, _where(m, settings), error)
                continue
            except Exception as error:  # a defect of ours must not cost the night's other samples
                findings.add(
                    "error",
                    m.name,
                    f"The program failed on this measurement: {type(error).__name__}: {error}",
                    _where(m, settings),
                    "This is a defect of the program; please report it with this row and its file.",
                )
                continue
            _write_products(output, shared, result)
            save_checkpoint(place, key, _to_save(result, own))
            redone.append(m.name)
        findings.items += own.items
        results.append(result)

    tell(steps - 1, steps, "comparison of batches")
    comparison, compared = batches.compare(results, settings, findings)
    record = {
        "made": datetime.now(timezone.utc).strftime("%Y-%m-%d %H:%M UTC"),
        "study": path.name,
        "settings": msgspec.to_builtins(settings),
        "inputs": [{"file": file, "sha256": digest} for file, digest in sorted(inputs.items())],
        "measurements": [_row(m) for m in table],
        "geometry": _geometry_record(shared),
        "versions": {"sievelight": __version__, "python": platform.python_version(), "numpy": np.__version__},
    }
    result_of_all = StudyResult(
        settings=settings,
        measurements=table,
        samples=results,
        findings=findings.sorted(),
        comparison=comparison,
        compared=compared,
        quantity=settings.compare.quantity,
        output=output,
        record=record,
        calibration=shared.calibration if shared else {},
        scale=shared.scale_facts if shared else {},
        redone=redone,
    )
    write_tables(result_of_all)
    tell(steps, steps, "tables written")
    return result_of_all


def _where(m: Measurement, settings: Settings) -> str:
    return f"{settings.study.measurements} row {m.row}, file {', '.join(f for f, _ in m.files)}"


def _row(m: Measurement) -> dict[str, Any]:
    return {"name": m.name, "role": m.role, "files": m.files, "text": m.text, "values": m.values, "u": m.u}


def _relevant(settings: Settings) -> Any:
    """What a sample's result depends on: all but the comparison, the title and the output folder."""
    content = msgspec.to_builtins(settings)
    return {k: v for k, v in content.items() if k not in ("compare", "study")}


def _hash_inputs(
    path: Path, settings: Settings, rows: list[Measurement], findings: Findings
) -> tuple[dict[str, str], dict[str, list[str]]]:
    """SHA-256 of every input, by its path in the study; rows with a file that cannot be read become findings."""
    inputs = {path.name: sha256(path), settings.study.measurements: sha256(path.parent / settings.study.measurements)}
    if settings.detector.mask:
        inputs[settings.detector.mask] = sha256(path.parent / settings.detector.mask)
    hashes: dict[str, list[str]] = {}
    for m in rows:
        try:
            for file, _ in m.files:
                if file not in inputs:
                    inputs[file] = sha256(path.parent / file)
            hashes[m.name] = [inputs[file] for file, _ in m.files]
        except SIEVELIGHT_ERRORS as error:
            findings.add_error(m.name, _where(m, settings), error)
    return inputs, hashes


def _prepare(
    settings: Settings, folder: Path, table: dict[str, Measurement], sound: dict[str, Measurement], findings: Findings
) -> prepare.Shared:
    """Everything the samples share. A shared row that fails becomes a finding; its samples will say so."""
    loaded: dict[str, prepare.Loaded] = {}
    for m in [m for m in sound.values() if m.role in ("calibrant", "background", "empty_beam", "standard", "dark")]:
        try:
            loaded[m.name] = prepare.load(m, folder, settings)
        except SIEVELIGHT_ERRORS as error:
            findings.add_error(m.name, _where(m, settings), error)
            del sound[m.name]
    if not loaded:  # a study of samples alone still has a geometry and a mask
        m = next((m for m in sound.values() if m.role == "sample"), None)
        if m is None:
            raise input_error("no measurement of the study can be read.", "See the findings of the rows.")
        loaded[m.name] = prepare.load(m, folder, settings)
    bright = {n: item for n, item in loaded.items() if table[n].role != "dark"} or loaded
    first_name, first = next(iter(bright.items()))
    masked = prepare.study_mask(settings, folder, loaded)
    start = prepare.nominal_geometry(settings, first.metadata, first_name, findings)
    calibrants = [m for m in sound.values() if m.role == "calibrant"]
    ring, calibration = None, {}
    if calibrants:
        m = calibrants[0]
        try:
            ring = prepare.calibrate(m, loaded[m.name], masked, start, settings)
            for warning in ring.warnings:
                findings.add("note", m.name, warning)
        except SIEVELIGHT_ERRORS as error:
            findings.add_error(m.name, _where(m, settings), error)
            findings.add(
                "warning",
                "study",
                "The geometry is the nominal one: the calibration failed.",
                "",
                "Every size carries the nominal distance's unknown error.",
            )
    else:
        findings.add(
            "warning",
            "study",
            "The geometry is the nominal one: there is no calibrant row.",
            "",
            "Add a calibrant row, e.g. silver behenate; until then sizes carry the nominal distance's unknown error.",
        )
    g = ring.geometry if ring else start
    _, averager = prepare.make_averager(settings, g, masked, first.metadata, findings)
    shifts = []
    if ring is not None:
        shifts = reduce.geometry_shifts(geometry.geometry_components(ring), table=averager.table, geometry=g)
        shown = prepare.total(loaded[calibrants[0].name])
        calibration = {
            "geometry": g,
            "counts": shown.counts,
            "masked": masked | shown.masked,
            "ring_q_per_nm": [2 * np.pi / d for d in geometry.calibrant(calibrants[0].text["material"]).d_nm],
            "lines": prepare.describe_calibration(ring, calibrants[0]),
        }
    else:
        calibration = {
            "geometry": g,
            "lines": [
                f"Nominal geometry: distance {g.distance_mm:g} mm, beam point at column {g.beam_center_x_px:g}, row {g.beam_center_y_px:g}."
            ],
        }
    shared = prepare.Shared(settings, folder, table, g, masked, averager, shifts, calibration)
    shared.darks = {n: prepare.total(item) for n, item in loaded.items() if table[n].role == "dark"}
    shared.normalize_by = _normalisation(settings, sound, loaded)
    _transmissions(shared, sound, findings)
    for m in [m for m in sound.values() if m.role in ("background", "empty_beam", "standard")]:
        try:
            shared.averaged[m.name] = one.average(shared, m, findings)
        except SIEVELIGHT_ERRORS as error:
            findings.add_error(m.name, _where(m, settings), error)
    _absolute_scale(shared, sound, findings)
    return shared


def _normalisation(settings: Settings, sound: dict[str, Measurement], loaded: dict[str, prepare.Loaded]) -> str:
    """By monitor where every row with beam has one, else by exposure; the study file may decide."""
    if settings.reduce.normalize_by:
        return settings.reduce.normalize_by
    lit = [m for m in sound.values() if m.role != "dark"]
    return "monitor" if lit and all(m.get("incident_intensity") is not None for m in lit) else "exposure"


def _transmissions(shared: prepare.Shared, sound: dict[str, Measurement], findings: Findings) -> None:
    empty = next((m for m in sound.values() if m.role == "empty_beam"), None)
    for name, m in list(sound.items()):
        if m.role in ("dark", "calibrant"):
            continue
        try:
            t = prepare.transmission(m, shared.table, empty)
        except SIEVELIGHT_ERRORS as error:
            findings.add_error(name, _where(m, shared.settings), error)
            del sound[name]
            continue
        if t is not None:
            shared.transmissions[name] = t
        elif m.role in ("sample", "standard", "background"):
            findings.add(
                "warning",
                name,
                "No transmission is known; 1 is used.",
                "",
                "Give transmission, or the monitor intensities of this row and of an empty_beam row.",
            )


def _absolute_scale(shared: prepare.Shared, sound: dict[str, Measurement], findings: Findings) -> None:
    standards = [m for m in sound.values() if m.role == "standard" and m.name in shared.averaged]
    if not standards:
        findings.add(
            "warning",
            "study",
            "Intensities are relative: no standard gives an absolute scale.",
            "",
            "Add a row of role standard (material glassy carbon) with its thickness and transmission.",
        )
        return
    m = standards[0]
    try:
        if m.text.get("material", "").replace(" ", "").lower() != "glassycarbon":
            raise input_error(
                f"the standard '{m.name}' (row {m.row}) is of '{m.text.get('material', '')}'; only glassy carbon (SRM 3600) is known.",
                "Write glassy carbon in its column `material`.",
            )
        if m.get("thickness_mm") is None:
            raise input_error(
                f"the standard '{m.name}' (row {m.row}) has no thickness_mm.",
                "SRM 3600 is 1.055 mm thick; measure the strip used.",
            )
        _, measured = one.absolute(shared, m, shared.averaged[m.name], findings)
        k = reduce.absolute_scale(measured)
        for warning in k.warnings:
            findings.add("warning", m.name, warning)
        shared.scale = k.factor
        shared.scale_facts = {
            "factor": k.factor.value,
            "relative_u": k.relative_u,
            "chi2_per_point": k.chi2_per_point,
            "words": f"The absolute scale comes from the glassy-carbon standard '{m.name}' (NIST SRM 3600; A. J. Allen et al., J. Appl. Cryst. 50 (2017) 462) over {k.q_range_per_nm.low:.3g} … {k.q_range_per_nm.high:.3g} 1/nm: "
            f"relative standard uncertainty {100 * k.relative_u:.2f} %, of which 2.58 % is the certificate's and common to all points; χ² per point of its shape {k.chi2_per_point:.2f}.",
        }
    except SIEVELIGHT_ERRORS as error:
        findings.add_error(m.name, _where(m, shared.settings), error)


def _geometry_record(shared: prepare.Shared | None) -> dict[str, float] | None:
    if shared is None:
        return None
    g = shared.geometry
    names = (
        "wavelength_nm",
        "distance_mm",
        "beam_center_x_px",
        "beam_center_y_px",
        "pixel_size_x_mm",
        "pixel_size_y_mm",
        "pitch_deg",
        "yaw_deg",
        "roll_deg",
    )
    return {name: getattr(g, name) for name in names}


def _paths(output: Path, name: str) -> tuple[Path, Path]:
    return output / "curves" / f"{safe_name(name)}.h5", output / "distributions" / f"{safe_name(name)}.h5"


def _products(output: Path, name: str) -> bool:
    return all(p.exists() for p in _paths(output, name))


def _write_products(output: Path, shared: prepare.Shared, result: SampleResult) -> None:
    curve_path, size_path = _paths(output, result.name)
    with whole_file(curve_path) as temporary:
        curves.write_nxcansas(
            temporary,
            result.curve,
            title=f"{shared.settings.study.title}: {result.name}",
            sample_name=result.name,
            thickness_mm=result.thickness_mm.value,
            transmission=result.transmission.value,
            wavelength_nm=shared.geometry.wavelength_nm,
            distance_mm=shared.geometry.distance_mm,
            steps=[
                (
                    s["name"],
                    s["equation"],
                    {
                        "applied": str(s["applied"]),
                        "parameters": s["parameters"],
                        "source": s["source"],
                        "note": s["note"],
                    },
                )
                for s in result.steps
            ],
        )
    if result.size is not None:
        with whole_file(size_path) as temporary:
            distribution.write_distribution(temporary, result.size, title=result.name)


def _to_save(result: SampleResult, own: Findings) -> dict[str, Any]:
    c = result.curve
    return {
        "name": result.name,
        "batch": result.batch,
        "route": result.route,
        "transmission": estimate_to_list(result.transmission),
        "thickness_mm": estimate_to_list(result.thickness_mm),
        "curve": {
            "arrays": {
                k: np.asarray(getattr(c, k))
                for k in ("q_per_nm", "intensity", "private_u", "q_low_per_nm", "q_high_per_nm", "q_resolution_per_nm")
            },
            "unit": c.unit,
            "causes": [[cause_id, cause.kind, np.asarray(cause.u)] for cause_id, cause in c.causes.items()],
        },
        "size": result.size.to_dict() if result.size is not None else None,
        "summary": {k: estimate_to_list(v) for k, v in result.summary.items()},
        "numbers": result.numbers,
        "influence": result.influence,
        "budget": result.budget,
        "steps": result.steps,
        "details": result.details,
        "findings": [[f.severity, f.measurement, f.finding, f.evidence, f.mend] for f in own.items],
    }


def _restore(saved: dict[str, Any]) -> tuple[SampleResult, Findings]:
    stored = saved["curve"]
    c = Curve(**stored["arrays"], unit=stored["unit"])
    c.causes = {cause_id: curves.Cause(kind, u) for cause_id, kind, u in stored["causes"]}
    result = SampleResult(
        name=saved["name"],
        batch=saved["batch"],
        route=saved["route"],
        transmission=estimate_from_list(saved["transmission"]),
        thickness_mm=estimate_from_list(saved["thickness_mm"]),
        curve=c,
        size=distribution.SizeDistribution.from_dict(saved["size"]) if saved["size"] is not None else None,
        summary={k: estimate_from_list(v) for k, v in saved["summary"].items()},
        numbers=saved["numbers"],
        influence=saved["influence"],
        budget=saved["budget"],
        steps=saved["steps"],
        details=saved["details"],
    )
    return result, Findings([Finding(*f) for f in saved["findings"]])

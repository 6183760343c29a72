# SPDX-License-Identifier: GPL-3.0-or-later
"""A script as a user writes it: from a curve's file to sizes, from a study to a verdict. test_user_script.py runs it and
asks mypy --strict about it."""

from pathlib import Path

import sievelight as sl


def read(path: Path) -> sl.Curve:
    if path.suffix == ".csv":
        return sl.read_text_curve(path).curve
    return sl.read_curves(path)[0].curve


def surface_m2_per_cm3(curve: sl.Curve) -> float:
    guinier = sl.fit_guinier(curve, q_rg_max=1.3)
    porod = sl.fit_porod(curve)
    total = sl.invariant(curve, guinier=guinier, porod=porod)
    surface = sl.specific_surface(curve, porod=porod, invariant=total, contrast_per_cm2=(1.864e11, 0.002e11))
    found = surface.from_contrast_m2_per_cm3
    return found.value if found is not None else float("nan")


def sizes(curve: sl.Curve, folder: Path) -> sl.Estimate:
    size: sl.SizeDistribution = sl.invert(curve, method="evidence", diameter_nm=(2.0, 30.0), contrast_per_cm2=1.864e11)
    for warning in size.warnings:
        print(warning)
    saved: Path = size.save(folder / "sizes.csv")
    print(saved.name, size.to_dataframe(what="numbers").shape)
    size.plot(kind="density").figure.savefig(folder / "sizes.png")
    curve.plot(kind="guinier")
    return size.x50_nm


def verdicts(names: list[str], batches: list[str], medians: list[sl.Estimate]) -> dict[str, str]:
    found = sl.compare_batches(
        names=names,
        batches=batches,
        values=[e.value for e in medians],
        u=[e.u for e in medians],
        margin_percent=5.0,
        reference="kiln 1",
    )
    return {pair.batch: pair.verdict for pair in found.pairs}


def study(path: Path) -> list[str]:
    result: sl.StudyResult = sl.run_study(path)
    lines = [f"{finding.severity}: {finding.measurement}: {finding.finding}" for finding in result.findings]
    for sample in result.samples:
        x50 = sample.quantity("x50")
        if x50 is not None and sample.size is not None:
            lines.append(
                f"{sample.name} ({sample.batch}): {x50.value:.2f} nm, {x50.band95.low:.2f} to {x50.band95.high:.2f}"
            )
    if result.comparison is not None:
        lines += [f"{pair.batch}: {pair.verdict}, {pair.reason}" for pair in result.comparison.pairs]
    report: Path = sl.report.write_report(result)
    return [*lines, *result.failed, report.name]


def frames(path: Path, mask: Path) -> sl.Curve:
    file = sl.open_frames(path, exposure_s=25.0)
    map = sl.pixel_map(sl.examples.geometry(), file.rows, file.columns)
    hidden = sl.read_mask(mask, rows=file.rows, columns=file.columns)
    edges = sl.make_bins(map, mask=hidden, bins=40)
    return sl.average(file.read_sum(), map=map, edges_per_nm=edges, mask=hidden, name="tile").curve


def main(folder: Path) -> None:
    sl.write_csv(folder / "tile.csv", sl.examples.curve(), causes=True)
    curve = read(folder / "tile.csv")
    print(f"{surface_m2_per_cm3(curve):.1f} m2/cm3")
    medians = [sizes(sl.examples.curve(median_nm=m, seed=k), folder) for k, m in enumerate((8.0, 8.1, 9.6, 9.7))]
    print(verdicts(["1a", "1b", "2a", "2b"], ["kiln 1", "kiln 1", "kiln 2", "kiln 2"], medians))
    try:
        sl.read_curves(folder / "tile.csv")
    except sl.DataError as error:
        print(str(error).splitlines()[0])
    print("\n".join(study(sl.examples.study(folder / "study"))))


if __name__ == "__main__":
    main(Path.cwd())

# SPDX-License-Identifier: GPL-3.0-or-later
"""The study file: what `study.toml` may say, and its check.

Keys carry their unit as a suffix. An unknown key is an error that names the nearest known one.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Any, Literal

import msgspec
from msgspec import Meta, Struct, field

from sievelight import distribution, reduce
from sievelight.errors import InputError, input_error, nearest
from sievelight.text_files import MOST_TOML_BYTES, is_control, parse_toml, read_text

Positive = Annotated[float, Meta(gt=0)]
NotNegative = Annotated[float, Meta(ge=0)]
Fraction = Annotated[float, Meta(ge=0, le=1)]


class StudySection(Struct, forbid_unknown_fields=True):
    """[study]: what is measured and where results go; paths are relative to the study file."""

    title: str = "Untitled study"
    measurements: str = "measurements.csv"
    output: str = "results"


class Slit(Struct, forbid_unknown_fields=True):
    """[instrument.slit]: the line-shaped beam in the detector plane, folded with the height of the strip that counts."""

    half_top_mm: NotNegative | None = None
    half_base_mm: Positive | None = None
    width_fwhm_mm: NotNegative = 0.0
    profile: str | None = None
    width_profile: str | None = None


class Position(Struct, forbid_unknown_fields=True):
    """[[instrument.position]]: how far a place of the changer stands nearer to the detector than the calibrant's."""

    name: str
    offset_mm: float
    offset_u_mm: NotNegative = 0.0


class Instrument(Struct, forbid_unknown_fields=True):
    """[instrument]: nominal geometry; refined where the table has a calibrant row."""

    wavelength_nm: Positive | None = None
    wavelength_spread: NotNegative = 0.0
    distance_mm: Positive | None = None
    beam_center_px: tuple[float, float] | None = None
    pixel_size_mm: tuple[Positive, Positive] | None = None  # x, y; a file may give one number for square pixels
    pitch_deg: float = 0.0
    yaw_deg: float = 0.0
    roll_deg: float = 0.0
    polarization_fraction: Fraction = 0.5
    polarization_u: NotNegative = 0.0
    polarization_plane_deg: float = 0.0
    beam_fwhm_mm: NotNegative = 0.0
    collimation: Literal["point", "line"] = "point"
    slit: Slit | None = None
    refine_tilt: bool = False
    beam_center_from: Literal["direct_beam", "beamstop"] | None = None
    distance_u_mm: NotNegative = 0.0
    beam_center_u_px: NotNegative = 0.0
    position: list[Position] = field(default_factory=list)


class Detector(Struct, forbid_unknown_fields=True):
    """[detector]: what the sensor does to the counts."""

    dead_time_s: NotNegative | None = None
    dead_time_u_s: NotNegative = 0.0
    dead_time_model: Literal["non-paralyzable", "paralyzable"] = "non-paralyzable"
    saturation_value: Positive | None = None
    sensor_material: str | None = None
    sensor_thickness_mm: Positive | None = None
    sensor_attenuation_per_cm: Positive | None = None
    threshold_keV: Positive | None = None
    flat_field_from: Literal["sample", "even"] = "sample"
    mask: str | None = None


class Rectangle(Struct, forbid_unknown_fields=True):
    """[[mask.rectangle]]: columns and rows (low, high), edges included."""

    x_px: tuple[float, float]
    y_px: tuple[float, float]
    outside: bool = False


class Circle(Struct, forbid_unknown_fields=True):
    """[[mask.circle]]."""

    center_px: tuple[float, float]
    radius_px: Positive
    outside: bool = False


class Polygon(Struct, forbid_unknown_fields=True):
    """[[mask.polygon]]: three corners or more, (column, row)."""

    corners_px: list[tuple[float, float]]
    outside: bool = False


class QRange(Struct, forbid_unknown_fields=True):
    """[[mask.q_range]]: an annulus."""

    low_per_nm: NotNegative = 0.0
    high_per_nm: Positive | None = None
    outside: bool = False


class Values(Struct, forbid_unknown_fields=True):
    """[[mask.values]]: counts of a single exposure."""

    low: float | None = None
    high: float | None = None
    outside: bool = False


class MaskSection(Struct, forbid_unknown_fields=True):
    """[mask]: shapes and ranges not to be used, and what is looked for besides."""

    rectangle: list[Rectangle] = field(default_factory=list)
    circle: list[Circle] = field(default_factory=list)
    polygon: list[Polygon] = field(default_factory=list)
    q_range: list[QRange] = field(default_factory=list)
    values: list[Values] = field(default_factory=list)
    find_defects: bool = True
    find_beamstop: bool = True
    find_spots: bool = True


class Window(Struct, forbid_unknown_fields=True):
    """[[flight_path.window]]: a foil between sample and detector."""

    material: str
    thickness_mm: Positive
    density_g_per_cm3: Positive | None = None


class FlightPath(Struct, forbid_unknown_fields=True):
    """[flight_path]: gas and windows between sample and detector."""

    air_mm: NotNegative = 0.0
    air_attenuation_per_cm: NotNegative | None = None
    gas: str = "air"
    window: list[Window] = field(default_factory=list)


class SampleShape(Struct, forbid_unknown_fields=True):
    """[sample]: the samples' shape in the beam, for self-absorption at an angle."""

    shape: Literal["plate", "capillary"] = "plate"
    rotation_deg: float = 0.0
    walls: Literal["ignore", "upstream", "downstream", "both"] = "ignore"
    capillary_axis: Literal["vertical", "horizontal"] = "vertical"
    beam_width_mm: NotNegative = 0.0
    beam_offset_mm: float = 0.0
    intensity_per: Literal["volume", "gram"] = "volume"


class Reduce(Struct, forbid_unknown_fields=True):
    """[reduce]: bins and normalisation."""

    bins: Annotated[int, Meta(ge=5, le=20000)] = 200
    spacing: Literal["log", "linear"] = "log"
    q_min_per_nm: Positive | None = None
    q_max_per_nm: Positive | None = None
    normalize_by: Literal["exposure", "monitor"] | None = None
    edges_per_nm: list[NotNegative] | None = None
    sectors_deg: list[tuple[float, float]] = field(default_factory=list)
    azimuth_q_per_nm: tuple[Positive, Positive] | None = None
    by_area: bool = False
    azimuth_bins: Annotated[int, Meta(ge=8, le=3600)] = 72
    remove_spikes: bool = True
    compare_repeats: bool = True
    repeat_alpha: Annotated[float, Meta(gt=0, lt=0.5)] = 0.01
    repeat_scale_u: NotNegative = 0.01
    fit_background_per_nm: tuple[Positive, Positive] | None = None
    switch_off: list[str] = field(default_factory=list)
    beam_radius_px: Positive | None = None
    transmission_from: Literal["monitor", "beamstop"] | None = None
    absolute_scale_from: Literal["standard", "direct_beam"] | None = None


class Curves(Struct, forbid_unknown_fields=True):
    """[curves]: of rows of role `curve`, the units of text files whose header does not name them, and the uncertainty
    of points that came without: a share of the intensity, and a floor in the curve's unit."""

    q_unit: str | None = None
    intensity_unit: str | None = None
    assumed_relative_u: NotNegative | None = None
    assumed_floor: NotNegative = 0.0


class Phase(Struct, forbid_unknown_fields=True):
    """[[distribution.phase]]: one of the two phases; "vacuum", or a material by name or formula."""

    composition: str
    density_g_per_cm3: Positive | None = None


class Analysis(Struct, forbid_unknown_fields=True):
    """[analysis]: a range of Guinier's law chosen by hand, for all samples; by default each curve's own."""

    guinier_q_range_per_nm: tuple[Positive, Positive] | None = None


class Distribution(Struct, forbid_unknown_fields=True):
    """[distribution]: the inversion."""

    shape: Literal["sphere", "core-shell sphere", "spheroid", "cylinder", "lamella"] = "sphere"
    axis_ratio: Positive | None = None
    length_ratio: Positive | None = None
    length_nm: Positive | None = None
    width_nm: Positive | None = None
    shell_ratio: Annotated[float, Meta(gt=0, lt=1)] | None = None
    shell_nm: Positive | None = None
    shell_contrast_ratio: float | None = None
    hard_sphere_fraction: Annotated[float, Meta(ge=0, le=0.5)] | None = None
    hard_sphere_factor: Positive = 1.0
    diameter_nm: tuple[Positive, Positive] | None = None
    contrast_per_cm2: Positive | None = None
    phase: list[Phase] = field(default_factory=list)
    power_law: bool = False
    power_exponent: Annotated[float, Meta(ge=3, le=4)] = 4.0
    also_fit: Literal["nothing", "hard_sphere_fraction", "power_exponent"] = "nothing"
    what_if: Literal["none", "first", "all"] = "first"
    look_for_order: bool = True
    symmetry: Literal["lamellar", "p6mm", "Pm-3m", "Im-3m", "Fm-3m", "Ia-3d", "Pn-3m", "Pm-3n"] | None = None
    root: Literal["smaller", "larger"] = "smaller"
    q_range_per_nm: tuple[Positive, Positive] | None = None
    seed: Annotated[int, Meta(ge=0)] = 1
    method: Literal["sampled", "evidence", "cross_validation", "l_curve", "maximum_entropy"] = "sampled"


class Compare(Struct, forbid_unknown_fields=True):
    """[compare]: which quantity decides, and how large a difference matters."""

    quantity: str = "x50"
    margin_percent: Positive = 5.0
    reference: str | None = None
    alpha: Annotated[float, Meta(gt=0, lt=0.5)] = 0.05
    also: list[str] = field(default_factory=list)
    scatter: Literal["per_batch", "pooled"] = "per_batch"
    single_samples: bool = False
    power: Annotated[float, Meta(gt=0.5, lt=1)] = 0.8
    looks: list[Annotated[int, Meta(ge=2)]] = field(default_factory=list)  # samples a batch, planned beforehand
    spending: Literal["obrien_fleming", "pocock"] = "obrien_fleming"


class Configuration(Struct, forbid_unknown_fields=True):
    """[[plan.configuration]]: another way to set up the instrument; what is left out is as it is."""

    name: str
    distance_mm: Positive | None = None
    wavelength_nm: Positive | None = None
    q_min_per_nm: Positive | None = None
    q_max_per_nm: Positive | None = None
    bins: Annotated[int, Meta(ge=12, le=20000)] | None = None
    q_resolution_per_nm: Positive | None = None
    relative_flux: Positive = 1.0
    background_per_cm: NotNegative | None = None
    azimuth_share: Annotated[float, Meta(gt=0, le=1)] | None = None


class Plan(Struct, forbid_unknown_fields=True):
    """[plan]: the target, and the pilot or the expected sample that exposures are planned from."""

    quantity: str = "x50"
    target_percent: Positive | None = None
    decide_margin_percent: Positive | None = None
    samples_per_batch: Annotated[int, Meta(ge=2, le=60)] | None = None
    between_sd_percent: NotNegative | None = None
    samples_sharing_background: Annotated[int, Meta(ge=1)] = 1
    pilot: str | None = None
    family: str = "log-normal"
    sizes: dict[str, Positive] = field(default_factory=dict)
    volume_fraction: Annotated[float, Meta(gt=0, lt=1)] | None = None
    photons_per_s: Positive | None = None
    thickness_mm: Positive | None = None
    composition: str | None = None
    density_g_per_cm3: Positive | None = None
    transmission: Annotated[float, Meta(gt=0, le=1)] | None = None
    cell_transmission: Annotated[float, Meta(gt=0, le=1)] = 1.0
    background_per_cm: NotNegative = 0.0
    flat_level_per_cm: NotNegative = 0.0
    power_law_k: NotNegative = 0.0
    relative_floor: NotNegative = 0.0
    q_resolution_per_nm: Positive | None = None
    azimuth_share: Annotated[float, Meta(gt=0, le=1)] = 1.0
    exposure_s: Positive = 100.0
    repeats: Annotated[int, Meta(ge=1, le=200)] = 4
    seed: Annotated[int, Meta(ge=0)] = 1
    configuration: list[Configuration] = field(default_factory=list)


class Settings(Struct, forbid_unknown_fields=True):
    """A whole study file."""

    study: StudySection = field(default_factory=StudySection)
    instrument: Instrument = field(default_factory=Instrument)
    detector: Detector = field(default_factory=Detector)
    mask: MaskSection = field(default_factory=MaskSection)
    flight_path: FlightPath = field(default_factory=FlightPath)
    sample: SampleShape = field(default_factory=SampleShape)
    reduce: Reduce = field(default_factory=Reduce)
    curves: Curves = field(default_factory=Curves)
    analysis: Analysis = field(default_factory=Analysis)
    distribution: Distribution = field(default_factory=Distribution)
    compare: Compare = field(default_factory=Compare)
    plan: Plan = field(default_factory=Plan)


def _check_keys(data: dict[str, Any], file: str) -> None:
    sections = {f.name: f.type for f in msgspec.structs.fields(Settings)}
    for section, content in data.items():
        if section not in sections:
            raise input_error(f"{file}: unknown section [{section}].", nearest(section, sections))
        if not isinstance(content, dict):
            raise input_error(f"{file}: '{section}' must be a section [{section}], not a value.", "See the README.")
        known = [f.name for f in msgspec.structs.fields(sections[section])]
        for key in content:
            if key not in known:
                homes = [name for name, t in sections.items() if key in (f.name for f in msgspec.structs.fields(t))]
                mend = f"It stands in [{homes[0]}]." if homes else nearest(key, known)
                raise input_error(f"{file}: unknown key '{key}' in [{section}].", mend)


# No length, count or density of this world lies outside; products of a few such numbers stay finite.
LEAST, MOST = 1e-30, 1e30


def _each(value: Any, keys: tuple[str, ...] = ()) -> Iterator[tuple[str, Any]]:
    """All numbers and texts of the settings, each with its place: "[section] key"."""
    if isinstance(value, dict):
        for key, item in value.items():
            yield from _each(item, (*keys, key))
    elif isinstance(value, (list, tuple)):
        for item in value:
            yield from _each(item, keys)
    else:
        yield f"[{keys[0]}] {'.'.join(keys[1:])}", value


def _check_values(settings: Settings, file: str) -> None:
    """Numbers are finite and of this world, texts hold no control characters, results stay beside the study."""
    for where, value in _each(msgspec.to_builtins(settings)):
        if isinstance(value, str) and any(is_control(c) for c in value):
            raise input_error(f"{file}: {where} holds a control character: {value!r}.", "Write plain text.")
        if not isinstance(value, (int, float)) or isinstance(value, bool) or value == 0:
            continue
        if not math.isfinite(value) or not LEAST <= abs(value) <= MOST:
            raise input_error(
                f"{file}: {where} is {value}.", f"Give a number between {LEAST:g} and {MOST:g}, or leave the key out."
            )
    output = Path(settings.study.output)
    if output.is_absolute() or ".." in output.parts or output == Path("."):
        raise input_error(
            f"{file}: [study] output is '{output}', which is no folder below the study's.",
            "Name a folder beside the study file; run_study(..., output=...) writes elsewhere.",
        )


def _check_ranges(settings: Settings, file: str) -> None:
    ranges = {
        "[reduce] q_min_per_nm, q_max_per_nm": (settings.reduce.q_min_per_nm, settings.reduce.q_max_per_nm),
        "[reduce] fit_background_per_nm": settings.reduce.fit_background_per_nm or (None, None),
        "[reduce] azimuth_q_per_nm": settings.reduce.azimuth_q_per_nm or (None, None),
        "[analysis] guinier_q_range_per_nm": settings.analysis.guinier_q_range_per_nm or (None, None),
        "[distribution] diameter_nm": settings.distribution.diameter_nm or (None, None),
        "[distribution] q_range_per_nm": settings.distribution.q_range_per_nm or (None, None),
    }
    for where, (low, high) in ranges.items():
        if low is not None and high is not None and not low < high:
            raise input_error(f"{file}: {where} is ({low}, {high}).", "Give the smaller number first.")


def _check_looks(settings: Settings, file: str) -> None:
    looks = settings.compare.looks
    if len(looks) == 1 or len(looks) > 20 or any(a >= b for a, b in itertools.pairwise(looks)):
        raise input_error(
            f"{file}: [compare] looks = {looks}.",
            "Give the samples a batch at each look, rising, two looks or more, 20 at most: looks = [4, 8, 12]. Leave it away "
            "for one comparison.",
        )


def _check_line(settings: Settings, file: str) -> None:
    i = settings.instrument
    if (i.collimation == "line") != (i.slit is not None):
        raise input_error(
            f"{file}: collimation is '{i.collimation}' and [instrument.slit] is {'absent' if i.slit is None else 'given'}.",
            'Write collimation = "line" and [instrument.slit] with the beam\'s profile, or neither.',
        )
    if i.slit is not None:
        trapezoid = (i.slit.half_top_mm, i.slit.half_base_mm)
        if (None in trapezoid) == (i.slit.profile is None) or trapezoid.count(None) == 1:
            raise input_error(
                f"{file}: [instrument.slit] does not say the profile along the line just once.",
                "Give half_top_mm and half_base_mm of a trapezoid, or profile, the file of a measured one.",
            )
    edges = settings.reduce.edges_per_nm
    if edges is not None and any(a >= b for a, b in itertools.pairwise(edges)):
        raise input_error(
            f"{file}: [reduce] edges_per_nm do not rise.", "Write the edges of the bins from low to high."
        )


def _check_phases(settings: Settings, file: str) -> None:
    d = settings.distribution
    if d.phase and (len(d.phase) != 2 or d.contrast_per_cm2 is not None):
        raise input_error(
            f"{file}: [distribution] has {len(d.phase)} phases{' and a contrast' if d.contrast_per_cm2 else ''}.",
            "Give two [[distribution.phase]] (composition, density_g_per_cm3), or contrast_per_cm2.",
        )


SHAPE_KEYS = ("axis_ratio", "length_ratio", "length_nm", "width_nm", "shell_ratio", "shell_nm", "shell_contrast_ratio")


def shape_of(d: Distribution) -> Any:
    """The shape of the particles that a study names, with its parameters."""
    return distribution.particle_shape(d.shape, **{key: getattr(d, key) for key in SHAPE_KEYS})


def _check_shape(settings: Settings, file: str) -> None:
    try:
        shape_of(settings.distribution)
    except InputError as error:
        raise input_error(f"{file}: [distribution] {error.problem}", error.mend) from None
    d = settings.distribution
    crowded = d.hard_sphere_fraction is not None or d.also_fit == "hard_sphere_fraction"
    if crowded and d.shape in ("cylinder", "lamella"):
        raise input_error(
            f"{file}: [distribution] hard spheres are asked for with shape = '{d.shape}'.",
            "Use them with spheres, core-shell spheres or spheroids.",
        )
    if d.also_fit == "power_exponent" and not d.power_law:
        raise input_error(
            f"{file}: [distribution] also_fit = 'power_exponent' without a power law.", "Write power_law = true too."
        )
    if d.also_fit != "nothing" and d.method != "sampled":
        raise input_error(
            f"{file}: [distribution] also_fit = '{d.also_fit}' with method = '{d.method}'.",
            "Leave out the method: only the sampled one fits it.",
        )


def _check_steps(settings: Settings, file: str) -> None:
    for name in settings.reduce.switch_off:
        try:
            reduce.check_step(name)
        except InputError as error:
            raise input_error(f"{file}: [reduce] switch_off: {error.problem}", error.mend) from None


def read_settings(path: str | Path) -> Settings:
    """Read and check a study file.

    Raises
    ------
    DataError
        The file is missing or not TOML (with line and column).
    InputError
        A key or section is unknown (the nearest is named) or a value has the wrong type or is out of range.
    """
    path = Path(path)
    text = read_text(
        path, "study file", "Check the path; a study starts from a .toml file.", most_bytes=MOST_TOML_BYTES
    )
    return parse_settings(text, name=path.name)


def parse_settings(text: str, *, name: str = "study.toml") -> Settings:
    """Check the text of a study file, or a piece of one; `name` stands in the errors.

    Raises as `read_settings`.
    """
    data = parse_toml(text, name)
    _check_keys(data, name)
    side = data.get("instrument", {}).get("pixel_size_mm")
    if isinstance(side, (int, float)) and not isinstance(side, bool):
        data["instrument"]["pixel_size_mm"] = [side, side]
    try:
        settings = msgspec.convert(data, Settings, strict=False)
    except msgspec.ValidationError as error:
        text, _, where = str(error).partition(" - at ")
        key = where.strip("`").removeprefix("$.").replace(".", "] ", 1)
        raise input_error(f"{name}: [{key}: {text}.", "Correct that key of the study file.") from None
    except OverflowError as error:
        raise input_error(f"{name}: a number is too large ({error}).", "Correct that number.") from None
    _check_values(settings, name)
    _check_ranges(settings, name)
    _check_looks(settings, name)
    _check_line(settings, name)
    _check_phases(settings, name)
    _check_steps(settings, name)
    _check_shape(settings, name)
    return settings

"""
The compiled core of Sievelight; use it through the package `sievelight`.
"""
from __future__ import annotations
import collections.abc
import numpy
import numpy.typing
import os
import pathlib
from sievelight import DataError
from sievelight import InputError
from sievelight import NumericalError
import typing
__all__: list[str] = ['ATTENUATION_RELATIVE_U', 'Absolute', 'AbsoluteScale', 'Absorber', 'AlsoFit', 'Anisotropy', 'AreaAveraged', 'AreaAverager', 'AverageOptions', 'Averaged', 'Averager', 'AzimuthalProfile', 'BackgroundFactor', 'Band', 'BatchComparison', 'BatchPair', 'BatchSummary', 'BeamCenter', 'BeamSpot', 'BeamstopShadow', 'BinTable', 'Blur', 'Calibrant', 'CapillaryShape', 'Cause', 'ContrastSeries', 'CorrelationFunction', 'CountingRates', 'CrystalSpot', 'CrystalSpots', 'Curve', 'CurveEstimate', 'CurveEstimates', 'CurveInfo', 'CurvePeak', 'CurvePeaks', 'DataError', 'Desmeared', 'DetectorGeometry', 'DistributionDistance', 'DomainSize', 'EquivalenceTest', 'Estimate', 'ExpectedBeam', 'ExposureLaw', 'ExposureOptions', 'FEWEST_POINTS_FOR_ORDER', 'Factor', 'Filling', 'FillingFrame', 'FlatField', 'Fluorescence', 'Foreseen', 'FractionRoot', 'Frame', 'FrameFile', 'FrameMetadata', 'GeometryComponent', 'GeometryShift', 'GrainPorosity', 'GuinierFit', 'HardSpheres', 'Hysteresis', 'IndexedPeak', 'Indexing', 'InputError', 'InstrumentInfo', 'IntensityStandard', 'Invariant', 'InversionMethod', 'InvertOptions', 'Kernel', 'KernelOptions', 'LatticeCandidate', 'LineWeight', 'MULTIPLE_SCATTERING_ABOVE', 'Material', 'Measured', 'Merged', 'NamedCurve', 'NamedSample', 'NumericalError', 'OrderedPores', 'OverSubtraction', 'ParametricFit', 'PeakShare', 'PixelMap', 'PlateShape', 'PorodFit', 'PowderMass', 'ProcessStep', 'QAzimuthMap', 'RandomTwoPhase', 'Range', 'Reflection', 'RepeatReport', 'RepeatTest', 'RepeatTrend', 'RingCalibration', 'SamplePlaneOffsets', 'ScatteringLengthDensity', 'ScatteringProbability', 'SequentialLimits', 'SeriesChange', 'SeriesFrame', 'Shape', 'SizeDistribution', 'SizeGrid', 'Sizing', 'SizingStep', 'SlitGeometry', 'SlitProfile', 'SmearingMatrix', 'SpecificSurface', 'Spike', 'SpikeReport', 'Step', 'StepEffect', 'SummaryRates', 'TailCandidate', 'TailComparison', 'TailLaw', 'TradeOff', 'Transmission', 'absolute_curve', 'absolute_scale', 'add', 'add_geometry_causes', 'add_wavelength_cause', 'anisotropy', 'assume_u', 'attenuation_per_cm', 'average', 'azimuth_edges', 'azimuthal_profile', 'beam_spot', 'best_split', 'bin_table', 'calibrant', 'calibrate_rings', 'calibrate_rings_from_nothing', 'calibrate_strip', 'certified_intensity_per_cm', 'check', 'check_step', 'compare_batches', 'compare_repeats', 'compare_tail_laws', 'core_shell_sphere', 'core_shell_sphere_of_thickness', 'correlation_function', 'counts_per_s', 'covariance', 'covariance_of_summaries', 'crop', 'cycles', 'cylinder', 'cylinder_of_length', 'desmear_lake', 'dispersant', 'distribution_distance', 'divide', 'domain_size', 'equivalence_test', 'errors_for_sizing', 'estimate_without_curve', 'expected_intensity', 'expected_rates', 'find_beam_center', 'find_beamstop_shadow', 'find_change', 'find_crystal_spots', 'find_curve_peaks', 'find_defects', 'find_filling', 'find_spikes', 'first_crossings', 'fit_background_factor', 'fit_contrast_series', 'fit_exposure_law', 'fit_guinier', 'fit_parametric', 'fit_porod', 'fit_random_two_phase', 'flat_field_from_counts', 'fluorescence', 'flush_folder', 'foresee', 'geometry_components', 'geometry_components_at', 'geometry_shift', 'given_frames', 'given_transmission', 'hard_sphere_structure_factor', 'holm', 'hysteresis', 'index_peaks', 'index_positions', 'invariant', 'invert', 'kelvin_radius_nm', 'known_calibrants', 'lamella', 'linear_edges', 'local_slope', 'log_edges', 'looks_like_calibrant', 'make_bins', 'make_folders', 'make_kernel', 'mask_circle', 'mask_polygon', 'mask_q_range', 'mask_rectangle', 'mask_values', 'mass_attenuation_cm2_per_g', 'material', 'mean_intensity', 'means_of_batches', 'merge', 'minimal_surface_area', 'multiply', 'oblique_transmission', 'on_common_bins', 'open_frames', 'ordered_pores', 'over_subtracted', 'path_excess', 'peak_share', 'phi_one_minus_phi', 'pixel_map', 'plate_self_absorption', 'pointwise_u', 'polarisation', 'porosity_per_gram', 'predicted_u', 'q_azimuth_map', 'random_two_phase_surface', 'read_curves', 'read_mask', 'read_text_curve', 'rebin', 'recorded_rate', 'reduction_steps', 'reflections', 'remove_leftovers', 'remove_spikes', 'sample_plane_offsets', 'scale', 'scale_from_direct_beam', 'scattering_length_density', 'scattering_probability', 'sensor_efficiency', 'sequential_limits', 'share', 'size_experiment', 'size_families', 'slit_profile', 'smearing_matrix', 'specific_surface', 'sphere', 'sphere_form_factor', 'spheroid', 'srm3600', 'start_of_series', 'subtract', 'sum_frames', 'summary_rates', 'thread_count', 'total_u', 'trade_off', 'transmission_from_frames', 'transmission_from_monitors', 'trapezoid', 'true_rate', 'unite', 'usable_q', 'variance_by_cause', 'variance_of_summary', 'wasserstein', 'water_standard', 'whole_chain', 'with_curve', 'with_sample_offset', 'with_slit', 'write_csv', 'write_distribution', 'write_nxcansas', 'write_whole']
class Material:
    """
    What stands in the beam: its elements, their shares by mass, its density.
    """
    @property
    def density_g_per_cm3(self) -> float:
        ...
    @property
    def elements(self) -> list[int]:
        ...
    @property
    def formula(self) -> str:
        ...
    @property
    def mass_share(self) -> list[float]:
        ...
    @property
    def name(self) -> str:
        ...
class ScatteringLengthDensity:
    """
    Real and imaginary part, 1/cm2.
    """
    @property
    def imaginary_per_cm2(self) -> float:
        ...
    @property
    def real_per_cm2(self) -> float:
        ...
class Fluorescence:
    """
    An element that the beam excites.
    """
    @property
    def edge_keV(self) -> float:
        ...
    @property
    def element(self) -> str:
        ...
    @property
    def line_keV(self) -> float:
        ...
    @property
    def share(self) -> float:
        ...
class Range:
    def __getstate__(self) -> tuple[typing.Any, typing.Any]:
        ...
    def __init__(self, low: typing.SupportsFloat | typing.SupportsIndex, high: typing.SupportsFloat | typing.SupportsIndex) -> None:
        ...
    def __iter__(self) -> collections.abc.Iterator:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    @property
    def high(self) -> float:
        ...
    @high.setter
    def high(self, arg0: typing.SupportsFloat | typing.SupportsIndex) -> None:
        ...
    @property
    def low(self) -> float:
        ...
    @low.setter
    def low(self, arg0: typing.SupportsFloat | typing.SupportsIndex) -> None:
        ...
class Estimate:
    """
    A value with its standard uncertainty and its 68 % and 95 % intervals.
    """
    band68: Range
    band95: Range
    @staticmethod
    def normal(value: typing.SupportsFloat | typing.SupportsIndex, u: typing.SupportsFloat | typing.SupportsIndex) -> Estimate:
        """
        An estimate with a normal error: bands are value ± u and value ± 1.96 u.
        """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __init__(self) -> None:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def u(self) -> float:
        ...
    @u.setter
    def u(self, arg0: typing.SupportsFloat | typing.SupportsIndex) -> None:
        ...
    @property
    def value(self) -> float:
        ...
    @value.setter
    def value(self, arg0: typing.SupportsFloat | typing.SupportsIndex) -> None:
        ...
class Cause:
    """
    One shared cause of error: its kind and (n) signed standard deviations. Not writable.
    """
    def __getstate__(self) -> tuple[str, typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]]:
        ...
    def __init__(self, kind: str, u: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"]) -> None:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def kind(self) -> str:
        ...
    @property
    def u(self) -> numpy.ndarray[typing.Any, numpy.dtype[typing.Any]]:
        ...
class Curve:
    """
    A scattering curve with the causes of its error. Arrays are read as copies that cannot be written to; assign a whole array to change one, then call check().
    """
    def __add__(self, arg0: Curve) -> Curve:
        ...
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __init__(self, *, q_per_nm: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], intensity: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], private_u: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"] | None = None, causes: collections.abc.Mapping[str, Cause] = {}, q_low_per_nm: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"] | None = None, q_high_per_nm: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"] | None = None, q_resolution_per_nm: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"] | None = None, slit_length_per_nm: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"] | None = None, slit_width_per_nm: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"] | None = None, unit: str = 'relative') -> None:
        ...
    def __len__(self) -> int:
        ...
    @typing.overload
    def __mul__(self, arg0: ...) -> Curve:
        ...
    @typing.overload
    def __mul__(self, arg0: typing.SupportsFloat | typing.SupportsIndex) -> Curve:
        ...
    def __repr__(self) -> str:
        ...
    @typing.overload
    def __rmul__(self, arg0: ...) -> Curve:
        ...
    @typing.overload
    def __rmul__(self, arg0: typing.SupportsFloat | typing.SupportsIndex) -> Curve:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def __sub__(self, arg0: Curve) -> Curve:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def has_slit(self) -> bool:
        """
        True when the points are smeared along a slit.
        """
    def plot(self, *, ax: typing.Any = None, kind: typing.Literal['log', 'guinier', 'porod', 'kratky'] = 'log', label: str = '', color: int = 0) -> typing.Any:
        """
        Draw I(q) on log axes with its total 68 % band, or so that a law is straight: Guinier, Porod, Kratky.
        
            Returns the axes. Raises InputError for another kind or a curve without a finite point.
            
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the curve with its causes of error: NXcanSAS (.h5, .nxs, .hdf5), or .csv, or .json of its numbers.
        
            Raises InputError for another suffix, DataError where the file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    def to_xarray(self) -> typing.Any:
        """
        The points as an xarray Dataset over their variable (q, diameter, r, azimuth), units as attributes.
        
            Raises InputError where xarray is not installed or the result is not a function of something.
            
        """
    @property
    def causes(self) -> typing.Any:
        """
        id -> Cause; assign a whole dict to change it
        """
    @causes.setter
    def causes(self, arg1: typing.Any) -> None:
        ...
    @property
    def intensity(self) -> numpy.ndarray[typing.Any, numpy.dtype[typing.Any]]:
        """
        (n) in `unit`
        """
    @intensity.setter
    def intensity(self, arg1: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"]) -> None:
        ...
    @property
    def private_u(self) -> numpy.ndarray[typing.Any, numpy.dtype[typing.Any]]:
        """
        (n) independent standard uncertainty, in `unit`
        """
    @private_u.setter
    def private_u(self, arg1: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"]) -> None:
        ...
    @property
    def q_high_per_nm(self) -> numpy.ndarray[typing.Any, numpy.dtype[typing.Any]]:
        """
        (n) upper bin edges, 1/nm, or empty
        """
    @q_high_per_nm.setter
    def q_high_per_nm(self, arg1: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"]) -> None:
        ...
    @property
    def q_low_per_nm(self) -> numpy.ndarray[typing.Any, numpy.dtype[typing.Any]]:
        """
        (n) lower bin edges, 1/nm, or empty
        """
    @q_low_per_nm.setter
    def q_low_per_nm(self, arg1: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"]) -> None:
        ...
    @property
    def q_per_nm(self) -> numpy.ndarray[typing.Any, numpy.dtype[typing.Any]]:
        """
        (n) rising, 1/nm
        """
    @q_per_nm.setter
    def q_per_nm(self, arg1: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"]) -> None:
        ...
    @property
    def q_resolution_per_nm(self) -> numpy.ndarray[typing.Any, numpy.dtype[typing.Any]]:
        """
        (n) one sd of the blur, 1/nm, or empty
        """
    @q_resolution_per_nm.setter
    def q_resolution_per_nm(self, arg1: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"]) -> None:
        ...
    @property
    def slit_length_per_nm(self) -> numpy.ndarray[typing.Any, numpy.dtype[typing.Any]]:
        """
        (n) one sd of a slit's length, 1/nm; empty for a pinhole
        """
    @slit_length_per_nm.setter
    def slit_length_per_nm(self, arg1: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"]) -> None:
        ...
    @property
    def slit_width_per_nm(self) -> numpy.ndarray[typing.Any, numpy.dtype[typing.Any]]:
        """
        (n) one sd of a slit's width, 1/nm; empty for a pinhole
        """
    @slit_width_per_nm.setter
    def slit_width_per_nm(self, arg1: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"]) -> None:
        ...
    @property
    def unit(self) -> str:
        """
        'relative', '1/cm' or 'cm2/g'
        """
    @unit.setter
    def unit(self, arg1: str) -> None:
        ...
class Factor:
    """
    A number with its own coherent causes: id -> signed standard deviation.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any]:
        ...
    def __init__(self, value: typing.SupportsFloat | typing.SupportsIndex = 1.0, causes: collections.abc.Mapping[str, typing.SupportsFloat | typing.SupportsIndex] = {}) -> None:
        ...
    def __mul__(self, arg0: Factor) -> Factor:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def __truediv__(self, arg0: Factor) -> Factor:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def causes(self) -> typing.Any:
        ...
    @property
    def value(self) -> float:
        ...
class ProcessStep:
    """
    One step of processing: name, a sentence, named terms, and notes.
    """
    __hash__: typing.ClassVar[None] = None
    def __eq__(self, arg0: ProcessStep) -> bool:
        ...
    def __init__(self, name: str, description: str = '', terms: collections.abc.Sequence[tuple[str, str]] = [], notes: collections.abc.Sequence[str] = []) -> None:
        ...
    def __repr__(self) -> str:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def description(self) -> str:
        ...
    @property
    def name(self) -> str:
        ...
    @property
    def notes(self) -> list[str]:
        ...
    @property
    def terms(self) -> list[tuple[str, str]]:
        ...
class InstrumentInfo:
    """
    Source, collimation and detector; NaN or empty where not known.
    """
    beam_shape: str
    detector_name: str
    probe: str
    source_type: str
    def __init__(self) -> None:
        ...
    @property
    def beam_center_px(self) -> typing.Annotated[list[float], "FixedSize(2)"]:
        """
        x, y
        """
    @beam_center_px.setter
    def beam_center_px(self, arg0: typing.Annotated[collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex], "FixedSize(2)"]) -> None:
        ...
    @property
    def collimation_length_mm(self) -> float:
        ...
    @collimation_length_mm.setter
    def collimation_length_mm(self, arg0: typing.SupportsFloat | typing.SupportsIndex) -> None:
        ...
    @property
    def distance_mm(self) -> float:
        ...
    @distance_mm.setter
    def distance_mm(self, arg0: typing.SupportsFloat | typing.SupportsIndex) -> None:
        ...
    @property
    def pitch_deg(self) -> float:
        ...
    @pitch_deg.setter
    def pitch_deg(self, arg0: typing.SupportsFloat | typing.SupportsIndex) -> None:
        ...
    @property
    def pixel_size_mm(self) -> typing.Annotated[list[float], "FixedSize(2)"]:
        """
        x, y
        """
    @pixel_size_mm.setter
    def pixel_size_mm(self, arg0: typing.Annotated[collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex], "FixedSize(2)"]) -> None:
        ...
    @property
    def roll_deg(self) -> float:
        ...
    @roll_deg.setter
    def roll_deg(self, arg0: typing.SupportsFloat | typing.SupportsIndex) -> None:
        ...
    @property
    def slit_length_per_nm(self) -> float:
        ...
    @slit_length_per_nm.setter
    def slit_length_per_nm(self, arg0: typing.SupportsFloat | typing.SupportsIndex) -> None:
        ...
    @property
    def wavelength_nm(self) -> float:
        ...
    @wavelength_nm.setter
    def wavelength_nm(self, arg0: typing.SupportsFloat | typing.SupportsIndex) -> None:
        ...
    @property
    def wavelength_spread(self) -> float:
        """
        relative, one standard deviation
        """
    @wavelength_spread.setter
    def wavelength_spread(self, arg0: typing.SupportsFloat | typing.SupportsIndex) -> None:
        ...
    @property
    def yaw_deg(self) -> float:
        ...
    @yaw_deg.setter
    def yaw_deg(self, arg0: typing.SupportsFloat | typing.SupportsIndex) -> None:
        ...
class CurveInfo:
    """
    What stands around the numbers of a curve; NaN where not known.
    """
    instrument: InstrumentInfo
    run: str
    sample_name: str
    title: str
    def __init__(self) -> None:
        ...
    @property
    def notes(self) -> list[str]:
        ...
    @notes.setter
    def notes(self, arg0: collections.abc.Sequence[str]) -> None:
        ...
    @property
    def sample_details(self) -> list[str]:
        ...
    @sample_details.setter
    def sample_details(self, arg0: collections.abc.Sequence[str]) -> None:
        ...
    @property
    def steps(self) -> list[ProcessStep]:
        ...
    @steps.setter
    def steps(self, arg0: collections.abc.Sequence[ProcessStep]) -> None:
        ...
    @property
    def temperature_C(self) -> float:
        ...
    @temperature_C.setter
    def temperature_C(self, arg0: typing.SupportsFloat | typing.SupportsIndex) -> None:
        ...
    @property
    def thickness_mm(self) -> float:
        ...
    @thickness_mm.setter
    def thickness_mm(self, arg0: typing.SupportsFloat | typing.SupportsIndex) -> None:
        ...
    @property
    def transmission(self) -> float:
        ...
    @transmission.setter
    def transmission(self, arg0: typing.SupportsFloat | typing.SupportsIndex) -> None:
        ...
class NamedCurve:
    """
    A curve with its name in a file and what stands around it.
    """
    def __init__(self, name: str, curve: Curve, info: CurveInfo | None = None) -> None:
        ...
    def __repr__(self) -> str:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def plot(self, *, ax: typing.Any = None, kind: typing.Literal['log', 'guinier', 'porod', 'kratky'] = 'log', label: str = '', color: int = 0) -> typing.Any:
        """
        Draw I(q) on log axes with its total 68 % band, or so that a law is straight: Guinier, Porod, Kratky.
        
            Returns the axes. Raises InputError for another kind or a curve without a finite point.
            
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the curve with its causes of error: NXcanSAS (.h5, .nxs, .hdf5), or .csv, or .json of its numbers.
        
            Raises InputError for another suffix, DataError where the file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    def to_xarray(self) -> typing.Any:
        """
        The points as an xarray Dataset over their variable (q, diameter, r, azimuth), units as attributes.
        
            Raises InputError where xarray is not installed or the result is not a function of something.
            
        """
    @property
    def curve(self) -> Curve:
        ...
    @property
    def has_uncertainty(self) -> bool:
        ...
    @property
    def info(self) -> CurveInfo:
        ...
    @property
    def name(self) -> str:
        ...
class Merged:
    """
    Two curves as one, and how well they agree where they overlap.
    """
    def __repr__(self) -> str:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def plot(self, *, ax: typing.Any = None, kind: typing.Literal['log', 'guinier', 'porod', 'kratky'] = 'log', label: str = '', color: int = 0) -> typing.Any:
        """
        Draw I(q) on log axes with its total 68 % band, or so that a law is straight: Guinier, Porod, Kratky.
        
            Returns the axes. Raises InputError for another kind or a curve without a finite point.
            
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the curve with its causes of error: NXcanSAS (.h5, .nxs, .hdf5), or .csv, or .json of its numbers.
        
            Raises InputError for another suffix, DataError where the file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    def to_xarray(self) -> typing.Any:
        """
        The points as an xarray Dataset over their variable (q, diameter, r, azimuth), units as attributes.
        
            Raises InputError where xarray is not installed or the result is not a function of something.
            
        """
    @property
    def chi2(self) -> float:
        ...
    @property
    def curve(self) -> Curve:
        ...
    @property
    def degrees_of_freedom(self) -> int:
        ...
    @property
    def notes(self) -> list[str]:
        ...
    @property
    def overlap_per_nm(self) -> Range:
        ...
    @property
    def p_value(self) -> float:
        ...
    @property
    def points_high(self) -> int:
        ...
    @property
    def points_low(self) -> int:
        ...
    @property
    def q_cut_per_nm(self) -> float:
        ...
    @property
    def scale(self) -> Factor:
        ...
    @property
    def scale_u(self) -> float:
        ...
    @property
    def warnings(self) -> list[str]:
        ...
class FrameMetadata:
    """
    What a file declares about its frames; None where it says nothing. `notes` says, in plain words, what was assumed and why.
    """
    countrate_correction_applied: bool
    flatfield_applied: bool
    sample_name: str | None
    sensor_material: str | None
    def __init__(self) -> None:
        ...
    @property
    def beam_center_x_px(self) -> float | None:
        ...
    @beam_center_x_px.setter
    def beam_center_x_px(self, arg0: typing.SupportsFloat | typing.SupportsIndex | None) -> None:
        ...
    @property
    def beam_center_y_px(self) -> float | None:
        ...
    @beam_center_y_px.setter
    def beam_center_y_px(self, arg0: typing.SupportsFloat | typing.SupportsIndex | None) -> None:
        ...
    @property
    def dead_time_s(self) -> float | None:
        ...
    @dead_time_s.setter
    def dead_time_s(self, arg0: typing.SupportsFloat | typing.SupportsIndex | None) -> None:
        ...
    @property
    def distance_mm(self) -> float | None:
        ...
    @distance_mm.setter
    def distance_mm(self, arg0: typing.SupportsFloat | typing.SupportsIndex | None) -> None:
        ...
    @property
    def notes(self) -> list[str]:
        ...
    @notes.setter
    def notes(self, arg0: collections.abc.Sequence[str]) -> None:
        ...
    @property
    def pitch_deg(self) -> float | None:
        ...
    @pitch_deg.setter
    def pitch_deg(self, arg0: typing.SupportsFloat | typing.SupportsIndex | None) -> None:
        ...
    @property
    def pixel_size_x_mm(self) -> float | None:
        ...
    @pixel_size_x_mm.setter
    def pixel_size_x_mm(self, arg0: typing.SupportsFloat | typing.SupportsIndex | None) -> None:
        ...
    @property
    def pixel_size_y_mm(self) -> float | None:
        ...
    @pixel_size_y_mm.setter
    def pixel_size_y_mm(self, arg0: typing.SupportsFloat | typing.SupportsIndex | None) -> None:
        ...
    @property
    def roll_deg(self) -> float | None:
        ...
    @roll_deg.setter
    def roll_deg(self, arg0: typing.SupportsFloat | typing.SupportsIndex | None) -> None:
        ...
    @property
    def saturation_value(self) -> float | None:
        ...
    @saturation_value.setter
    def saturation_value(self, arg0: typing.SupportsFloat | typing.SupportsIndex | None) -> None:
        ...
    @property
    def sensor_thickness_mm(self) -> float | None:
        ...
    @sensor_thickness_mm.setter
    def sensor_thickness_mm(self, arg0: typing.SupportsFloat | typing.SupportsIndex | None) -> None:
        ...
    @property
    def wavelength_nm(self) -> float | None:
        ...
    @wavelength_nm.setter
    def wavelength_nm(self, arg0: typing.SupportsFloat | typing.SupportsIndex | None) -> None:
        ...
    @property
    def wavelength_spread(self) -> float | None:
        ...
    @wavelength_spread.setter
    def wavelength_spread(self, arg0: typing.SupportsFloat | typing.SupportsIndex | None) -> None:
        ...
    @property
    def yaw_deg(self) -> float | None:
        ...
    @yaw_deg.setter
    def yaw_deg(self, arg0: typing.SupportsFloat | typing.SupportsIndex | None) -> None:
        ...
class Frame:
    """
    Counts of one measurement: a single exposure, or several summed.
    """
    metadata: FrameMetadata
    def __init__(self, counts: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, n]"], masked: typing.Annotated[numpy.typing.ArrayLike, numpy.bool, "[m, n]"] | None = None, *, exposure_s: typing.SupportsFloat | typing.SupportsIndex = ..., monitor: typing.SupportsFloat | typing.SupportsIndex | None = None, exposures: typing.SupportsInt | typing.SupportsIndex = 1, metadata: FrameMetadata = ...) -> None:
        ...
    def add_mask(self, more: typing.Annotated[numpy.typing.ArrayLike, numpy.bool, "[m, n]"]) -> None:
        """
        Mask the pixels of `more` (rows, columns) too. InputError when the shapes differ.
        """
    @property
    def counts(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, n]"]:
        """
        (rows, columns) counts, summed over `exposures`
        """
    @property
    def exposure_s(self) -> float:
        ...
    @exposure_s.setter
    def exposure_s(self, arg0: typing.SupportsFloat | typing.SupportsIndex) -> None:
        ...
    @property
    def exposures(self) -> int:
        ...
    @exposures.setter
    def exposures(self, arg0: typing.SupportsInt | typing.SupportsIndex) -> None:
        ...
    @property
    def masked(self) -> typing.Annotated[numpy.typing.NDArray[numpy.bool], "[m, n]"]:
        """
        (rows, columns) True = never use
        """
    @property
    def monitor(self) -> float | None:
        ...
    @monitor.setter
    def monitor(self, arg0: typing.SupportsFloat | typing.SupportsIndex | None) -> None:
        ...
class FrameFile:
    """
    A file of frames, opened but not read.
    """
    def __len__(self) -> int:
        ...
    def add_note(self, words: str) -> None:
        ...
    def read(self, index: typing.SupportsInt | typing.SupportsIndex) -> Frame:
        ...
    def read_numbers(self, index: typing.SupportsInt | typing.SupportsIndex, out: typing.Any = None) -> typing.Any:
        ...
    def read_sum(self, indices: collections.abc.Sequence[typing.SupportsInt | typing.SupportsIndex] = []) -> Frame:
        ...
    @property
    def columns(self) -> int:
        ...
    @property
    def count(self) -> int:
        ...
    @property
    def dataset(self) -> str:
        ...
    @property
    def exposure_s(self) -> float | None:
        ...
    @property
    def exposures_s(self) -> typing.Any:
        ...
    @property
    def filters(self) -> str:
        ...
    @property
    def format(self) -> str:
        ...
    @property
    def metadata(self) -> FrameMetadata:
        ...
    @property
    def monitors(self) -> typing.Any:
        ...
    @property
    def path(self) -> str:
        ...
    @property
    def rows(self) -> int:
        ...
    @property
    def saturation_value(self) -> float | None:
        ...
    @property
    def stored_type(self) -> str:
        ...
class DetectorGeometry:
    """
    Where the detector stands: lengths in mm, beam point in pixels (x = column, y = row, centres at integers from 0), tilt in degrees, applied as R_z(roll) R_x(pitch) R_y(yaw). Immutable; `replace` gives a changed copy.
    """
    def __eq__(self, arg0: DetectorGeometry) -> bool:
        ...
    def __getstate__(self) -> tuple[float, float, float, float, float, float, float, float, float]:
        ...
    def __hash__(self) -> int:
        ...
    def __init__(self, *, wavelength_nm: typing.SupportsFloat | typing.SupportsIndex, distance_mm: typing.SupportsFloat | typing.SupportsIndex, beam_center_x_px: typing.SupportsFloat | typing.SupportsIndex, beam_center_y_px: typing.SupportsFloat | typing.SupportsIndex, pixel_size_x_mm: typing.SupportsFloat | typing.SupportsIndex, pixel_size_y_mm: typing.SupportsFloat | typing.SupportsIndex, pitch_deg: typing.SupportsFloat | typing.SupportsIndex = 0.0, yaw_deg: typing.SupportsFloat | typing.SupportsIndex = 0.0, roll_deg: typing.SupportsFloat | typing.SupportsIndex = 0.0) -> None:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex]) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def cos_at_beam(self) -> float:
        """
        Cosine between the direct beam and the detector's normal.
        """
    def position_mm(self, x_px: typing.SupportsFloat | typing.SupportsIndex, y_px: typing.SupportsFloat | typing.SupportsIndex) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[3, 1]"]:
        """
        Place (mm) of a pixel, sample at the origin.
        """
    def q_per_nm(self, x_px: typing.SupportsFloat | typing.SupportsIndex, y_px: typing.SupportsFloat | typing.SupportsIndex) -> float:
        """
        q (1/nm) of a place on the detector.
        """
    def replace(self, **kwargs) -> typing.Any:
        """
        A copy with the named values changed.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def beam_center_px(self) -> tuple[float, float]:
        ...
    @property
    def beam_center_x_px(self) -> float:
        ...
    @property
    def beam_center_y_px(self) -> float:
        ...
    @property
    def distance_mm(self) -> float:
        ...
    @property
    def pitch_deg(self) -> float:
        ...
    @property
    def pixel_size_mm(self) -> tuple[float, float]:
        ...
    @property
    def pixel_size_x_mm(self) -> float:
        ...
    @property
    def pixel_size_y_mm(self) -> float:
        ...
    @property
    def roll_deg(self) -> float:
        ...
    @property
    def wavelength_nm(self) -> float:
        ...
    @property
    def yaw_deg(self) -> float:
        ...
class PixelMap:
    """
    What every pixel sees; each member has the frame's shape (rows, columns).
    """
    def __repr__(self) -> str:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def azimuth_rad(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, n]"]:
        ...
    @property
    def cos_incidence(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, n]"]:
        ...
    @property
    def cos_two_theta(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, n]"]:
        ...
    @property
    def q_per_nm(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, n]"]:
        ...
    @property
    def solid_angle_sr(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, n]"]:
        ...
class Calibrant:
    """
    Spacings d (nm, falling) and their common relative standard uncertainty.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def d_nm(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def name(self) -> str:
        ...
    @property
    def reflections(self) -> list[str]:
        ...
    @property
    def relative_u(self) -> float:
        ...
    @property
    def source(self) -> str:
        ...
class RingCalibration:
    """
    A refined geometry, its covariance and the ring points behind it.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def plot(self, counts: typing.Any, *, masked: typing.Any = None, axes: typing.Any = None) -> typing.Any:
        """
        Draw the calibration over the frame it came from, and its residuals. Returns both axes.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    def u(self, parameter: str) -> float:
        """
        Standard uncertainty of a refined parameter by its name in `parameters`; 0 for one that was kept.
        """
    @property
    def arc_deg(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def calibrant(self) -> str:
        ...
    @property
    def calibrant_relative_u(self) -> float:
        ...
    @property
    def covariance(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, n]"]:
        ...
    @property
    def dependence(self) -> float:
        ...
    @property
    def geometry(self) -> DetectorGeometry:
        ...
    @property
    def order(self) -> typing.Annotated[numpy.typing.NDArray[numpy.int32], "[m, 1]"]:
        ...
    @property
    def parameters(self) -> list[str]:
        ...
    @property
    def residual_px(self) -> float:
        ...
    @property
    def residuals_px(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def rings(self) -> typing.Annotated[numpy.typing.NDArray[numpy.int32], "[m, 1]"]:
        ...
    @property
    def set_aside(self) -> int:
        ...
    @property
    def warnings(self) -> list[str]:
        ...
    @property
    def x_px(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def y_px(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
class GeometryComponent:
    """
    One independent cause of error of a calibrated geometry.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any]:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def id(self) -> str:
        ...
    @property
    def shifted_plus(self) -> DetectorGeometry:
        ...
class BeamCenter:
    """
    The beam point found from the direct beam's spot.
    """
    def __repr__(self) -> str:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def background(self) -> float:
        ...
    @property
    def counts(self) -> float:
        ...
    @property
    def sigma_x_px(self) -> float:
        ...
    @property
    def sigma_y_px(self) -> float:
        ...
    @property
    def u_counts(self) -> float:
        ...
    @property
    def u_x_px(self) -> float:
        ...
    @property
    def u_y_px(self) -> float:
        ...
    @property
    def warnings(self) -> list[str]:
        ...
    @property
    def x_px(self) -> float:
        ...
    @property
    def y_px(self) -> float:
        ...
class BeamSpot:
    """
    The direct beam's counts inside a circle, its centre and size.
    """
    def __repr__(self) -> str:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def background(self) -> float:
        ...
    @property
    def counts(self) -> float:
        ...
    @property
    def covariance_px2(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[2, 2]"]:
        ...
    @property
    def fwhm_x_px(self) -> float:
        ...
    @property
    def fwhm_y_px(self) -> float:
        ...
    @property
    def radius_px(self) -> float:
        ...
    @property
    def u_counts(self) -> float:
        ...
    @property
    def u_fwhm_x_px(self) -> float:
        ...
    @property
    def u_fwhm_y_px(self) -> float:
        ...
    @property
    def warnings(self) -> list[str]:
        ...
    @property
    def x_px(self) -> float:
        ...
    @property
    def y_px(self) -> float:
        ...
class SamplePlaneOffsets:
    """
    How far positions stand nearer to the detector than the reference.
    """
    def u_mm(self, position: typing.SupportsInt | typing.SupportsIndex) -> float:
        """
        Standard uncertainty of a position's offset, mm.
        """
    @property
    def covariance(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, n]"]:
        ...
    @property
    def offset_mm(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def reference(self) -> int:
        ...
class BeamstopShadow:
    """
    The shadow of a beamstop and its arm; `words` says what was found.
    """
    def __repr__(self) -> str:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def edge_radius_px(self) -> float:
        ...
    @property
    def found(self) -> bool:
        ...
    @property
    def mask(self) -> typing.Annotated[numpy.typing.NDArray[numpy.bool], "[m, n]"]:
        """
        (rows, columns) True = in the shadow; all False when none was found
        """
    @property
    def shadow_level(self) -> float:
        """
        counts per pixel inside the edge
        """
    @property
    def surround_level(self) -> float:
        """
        counts per pixel just outside
        """
    @property
    def words(self) -> str:
        ...
class CrystalSpot:
    """
    A compact spot far above its ring.
    """
    @property
    def excess_counts(self) -> float:
        """
        counts above the ring's level
        """
    @property
    def pixels(self) -> int:
        """
        without the margin
        """
    @property
    def q_per_nm(self) -> float:
        ...
    @property
    def ratio(self) -> float:
        """
        of its highest pixel to the ring's level
        """
    @property
    def x_px(self) -> float:
        """
        column of its centroid
        """
    @property
    def y_px(self) -> float:
        """
        row of its centroid
        """
class CrystalSpots:
    """
    Spots of single crystals and the mask that leaves them out.
    """
    @property
    def mask(self) -> typing.Annotated[numpy.typing.NDArray[numpy.bool], "[m, n]"]:
        """
        (rows, columns) True = in a spot or its margin
        """
    @property
    def spots(self) -> list[CrystalSpot]:
        """
        the strongest first
        """
class BinTable:
    """
    Which bin each pixel belongs to (-1 = none); made once for geometry and mask.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    @property
    def edges_per_nm(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def index(self) -> typing.Annotated[numpy.typing.NDArray[numpy.int32], "[m, n]"]:
        ...
    @property
    def mean_q_per_nm(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def pixels(self) -> typing.Annotated[numpy.typing.NDArray[numpy.int32], "[m, 1]"]:
        ...
class Step:
    """
    One step of a reduction: its name, equation and source.
    """
    def __repr__(self) -> str:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def equation(self) -> str:
        ...
    @property
    def name(self) -> str:
        ...
    @property
    def parameters(self) -> str:
        ...
    @property
    def source(self) -> str:
        ...
    @property
    def uncertainty(self) -> str:
        ...
class Absorber:
    """
    A plate that absorbs: air, gas, a window, a sensor.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __init__(self, *, mu_per_cm: typing.SupportsFloat | typing.SupportsIndex, length_mm: typing.SupportsFloat | typing.SupportsIndex, relative_u: typing.SupportsFloat | typing.SupportsIndex = 0.0, name: str = '') -> None:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    @property
    def length_mm(self) -> float:
        ...
    @property
    def mu_per_cm(self) -> float:
        ...
    @property
    def name(self) -> str:
        ...
    @property
    def relative_u(self) -> float:
        ...
class StepEffect:
    """
    What a step did to a measurement: its factor on the intensity at three q.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def applied(self) -> bool:
        ...
    @property
    def equation(self) -> str:
        ...
    @property
    def factor_high(self) -> float:
        ...
    @property
    def factor_low(self) -> float:
        ...
    @property
    def factor_mid(self) -> float:
        ...
    @property
    def name(self) -> str:
        ...
    @property
    def note(self) -> str:
        ...
    @property
    def parameters(self) -> str:
        ...
    @property
    def relative_u_high(self) -> float:
        ...
    @property
    def relative_u_low(self) -> float:
        ...
    @property
    def relative_u_mid(self) -> float:
        ...
    @property
    def source(self) -> str:
        ...
class FlatField:
    """
    Response of the pixels to equal illumination; brought to mean 1 where used.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any]:
        ...
    def __init__(self, name: str, response: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, n]"], relative_u: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, n]"] | None = None) -> None:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    @property
    def name(self) -> str:
        ...
    @property
    def relative_u(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, n]"]:
        ...
    @property
    def response(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, n]"]:
        ...
class Blur:
    """
    What blurs q: beam at the detector, pixel, wavelengths. Gives the curve's q resolution.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __init__(self, *, beam_fwhm_mm: typing.SupportsFloat | typing.SupportsIndex, pixel_size_x_mm: typing.SupportsFloat | typing.SupportsIndex, pixel_size_y_mm: typing.SupportsFloat | typing.SupportsIndex, wavelength_spread: typing.SupportsFloat | typing.SupportsIndex = 0.0) -> None:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    @property
    def beam_fwhm_mm(self) -> float:
        ...
    @property
    def pixel_size_x_mm(self) -> float:
        ...
    @property
    def pixel_size_y_mm(self) -> float:
        ...
    @property
    def wavelength_spread(self) -> float:
        ...
class Averaged:
    """
    A measurement averaged into bins: its curve S, what went into it and what was done.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def plot(self, *, ax: typing.Any = None, kind: typing.Literal['log', 'guinier', 'porod', 'kratky'] = 'log', label: str = '', color: int = 0) -> typing.Any:
        """
        Draw I(q) on log axes with its total 68 % band, or so that a law is straight: Guinier, Porod, Kratky.
        
            Returns the axes. Raises InputError for another kind or a curve without a finite point.
            
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the curve with its causes of error: NXcanSAS (.h5, .nxs, .hdf5), or .csv, or .json of its numbers.
        
            Raises InputError for another suffix, DataError where the file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    def to_xarray(self) -> typing.Any:
        """
        The points as an xarray Dataset over their variable (q, diameter, r, azimuth), units as attributes.
        
            Raises InputError where xarray is not installed or the result is not a function of something.
            
        """
    @property
    def azimuth_share(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, n]"]:
        ...
    @property
    def bin(self) -> typing.Annotated[numpy.typing.NDArray[numpy.int32], "[m, 1]"]:
        ...
    @property
    def counts(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def curve(self) -> Curve:
        ...
    @property
    def dark_counts(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def empty_bins(self) -> list[int]:
        ...
    @property
    def exposure_s(self) -> float:
        ...
    @property
    def few_count_bins(self) -> list[int]:
        ...
    @property
    def monitor(self) -> float | None:
        ...
    @property
    def name(self) -> str:
        ...
    @property
    def normalisation(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def notes(self) -> list[str]:
        ...
    @property
    def pixels(self) -> typing.Annotated[numpy.typing.NDArray[numpy.int32], "[m, 1]"]:
        ...
    @property
    def scatter_ratio(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def steps(self) -> list[StepEffect]:
        ...
class AverageOptions:
    """
    What stays the same for every frame of a geometry.
    """
    def __init__(self, *, dead_time_s: typing.SupportsFloat | typing.SupportsIndex | None = None, dead_time_model: str = 'non-paralyzable', dead_time_u_s: typing.SupportsFloat | typing.SupportsIndex = 0.0, flat_field: FlatField | None = None, sensor: Absorber | None = None, flight_path: collections.abc.Sequence[Absorber] = [], polarization_fraction: typing.SupportsFloat | typing.SupportsIndex = 0.5, polarization_u: typing.SupportsFloat | typing.SupportsIndex = 0.0, polarization_plane_deg: typing.SupportsFloat | typing.SupportsIndex = 0.0, off: collections.abc.Sequence[str] = [], sectors_rad: collections.abc.Sequence[tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex]] = [], blur: Blur | None = None) -> None:
        ...
class ExposureOptions:
    """
    What belongs to one measurement.
    """
    def __init__(self, *, name: str = 'measurement', dark: Frame = None, dark_name: str = 'dark', normalise_by: str = 'exposure', normalise_relative_u: typing.SupportsFloat | typing.SupportsIndex = 0.0, flux_per_s: typing.SupportsFloat | typing.SupportsIndex | None = None, flux_relative_u: typing.SupportsFloat | typing.SupportsIndex = 0.0, few_counts: typing.SupportsFloat | typing.SupportsIndex = 10.0, check_scatter: bool = True) -> None:
        ...
class Averager:
    """
    Bins, mask and normalisations of one geometry; average() then touches each pixel once.
    """
    def __init__(self, map: PixelMap, mask: typing.Annotated[numpy.typing.ArrayLike, numpy.bool, "[m, n]"] | None, edges_per_nm: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], options: AverageOptions) -> None:
        ...
    def average(self, frames: collections.abc.Sequence[Frame], options: ExposureOptions) -> Averaged:
        ...
    def average_counts(self, counts: numpy.ndarray[typing.Any, numpy.dtype[typing.Any]], mask: typing.Annotated[numpy.typing.ArrayLike, numpy.bool, "[m, n]"] | None, exposure_s: typing.SupportsFloat | typing.SupportsIndex, monitor: typing.SupportsFloat | typing.SupportsIndex | None, saturation_value: typing.SupportsFloat | typing.SupportsIndex | None, options: ExposureOptions) -> Averaged:
        ...
    def average_each(self, file: FrameFile, indices: collections.abc.Sequence[typing.SupportsInt | typing.SupportsIndex], options: ExposureOptions) -> list[Averaged]:
        ...
    @property
    def table(self) -> BinTable:
        ...
class Transmission:
    """
    Transmission of everything in the beam relative to the empty beam, with its causes.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def factor(self) -> Factor:
        ...
    @property
    def method(self) -> str:
        ...
    @property
    def name(self) -> str:
        ...
    @property
    def notes(self) -> list[str]:
        ...
    @property
    def u(self) -> float:
        ...
    @property
    def value(self) -> float:
        ...
class Measured:
    """
    An averaged measurement: its name, curve S and (maybe) transmission.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __init__(self, name: str, curve: Curve, transmission: Factor | None = None, azimuth_share: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, n]"] | None = None) -> None:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    @property
    def azimuth_share(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, n]"]:
        ...
    @property
    def curve(self) -> Curve:
        ...
    @property
    def name(self) -> str:
        ...
    @property
    def transmission(self) -> Factor | None:
        ...
class PlateShape:
    """
    A plate, film or layer, its normal in the beam or turned.
    """
    def __init__(self, *, rotation_deg: typing.SupportsFloat | typing.SupportsIndex = 0.0, walls: str = 'ignore') -> None:
        ...
    def __repr__(self) -> str:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def rotation_deg(self) -> float:
        ...
class CapillaryShape:
    """
    A capillary across the beam, seen through the beam's footprint.
    """
    def __init__(self, *, inner_diameter_mm: typing.SupportsFloat | typing.SupportsIndex, beam_width_mm: typing.SupportsFloat | typing.SupportsIndex = 0.0, beam_offset_mm: typing.SupportsFloat | typing.SupportsIndex = 0.0, axis: str = 'vertical') -> None:
        ...
    def __repr__(self) -> str:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def beam_offset_mm(self) -> float:
        ...
    @property
    def beam_width_mm(self) -> float:
        ...
    @property
    def inner_diameter_mm(self) -> float:
        ...
class PowderMass:
    """
    How much of a powder stands in the beam, and its density.
    """
    def __init__(self, *, per_area_g_per_cm2: Factor | None = None, attenuation_cm2_per_g: Factor | None = None, density_g_per_cm3: Factor | None = None) -> None:
        ...
    @property
    def attenuation_cm2_per_g(self) -> Factor | None:
        ...
    @property
    def density_g_per_cm3(self) -> Factor | None:
        ...
    @property
    def per_area_g_per_cm2(self) -> Factor | None:
        ...
class Absolute:
    """
    A curve in 1/cm or cm2/g (relative where thickness or scale is missing), its steps.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    @property
    def curve(self) -> Curve:
        ...
    @property
    def notes(self) -> list[str]:
        ...
    @property
    def path_mm(self) -> float:
        ...
    @property
    def steps(self) -> list[StepEffect]:
        ...
class ScatteringProbability:
    """
    Probability that a photon is scattered within the measured range.
    """
    @property
    def u(self) -> float:
        ...
    @property
    def value(self) -> float:
        ...
class BackgroundFactor:
    """
    The factor that brings a background onto a sample where only it scatters.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def chi2_per_point(self) -> float:
        ...
    @property
    def factor(self) -> Factor:
        ...
    @property
    def note(self) -> str:
        ...
    @property
    def points(self) -> int:
        ...
    @property
    def q_range_per_nm(self) -> Range:
        ...
    @property
    def u(self) -> float:
        ...
class OverSubtraction:
    """
    Whether a subtraction took too much, and where.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    @property
    def lowest_z(self) -> float:
        ...
    @property
    def negative_share(self) -> float:
        ...
    @property
    def q_range_per_nm(self) -> Range:
        ...
    @property
    def significant(self) -> bool:
        ...
class IntensityStandard:
    """
    A standard of absolute intensity: certified points and their common error.
    """
    def __init__(self, *, name: str, q_per_nm: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], intensity_per_cm: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], standard_uncertainty_per_cm: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], relative_u: typing.SupportsFloat | typing.SupportsIndex, thickness_mm: typing.SupportsFloat | typing.SupportsIndex, source: str) -> None:
        ...
    @property
    def expanded_uncertainty_per_cm(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def intensity_per_cm(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def name(self) -> str:
        ...
    @property
    def q_per_nm(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def relative_u(self) -> float:
        ...
    @property
    def source(self) -> str:
        ...
    @property
    def standard_uncertainty_per_cm(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def thickness_mm(self) -> float:
        ...
class AbsoluteScale:
    """
    The factor k from measured to absolute intensity, its causes and its checks.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def chi2_per_point(self) -> float:
        ...
    @property
    def factor(self) -> Factor:
        ...
    @property
    def points(self) -> int:
        ...
    @property
    def q_per_nm(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def q_range_per_nm(self) -> Range:
        ...
    @property
    def ratio(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def relative_u(self) -> float:
        ...
    @property
    def trend(self) -> float:
        ...
    @property
    def trend_u(self) -> float:
        ...
    @property
    def u(self) -> float:
        ...
    @property
    def value(self) -> float:
        ...
    @property
    def warnings(self) -> list[str]:
        ...
class GeometryShift:
    """
    One component of the calibration's error at +1 sd, as the bins see it.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    @property
    def delta_q_per_nm(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def edges_per_nm(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def id(self) -> str:
        ...
    @property
    def relative_solid_angle(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
class LineWeight:
    """
    Weight against position: straight between the knots, integral 1.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any]:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    @property
    def position(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def weight(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
class SlitGeometry:
    """
    Where positions in mm lie.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any]:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    @property
    def distance_mm(self) -> float:
        ...
    @property
    def wavelength_nm(self) -> float:
        ...
class SlitProfile:
    """
    A line-shaped beam: its profile along the line and across it.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    @property
    def geometry(self) -> SlitGeometry | None:
        ...
    @property
    def infinite(self) -> bool:
        ...
    @property
    def length(self) -> LineWeight | None:
        ...
    @property
    def width(self) -> LineWeight | None:
        ...
    @property
    def width_sd(self) -> float:
        ...
class SmearingMatrix:
    """
    The slit as a matrix on sampled curves.
    """
    @property
    def beyond(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def matrix(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, n]"]:
        ...
    @property
    def q_in_per_nm(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def q_out_per_nm(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
class Desmeared:
    """
    An estimate of what a pinhole would have seen, for plots only.
    """
    def __repr__(self) -> str:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def chi2_per_point(self) -> float:
        ...
    @property
    def extrapolated(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def intensity(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def iterations(self) -> int:
        ...
    @property
    def note(self) -> str:
        ...
    @property
    def q_per_nm(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def smeared(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
class CurveEstimate(Estimate):
    """
    An Estimate from a curve: `influence` (n) is d value / d intensity, `causes` are signed standard deviations of errors that do not come with the curve.
    """
    def __getstate__(self) -> tuple[float, float, Range, Range, typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"], dict[str, float], typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]]:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    @property
    def causes(self) -> dict[str, float]:
        ...
    @property
    def guessed_variance(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def influence(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
class GuinierFit:
    """
    Guinier's law fitted to the start of a curve.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def intensity(self, q_per_nm: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"]) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        """
        The law at q (m), in the curve's unit.
        """
    def plot(self, curve: Curve, *, ax: typing.Any = None, kind: typing.Literal['guinier', 'kratky'] = 'guinier') -> typing.Any:
        """
        Draw the fit over the curve it came from, ln I against q², or the dimensionless Kratky form. Returns the axes.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def chi2(self) -> float:
        ...
    @property
    def chi2_probability(self) -> float:
        ...
    @property
    def curvature(self) -> float:
        ...
    @property
    def curvature_u(self) -> float:
        ...
    @property
    def degrees_of_freedom(self) -> int:
        ...
    @property
    def dropped(self) -> int:
        ...
    @property
    def first(self) -> int:
        ...
    @property
    def i0(self) -> CurveEstimate:
        ...
    @property
    def points(self) -> int:
        ...
    @property
    def q_range_per_nm(self) -> Range:
        ...
    @property
    def q_rg_high(self) -> float:
        ...
    @property
    def q_rg_low(self) -> float:
        ...
    @property
    def rg_nm(self) -> CurveEstimate:
        ...
    @property
    def sphere_bias_percent(self) -> float:
        ...
    @property
    def unit(self) -> str:
        ...
    @property
    def warnings(self) -> list[str]:
        ...
class TailLaw:
    """
    Which terms a fit of the tail has.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any]:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
class PorodFit:
    """
    Porod's law fitted to the tail of a curve.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def background_at(self, q_per_nm: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"]) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        """
        Its background B(q) at q (m), in the curve's unit.
        """
    def intensity(self, q_per_nm: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"]) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        """
        The fit at q (m), in the curve's unit.
        """
    def plot(self, curve: Curve, *, ax: typing.Any = None) -> typing.Any:
        """
        Draw the fit over the curve it came from, (I - B) q⁴ against q. Returns the axes.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def background(self) -> CurveEstimate:
        ...
    @property
    def background_law(self) -> str:
        ...
    @property
    def chi2(self) -> float:
        ...
    @property
    def chi2_probability(self) -> float:
        ...
    @property
    def constant(self) -> CurveEstimate:
        ...
    @property
    def constant_per_cm5(self) -> CurveEstimate:
        ...
    @property
    def degrees_of_freedom(self) -> int:
        ...
    @property
    def first(self) -> int:
        ...
    @property
    def growth(self) -> CurveEstimate:
        ...
    @property
    def law_holds(self) -> bool:
        ...
    @property
    def layer_nm2(self) -> CurveEstimate:
        ...
    @property
    def layer_width_nm(self) -> Estimate:
        ...
    @property
    def next_term(self) -> CurveEstimate:
        ...
    @property
    def next_term_fitted(self) -> bool:
        ...
    @property
    def next_term_z(self) -> float:
        ...
    @property
    def points(self) -> int:
        ...
    @property
    def q_range_per_nm(self) -> Range:
        ...
    @property
    def richer_drop(self) -> float:
        ...
    @property
    def richer_needed(self) -> bool:
        ...
    @property
    def richer_probability(self) -> float:
        ...
    @property
    def unit(self) -> str:
        ...
    @property
    def walls(self) -> str:
        ...
    @property
    def warnings(self) -> list[str]:
        ...
class Invariant:
    """
    The invariant of a curve, with the shares that were extrapolated.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def plot(self, curve: Curve, *, porod: PorodFit, guinier: GuinierFit | None = None, ax: typing.Any = None) -> typing.Any:
        """
        Draw q² (I - B), whose area this is, with what was extrapolated. Returns the axes.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def guinier_start(self) -> bool:
        ...
    @property
    def q_range_per_nm(self) -> Range:
        ...
    @property
    def share_extrapolated_high(self) -> float:
        ...
    @property
    def share_extrapolated_low(self) -> float:
        ...
    @property
    def share_fitted_high(self) -> float:
        ...
    @property
    def unit(self) -> str:
        ...
    @property
    def value(self) -> CurveEstimate:
        ...
    @property
    def value_per_cm4(self) -> CurveEstimate:
        ...
    @property
    def warnings(self) -> list[str]:
        ...
class SpecificSurface:
    """
    Inner surface and mean chords; None where not asked for.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def from_contrast_m2_per_cm3(self) -> CurveEstimate | None:
        ...
    @property
    def from_porosity_m2_per_cm3(self) -> CurveEstimate | None:
        ...
    @property
    def m2_per_g(self) -> CurveEstimate | None:
        ...
    @property
    def m2_per_g_by(self) -> str:
        ...
    @property
    def pore_chord_nm(self) -> CurveEstimate | None:
        ...
    @property
    def porod_length_nm(self) -> CurveEstimate:
        ...
    @property
    def solid_chord_nm(self) -> CurveEstimate | None:
        ...
    @property
    def volume(self) -> str:
        ...
    @property
    def warnings(self) -> list[str]:
        ...
class GrainPorosity:
    """
    Pores of the grains, from an intensity per gram.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any]:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    @property
    def pore_volume_cm3_per_g(self) -> CurveEstimate:
        ...
    @property
    def porosity(self) -> CurveEstimate:
        ...
class CurvePeak:
    """
    One peak of a curve; see find_curve_peaks.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def advantage(self) -> float:
        ...
    @property
    def area(self) -> CurveEstimate:
        ...
    @property
    def background(self) -> float:
        ...
    @property
    def blur_fwhm_per_nm(self) -> float:
        ...
    @property
    def chi2_probability(self) -> float:
        ...
    @property
    def false_alarm(self) -> float:
        ...
    @property
    def fwhm_per_nm(self) -> CurveEstimate:
        ...
    @property
    def height(self) -> CurveEstimate:
        ...
    @property
    def lorentzian_share(self) -> float:
        ...
    @property
    def own_fwhm_limit_per_nm(self) -> float:
        ...
    @property
    def own_fwhm_per_nm(self) -> CurveEstimate:
        ...
    @property
    def profile(self) -> str:
        ...
    @property
    def q_per_nm(self) -> CurveEstimate:
        ...
    @property
    def resolution_known(self) -> bool:
        ...
    @property
    def resolution_limited(self) -> bool:
        ...
    @property
    def set_aside(self) -> str:
        ...
    @property
    def window_per_nm(self) -> Range:
        ...
    @property
    def z(self) -> float:
        ...
class CurvePeaks:
    """
    The peaks of order on a curve, and what was set aside with its reason.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __len__(self) -> int:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def plot(self, curve: Curve, *, ax: typing.Any = None, color: int = 0) -> typing.Any:
        """
        Draw the peaks' fit over the curve they were found in, with their positions. Returns the axes.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    def to_xarray(self) -> typing.Any:
        """
        The points as an xarray Dataset over their variable (q, diameter, r, azimuth), units as attributes.
        
            Raises InputError where xarray is not installed or the result is not a function of something.
            
        """
    @property
    def background(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def false_alarm(self) -> float:
        ...
    @property
    def fit(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def peaks(self) -> list[CurvePeak]:
        ...
    @property
    def places(self) -> float:
        ...
    @property
    def q_range_per_nm(self) -> Range:
        ...
    @property
    def set_aside(self) -> list[CurvePeak]:
        ...
    @property
    def unit(self) -> str:
        ...
    @property
    def warnings(self) -> list[str]:
        ...
class Reflection:
    """
    A reflection that a lattice allows: m, indices and q a / (2 pi).
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def indices(self) -> str:
        ...
    @property
    def m(self) -> int:
        ...
    @property
    def ratio(self) -> float:
        ...
    @property
    def strong(self) -> bool:
        ...
class IndexedPeak:
    """
    A peak and its reflection; `deviation` in units of u.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def deviation(self) -> float:
        ...
    @property
    def peak(self) -> int:
        ...
    @property
    def q_per_nm(self) -> float:
        ...
    @property
    def reflection(self) -> Reflection:
        ...
class LatticeCandidate:
    """
    One symmetry fitted to the peaks.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def chi2(self) -> float:
        ...
    @property
    def chi2_probability(self) -> float:
        ...
    @property
    def degrees_of_freedom(self) -> int:
        ...
    @property
    def explains(self) -> bool:
        ...
    @property
    def indexed(self) -> list[IndexedPeak]:
        ...
    @property
    def lattice_nm(self) -> CurveEstimate:
        ...
    @property
    def misses_strong(self) -> bool:
        ...
    @property
    def missing(self) -> list[Reflection]:
        ...
    @property
    def share(self) -> float:
        ...
    @property
    def symmetry(self) -> str:
        ...
    @property
    def unindexed(self) -> list[int]:
        ...
class Indexing:
    """
    All symmetries tried, most probable first, and a verdict in words.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    def to_xarray(self) -> typing.Any:
        """
        The points as an xarray Dataset over their variable (q, diameter, r, azimuth), units as attributes.
        
            Raises InputError where xarray is not installed or the result is not a function of something.
            
        """
    @property
    def candidates(self) -> list[LatticeCandidate]:
        ...
    @property
    def decided(self) -> bool:
        ...
    @property
    def spacing_nm(self) -> CurveEstimate:
        ...
    @property
    def verdict(self) -> str:
        ...
    @property
    def warnings(self) -> list[str]:
        ...
class OrderedPores:
    """
    Pore and wall from a lattice parameter and a porosity.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def largest_porosity(self) -> float:
        ...
    @property
    def model(self) -> str:
        ...
    @property
    def pore_is(self) -> str:
        ...
    @property
    def pore_nm(self) -> CurveEstimate:
        ...
    @property
    def symmetry(self) -> str:
        ...
    @property
    def wall_is(self) -> str:
        ...
    @property
    def wall_nm(self) -> CurveEstimate:
        ...
class DomainSize:
    """
    How far the order reaches, from the width of a peak.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def domain_nm(self) -> CurveEstimate | None:
        ...
    @property
    def lower_limit_nm(self) -> float:
        ...
    @property
    def peak(self) -> int:
        ...
    @property
    def periods(self) -> float | None:
        ...
    @property
    def scherrer_constant(self) -> float:
        ...
    @property
    def warnings(self) -> list[str]:
        ...
    @property
    def width_growth_z(self) -> float:
        ...
class PeakShare:
    """
    Whether peaks carry the curve: 'none', 'disturb' or 'carry', with figures.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def chi2_per_point(self) -> float:
        ...
    @property
    def highest_contrast(self) -> float:
        ...
    @property
    def intensity_share(self) -> float:
        ...
    @property
    def q2_share(self) -> float:
        ...
    @property
    def role(self) -> str:
        ...
    @property
    def windows_per_nm(self) -> list[Range]:
        ...
    @property
    def words(self) -> str:
        ...
class TailCandidate:
    """
    One law of the tail among others.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    @property
    def chi2(self) -> float:
        ...
    @property
    def criterion(self) -> float:
        ...
    @property
    def fit(self) -> PorodFit:
        ...
    @property
    def share(self) -> float:
        ...
class TailComparison:
    """
    Laws of the tail side by side, the best first.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any]:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    def to_xarray(self) -> typing.Any:
        """
        The points as an xarray Dataset over their variable (q, diameter, r, azimuth), units as attributes.
        
            Raises InputError where xarray is not installed or the result is not a function of something.
            
        """
    @property
    def candidates(self) -> list[TailCandidate]:
        ...
    @property
    def constant(self) -> Estimate:
        ...
    @property
    def findings(self) -> list[str]:
        ...
class CurveEstimates:
    """
    Numbers (m) found from one curve, each with its influence.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    @property
    def band68(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 2]"]:
        """
        (m, 2) ends of the central 68 % intervals.
        """
    @property
    def band95(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 2]"]:
        """
        (m, 2) ends of the central 95 % intervals.
        """
    @property
    def causes(self) -> dict[str, typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]]:
        ...
    @property
    def influence(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, n]"]:
        ...
    @property
    def u(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def value(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
class CorrelationFunction:
    """
    Correlation function and chord lengths of a two-phase system.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def plot(self, *, chords: bool = False, ax: typing.Any = None) -> typing.Any:
        """
        Draw γ(r), or the chord lengths, with their bands. Returns the axes.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    def to_xarray(self) -> typing.Any:
        """
        The points as an xarray Dataset over their variable (q, diameter, r, azimuth), units as attributes.
        
            Raises InputError where xarray is not installed or the result is not a function of something.
            
        """
    @property
    def chords_per_nm(self) -> CurveEstimates:
        ...
    @property
    def correlation(self) -> CurveEstimates:
        ...
    @property
    def correlation_length_nm(self) -> CurveEstimate:
        ...
    @property
    def correlation_volume_nm3(self) -> CurveEstimate | None:
        ...
    @property
    def invariant(self) -> Invariant:
        ...
    @property
    def largest_nm(self) -> float:
        ...
    @property
    def porod_length_nm(self) -> CurveEstimate:
        ...
    @property
    def r_nm(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def resolution_nm(self) -> float:
        ...
    @property
    def start_length_nm(self) -> CurveEstimate | None:
        ...
    @property
    def warnings(self) -> list[str]:
        ...
class RandomTwoPhase:
    """
    The random two-phase model fitted to a curve.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def intensity(self, q_per_nm: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"]) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        """
        The model at q (m), in the curve's unit.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def amplitude(self) -> CurveEstimate:
        ...
    @property
    def background(self) -> CurveEstimate:
        ...
    @property
    def chi2(self) -> float:
        ...
    @property
    def chi2_probability(self) -> float:
        ...
    @property
    def constant(self) -> CurveEstimate:
        ...
    @property
    def correlation_nm(self) -> CurveEstimate:
        ...
    @property
    def degrees_of_freedom(self) -> int:
        ...
    @property
    def first(self) -> int:
        ...
    @property
    def invariant(self) -> CurveEstimate:
        ...
    @property
    def model_holds(self) -> bool:
        ...
    @property
    def points(self) -> int:
        ...
    @property
    def q_range_per_nm(self) -> Range:
        ...
    @property
    def runs_probability(self) -> float:
        ...
    @property
    def unit(self) -> str:
        ...
    @property
    def warnings(self) -> list[str]:
        ...
class ContrastSeries:
    """
    The parabola of a porous solid's scattering in its pore fluid.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def parabola(self, fluid_per_cm2: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"]) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        """
        The fit at fluids' densities (k).
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def chi2(self) -> float:
        ...
    @property
    def chi2_probability(self) -> float:
        ...
    @property
    def covariance(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, n]"]:
        ...
    @property
    def degrees_of_freedom(self) -> int:
        ...
    @property
    def deviation(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def findings(self) -> list[str]:
        ...
    @property
    def fitted(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def match_per_cm2(self) -> Estimate:
        ...
    @property
    def open(self) -> Estimate:
        ...
    @property
    def remainder(self) -> Estimate:
        ...
    @property
    def share(self) -> Estimate:
        ...
    @property
    def warnings(self) -> list[str]:
        ...
    @property
    def weights(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, n]"]:
        ...
class AzimuthalProfile:
    """
    Intensity against azimuth in an annulus of q; only bins that hold pixels.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def plot(self, *, ax: typing.Any = None) -> typing.Any:
        """
        Draw intensity against azimuth with its 68 % band. Returns the axes.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    def to_xarray(self) -> typing.Any:
        """
        The points as an xarray Dataset over their variable (q, diameter, r, azimuth), units as attributes.
        
            Raises InputError where xarray is not installed or the result is not a function of something.
            
        """
    @property
    def azimuth_deg(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def counts(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def dark_counts(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def empty_bins(self) -> list[int]:
        ...
    @property
    def high_deg(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def intensity(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def low_deg(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def name(self) -> str:
        ...
    @property
    def normalisation(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def notes(self) -> list[str]:
        ...
    @property
    def pixels(self) -> typing.Annotated[numpy.typing.NDArray[numpy.int32], "[m, 1]"]:
        ...
    @property
    def q_range_per_nm(self) -> Range:
        ...
    @property
    def steps(self) -> list[StepEffect]:
        ...
    @property
    def u(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
class QAzimuthMap:
    """
    Intensity over azimuth (rows) and q (columns); pixels = 0 marks empty cells.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def plot(self, *, ax: typing.Any = None) -> typing.Any:
        """
        Draw the frame over q and azimuth. Returns the axes.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def azimuth_edges_deg(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def counts(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, n]"]:
        ...
    @property
    def intensity(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, n]"]:
        ...
    @property
    def name(self) -> str:
        ...
    @property
    def notes(self) -> list[str]:
        ...
    @property
    def pixels(self) -> typing.Annotated[numpy.typing.NDArray[numpy.int32], "[m, n]"]:
        ...
    @property
    def q_edges_per_nm(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def steps(self) -> list[StepEffect]:
        ...
    @property
    def u(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, n]"]:
        ...
class AreaAveraged:
    """
    An average with pixels shared among bins by area: for pictures, because neighbours are correlated.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    def to_xarray(self) -> typing.Any:
        """
        The points as an xarray Dataset over their variable (q, diameter, r, azimuth), units as attributes.
        
            Raises InputError where xarray is not installed or the result is not a function of something.
            
        """
    @property
    def bin(self) -> typing.Annotated[numpy.typing.NDArray[numpy.int32], "[m, 1]"]:
        ...
    @property
    def covariance(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, n]"]:
        ...
    @property
    def intensity(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def name(self) -> str:
        ...
    @property
    def notes(self) -> list[str]:
        ...
    @property
    def pixel_area(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def q_high_per_nm(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def q_low_per_nm(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def q_per_nm(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def u(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
class AreaAverager:
    """
    Shares of pixels in bins, mask and normalisations of one geometry.
    """
    def __init__(self, geometry: DetectorGeometry, mask: typing.Annotated[numpy.typing.ArrayLike, numpy.bool, "[m, n]"] | None, rows: typing.SupportsInt | typing.SupportsIndex, columns: typing.SupportsInt | typing.SupportsIndex, edges_per_nm: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], options: AverageOptions) -> None:
        ...
    def average(self, frames: collections.abc.Sequence[Frame], options: ExposureOptions) -> AreaAveraged:
        ...
class RepeatTest:
    """
    One exposure against the sum of the others that are kept.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def adjusted_probability(self) -> float:
        ...
    @property
    def chi2(self) -> float:
        ...
    @property
    def degrees_of_freedom(self) -> float:
        ...
    @property
    def differs(self) -> bool:
        ...
    @property
    def name(self) -> str:
        ...
    @property
    def scale(self) -> float:
        ...
    @property
    def scale_probability(self) -> float:
        ...
    @property
    def scale_u(self) -> float:
        ...
    @property
    def set_aside(self) -> bool:
        ...
    @property
    def shape_probability(self) -> float:
        ...
class RepeatTrend:
    """
    A change with the number of the exposure.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def adjusted_probability(self) -> float:
        ...
    @property
    def change_percent(self) -> float:
        ...
    @property
    def claimed(self) -> bool:
        ...
    @property
    def probability(self) -> float:
        ...
    @property
    def u_percent(self) -> float:
        ...
class RepeatReport:
    """
    Whether repeated exposures are repeats, and which to set aside.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def agree(self) -> bool:
        ...
    @property
    def alpha(self) -> float:
        ...
    @property
    def exposures(self) -> list[RepeatTest]:
        ...
    @property
    def findings(self) -> list[str]:
        ...
    @property
    def low_q_below_per_nm(self) -> float:
        ...
    @property
    def low_q_trend(self) -> RepeatTrend | None:
        ...
    @property
    def scale_trend(self) -> RepeatTrend | None:
        ...
    @property
    def set_aside(self) -> list[int]:
        ...
class Spike:
    """
    A pixel of one exposure far above what the others count there.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def column(self) -> int:
        ...
    @property
    def counts(self) -> float:
        ...
    @property
    def expected(self) -> float:
        ...
    @property
    def exposure(self) -> int:
        ...
    @property
    def probability(self) -> float:
        ...
    @property
    def row(self) -> int:
        ...
class SpikeReport:
    """
    Spikes of several exposures: a mask for each, and a list.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def masks(self) -> list[typing.Annotated[numpy.typing.NDArray[numpy.bool], "[m, n]"]]:
        ...
    @property
    def notes(self) -> list[str]:
        ...
    @property
    def pixels(self) -> int:
        ...
    @property
    def share(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def spikes(self) -> list[Spike]:
        ...
class Anisotropy:
    """
    How strongly a pattern is oriented, and along which direction.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def amplitude(self) -> Estimate:
        ...
    @property
    def amplitude_measured(self) -> float:
        ...
    @property
    def amplitude_squared(self) -> float:
        ...
    @property
    def amplitude_squared_u(self) -> float:
        ...
    @property
    def chi2(self) -> float:
        ...
    @property
    def covered_share(self) -> float:
        ...
    @property
    def degrees_of_freedom(self) -> int:
        ...
    @property
    def director_deg(self) -> float:
        ...
    @property
    def director_u_deg(self) -> float:
        ...
    @property
    def isotropic_probability(self) -> float:
        ...
    @property
    def order_parameter(self) -> Estimate | None:
        ...
    @property
    def warnings(self) -> list[str]:
        ...
class Shape:
    """
    How strongly one particle of a given size scatters.
    """
    def __repr__(self) -> str:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def form_factor(self, q_per_nm: typing.SupportsFloat | typing.SupportsIndex, size_nm: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"]) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        """
        Orientation-averaged squared amplitude over (contrast x volume)^2 of each size (rising) at one q.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    def volume_nm3(self, size_nm: typing.SupportsFloat | typing.SupportsIndex) -> float:
        ...
    @property
    def name(self) -> str:
        ...
    @property
    def size(self) -> str:
        ...
    @property
    def surface_per_nm(self) -> float:
        ...
    @property
    def surface_per_size(self) -> float:
        ...
class HardSpheres:
    """
    Interference between hard spheres, each size among its own kind.
    """
    def __init__(self, volume_fraction: typing.SupportsFloat | typing.SupportsIndex, *, radius_factor: typing.SupportsFloat | typing.SupportsIndex = 1.0) -> None:
        ...
    @property
    def radius_factor(self) -> float:
        ...
    @property
    def volume_fraction(self) -> float:
        ...
class KernelOptions:
    interaction: HardSpheres | None
    shape: Shape
    slit: SlitProfile | None
    def __init__(self) -> None:
        ...
    @property
    def power_exponent(self) -> float:
        ...
    @power_exponent.setter
    def power_exponent(self, arg0: typing.SupportsFloat | typing.SupportsIndex) -> None:
        ...
class SizeGrid:
    """
    Sizes of an inversion, equally spaced in ln D.
    """
    @property
    def diameter_nm(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def step(self) -> float:
        ...
    @property
    def window_nm(self) -> Range:
        ...
class Kernel:
    """
    From a size distribution to a curve; depends on q, sizes and shape only.
    """
    @property
    def grid(self) -> SizeGrid:
        ...
    @property
    def power_law(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def q_per_nm(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def shape(self) -> str:
        ...
    @property
    def volume_nm3(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, n]"]:
        ...
class InversionMethod:
    """
    Members:
    
      sampled
    
      evidence
    
      cross_validation
    
      l_curve
    
      maximum_entropy
    """
    __members__: typing.ClassVar[dict[str, InversionMethod]]
    cross_validation: typing.ClassVar[InversionMethod]
    evidence: typing.ClassVar[InversionMethod]
    l_curve: typing.ClassVar[InversionMethod]
    maximum_entropy: typing.ClassVar[InversionMethod]
    sampled: typing.ClassVar[InversionMethod]
    @typing.overload
    def __eq__(self, other: InversionMethod) -> bool:
        ...
    @typing.overload
    def __eq__(self, other: typing.Any) -> bool:
        ...
    def __getstate__(self) -> int:
        ...
    def __hash__(self) -> int:
        ...
    def __index__(self) -> int:
        ...
    def __init__(self, value: typing.SupportsInt | typing.SupportsIndex) -> None:
        ...
    def __int__(self) -> int:
        ...
    @typing.overload
    def __ne__(self, other: InversionMethod) -> bool:
        ...
    @typing.overload
    def __ne__(self, other: typing.Any) -> bool:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, state: typing.SupportsInt | typing.SupportsIndex) -> None:
        ...
    def __str__(self) -> str:
        ...
    @property
    def name(self) -> str:
        ...
    @property
    def value(self) -> int:
        ...
class FractionRoot:
    """
    Members:
    
      smaller
    
      larger
    """
    __members__: typing.ClassVar[dict[str, FractionRoot]]
    larger: typing.ClassVar[FractionRoot]
    smaller: typing.ClassVar[FractionRoot]
    @typing.overload
    def __eq__(self, other: FractionRoot) -> bool:
        ...
    @typing.overload
    def __eq__(self, other: typing.Any) -> bool:
        ...
    def __getstate__(self) -> int:
        ...
    def __hash__(self) -> int:
        ...
    def __index__(self) -> int:
        ...
    def __init__(self, value: typing.SupportsInt | typing.SupportsIndex) -> None:
        ...
    def __int__(self) -> int:
        ...
    @typing.overload
    def __ne__(self, other: FractionRoot) -> bool:
        ...
    @typing.overload
    def __ne__(self, other: typing.Any) -> bool:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, state: typing.SupportsInt | typing.SupportsIndex) -> None:
        ...
    def __str__(self) -> str:
        ...
    @property
    def name(self) -> str:
        ...
    @property
    def value(self) -> int:
        ...
class AlsoFit:
    """
    Members:
    
      nothing
    
      hard_sphere_fraction
    
      power_exponent
    """
    __members__: typing.ClassVar[dict[str, AlsoFit]]
    hard_sphere_fraction: typing.ClassVar[AlsoFit]
    nothing: typing.ClassVar[AlsoFit]
    power_exponent: typing.ClassVar[AlsoFit]
    @typing.overload
    def __eq__(self, other: AlsoFit) -> bool:
        ...
    @typing.overload
    def __eq__(self, other: typing.Any) -> bool:
        ...
    def __getstate__(self) -> int:
        ...
    def __hash__(self) -> int:
        ...
    def __index__(self) -> int:
        ...
    def __init__(self, value: typing.SupportsInt | typing.SupportsIndex) -> None:
        ...
    def __int__(self) -> int:
        ...
    @typing.overload
    def __ne__(self, other: AlsoFit) -> bool:
        ...
    @typing.overload
    def __ne__(self, other: typing.Any) -> bool:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, state: typing.SupportsInt | typing.SupportsIndex) -> None:
        ...
    def __str__(self) -> str:
        ...
    @property
    def name(self) -> str:
        ...
    @property
    def value(self) -> int:
        ...
class InvertOptions:
    also_fit: AlsoFit
    diameter_nm: Range | None
    kernel: KernelOptions
    look_for_order: bool
    method: InversionMethod
    power_law: bool
    q_range_per_nm: Range | None
    root: FractionRoot
    def __init__(self) -> None:
        ...
    @property
    def contrast_per_cm2(self) -> float:
        ...
    @contrast_per_cm2.setter
    def contrast_per_cm2(self, arg0: typing.SupportsFloat | typing.SupportsIndex) -> None:
        ...
    @property
    def draws(self) -> int:
        ...
    @draws.setter
    def draws(self, arg0: typing.SupportsInt | typing.SupportsIndex) -> None:
        ...
    @property
    def seed(self) -> int:
        ...
    @seed.setter
    def seed(self, arg0: typing.SupportsInt | typing.SupportsIndex) -> None:
        ...
class Band:
    """
    A curve with its central 68 % and 95 % intervals, point by point.
    """
    @property
    def high68(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def high95(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def low68(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def low95(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def median(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
class SizeDistribution:
    @staticmethod
    def from_dict(state: dict) -> SizeDistribution:
        """
        The distribution that to_dict() described.
        """
    def __getstate__(self) -> dict:
        ...
    def __init__(self) -> None:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: dict) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def plot(self, *, ax: typing.Any = None, kind: typing.Literal['density', 'fit', 'residual'] = 'density', color: int = 0, label: str | None = None) -> typing.Any:
        """
        Draw the density with its bands and x10, x50, x90; or the fit over the measured curve; or its residuals.
        
            Returns the axes. Raises InputError for another kind.
            
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the distribution: NeXus with everything (.h5, .nxs, .hdf5), .csv of the density, .json of all numbers.
        
            Raises InputError for another suffix, DataError where the file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    def to_dict(self) -> dict:
        """
        All fields as plain values: estimates are (value, u, (low, high) 68 %, (low, high) 95 %).
        """
    def to_xarray(self) -> typing.Any:
        """
        The points as an xarray Dataset over their variable (q, diameter, r, azimuth), units as attributes.
        
            Raises InputError where xarray is not installed or the result is not a function of something.
            
        """
    @property
    def also_fitted(self) -> dict[str, Estimate]:
        ...
    @property
    def background(self) -> Estimate:
        ...
    @property
    def chi2_per_point(self) -> float:
        ...
    @property
    def converged(self) -> bool:
        ...
    @property
    def cumulative(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def cumulative_draws(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, n]"]:
        ...
    @property
    def cumulative_high68(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def cumulative_high95(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def cumulative_low68(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def cumulative_low95(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def diameter_nm(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def draws(self) -> dict[str, typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]]:
        ...
    @property
    def effective_draws(self) -> dict[str, float]:
        ...
    @property
    def effective_parameters(self) -> float:
        ...
    @property
    def fit(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def fit_high68(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def fit_high95(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def fit_low68(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def fit_low95(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def influence(self) -> dict[str, typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]]:
        ...
    @property
    def intensity_unit(self) -> str:
        ...
    @property
    def ln_strength(self) -> dict[str, Estimate]:
        ...
    @property
    def macropore_share(self) -> Estimate:
        ...
    @property
    def mean_nm(self) -> Estimate:
        ...
    @property
    def measured(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def mesopore_share(self) -> Estimate:
        ...
    @property
    def method(self) -> str:
        ...
    @property
    def micropore_share(self) -> Estimate:
        ...
    @property
    def modes_nm(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def noise_scale(self) -> float:
        ...
    @property
    def notes(self) -> list[str]:
        ...
    @property
    def number_mean_nm(self) -> Estimate:
        ...
    @property
    def number_per_cm3(self) -> Estimate:
        ...
    @property
    def outside_share(self) -> float:
        ...
    @property
    def phi_one_minus_phi(self) -> Estimate:
        ...
    @property
    def pore_chord_nm(self) -> Estimate:
        ...
    @property
    def power_exponent(self) -> float:
        ...
    @property
    def power_law_k(self) -> Estimate:
        ...
    @property
    def probability_two_modes(self) -> float:
        ...
    @property
    def q3_high68(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def q3_high95(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def q3_low68(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def q3_low95(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def q3_per_nm(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def q_per_nm(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def r_hat(self) -> dict[str, float]:
        ...
    @property
    def relative_width(self) -> Estimate:
        ...
    @property
    def residual(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def resolution_kernel(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, n]"]:
        ...
    @property
    def resolution_ln_d(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def rg_nm(self) -> Estimate:
        ...
    @property
    def root(self) -> str:
        ...
    @property
    def runs_probability(self) -> float:
        ...
    @property
    def shape(self) -> str:
        ...
    @property
    def smoothing_ln_d(self) -> float:
        ...
    @property
    def specific_surface_m2_per_cm3(self) -> Estimate:
        ...
    @property
    def surface_mean_nm(self) -> Estimate:
        ...
    @property
    def volume_fraction(self) -> Estimate:
        ...
    @property
    def warnings(self) -> list[str]:
        ...
    @property
    def weighted(self) -> dict[str, Band]:
        ...
    @property
    def window_nm(self) -> Range:
        ...
    @property
    def x10_nm(self) -> Estimate:
        ...
    @property
    def x50_in_gap(self) -> bool:
        ...
    @property
    def x50_nm(self) -> Estimate:
        ...
    @property
    def x90_nm(self) -> Estimate:
        ...
class TradeOff:
    """
    What every strength of the smoothness penalty would cost and bring.
    """
    def __repr__(self) -> str:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def plot(self, *, ax: typing.Any = None) -> typing.Any:
        """
        Draw misfit against roughness over all strengths, and where each rule would stop. Returns the axes.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    def to_xarray(self) -> typing.Any:
        """
        The points as an xarray Dataset over their variable (q, diameter, r, azimuth), units as attributes.
        
            Raises InputError where xarray is not installed or the result is not a function of something.
            
        """
    @property
    def at_corner(self) -> int:
        ...
    @property
    def by_cross_validation(self) -> int:
        ...
    @property
    def by_evidence(self) -> int:
        ...
    @property
    def chi2_per_point(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def cross_validation(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def density(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, n]"]:
        ...
    @property
    def diameter_nm(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def effective(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def ln_evidence(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def ln_strength(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def roughness(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
class ParametricFit:
    """
    A named distribution fitted to a curve; its errors are conditional on the family.
    """
    def __repr__(self) -> str:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def plot(self, *, ax: typing.Any = None, color: int = 1) -> typing.Any:
        """
        Draw the fitted density with its 95 % band. Returns the axes.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    def to_xarray(self) -> typing.Any:
        """
        The points as an xarray Dataset over their variable (q, diameter, r, azimuth), units as attributes.
        
            Raises InputError where xarray is not installed or the result is not a function of something.
            
        """
    @property
    def background(self) -> Estimate:
        ...
    @property
    def bic(self) -> float:
        ...
    @property
    def chi2(self) -> float:
        ...
    @property
    def degrees_of_freedom(self) -> float:
        ...
    @property
    def diameter_nm(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def family(self) -> str:
        ...
    @property
    def fit(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def influence(self) -> dict[str, typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]]:
        ...
    @property
    def mean_nm(self) -> Estimate:
        ...
    @property
    def measured(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def noise_scale(self) -> float:
        ...
    @property
    def parameters(self) -> dict[str, Estimate]:
        ...
    @property
    def phi_one_minus_phi(self) -> Estimate:
        ...
    @property
    def power_law_k(self) -> Estimate:
        ...
    @property
    def probability(self) -> float:
        ...
    @property
    def q3_high95(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def q3_low95(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def q3_per_nm(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def q_per_nm(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def relative_width(self) -> Estimate:
        ...
    @property
    def residual(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def shape(self) -> str:
        ...
    @property
    def volume_fraction(self) -> Estimate:
        ...
    @property
    def warnings(self) -> list[str]:
        ...
    @property
    def x10_nm(self) -> Estimate:
        ...
    @property
    def x50_nm(self) -> Estimate:
        ...
    @property
    def x90_nm(self) -> Estimate:
        ...
class SeriesFrame:
    """
    One frame of a series against its start.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    @property
    def another_shape(self) -> bool:
        ...
    @property
    def changed(self) -> bool:
        ...
    @property
    def chi2(self) -> float:
        ...
    @property
    def contrast_ratio(self) -> Estimate:
        ...
    @property
    def degrees_of_freedom(self) -> float:
        ...
    @property
    def p_change(self) -> float:
        ...
    @property
    def p_shape(self) -> float:
        ...
class SeriesChange:
    """
    When the scattering of a series first differs from its start.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any]:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    def to_xarray(self) -> typing.Any:
        """
        The points as an xarray Dataset over their variable (q, diameter, r, azimuth), units as attributes.
        
            Raises InputError where xarray is not installed or the result is not a function of something.
            
        """
    @property
    def first(self) -> int | None:
        ...
    @property
    def frames(self) -> list[SeriesFrame]:
        ...
    @property
    def words(self) -> str:
        ...
class Hysteresis:
    """
    The area between the branches of a cycle.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def area(self) -> Estimate:
        ...
    @property
    def common(self) -> Range:
        ...
    @property
    def mean_difference(self) -> Estimate:
        ...
    @property
    def p_zero(self) -> float:
        ...
    @property
    def turning_point(self) -> int:
        ...
class FillingFrame:
    """
    How far a frame's pores are filled, smallest first.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    @property
    def chi2(self) -> float:
        ...
    @property
    def degrees_of_freedom(self) -> float:
        ...
    @property
    def filled_share(self) -> Estimate:
        ...
    @property
    def filled_up_to_nm(self) -> Estimate:
        ...
    @property
    def p_filling(self) -> float:
        ...
    @property
    def refused(self) -> bool:
        ...
class Filling:
    """
    Whether a filling of the start's pores gives the later curves of a series.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any]:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def frames(self) -> list[FillingFrame]:
        ...
    @property
    def share_covariance(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, n]"]:
        ...
    @property
    def words(self) -> str:
        ...
class EquivalenceTest:
    """
    Two one-sided tests of a difference against limits.
    """
    def __getstate__(self) -> tuple[float, float, float, Range, float]:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def alpha(self) -> float:
        ...
    @property
    def degrees_of_freedom(self) -> float:
        ...
    @property
    def difference(self) -> float:
        ...
    @property
    def different(self) -> bool:
        ...
    @property
    def equivalent(self) -> bool:
        ...
    @property
    def interval95(self) -> Range:
        ...
    @property
    def limits(self) -> Range:
        ...
    @property
    def p_different(self) -> float:
        ...
    @property
    def p_equivalent(self) -> float:
        ...
    @property
    def p_high(self) -> float:
        ...
    @property
    def p_low(self) -> float:
        ...
    @property
    def p_zero(self) -> float:
        ...
    @property
    def significant(self) -> bool:
        ...
    @property
    def standard_error(self) -> float:
        ...
    @property
    def t_high(self) -> float:
        ...
    @property
    def t_low(self) -> float:
        ...
    @property
    def t_zero(self) -> float:
        ...
    @property
    def verdict_interval(self) -> Range:
        ...
class DistributionDistance:
    """
    How far apart two batches' distributions are, the noise's part removed.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def interval95_nm(self) -> Range:
        ...
    @property
    def noise_nm(self) -> float:
        ...
    @property
    def p_equal(self) -> float:
        ...
    @property
    def raw_nm(self) -> float:
        ...
    @property
    def samples_a(self) -> int:
        ...
    @property
    def samples_b(self) -> int:
        ...
    @property
    def value_nm(self) -> float:
        ...
class SequentialLimits:
    """
    Limits of planned looks at a growing experiment.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    @property
    def fraction(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def level(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def spent(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def z(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
class SizingStep:
    """
    What an experiment of so many samples a batch would say, as probabilities.
    """
    @property
    def different(self) -> float:
        ...
    @property
    def equivalent(self) -> float:
        ...
    @property
    def looks(self) -> list[int]:
        ...
    @property
    def mean_samples(self) -> float:
        ...
    @property
    def samples(self) -> int:
        ...
    @property
    def undecided(self) -> float:
        ...
class Sizing:
    """
    How many samples a batch a new experiment needs.
    """
    def __repr__(self) -> str:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    def to_xarray(self) -> typing.Any:
        """
        The points as an xarray Dataset over their variable (q, diameter, r, azimuth), units as attributes.
        
            Raises InputError where xarray is not installed or the result is not a function of something.
            
        """
    @property
    def limited_by_shared(self) -> bool:
        ...
    @property
    def samples(self) -> int | None:
        ...
    @property
    def steps(self) -> list[SizingStep]:
        ...
class BatchSummary:
    """
    A batch: its samples, mean with bands, and scatter between samples.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def batch(self) -> str:
        ...
    @property
    def between_sample_sd(self) -> float:
        ...
    @property
    def between_sample_sd95(self) -> Range:
        ...
    @property
    def degrees_of_freedom(self) -> float:
        ...
    @property
    def includes_scatter(self) -> bool:
        ...
    @property
    def mean(self) -> Estimate:
        ...
    @property
    def samples(self) -> int:
        ...
    @property
    def shared_u(self) -> float:
        ...
class BatchPair:
    """
    A batch against the reference: the difference and the verdict.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def batch(self) -> str:
        ...
    @property
    def degrees_of_freedom(self) -> float:
        ...
    @property
    def difference_percent(self) -> float:
        ...
    @property
    def difference_percent_high(self) -> float:
        ...
    @property
    def difference_percent_low(self) -> float:
        ...
    @property
    def difference_significant(self) -> bool:
        ...
    @property
    def look(self) -> int:
        ...
    @property
    def p_different(self) -> float:
        ...
    @property
    def p_equivalent(self) -> float:
        ...
    @property
    def p_zero(self) -> float:
        ...
    @property
    def p_zero_holm(self) -> float:
        ...
    @property
    def reason(self) -> str:
        ...
    @property
    def reference(self) -> str:
        ...
    @property
    def shared_share(self) -> float:
        ...
    @property
    def standard_error_percent(self) -> float:
        ...
    @property
    def verdict(self) -> str:
        ...
    @property
    def verdict_level(self) -> float:
        ...
    @property
    def verdict_percent_high(self) -> float:
        ...
    @property
    def verdict_percent_low(self) -> float:
        ...
class BatchComparison:
    """
    Batches against a reference: `batches` and `pairs`.
    """
    def __getstate__(self) -> tuple[typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any, typing.Any]:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def plot(self, names: typing.Sequence[str], batches: typing.Sequence[str], values: typing.Sequence[typing.Any], *, ax: typing.Any = None, label: str = '') -> typing.Any:
        """
        Draw the samples that were compared, batch means, margin and verdicts. Returns the axes.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    def to_xarray(self) -> typing.Any:
        """
        The points as an xarray Dataset over their variable (q, diameter, r, azimuth), units as attributes.
        
            Raises InputError where xarray is not installed or the result is not a function of something.
            
        """
    @property
    def alpha(self) -> float:
        ...
    @property
    def batches(self) -> list[BatchSummary]:
        ...
    @property
    def log(self) -> bool:
        ...
    @property
    def margin_percent(self) -> float:
        ...
    @property
    def pairs(self) -> list[BatchPair]:
        ...
    @property
    def quantity(self) -> str:
        ...
    @property
    def reference(self) -> str:
        ...
class CountingRates:
    """
    Counting variance times seconds of each bin, and the u that no counting removes.
    """
    def __init__(self, *, sample: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], background: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], floor: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"]) -> None:
        ...
    @property
    def background(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def floor(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def sample(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
class SummaryRates:
    """
    Counting variance of one summary, times seconds.
    """
    def __init__(self, *, sample: typing.SupportsFloat | typing.SupportsIndex, background: typing.SupportsFloat | typing.SupportsIndex) -> None:
        ...
    def variance(self, *, sample_s: typing.SupportsFloat | typing.SupportsIndex, background_s: typing.SupportsFloat | typing.SupportsIndex) -> float:
        ...
    @property
    def background(self) -> float:
        ...
    @property
    def sample(self) -> float:
        ...
class ExpectedBeam:
    """
    The beam and what stands in it.
    """
    def __init__(self, *, photons_per_s: typing.SupportsFloat | typing.SupportsIndex, transmission: typing.SupportsFloat | typing.SupportsIndex = 1.0, cell_transmission: typing.SupportsFloat | typing.SupportsIndex = 1.0, thickness_mm: typing.SupportsFloat | typing.SupportsIndex = 1.0, wavelength_nm: typing.SupportsFloat | typing.SupportsIndex, azimuth_share: typing.SupportsFloat | typing.SupportsIndex = 1.0, efficiency: typing.SupportsFloat | typing.SupportsIndex = 1.0) -> None:
        ...
    @property
    def photons_per_s(self) -> float:
        ...
    @property
    def thickness_mm(self) -> float:
        ...
    @property
    def transmission(self) -> float:
        ...
class ExposureLaw:
    """
    u^2 = (a t^-b)^2 + floor^2.
    """
    def __repr__(self) -> str:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def exposure_s(self, u: typing.SupportsFloat | typing.SupportsIndex) -> float | None:
        ...
    def pays_until_s(self) -> float | None:
        ...
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    def u(self, exposure_s: typing.SupportsFloat | typing.SupportsIndex) -> float:
        ...
    @property
    def a(self) -> float:
        ...
    @property
    def b(self) -> float:
        ...
    @property
    def floor(self) -> float:
        ...
class NamedSample:
    """
    A sample that is supposed to be there.
    """
    def __init__(self, *, family: str, parameters: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], volume: typing.SupportsFloat | typing.SupportsIndex, contrast_per_cm2: typing.SupportsFloat | typing.SupportsIndex = 0.0, flat_level: typing.SupportsFloat | typing.SupportsIndex = 0.0, power_law_k: typing.SupportsFloat | typing.SupportsIndex = 0.0) -> None:
        ...
class Foreseen:
    """
    One number with the error that the information of a curve leaves.
    """
    def __repr__(self) -> str:
        ...
    def _repr_html_(self) -> str:
        """
        The numbers as an HTML table, warnings below; strings are escaped.
        """
    def save(self, path: str | os.PathLike[str]) -> pathlib.Path:
        """
        Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.
        
            Raises
            ------
            InputError
                Another suffix.
            DataError
                The file cannot be written.
            
        """
    def to_dataframe(self, *, what: str = 'points') -> typing.Any:
        """
        The result as a pandas DataFrame.
        
            Parameters
            ----------
            what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
                or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.
        
            Raises
            ------
            InputError
                pandas is not installed, or `what` is another word.
            
        """
    @property
    def influence(self) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
        ...
    @property
    def u(self) -> float:
        ...
    @property
    def value(self) -> float:
        ...
def _unit_factor(arg0: str, arg1: str) -> float:
    ...
def absolute_curve(sample: Measured, background: Measured | None = None, *, thickness_mm: typing.SupportsFloat | typing.SupportsIndex | None = None, thickness_u_mm: typing.SupportsFloat | typing.SupportsIndex = 0.0, powder: PowderMass | None = None, absolute_scale: Factor | None = None, background_scale: Factor = ..., shape: PlateShape | CapillaryShape | None = None, wavelength_nm: typing.SupportsFloat | typing.SupportsIndex = 0.0, off: collections.abc.Sequence[str] = []) -> Absolute:
    ...
def absolute_scale(measured: Curve, *, standard: IntensityStandard | None = None, shape_tolerance: typing.SupportsFloat | typing.SupportsIndex = 0.003, q_range_per_nm: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex] | None = None) -> AbsoluteScale:
    ...
def add(a: Curve, b: Curve) -> Curve:
    ...
def add_geometry_causes(curve: Curve, shifts: collections.abc.Sequence[GeometryShift], *, solid_angle: bool = False, half_width: typing.SupportsInt | typing.SupportsIndex = 5) -> Curve:
    ...
def add_wavelength_cause(curve: Curve, relative_u: typing.SupportsFloat | typing.SupportsIndex, half_width: typing.SupportsInt | typing.SupportsIndex = 5) -> Curve:
    ...
def anisotropy(profile: AzimuthalProfile, *, director_deg: typing.SupportsFloat | typing.SupportsIndex | None = None, fourth_harmonic: bool = True) -> Anisotropy:
    ...
def assume_u(curve: Curve, *, relative: typing.SupportsFloat | typing.SupportsIndex, floor: typing.SupportsFloat | typing.SupportsIndex) -> Curve:
    ...
def attenuation_per_cm(material: Material, wavelength_nm: typing.SupportsFloat | typing.SupportsIndex, density_g_per_cm3: typing.SupportsFloat | typing.SupportsIndex = 0.0) -> float:
    ...
def average(frames: collections.abc.Sequence[Frame], map: PixelMap, mask: typing.Annotated[numpy.typing.ArrayLike, numpy.bool, "[m, n]"] | None, edges_per_nm: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], options: AverageOptions, exposure: ExposureOptions) -> Averaged:
    ...
def azimuth_edges(bins: typing.SupportsInt | typing.SupportsIndex, low_deg: typing.SupportsFloat | typing.SupportsIndex = 0.0) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
    ...
def azimuthal_profile(frames: collections.abc.Sequence[Frame], map: PixelMap, mask: typing.Annotated[numpy.typing.ArrayLike, numpy.bool, "[m, n]"] | None, q_low_per_nm: typing.SupportsFloat | typing.SupportsIndex, q_high_per_nm: typing.SupportsFloat | typing.SupportsIndex, edges_deg: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], options: AverageOptions, exposure: ExposureOptions) -> AzimuthalProfile:
    ...
def beam_spot(counts: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, n]"], masked: typing.Annotated[numpy.typing.ArrayLike, numpy.bool, "[m, n]"], *, radius_px: typing.SupportsFloat | typing.SupportsIndex = 0.0, gap_px: typing.SupportsFloat | typing.SupportsIndex = 2.0, annulus_px: typing.SupportsFloat | typing.SupportsIndex = 4.0, near_px: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex] | None = None, search_px: typing.SupportsFloat | typing.SupportsIndex = 20.0, saturation_value: typing.SupportsFloat | typing.SupportsIndex = 0.0) -> BeamSpot:
    ...
def best_split(rates: SummaryRates, *, samples: typing.SupportsInt | typing.SupportsIndex) -> float:
    ...
def bin_table(map: PixelMap, mask: typing.Annotated[numpy.typing.ArrayLike, numpy.bool, "[m, n]"] | None, edges_per_nm: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], *, sectors_rad: collections.abc.Sequence[tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex]] = []) -> BinTable:
    ...
@typing.overload
def calibrant(name: str) -> Calibrant:
    ...
@typing.overload
def calibrant(name: str, d_nm: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], relative_u: typing.SupportsFloat | typing.SupportsIndex) -> Calibrant:
    ...
def calibrate_rings(counts: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, n]"], masked: typing.Annotated[numpy.typing.ArrayLike, numpy.bool, "[m, n]"], *, start: DetectorGeometry, calibrant: Calibrant, refine_tilt: bool = False, max_order: typing.SupportsInt | typing.SupportsIndex = 0, search_relative: typing.SupportsFloat | typing.SupportsIndex = 0.08, search_px: typing.SupportsFloat | typing.SupportsIndex = 12.0, beam_fwhm_mm: typing.SupportsFloat | typing.SupportsIndex = 0.0) -> RingCalibration:
    ...
def calibrate_rings_from_nothing(counts: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, n]"], masked: typing.Annotated[numpy.typing.ArrayLike, numpy.bool, "[m, n]"], *, calibrant: Calibrant, wavelength_nm: typing.SupportsFloat | typing.SupportsIndex, pixel_size_mm: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex], distance_mm: typing.SupportsFloat | typing.SupportsIndex | None = None, beam_center_px: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex] | None = None, refine_tilt: bool = False, max_order: typing.SupportsInt | typing.SupportsIndex = 0, search_relative: typing.SupportsFloat | typing.SupportsIndex = 0.08, search_px: typing.SupportsFloat | typing.SupportsIndex = 12.0, beam_fwhm_mm: typing.SupportsFloat | typing.SupportsIndex = 0.0) -> RingCalibration:
    ...
def calibrate_strip(counts: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, n]"], masked: typing.Annotated[numpy.typing.ArrayLike, numpy.bool, "[m, n]"], *, calibrant: Calibrant, wavelength_nm: typing.SupportsFloat | typing.SupportsIndex, pixel_size_mm: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex], distance_mm: typing.SupportsFloat | typing.SupportsIndex | None = None, beam_center_px: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex] | None = None, max_order: typing.SupportsInt | typing.SupportsIndex = 0) -> RingCalibration:
    ...
def certified_intensity_per_cm(standard: IntensityStandard, q_per_nm: typing.SupportsFloat | typing.SupportsIndex) -> float:
    ...
def check(curve: Curve) -> None:
    ...
def check_step(name: str) -> None:
    ...
def compare_batches(*, names: collections.abc.Sequence[str], batches: collections.abc.Sequence[str], values: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], covariance: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, n]"], reference: str, quantity: str = 'x50', margin: typing.SupportsFloat | typing.SupportsIndex = 0.05, log: bool = True, alpha: typing.SupportsFloat | typing.SupportsIndex = 0.05, scatter: str = 'per_batch', single_samples: bool = False, looks: collections.abc.Sequence[typing.SupportsInt | typing.SupportsIndex] = [], spending: str = 'obrien_fleming') -> BatchComparison:
    ...
def compare_repeats(exposures: collections.abc.Sequence[Averaged], *, alpha: typing.SupportsFloat | typing.SupportsIndex = 0.01, scale_relative_u: typing.SupportsFloat | typing.SupportsIndex | None = None) -> RepeatReport:
    ...
def compare_tail_laws(curve: Curve, *, q_range_per_nm: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex], law_tolerance: typing.SupportsFloat | typing.SupportsIndex = 0.01) -> TailComparison:
    ...
def core_shell_sphere(shell_ratio: typing.SupportsFloat | typing.SupportsIndex, shell_contrast_ratio: typing.SupportsFloat | typing.SupportsIndex) -> Shape:
    ...
def core_shell_sphere_of_thickness(shell_nm: typing.SupportsFloat | typing.SupportsIndex, shell_contrast_ratio: typing.SupportsFloat | typing.SupportsIndex) -> Shape:
    ...
def correlation_function(curve: Curve, *, guinier: GuinierFit | None, porod: PorodFit, r_nm: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"] | None = None, r_max_nm: typing.SupportsFloat | typing.SupportsIndex = 0.0, data_through_window: bool | None = None) -> CorrelationFunction:
    ...
def counts_per_s(bins: Curve, beam: ExpectedBeam) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
    ...
@typing.overload
def covariance(curve: Curve) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, n]"]:
    ...
@typing.overload
def covariance(a: Curve, b: Curve) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, n]"]:
    ...
def covariance_of_summaries(influence_a: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], a: Curve, influence_b: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], b: Curve) -> float:
    ...
def crop(curve: Curve, q_low_per_nm: typing.SupportsFloat | typing.SupportsIndex, q_high_per_nm: typing.SupportsFloat | typing.SupportsIndex) -> Curve:
    ...
def cycles(x: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], same_within: typing.SupportsFloat | typing.SupportsIndex = 0.0) -> list[tuple[int, int]]:
    ...
def cylinder(length_ratio: typing.SupportsFloat | typing.SupportsIndex) -> Shape:
    ...
def cylinder_of_length(length_nm: typing.SupportsFloat | typing.SupportsIndex) -> Shape:
    ...
def desmear_lake(curve: Curve, profile: SlitProfile, *, most_iterations: typing.SupportsInt | typing.SupportsIndex, chi2_per_point: typing.SupportsFloat | typing.SupportsIndex, interpolation: str, high_q_exponent: typing.SupportsFloat | typing.SupportsIndex) -> Desmeared:
    ...
def dispersant(sample: Absolute, dispersant: Curve, share: Factor, name: str) -> Absolute:
    ...
def distribution_distance(diameter_nm: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], a: collections.abc.Sequence[typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, n]"]], b: collections.abc.Sequence[typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, n]"]], *, resamples: typing.SupportsInt | typing.SupportsIndex, seed: typing.SupportsInt | typing.SupportsIndex) -> DistributionDistance:
    ...
def divide(a: Factor, b: Factor) -> Factor:
    ...
def domain_size(curve: Curve, peaks: CurvePeaks, *, scherrer_constant: typing.SupportsFloat | typing.SupportsIndex = 0.9) -> DomainSize:
    ...
def equivalence_test(a: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], b: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], *, limits: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex], kind: str = 'welch', alpha: typing.SupportsFloat | typing.SupportsIndex = 0.05) -> EquivalenceTest:
    ...
def errors_for_sizing(*, batches: collections.abc.Sequence[str], values: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], covariance: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, n]"], comparison: BatchComparison, batch: str) -> dict[str, float] | None:
    ...
def estimate_without_curve(value: typing.SupportsFloat | typing.SupportsIndex, u: typing.SupportsFloat | typing.SupportsIndex) -> CurveEstimate:
    ...
def expected_intensity(bins: Curve, sample: NamedSample, *, kernel: KernelOptions) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
    ...
def expected_rates(expected: Curve, *, background_per_cm: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], beam: ExpectedBeam, relative_floor: typing.SupportsFloat | typing.SupportsIndex) -> CountingRates:
    ...
def find_beam_center(counts: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, n]"], masked: typing.Annotated[numpy.typing.ArrayLike, numpy.bool, "[m, n]"], *, near_px: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex] | None = None, search_px: typing.SupportsFloat | typing.SupportsIndex = 20.0) -> BeamCenter:
    ...
def find_beamstop_shadow(counts: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, n]"], masked: typing.Annotated[numpy.typing.ArrayLike, numpy.bool, "[m, n]"], *, beam_center_px: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex], contrast: typing.SupportsFloat | typing.SupportsIndex = 1.5, edge_px: typing.SupportsFloat | typing.SupportsIndex = 5.0, max_radius_px: typing.SupportsFloat | typing.SupportsIndex = 0.0, margin_px: typing.SupportsInt | typing.SupportsIndex = 1) -> BeamstopShadow:
    ...
def find_change(curves: collections.abc.Sequence[Curve], *, start: typing.SupportsInt | typing.SupportsIndex = 1, alpha: typing.SupportsFloat | typing.SupportsIndex = 0.05, bands: typing.SupportsInt | typing.SupportsIndex = 20) -> SeriesChange:
    ...
def find_crystal_spots(counts: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, n]"], masked: typing.Annotated[numpy.typing.ArrayLike, numpy.bool, "[m, n]"], map: PixelMap, *, false_alarm: typing.SupportsFloat | typing.SupportsIndex = 0.01, contrast: typing.SupportsFloat | typing.SupportsIndex = 1.5, spot_px: typing.SupportsFloat | typing.SupportsIndex = 8.0, margin_px: typing.SupportsInt | typing.SupportsIndex = 1) -> CrystalSpots:
    ...
def find_curve_peaks(curve: Curve, *, q_range_per_nm: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex] | None = None, false_alarm: typing.SupportsFloat | typing.SupportsIndex = 0.01, profile: str = 'automatic', largest_relative_width: typing.SupportsFloat | typing.SupportsIndex = 0.2, background_tolerance: typing.SupportsFloat | typing.SupportsIndex = 0.005, least_advantage: typing.SupportsFloat | typing.SupportsIndex = 6.0, resolution_relative_u: typing.SupportsFloat | typing.SupportsIndex | None = None, most_peaks: typing.SupportsInt | typing.SupportsIndex = 30) -> CurvePeaks:
    ...
def find_defects(counts: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, n]"], masked: typing.Annotated[numpy.typing.ArrayLike, numpy.bool, "[m, n]"], *, false_alarm: typing.SupportsFloat | typing.SupportsIndex = 1e-09, radius: typing.SupportsInt | typing.SupportsIndex = 2) -> typing.Annotated[numpy.typing.NDArray[numpy.bool], "[m, n]"]:
    ...
def find_filling(curves: collections.abc.Sequence[Curve], *, diameter_nm: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], cumulative_draws: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, n]"], kernel: KernelOptions, power_law: bool, change: SeriesChange, start: typing.SupportsInt | typing.SupportsIndex = 1, filled_ratio: typing.SupportsFloat | typing.SupportsIndex = 0.25, alpha: typing.SupportsFloat | typing.SupportsIndex = 0.05, bands: typing.SupportsInt | typing.SupportsIndex = 20) -> Filling:
    ...
def find_spikes(frames: collections.abc.Sequence[Frame], *, false_per_exposure: typing.SupportsFloat | typing.SupportsIndex = 0.01) -> SpikeReport:
    ...
def first_crossings(fractions: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], z: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"]) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
    ...
def fit_background_factor(sample: Measured, background: Measured, q_low_per_nm: typing.SupportsFloat | typing.SupportsIndex, q_high_per_nm: typing.SupportsFloat | typing.SupportsIndex) -> BackgroundFactor:
    ...
def fit_contrast_series(points: collections.abc.Sequence[tuple[Curve, CurveEstimate, tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex]]], *, solid_per_cm2: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex] | None = None) -> ContrastSeries:
    ...
def fit_exposure_law(exposure_s: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], u_counting: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], *, floor: typing.SupportsFloat | typing.SupportsIndex = 0.0) -> ExposureLaw:
    ...
def fit_guinier(curve: Curve, *, q_rg_max: typing.SupportsFloat | typing.SupportsIndex = 1.3, q_range_per_nm: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex] | None = None, min_points: typing.SupportsInt | typing.SupportsIndex = 5, drop_beyond: typing.SupportsFloat | typing.SupportsIndex = 3.5, law_tolerance: typing.SupportsFloat | typing.SupportsIndex = 0.01, drop_up_to: typing.SupportsFloat | typing.SupportsIndex = 2.0) -> GuinierFit:
    ...
def fit_parametric(curve: Curve, family: str, *, contrast_per_cm2: typing.SupportsFloat | typing.SupportsIndex, power_law: bool, q_range_per_nm: Range | None, seed: typing.SupportsInt | typing.SupportsIndex, kernel: KernelOptions) -> ParametricFit:
    ...
def fit_porod(curve: Curve, *, q_range_per_nm: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex] | None = None, min_points: typing.SupportsInt | typing.SupportsIndex = 10, least_ratio: typing.SupportsFloat | typing.SupportsIndex = 1.3, law_tolerance: typing.SupportsFloat | typing.SupportsIndex = 0.01, background: str = 'flat', walls: str = 'sharp') -> PorodFit:
    ...
def fit_random_two_phase(curve: Curve, *, q_range_per_nm: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex] | None = None, background: bool = True) -> RandomTwoPhase:
    ...
def flat_field_from_counts(frame: Frame, name: str, solid_angle_sr: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, n]"] | None = None, dark: Frame = None) -> FlatField:
    ...
def fluorescence(material: Material, wavelength_nm: typing.SupportsFloat | typing.SupportsIndex, least_share: typing.SupportsFloat | typing.SupportsIndex = 0.01) -> list[Fluorescence]:
    ...
def flush_folder(folder: str) -> None:
    ...
def foresee(curve: Curve, sample: NamedSample, *, power_law: bool, kernel: KernelOptions) -> dict[str, Foreseen]:
    ...
@typing.overload
def geometry_components(calibration: RingCalibration) -> list[GeometryComponent]:
    ...
@typing.overload
def geometry_components(calibration: RingCalibration, calibrant_relative_u: typing.SupportsFloat | typing.SupportsIndex) -> list[GeometryComponent]:
    ...
def geometry_components_at(calibration: RingCalibration, offset_mm: typing.SupportsFloat | typing.SupportsIndex, u_offset_mm: typing.SupportsFloat | typing.SupportsIndex, position: str) -> list[GeometryComponent]:
    ...
def geometry_shift(id: str, table: BinTable, base: DetectorGeometry, shifted: DetectorGeometry) -> GeometryShift:
    ...
def given_frames(path: str, *, format: str, stored_type: str, count: typing.SupportsInt | typing.SupportsIndex, rows: typing.SupportsInt | typing.SupportsIndex, columns: typing.SupportsInt | typing.SupportsIndex, fetch: collections.abc.Callable, metadata: FrameMetadata, exposures_s: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], monitors: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], masked: typing.Annotated[numpy.typing.ArrayLike, numpy.bool, "[m, n]"] | None, saturation_value: typing.SupportsFloat | typing.SupportsIndex | None, exposure_s: typing.SupportsFloat | typing.SupportsIndex | None) -> FrameFile:
    ...
def given_transmission(name: str, value: typing.SupportsFloat | typing.SupportsIndex, u: typing.SupportsFloat | typing.SupportsIndex = 0.0) -> Transmission:
    ...
def hard_sphere_structure_factor(q_times_diameter: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], volume_fraction: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    """
    S of hard spheres after Percus and Yevick.
    """
def holm(p: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex], *, alpha: typing.SupportsFloat | typing.SupportsIndex = 0.05) -> tuple[list[float], list[bool]]:
    ...
def hysteresis(x: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], y: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], covariance: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, n]"], same_within: typing.SupportsFloat | typing.SupportsIndex = 0.0) -> Hysteresis:
    ...
def index_peaks(curve: Curve, peaks: CurvePeaks, *, symmetries: collections.abc.Sequence[str] | None = None, q_scale_relative_u: typing.SupportsFloat | typing.SupportsIndex = 0.0) -> Indexing:
    ...
def index_positions(q_per_nm: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], *, u_per_nm: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], q_range_per_nm: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex], symmetries: collections.abc.Sequence[str] | None = None, q_scale_relative_u: typing.SupportsFloat | typing.SupportsIndex = 0.0) -> Indexing:
    ...
def invariant(curve: Curve, *, guinier: GuinierFit | None, porod: PorodFit) -> Invariant:
    ...
@typing.overload
def invert(curve: Curve, options: InvertOptions) -> SizeDistribution:
    ...
@typing.overload
def invert(curve: Curve, kernel: Kernel, options: InvertOptions) -> SizeDistribution:
    ...
def kelvin_radius_nm(relative_humidity_percent: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], temperature_C: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    ...
def known_calibrants() -> list[str]:
    ...
def lamella(width_nm: typing.SupportsFloat | typing.SupportsIndex) -> Shape:
    ...
def linear_edges(q_low_per_nm: typing.SupportsFloat | typing.SupportsIndex, q_high_per_nm: typing.SupportsFloat | typing.SupportsIndex, bins: typing.SupportsInt | typing.SupportsIndex) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
    ...
def local_slope(curve: Curve, half_width: typing.SupportsInt | typing.SupportsIndex = 5) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
    ...
def log_edges(q_low_per_nm: typing.SupportsFloat | typing.SupportsIndex, q_high_per_nm: typing.SupportsFloat | typing.SupportsIndex, bins: typing.SupportsInt | typing.SupportsIndex) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
    ...
def looks_like_calibrant(counts: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, n]"], map: PixelMap, masked: typing.Annotated[numpy.typing.ArrayLike, numpy.bool, "[m, n]"]) -> str:
    ...
def make_bins(map: PixelMap, mask: typing.Annotated[numpy.typing.ArrayLike, numpy.bool, "[m, n]"] | None = None, *, bins: typing.SupportsInt | typing.SupportsIndex = 200, spacing: str = 'log', q_range_per_nm: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex] | None = None) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
    ...
def make_folders(folder: str) -> None:
    ...
def make_kernel(curve: Curve, options: InvertOptions) -> Kernel:
    ...
def mask_circle(rows: typing.SupportsInt | typing.SupportsIndex, columns: typing.SupportsInt | typing.SupportsIndex, *, center_px: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex], radius_px: typing.SupportsFloat | typing.SupportsIndex, outside: bool = False) -> typing.Annotated[numpy.typing.NDArray[numpy.bool], "[m, n]"]:
    ...
def mask_polygon(rows: typing.SupportsInt | typing.SupportsIndex, columns: typing.SupportsInt | typing.SupportsIndex, *, corners_px: collections.abc.Sequence[tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex]], outside: bool = False) -> typing.Annotated[numpy.typing.NDArray[numpy.bool], "[m, n]"]:
    ...
def mask_q_range(q_per_nm: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, n]"], *, low_per_nm: typing.SupportsFloat | typing.SupportsIndex, high_per_nm: typing.SupportsFloat | typing.SupportsIndex, outside: bool = False) -> typing.Annotated[numpy.typing.NDArray[numpy.bool], "[m, n]"]:
    ...
def mask_rectangle(rows: typing.SupportsInt | typing.SupportsIndex, columns: typing.SupportsInt | typing.SupportsIndex, *, x_px: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex], y_px: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex], outside: bool = False) -> typing.Annotated[numpy.typing.NDArray[numpy.bool], "[m, n]"]:
    ...
def mask_values(counts: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, n]"], *, low: typing.SupportsFloat | typing.SupportsIndex, high: typing.SupportsFloat | typing.SupportsIndex, outside: bool = False) -> typing.Annotated[numpy.typing.NDArray[numpy.bool], "[m, n]"]:
    ...
def mass_attenuation_cm2_per_g(material: Material, wavelength_nm: typing.SupportsFloat | typing.SupportsIndex) -> float:
    ...
def material(name_or_formula: str) -> Material:
    ...
def mean_intensity(curve: Curve, *, q_range_per_nm: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex]) -> CurveEstimate:
    ...
def means_of_batches(*, batches: collections.abc.Sequence[str], values: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], covariance: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, n]"], comparison: BatchComparison, wanted: collections.abc.Sequence[str]) -> tuple[typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"], typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, n]"]]:
    ...
def merge(low: Curve, high: Curve, *, name: str, scaled: str = 'high', keep: str = 'smaller error', scale: Factor | None = None, q_range_per_nm: Range | None = None, q_cut_per_nm: typing.SupportsFloat | typing.SupportsIndex | None = None) -> Merged:
    ...
def minimal_surface_area(symmetry: str) -> float:
    ...
def multiply(a: Factor, b: Factor) -> Factor:
    ...
def oblique_transmission(mu_per_cm: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], length_mm: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], cos_two_theta: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    ...
def on_common_bins(a: Curve, b: Curve) -> tuple[Curve, Curve]:
    ...
def open_frames(path: str, *, dataset: str | None = None, saturation_value: typing.SupportsFloat | typing.SupportsIndex | None = None, exposure_s: typing.SupportsFloat | typing.SupportsIndex | None = None) -> FrameFile:
    ...
def ordered_pores(lattice_nm: CurveEstimate, *, symmetry: str, porosity: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex], model: str = 'automatic') -> OrderedPores:
    ...
def over_subtracted(curve: Curve, run: typing.SupportsInt | typing.SupportsIndex = 10) -> OverSubtraction:
    ...
def path_excess(cos_two_theta: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], azimuth_rad: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], rotation_rad: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    ...
def peak_share(curve: Curve, peaks: CurvePeaks, *, carry_height: typing.SupportsFloat | typing.SupportsIndex = 0.3, carry_share: typing.SupportsFloat | typing.SupportsIndex = 0.1) -> PeakShare:
    ...
def phi_one_minus_phi(curve: Curve, invariant: Invariant, *, contrast_per_cm2: typing.SupportsFloat | typing.SupportsIndex, contrast_u_per_cm2: typing.SupportsFloat | typing.SupportsIndex = 0.0) -> CurveEstimate:
    ...
def pixel_map(geometry: DetectorGeometry, rows: typing.SupportsInt | typing.SupportsIndex, columns: typing.SupportsInt | typing.SupportsIndex) -> PixelMap:
    ...
def plate_self_absorption(transmission: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], excess: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    ...
def pointwise_u(curve: Curve) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
    ...
def polarisation(map: PixelMap, horizontal_fraction: typing.SupportsFloat | typing.SupportsIndex, plane_rad: typing.SupportsFloat | typing.SupportsIndex = 0.0) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, n]"]:
    ...
def porosity_per_gram(curve: Curve, invariant: Invariant, *, contrast_per_cm2: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex], skeletal_density_g_per_cm3: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex]) -> GrainPorosity:
    ...
def predicted_u(rates: CountingRates, *, sample_s: typing.SupportsFloat | typing.SupportsIndex, background_s: typing.SupportsFloat | typing.SupportsIndex) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
    ...
def q_azimuth_map(frames: collections.abc.Sequence[Frame], map: PixelMap, mask: typing.Annotated[numpy.typing.ArrayLike, numpy.bool, "[m, n]"] | None, q_edges_per_nm: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], azimuth_edges_deg: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], options: AverageOptions, exposure: ExposureOptions) -> QAzimuthMap:
    ...
def random_two_phase_surface(curve: Curve, fit: RandomTwoPhase, *, contrast_per_cm2: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex] | None = None, porosity: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex] | None = None, skeletal_density_g_per_cm3: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex] | None = None, apparent_density_g_per_cm3: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex] | None = None) -> SpecificSurface:
    ...
def read_curves(path: str) -> list[NamedCurve]:
    ...
def read_mask(path: str, rows: typing.SupportsInt | typing.SupportsIndex, columns: typing.SupportsInt | typing.SupportsIndex) -> typing.Annotated[numpy.typing.NDArray[numpy.bool], "[m, n]"]:
    ...
def read_text_curve(path: str, *, q_unit: str | None = None, intensity_unit: str | None = None) -> NamedCurve:
    ...
def rebin(curve: Curve, group: typing.SupportsInt | typing.SupportsIndex) -> Curve:
    ...
def recorded_rate(true_per_s: typing.SupportsFloat | typing.SupportsIndex, dead_time_s: typing.SupportsFloat | typing.SupportsIndex, model: str) -> float:
    ...
def reduction_steps() -> list[Step]:
    ...
def reflections(symmetry: str, *, largest_m: typing.SupportsInt | typing.SupportsIndex) -> list[Reflection]:
    ...
def remove_leftovers(folder: str) -> int:
    ...
def remove_spikes(frames: collections.abc.Sequence[Frame], *, false_per_exposure: typing.SupportsFloat | typing.SupportsIndex = 0.01) -> list[Frame]:
    ...
def sample_plane_offsets(positions: collections.abc.Sequence[RingCalibration], reference: typing.SupportsInt | typing.SupportsIndex = 0) -> SamplePlaneOffsets:
    ...
def scale(curve: Curve, factor: Factor) -> Curve:
    ...
def scale_from_direct_beam(name: str, beam: Frame, *, beam_center_x_px: typing.SupportsFloat | typing.SupportsIndex, beam_center_y_px: typing.SupportsFloat | typing.SupportsIndex, radius_px: typing.SupportsFloat | typing.SupportsIndex, attenuator: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex], dark_per_s: typing.SupportsFloat | typing.SupportsIndex, options: AverageOptions, by_monitor: bool, cos_incidence: typing.SupportsFloat | typing.SupportsIndex) -> AbsoluteScale:
    ...
def scattering_length_density(material: Material, wavelength_nm: typing.SupportsFloat | typing.SupportsIndex, density_g_per_cm3: typing.SupportsFloat | typing.SupportsIndex = 0.0) -> ScatteringLengthDensity:
    ...
def scattering_probability(curve: Curve, path_mm: typing.SupportsFloat | typing.SupportsIndex, wavelength_nm: typing.SupportsFloat | typing.SupportsIndex) -> ScatteringProbability:
    ...
def sensor_efficiency(mu_per_cm: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], thickness_mm: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], cos_incidence: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    ...
def sequential_limits(fractions: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], *, alpha: typing.SupportsFloat | typing.SupportsIndex, spending: str) -> SequentialLimits:
    ...
def share(curve: Curve, id: str) -> Curve:
    ...
def size_experiment(*, between_sd: typing.SupportsFloat | typing.SupportsIndex, scatter_degrees: typing.SupportsFloat | typing.SupportsIndex = 0.0, own_u: typing.SupportsFloat | typing.SupportsIndex = 0.0, shared_u: typing.SupportsFloat | typing.SupportsIndex = 0.0, difference: typing.SupportsFloat | typing.SupportsIndex = 0.0, margin: typing.SupportsFloat | typing.SupportsIndex = 0.05, alpha: typing.SupportsFloat | typing.SupportsIndex = 0.05, power: typing.SupportsFloat | typing.SupportsIndex = 0.8, most_samples: typing.SupportsInt | typing.SupportsIndex = 60, looks: typing.SupportsInt | typing.SupportsIndex = 1, spending: str = 'obrien_fleming') -> Sizing:
    ...
def size_families() -> list[str]:
    ...
def slit_profile(*, trapezoid_halves: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex] | None, length: tuple[typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"]] | None, infinite: bool, width_fwhm: typing.SupportsFloat | typing.SupportsIndex, width: tuple[typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"]] | None, geometry: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex] | None) -> SlitProfile:
    ...
def smearing_matrix(q_out_per_nm: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], q_in_per_nm: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], profile: SlitProfile, *, interpolation: str, high_q_exponent: typing.SupportsFloat | typing.SupportsIndex) -> SmearingMatrix:
    ...
def specific_surface(curve: Curve, *, porod: PorodFit, invariant: Invariant, contrast_per_cm2: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex] | None = None, porosity: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex] | None = None, skeletal_density_g_per_cm3: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex] | None = None, apparent_density_g_per_cm3: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex] | None = None) -> SpecificSurface:
    ...
def sphere() -> Shape:
    ...
def sphere_form_factor(q_times_radius: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    """
    P(x) of a uniform sphere, x = q R.
    """
def spheroid(axis_ratio: typing.SupportsFloat | typing.SupportsIndex) -> Shape:
    ...
def srm3600() -> IntensityStandard:
    ...
def start_of_series(curves: collections.abc.Sequence[Curve], *, start: typing.SupportsInt | typing.SupportsIndex) -> Curve:
    ...
def subtract(a: Curve, b: Curve) -> Curve:
    ...
def sum_frames(frames: collections.abc.Sequence[Frame]) -> Frame:
    ...
def summary_rates(rates: CountingRates, influence: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"]) -> SummaryRates:
    ...
def thread_count() -> int:
    """
    Threads used by default (SIEVELIGHT_THREADS or the machine's cores).
    """
def total_u(curve: Curve) -> typing.Annotated[numpy.typing.NDArray[numpy.float64], "[m, 1]"]:
    ...
def trade_off(curve: Curve, options: InvertOptions) -> TradeOff:
    ...
def transmission_from_frames(name: str, sample: Frame, empty_name: str, empty: Frame, *, beam_center_x_px: typing.SupportsFloat | typing.SupportsIndex, beam_center_y_px: typing.SupportsFloat | typing.SupportsIndex, radius_px: typing.SupportsFloat | typing.SupportsIndex, dead_time_s: typing.SupportsFloat | typing.SupportsIndex | None = None, dead_time_model: str = 'non-paralyzable', dark_per_s: typing.SupportsFloat | typing.SupportsIndex = 0.0, attenuator: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex] = (1.0, 0.0), empty_attenuator: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex] = (1.0, 0.0), same_attenuator: bool = True) -> Transmission:
    ...
def transmission_from_monitors(name: str, incident: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex], transmitted: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex], empty_name: str, empty_incident: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex], empty_transmitted: tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex]) -> Transmission:
    ...
def trapezoid(half_top: typing.SupportsFloat | typing.SupportsIndex, half_base: typing.SupportsFloat | typing.SupportsIndex) -> LineWeight:
    ...
def true_rate(recorded_per_s: typing.SupportsFloat | typing.SupportsIndex, dead_time_s: typing.SupportsFloat | typing.SupportsIndex, model: str) -> float:
    ...
def unite(a: typing.Annotated[numpy.typing.ArrayLike, numpy.bool, "[m, n]"], b: typing.Annotated[numpy.typing.ArrayLike, numpy.bool, "[m, n]"]) -> typing.Annotated[numpy.typing.NDArray[numpy.bool], "[m, n]"]:
    ...
def usable_q(map: PixelMap, mask: typing.Annotated[numpy.typing.ArrayLike, numpy.bool, "[m, n]"] | None = None) -> Range:
    ...
def variance_by_cause(influence: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], curve: Curve) -> dict[str, float]:
    ...
def variance_of_summary(influence: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], curve: Curve) -> float:
    ...
def wasserstein(a: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], weight_a: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], b: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"], weight_b: typing.Annotated[numpy.typing.ArrayLike, numpy.float64, "[m, 1]"]) -> float:
    ...
def water_standard(temperature_C: typing.SupportsFloat | typing.SupportsIndex) -> IntensityStandard:
    ...
def whole_chain(averaging: collections.abc.Sequence[...], absolute: collections.abc.Sequence[...]) -> list[...]:
    ...
def with_curve(result: Absolute, curve: Curve) -> Absolute:
    ...
def with_sample_offset(geometry: DetectorGeometry, offset_mm: typing.SupportsFloat | typing.SupportsIndex) -> DetectorGeometry:
    ...
def with_slit(curve: Curve, profile: SlitProfile) -> Curve:
    ...
def write_csv(path: str, curve: Curve, *, causes: bool = False) -> None:
    ...
def write_distribution(path: str, distribution: SizeDistribution, *, title: str = '') -> None:
    ...
@typing.overload
def write_nxcansas(path: str, curve: Curve, info: CurveInfo = ...) -> None:
    ...
@typing.overload
def write_nxcansas(path: str, curves: collections.abc.Sequence[NamedCurve]) -> None:
    ...
def write_whole(files: collections.abc.Sequence[tuple[str, bytes]]) -> None:
    ...
ATTENUATION_RELATIVE_U: float = 0.02
FEWEST_POINTS_FOR_ORDER: int = 30
MULTIPLE_SCATTERING_ABOVE: float = 0.1
__version__: str = '0.1.0'

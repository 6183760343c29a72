// SPDX-License-Identifier: GPL-3.0-or-later
#include "bindings.hpp"

#include "sievelight/frames/frame_source.hpp"
#include "sievelight/reduce/reduce.hpp"

#include <map>

using namespace sievelight;
using Eigen::VectorXd;

namespace {

using Frames = std::vector<const Frame*>;
using Pair = std::pair<double, double>;

Spacing spacing_from(const std::string& text) {
  return word<Spacing>(text, "spacing of bins", {{"log", Spacing::log}, {"linear", Spacing::linear}});
}
DeadTimeModel model_from(const std::string& text) {
  return word<DeadTimeModel>(
      text, "dead-time model",
      {{"non-paralyzable", DeadTimeModel::non_paralyzable}, {"paralyzable", DeadTimeModel::paralyzable}});
}
NormaliseBy normalise_from(const std::string& text) {
  return word<NormaliseBy>(text, "way to normalise",
                           {{"exposure", NormaliseBy::exposure}, {"monitor", NormaliseBy::monitor}});
}
WallPosition walls_from(const std::string& text) {
  return word<WallPosition>(text, "position of the walls",
                            {{"ignore", WallPosition::ignore},
                             {"upstream", WallPosition::upstream},
                             {"downstream", WallPosition::downstream},
                             {"both", WallPosition::both}});
}

CapillaryAxis axis_from(const std::string& text) {
  return word<CapillaryAxis>(text, "axis of a capillary",
                             {{"vertical", CapillaryAxis::vertical}, {"horizontal", CapillaryAxis::horizontal}});
}
std::vector<StepKind> steps_from(const std::vector<std::string>& names) {
  std::vector<StepKind> out;
  for (const std::string& name : names) out.push_back(step_to_switch_off(name));
  return out;
}
std::vector<Sector> sectors_from(const std::vector<Pair>& pairs) {
  std::vector<Sector> out;
  for (const auto& [low, high] : pairs) out.push_back({low, high});
  return out;
}
std::optional<DeadTime> dead_time_from(const std::optional<double>& tau, const std::string& model, double u = 0.0) {
  const DeadTimeModel m = model_from(model);
  return tau ? std::optional<DeadTime>({*tau, m, u}) : std::nullopt;
}
Mask mask_from(const std::optional<Mask>& mask) { return mask.value_or(Mask{}); }

// The number type of an array, as a file would name it.
StoredType stored_type_of(const py::array& counts) {
  using K = NumberKind;
  static const std::map<std::pair<char, py::ssize_t>, NumberKind> kinds{
      {{'i', 1}, K::i8},  {{'u', 1}, K::u8},  {{'i', 2}, K::i16}, {{'u', 2}, K::u16}, {{'i', 4}, K::i32},
      {{'u', 4}, K::u32}, {{'i', 8}, K::i64}, {{'u', 8}, K::u64}, {{'f', 4}, K::f32}, {{'f', 8}, K::f64}};
  const auto found = kinds.find({counts.dtype().kind(), counts.itemsize()});
  if (found == kinds.end())
    throw InputError("the counts are neither integers nor floats of at most 8 bytes.",
                     "Give the numbers as they were read.");
  return plain_type(found->second, counts.dtype().byteorder() == '>');
}

Averaged average_counts(const Averager& averager, const py::array& counts, const std::optional<Mask>& mask,
                        double exposure_s, const std::optional<double>& monitor,
                        const std::optional<double>& saturation_value, const ExposureOptions& options) {
  const py::array in_rows = py::array::ensure(counts, py::array::c_style);
  if (in_rows.ndim() != 2) throw InputError("the counts are no array of (rows, columns).", "Give one exposure.");
  StoredExposure e;
  e.counts.type = stored_type_of(in_rows);
  e.counts.numbers = static_cast<const unsigned char*>(in_rows.data());
  if (saturation_value) e.counts.saturation = *saturation_value;
  e.rows = in_rows.shape(0);
  e.columns = in_rows.shape(1);
  e.masked = mask ? &*mask : nullptr;
  e.exposure_s = exposure_s;
  e.monitor = monitor;
  const py::gil_scoped_release release;
  return averager.average_stored(e, options);
}

void bind_bins(py::module_& m) {
  m.def("log_edges", &log_edges, py::arg("q_low_per_nm"), py::arg("q_high_per_nm"), py::arg("bins"));
  m.def("linear_edges", &linear_edges, py::arg("q_low_per_nm"), py::arg("q_high_per_nm"), py::arg("bins"));
  m.def(
      "usable_q", [](const PixelMap& map, const std::optional<Mask>& mask) { return usable_q(map, mask_from(mask)); },
      no_gil(), py::arg("map"), py::arg("mask") = py::none());
  m.def(
      "make_bins",
      [](const PixelMap& map, const std::optional<Mask>& mask, int bins, const std::string& spacing,
         const std::optional<Pair>& q_range) {
        BinOptions o{bins, spacing_from(spacing), {}};
        if (q_range) o.q_range_per_nm = Range{q_range->first, q_range->second};
        return make_bins(map, mask_from(mask), o);
      },
      no_gil(), py::arg("map"), py::arg("mask") = py::none(), py::kw_only(), py::arg("bins") = 200,
      py::arg("spacing") = "log", py::arg("q_range_per_nm") = py::none());
  py::class_<BinTable>(m, "BinTable", "Which bin each pixel belongs to (-1 = none); made once for geometry and mask.")
      .def_readonly("edges_per_nm", &BinTable::edges_per_nm)
      .def_readonly("index", &BinTable::index)
      .def_readonly("pixels", &BinTable::pixels)
      .def_readonly("mean_q_per_nm", &BinTable::mean_q_per_nm)
      .def(pickle(&BinTable::edges_per_nm, &BinTable::index, &BinTable::pixels, &BinTable::mean_q_per_nm));
  m.def(
      "bin_table",
      [](const PixelMap& map, const std::optional<Mask>& mask, const VectorXd& edges,
         const std::vector<Pair>& sectors) { return bin_table(map, mask_from(mask), edges, sectors_from(sectors)); },
      no_gil(), py::arg("map"), py::arg("mask"), py::arg("edges_per_nm"), py::kw_only(),
      py::arg("sectors_rad") = std::vector<Pair>{});
}

void bind_corrections(py::module_& m) {
  m.def(
      "true_rate",
      [](double rate, double tau, const std::string& model) {
        return true_rate(rate, {tau, model_from(model)});
      },
      py::arg("recorded_per_s"), py::arg("dead_time_s"), py::arg("model"));
  m.def(
      "recorded_rate",
      [](double rate, double tau, const std::string& model) {
        return recorded_rate(rate, {tau, model_from(model)});
      },
      py::arg("true_per_s"), py::arg("dead_time_s"), py::arg("model"));
  m.def("plate_self_absorption", py::vectorize(&plate_self_absorption), py::arg("transmission"), py::arg("excess"));
  m.def("path_excess", py::vectorize(&path_excess), py::arg("cos_two_theta"), py::arg("azimuth_rad"),
        py::arg("rotation_rad"));
  m.def("sensor_efficiency", py::vectorize(&sensor_efficiency), py::arg("mu_per_cm"), py::arg("thickness_mm"),
        py::arg("cos_incidence"));
  m.def("oblique_transmission", py::vectorize(&oblique_transmission), py::arg("mu_per_cm"), py::arg("length_mm"),
        py::arg("cos_two_theta"));
  py::class_<Step>(m, "Step", "One step of a reduction: its name, equation and source.")
      .def_readonly("name", &Step::name)
      .def_readonly("equation", &Step::equation)
      .def_readonly("parameters", &Step::parameters)
      .def_readonly("uncertainty", &Step::uncertainty)
      .def_readonly("source", &Step::source)
      .def("__repr__", [](const Step& s) { return py::str("Step({!r}: {})").format(s.name, s.equation); });
  m.def("reduction_steps", &reduction_steps);
  m.def(
      "check_step", [](const std::string& name) { step_to_switch_off(name); }, py::arg("name"));
  m.def("whole_chain", &whole_chain, py::arg("averaging"), py::arg("absolute"));
  py::class_<Absorber>(m, "Absorber", "A plate that absorbs: air, gas, a window, a sensor.")
      .def(py::init([](double mu, double length, double relative_u, const std::string& name) {
             return Absorber{mu, length, relative_u, name};
           }),
           py::kw_only(), py::arg("mu_per_cm"), py::arg("length_mm"), py::arg("relative_u") = 0.0, py::arg("name") = "")
      .def_readonly("mu_per_cm", &Absorber::mu_per_cm)
      .def_readonly("length_mm", &Absorber::length_mm)
      .def_readonly("relative_u", &Absorber::relative_u)
      .def_readonly("name", &Absorber::name)
      .def(pickle(&Absorber::mu_per_cm, &Absorber::length_mm, &Absorber::relative_u, &Absorber::name));
  using E = StepEffect;
  py::class_<E>(m, "StepEffect", "What a step did to a measurement: its factor on the intensity at three q.")
      .def_readonly("name", &E::name)
      .def_readonly("equation", &E::equation)
      .def_readonly("source", &E::source)
      .def_readonly("applied", &E::applied)
      .def_readonly("parameters", &E::parameters)
      .def_readonly("note", &E::note)
      .def_readonly("factor_low", &E::factor_low)
      .def_readonly("factor_mid", &E::factor_mid)
      .def_readonly("factor_high", &E::factor_high)
      .def_readonly("relative_u_low", &E::relative_u_low)
      .def_readonly("relative_u_mid", &E::relative_u_mid)
      .def_readonly("relative_u_high", &E::relative_u_high)
      .def("__repr__",
           [](const E& e) {
             return e.applied ? py::str("StepEffect({!r}, {}: x {:.5g} .. {:.5g})")
                                    .format(e.name, e.parameters, e.factor_low, e.factor_high)
                              : py::str("StepEffect({!r}, left out: {})").format(e.name, e.note);
           })
      .def(pickle(&E::name, &E::equation, &E::source, &E::applied, &E::parameters, &E::note, &E::factor_low,
                  &E::factor_mid, &E::factor_high, &E::relative_u_low, &E::relative_u_mid, &E::relative_u_high));
  py::class_<FlatField>(m, "FlatField", "Response of the pixels to equal illumination; brought to mean 1 where used.")
      .def(py::init([](const std::string& name, const Image& response, const std::optional<Image>& relative_u) {
             return FlatField{name, response, relative_u.value_or(Image{})};
           }),
           py::arg("name"), py::arg("response"), py::arg("relative_u") = py::none())
      .def_readonly("name", &FlatField::name)
      .def_readonly("response", &FlatField::response)
      .def_readonly("relative_u", &FlatField::relative_u)
      .def(pickle(&FlatField::name, &FlatField::response, &FlatField::relative_u));
  m.def(
      "flat_field_from_counts",
      [](const Frame& frame, const std::string& name, const std::optional<Image>& solid_angle, const Frame* dark) {
        return flat_field_from_counts(frame, name, solid_angle.value_or(Image{}), dark);
      },
      no_gil(), py::arg("frame"), py::arg("name"), py::arg("solid_angle_sr") = py::none(),
      py::arg("dark") = py::none());
  using B = Blur;
  py::class_<B>(m, "Blur", "What blurs q: beam at the detector, pixel, wavelengths. Gives the curve's q resolution.")
      .def(py::init([](double fwhm, double x, double y, double spread) {
             return B{fwhm, x, y, spread};
           }),
           py::kw_only(), py::arg("beam_fwhm_mm"), py::arg("pixel_size_x_mm"), py::arg("pixel_size_y_mm"),
           py::arg("wavelength_spread") = 0.0)
      .def_readonly("beam_fwhm_mm", &B::beam_fwhm_mm)
      .def_readonly("pixel_size_x_mm", &B::pixel_size_x_mm)
      .def_readonly("pixel_size_y_mm", &B::pixel_size_y_mm)
      .def_readonly("wavelength_spread", &B::wavelength_spread)
      .def(pickle(&B::beam_fwhm_mm, &B::pixel_size_x_mm, &B::pixel_size_y_mm, &B::wavelength_spread));
}

void bind_average(py::module_& m) {
  using A = Averaged;
  py::class_<A>(m, "Averaged", "A measurement averaged into bins: its curve S, what went into it and what was done.")
      .def_readonly("name", &A::name)
      .def_readonly("curve", &A::curve)
      .def_readonly("bin", &A::bin)
      .def_readonly("counts", &A::counts)
      .def_readonly("dark_counts", &A::dark_counts)
      .def_readonly("pixels", &A::pixels)
      .def_readonly("normalisation", &A::normalisation)
      .def_readonly("scatter_ratio", &A::scatter_ratio)
      .def_readonly("empty_bins", &A::empty_bins)
      .def_readonly("few_count_bins", &A::few_count_bins)
      .def_readonly("steps", &A::steps)
      .def_readonly("notes", &A::notes)
      .def_readonly("azimuth_share", &A::azimuth_share)
      .def_readonly("exposure_s", &A::exposure_s)
      .def_readonly("monitor", &A::monitor)
      .def("__repr__",
           [](const A& a) {
             return py::str("Averaged({!r}, {} bins, {:.6g} s, {} notes)")
                 .format(a.name, a.curve.size(), a.exposure_s, a.notes.size());
           })
      .def(pickle(&A::name, &A::curve, &A::bin, &A::counts, &A::dark_counts, &A::pixels, &A::normalisation,
                  &A::scatter_ratio, &A::empty_bins, &A::few_count_bins, &A::steps, &A::notes, &A::exposure_s,
                  &A::monitor, &A::azimuth_share));
  py::class_<AverageOptions>(m, "AverageOptions", "What stays the same for every frame of a geometry.")
      .def(py::init([](const std::optional<double>& dead_time_s, const std::string& dead_time_model,
                       double dead_time_u_s, const std::optional<FlatField>& flat_field,
                       const std::optional<Absorber>& sensor, const std::vector<Absorber>& flight_path,
                       double polarization_fraction, double polarization_u, double polarization_plane_deg,
                       const std::vector<std::string>& off, const std::vector<Pair>& sectors_rad,
                       const std::optional<Blur>& blur) {
             return AverageOptions{
                 {dead_time_from(dead_time_s, dead_time_model, dead_time_u_s), flat_field, sensor, flight_path,
                  polarization_fraction, polarization_u, polarization_plane_deg, steps_from(off)},
                 sectors_from(sectors_rad),
                 blur};
           }),
           py::kw_only(), py::arg("dead_time_s") = py::none(), py::arg("dead_time_model") = "non-paralyzable",
           py::arg("dead_time_u_s") = 0.0, py::arg("flat_field") = py::none(), py::arg("sensor") = py::none(),
           py::arg("flight_path") = std::vector<Absorber>{}, py::arg("polarization_fraction") = 0.5,
           py::arg("polarization_u") = 0.0, py::arg("polarization_plane_deg") = 0.0,
           py::arg("off") = std::vector<std::string>{}, py::arg("sectors_rad") = std::vector<Pair>{},
           py::arg("blur") = py::none());
  const ExposureOptions e;
  py::class_<ExposureOptions>(m, "ExposureOptions", "What belongs to one measurement.")
      .def(py::init([](const std::string& name, const Frame* dark, const std::string& dark_name,
                       const std::string& normalise_by, double normalise_relative_u,
                       const std::optional<double>& flux_per_s, double flux_relative_u, double few_counts,
                       bool check_scatter) {
             return ExposureOptions{name,
                                    dark,
                                    dark_name,
                                    normalise_from(normalise_by),
                                    normalise_relative_u,
                                    flux_per_s,
                                    flux_relative_u,
                                    few_counts,
                                    check_scatter};
           }),
           // The options look at the dark frame where it is.
           py::keep_alive<1, 3>(), py::kw_only(), py::arg("name") = e.name, py::arg("dark") = py::none(),
           py::arg("dark_name") = e.dark_name, py::arg("normalise_by") = "exposure",
           py::arg("normalise_relative_u") = e.normalise_relative_u, py::arg("flux_per_s") = py::none(),
           py::arg("flux_relative_u") = e.flux_relative_u, py::arg("few_counts") = e.few_counts,
           py::arg("check_scatter") = e.check_scatter);
  py::class_<Averager>(m, "Averager",
                       "Bins, mask and normalisations of one geometry; average() then touches each pixel once.")
      .def(py::init([](const PixelMap& map, const std::optional<Mask>& mask, const VectorXd& edges,
                       const AverageOptions& options) { return Averager(map, mask_from(mask), edges, options); }),
           no_gil(), py::arg("map"), py::arg("mask"), py::arg("edges_per_nm"), py::arg("options"))
      .def_property_readonly("table", &Averager::table)
      .def("average", &Averager::average, no_gil(), py::arg("frames"), py::arg("options"))
      .def("average_counts", &average_counts, py::arg("counts"), py::arg("mask"), py::arg("exposure_s"),
           py::arg("monitor"), py::arg("saturation_value"), py::arg("options"))
      .def("average_each", &Averager::average_each, no_gil(), py::arg("file"), py::arg("indices"), py::arg("options"));
  m.def(
      "average",
      [](const Frames& frames, const PixelMap& map, const std::optional<Mask>& mask, const VectorXd& edges,
         const AverageOptions& options,
         const ExposureOptions& exposure) { return average(frames, map, mask_from(mask), edges, options, exposure); },
      no_gil(), py::arg("frames"), py::arg("map"), py::arg("mask"), py::arg("edges_per_nm"), py::arg("options"),
      py::arg("exposure"));
}

void bind_transmission(py::module_& m) {
  using T = Transmission;
  py::class_<T>(m, "Transmission",
                "Transmission of everything in the beam relative to the empty beam, with its causes.")
      .def_readonly("name", &T::name)
      .def_readonly("factor", &T::factor)
      .def_property_readonly("value", [](const T& t) { return t.factor.value; })
      .def_readonly("u", &T::u)
      .def_readonly("method", &T::method)
      .def_readonly("notes", &T::notes)
      .def("__repr__",
           [](const T& t) {
             return py::str("Transmission({!r}, {:.6g} +- {:.2g}, {})").format(t.name, t.factor.value, t.u, t.method);
           })
      .def(pickle(&T::name, &T::factor, &T::u, &T::method, &T::notes));
  m.def("given_transmission", &given_transmission, py::arg("name"), py::arg("value"), py::arg("u") = 0.0);
  m.def(
      "transmission_from_monitors",
      [](const std::string& name, Pair incident, Pair transmitted, const std::string& empty_name, Pair empty_incident,
         Pair empty_transmitted) {
        const auto reading = [](const Pair& p) { return Reading{p.first, p.second}; };
        return transmission_from_monitors(name, reading(incident), reading(transmitted), empty_name,
                                          reading(empty_incident), reading(empty_transmitted));
      },
      py::arg("name"), py::arg("incident"), py::arg("transmitted"), py::arg("empty_name"), py::arg("empty_incident"),
      py::arg("empty_transmitted"));
  m.def(
      "transmission_from_frames",
      [](const std::string& name, const Frame& sample, const std::string& empty_name, const Frame& empty, double x,
         double y, double radius, const std::optional<double>& tau, const std::string& model, double dark_per_s,
         Pair attenuator, Pair empty_attenuator, bool same_attenuator) {
        return transmission_from_frames(
            name, sample, empty_name, empty,
            {x, y, radius, dead_time_from(tau, model), dark_per_s, Reading{attenuator.first, attenuator.second},
             Reading{empty_attenuator.first, empty_attenuator.second}, same_attenuator});
      },
      no_gil(), py::arg("name"), py::arg("sample"), py::arg("empty_name"), py::arg("empty"), py::kw_only(),
      py::arg("beam_center_x_px"), py::arg("beam_center_y_px"), py::arg("radius_px"),
      py::arg("dead_time_s") = py::none(), py::arg("dead_time_model") = "non-paralyzable", py::arg("dark_per_s") = 0.0,
      py::arg("attenuator") = Pair{1.0, 0.0}, py::arg("empty_attenuator") = Pair{1.0, 0.0},
      py::arg("same_attenuator") = true);
}

void bind_absolute(py::module_& m) {
  using M = Measured;
  py::class_<M>(m, "Measured", "An averaged measurement: its name, curve S and (maybe) transmission.")
      .def(py::init([](const std::string& name, const Curve& curve, const std::optional<Factor>& transmission,
                       const std::optional<Eigen::MatrixXd>& azimuth_share) {
             return M{name, curve, transmission, azimuth_share.value_or(Eigen::MatrixXd{})};
           }),
           py::arg("name"), py::arg("curve"), py::arg("transmission") = py::none(),
           py::arg("azimuth_share") = py::none())
      .def_readonly("name", &M::name)
      .def_readonly("curve", &M::curve)
      .def_readonly("transmission", &M::transmission)
      .def_readonly("azimuth_share", &M::azimuth_share)
      .def(pickle(&M::name, &M::curve, &M::transmission, &M::azimuth_share));
  py::class_<PlateShape>(m, "PlateShape", "A plate, film or layer, its normal in the beam or turned.")
      .def(py::init([](double rotation, const std::string& walls) {
             return PlateShape{rotation, walls_from(walls)};
           }),
           py::kw_only(), py::arg("rotation_deg") = 0.0, py::arg("walls") = "ignore")
      .def_readonly("rotation_deg", &PlateShape::rotation_deg)
      .def("__repr__", [](const PlateShape& s) { return describe(s); });
  py::class_<CapillaryShape>(m, "CapillaryShape", "A capillary across the beam, seen through the beam's footprint.")
      .def(py::init([](double diameter, double width, double offset, const std::string& axis) {
             return CapillaryShape{diameter, width, offset, axis_from(axis)};
           }),
           py::kw_only(), py::arg("inner_diameter_mm"), py::arg("beam_width_mm") = 0.0, py::arg("beam_offset_mm") = 0.0,
           py::arg("axis") = "vertical")
      .def_readonly("inner_diameter_mm", &CapillaryShape::inner_diameter_mm)
      .def_readonly("beam_width_mm", &CapillaryShape::beam_width_mm)
      .def_readonly("beam_offset_mm", &CapillaryShape::beam_offset_mm)
      .def("__repr__", [](const CapillaryShape& s) { return describe(s); });
  using P = PowderMass;
  py::class_<P>(m, "PowderMass", "How much of a powder stands in the beam, and its density.")
      .def(py::init([](const std::optional<Factor>& per_area, const std::optional<Factor>& attenuation,
                       const std::optional<Factor>& density) {
             return P{per_area, attenuation, density};
           }),
           py::kw_only(), py::arg("per_area_g_per_cm2") = py::none(), py::arg("attenuation_cm2_per_g") = py::none(),
           py::arg("density_g_per_cm3") = py::none())
      .def_readonly("per_area_g_per_cm2", &P::per_area_g_per_cm2)
      .def_readonly("attenuation_cm2_per_g", &P::attenuation_cm2_per_g)
      .def_readonly("density_g_per_cm3", &P::density_g_per_cm3);
  using A = Absolute;
  py::class_<A>(m, "Absolute", "A curve in 1/cm or cm2/g (relative where thickness or scale is missing), its steps.")
      .def_readonly("curve", &A::curve)
      .def_readonly("steps", &A::steps)
      .def_readonly("notes", &A::notes)
      .def_readonly("path_mm", &A::path_mm)
      .def(pickle(&A::curve, &A::steps, &A::notes, &A::path_mm));
  m.def(
      "absolute_curve",
      [](const M& sample, const std::optional<M>& background, const std::optional<double>& thickness_mm,
         double thickness_u_mm, const std::optional<P>& powder, const std::optional<Factor>& absolute_scale,
         const Factor& background_scale, const std::optional<SampleShape>& shape, double wavelength_nm,
         const std::vector<std::string>& off) {
        return absolute_curve(sample, background,
                              {thickness_mm, thickness_u_mm, powder, absolute_scale, background_scale, shape,
                               wavelength_nm, steps_from(off)});
      },
      py::arg("sample"), py::arg("background") = py::none(), py::kw_only(), py::arg("thickness_mm") = py::none(),
      py::arg("thickness_u_mm") = 0.0, py::arg("powder") = py::none(), py::arg("absolute_scale") = py::none(),
      py::arg("background_scale") = Factor{}, py::arg("shape") = py::none(), py::arg("wavelength_nm") = 0.0,
      py::arg("off") = std::vector<std::string>{});
  m.def(
      "with_curve",
      [](A result, const Curve& curve) {
        result.curve = curve;
        return result;
      },
      py::arg("result"), py::arg("curve"));
  m.def("dispersant", &dispersant, py::arg("sample"), py::arg("dispersant"), py::arg("share"), py::arg("name"));
  using Q = ScatteringProbability;
  py::class_<Q>(m, "ScatteringProbability", "Probability that a photon is scattered within the measured range.")
      .def_readonly("value", &Q::value)
      .def_readonly("u", &Q::u);
  m.def("scattering_probability", &scattering_probability, py::arg("curve"), py::arg("path_mm"),
        py::arg("wavelength_nm"));
  m.attr("MULTIPLE_SCATTERING_ABOVE") = multiple_scattering_above;
  m.def(
      "on_common_bins", [](const Curve& a, const Curve& b) { return on_common_bins(a, b); }, py::arg("a"),
      py::arg("b"));
  using F = BackgroundFactor;
  py::class_<F>(m, "BackgroundFactor", "The factor that brings a background onto a sample where only it scatters.")
      .def_readonly("factor", &F::factor)
      .def_readonly("u", &F::u)
      .def_readonly("chi2_per_point", &F::chi2_per_point)
      .def_readonly("points", &F::points)
      .def_readonly("q_range_per_nm", &F::q_range_per_nm)
      .def_readonly("note", &F::note)
      .def("__repr__",
           [](const F& f) {
             return py::str("BackgroundFactor({:.5g} +- {:.2g}, {} bins, {:.4g} .. {:.4g} 1/nm)")
                 .format(f.factor.value, f.u, f.points, f.q_range_per_nm.low, f.q_range_per_nm.high);
           })
      .def(pickle(&F::factor, &F::u, &F::chi2_per_point, &F::points, &F::q_range_per_nm, &F::note));
  m.def(
      "fit_background_factor",
      [](const M& sample, const M& background, double low, double high) {
        return fit_background_factor(sample, background, {low, high});
      },
      py::arg("sample"), py::arg("background"), py::arg("q_low_per_nm"), py::arg("q_high_per_nm"));
  using O = OverSubtraction;
  py::class_<O>(m, "OverSubtraction", "Whether a subtraction took too much, and where.")
      .def_readonly("negative_share", &O::negative_share)
      .def_readonly("lowest_z", &O::lowest_z)
      .def_readonly("q_range_per_nm", &O::q_range_per_nm)
      .def_readonly("significant", &O::significant)
      .def(pickle(&O::negative_share, &O::lowest_z, &O::q_range_per_nm, &O::significant));
  m.def("over_subtracted", &over_subtracted, py::arg("curve"), py::arg("run") = 10);

  using I = IntensityStandard;
  py::class_<I>(m, "IntensityStandard", "A standard of absolute intensity: certified points and their common error.")
      .def(py::init([](const std::string& name, const VectorXd& q, const VectorXd& intensity, const VectorXd& u,
                       double relative_u, double thickness_mm, const std::string& source) {
             return I{name, q, intensity, u, {}, relative_u, thickness_mm, source};
           }),
           py::kw_only(), py::arg("name"), py::arg("q_per_nm"), py::arg("intensity_per_cm"),
           py::arg("standard_uncertainty_per_cm"), py::arg("relative_u"), py::arg("thickness_mm"), py::arg("source"))
      .def_readonly("name", &I::name)
      .def_readonly("q_per_nm", &I::q_per_nm)
      .def_readonly("intensity_per_cm", &I::intensity_per_cm)
      .def_readonly("standard_uncertainty_per_cm", &I::standard_uncertainty_per_cm)
      .def_readonly("expanded_uncertainty_per_cm", &I::expanded_uncertainty_per_cm)
      .def_readonly("relative_u", &I::relative_u)
      .def_readonly("thickness_mm", &I::thickness_mm)
      .def_readonly("source", &I::source);
  m.def("srm3600", &srm3600);
  m.def("water_standard", &water_standard, py::arg("temperature_C"));
  m.def("certified_intensity_per_cm", &certified_intensity_per_cm, py::arg("standard"), py::arg("q_per_nm"));
  using S = AbsoluteScale;
  py::class_<S>(m, "AbsoluteScale", "The factor k from measured to absolute intensity, its causes and its checks.")
      .def_readonly("factor", &S::factor)
      .def_property_readonly("value", [](const S& s) { return s.factor.value; })
      .def_readonly("u", &S::u)
      .def_readonly("relative_u", &S::relative_u)
      .def_readonly("chi2_per_point", &S::chi2_per_point)
      .def_readonly("trend", &S::trend)
      .def_readonly("trend_u", &S::trend_u)
      .def_readonly("points", &S::points)
      .def_readonly("q_range_per_nm", &S::q_range_per_nm)
      .def_readonly("q_per_nm", &S::q_per_nm)
      .def_readonly("ratio", &S::ratio)
      .def_readonly("warnings", &S::warnings)
      .def("__repr__",
           [](const S& s) {
             return py::str("AbsoluteScale({:.6g} +- {:.2f} %, {} bins, {:.3g} .. {:.3g} 1/nm, {} warnings)")
                 .format(s.factor.value, 100 * s.relative_u, s.points, s.q_range_per_nm.low, s.q_range_per_nm.high,
                         s.warnings.size());
           })
      .def(pickle(&S::factor, &S::u, &S::relative_u, &S::chi2_per_point, &S::trend, &S::trend_u, &S::points,
                  &S::q_range_per_nm, &S::q_per_nm, &S::ratio, &S::warnings));
  m.def(
      "absolute_scale",
      [](const Curve& measured, const std::optional<I>& standard, double shape_tolerance,
         const std::optional<Pair>& q) {
        AbsoluteScaleOptions o;
        o.shape_tolerance = shape_tolerance;
        if (q) o.q_range_per_nm = {q->first, q->second};
        return absolute_scale(measured, standard ? *standard : srm3600(), o);
      },
      py::arg("measured"), py::kw_only(), py::arg("standard") = py::none(),
      py::arg("shape_tolerance") = AbsoluteScaleOptions{}.shape_tolerance, py::arg("q_range_per_nm") = py::none());
  m.def(
      "scale_from_direct_beam",
      [](const std::string& name, const Frame& beam, double x, double y, double radius, Pair attenuator,
         double dark_per_s, const AverageOptions& options, bool by_monitor, double cos_incidence) {
        return scale_from_direct_beam(name, beam,
                                      {.beam_center_x_px = x,
                                       .beam_center_y_px = y,
                                       .radius_px = radius,
                                       .dead_time = options.corrections.dead_time,
                                       .dark_per_s = dark_per_s,
                                       .attenuator = Reading{attenuator.first, attenuator.second},
                                       .cos_incidence = cos_incidence},
                                      options.corrections, by_monitor);
      },
      no_gil(), py::arg("name"), py::arg("beam"), py::kw_only(), py::arg("beam_center_x_px"),
      py::arg("beam_center_y_px"), py::arg("radius_px"), py::arg("attenuator"), py::arg("dark_per_s"),
      py::arg("options"), py::arg("by_monitor"), py::arg("cos_incidence"));
}

void bind_geometry_causes(py::module_& m) {
  using G = GeometryShift;
  py::class_<G>(m, "GeometryShift", "One component of the calibration's error at +1 sd, as the bins see it.")
      .def_readonly("id", &G::id)
      .def_readonly("edges_per_nm", &G::edges_per_nm)
      .def_readonly("delta_q_per_nm", &G::delta_q_per_nm)
      .def_readonly("relative_solid_angle", &G::relative_solid_angle)
      .def(pickle(&G::id, &G::edges_per_nm, &G::delta_q_per_nm, &G::relative_solid_angle));
  m.def("geometry_shift", &geometry_shift, no_gil(), py::arg("id"), py::arg("table"), py::arg("base"),
        py::arg("shifted"));
  const GeometryCauseOptions o;
  m.def(
      "add_geometry_causes",
      [](const Curve& curve, const std::vector<G>& shifts, bool solid_angle, int half_width) {
        return add_geometry_causes(curve, shifts, {solid_angle, half_width});
      },
      py::arg("curve"), py::arg("shifts"), py::kw_only(), py::arg("solid_angle") = o.solid_angle,
      py::arg("half_width") = o.half_width);
  m.def("add_wavelength_cause", &add_wavelength_cause, py::arg("curve"), py::arg("relative_u"),
        py::arg("half_width") = o.half_width);
  m.def("local_slope", &local_slope, py::arg("curve"), py::arg("half_width") = o.half_width);
}

}  // namespace

void bind_reduce(py::module_& m) {
  bind_bins(m);
  bind_corrections(m);
  bind_average(m);
  bind_transmission(m);
  bind_absolute(m);
  bind_geometry_causes(m);
}

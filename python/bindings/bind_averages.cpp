// SPDX-License-Identifier: GPL-3.0-or-later
#include "bindings.hpp"

#include "sievelight/analysis/anisotropy.hpp"
#include "sievelight/reduce/area_bins.hpp"
#include "sievelight/reduce/azimuth.hpp"
#include "sievelight/reduce/azimuth_map.hpp"
#include "sievelight/reduce/repeats.hpp"
#include "sievelight/reduce/spikes.hpp"

using namespace sievelight;
using Eigen::VectorXd;

namespace {

using Frames = std::vector<const Frame*>;
using OptionalMask = std::optional<Mask>;

void bind_azimuth(py::module_& m) {
  using P = AzimuthalProfile;
  py::class_<P>(m, "AzimuthalProfile", "Intensity against azimuth in an annulus of q; only bins that hold pixels.")
      .def_readonly("name", &P::name)
      .def_readonly("q_range_per_nm", &P::q_range_per_nm)
      .def_readonly("azimuth_deg", &P::azimuth_deg)
      .def_readonly("low_deg", &P::low_deg)
      .def_readonly("high_deg", &P::high_deg)
      .def_readonly("intensity", &P::intensity)
      .def_readonly("u", &P::u)
      .def_readonly("counts", &P::counts)
      .def_readonly("dark_counts", &P::dark_counts)
      .def_readonly("normalisation", &P::normalisation)
      .def_readonly("pixels", &P::pixels)
      .def_readonly("empty_bins", &P::empty_bins)
      .def_readonly("steps", &P::steps)
      .def_readonly("notes", &P::notes)
      .def("__repr__",
           [](const P& p) {
             return py::str("AzimuthalProfile({!r}, {} bins, q {:.4g} to {:.4g} 1/nm)")
                 .format(p.name, p.intensity.size(), p.q_range_per_nm.low, p.q_range_per_nm.high);
           })
      .def(pickle(&P::name, &P::q_range_per_nm, &P::azimuth_deg, &P::low_deg, &P::high_deg, &P::intensity, &P::u,
                  &P::counts, &P::dark_counts, &P::normalisation, &P::pixels, &P::empty_bins, &P::steps, &P::notes));
  m.def("azimuth_edges", &azimuth_edges, py::arg("bins"), py::arg("low_deg") = 0.0);
  m.def(
      "azimuthal_profile",
      [](const Frames& frames, const PixelMap& map, const OptionalMask& mask, double q_low, double q_high,
         const VectorXd& edges_deg, const AverageOptions& options, const ExposureOptions& exposure) {
        return azimuthal_profile(frames, map, mask.value_or(Mask{}), {q_low, q_high}, edges_deg, options, exposure);
      },
      no_gil(), py::arg("frames"), py::arg("map"), py::arg("mask"), py::arg("q_low_per_nm"), py::arg("q_high_per_nm"),
      py::arg("edges_deg"), py::arg("options"), py::arg("exposure"));
  using Q = QAzimuthMap;
  py::class_<Q>(m, "QAzimuthMap", "Intensity over azimuth (rows) and q (columns); pixels = 0 marks empty cells.")
      .def_readonly("name", &Q::name)
      .def_readonly("q_edges_per_nm", &Q::q_edges_per_nm)
      .def_readonly("azimuth_edges_deg", &Q::azimuth_edges_deg)
      .def_readonly("intensity", &Q::intensity)
      .def_readonly("u", &Q::u)
      .def_readonly("counts", &Q::counts)
      .def_readonly("pixels", &Q::pixels)
      .def_readonly("steps", &Q::steps)
      .def_readonly("notes", &Q::notes)
      .def("__repr__",
           [](const Q& q) {
             return py::str("QAzimuthMap({!r}, {} azimuths x {} q)")
                 .format(q.name, q.intensity.rows(), q.intensity.cols());
           })
      .def(pickle(&Q::name, &Q::q_edges_per_nm, &Q::azimuth_edges_deg, &Q::intensity, &Q::u, &Q::counts, &Q::pixels,
                  &Q::steps, &Q::notes));
  m.def(
      "q_azimuth_map",
      [](const Frames& frames, const PixelMap& map, const OptionalMask& mask, const VectorXd& edges,
         const VectorXd& edges_deg, const AverageOptions& options, const ExposureOptions& exposure) {
        return q_azimuth_map(frames, map, mask.value_or(Mask{}), edges, edges_deg, options, exposure);
      },
      no_gil(), py::arg("frames"), py::arg("map"), py::arg("mask"), py::arg("q_edges_per_nm"),
      py::arg("azimuth_edges_deg"), py::arg("options"), py::arg("exposure"));
}

void bind_area(py::module_& m) {
  using A = AreaAveraged;
  py::class_<A>(m, "AreaAveraged",
                "An average with pixels shared among bins by area: for pictures, because neighbours are correlated.")
      .def_readonly("name", &A::name)
      .def_readonly("q_per_nm", &A::q_per_nm)
      .def_readonly("q_low_per_nm", &A::q_low_per_nm)
      .def_readonly("q_high_per_nm", &A::q_high_per_nm)
      .def_readonly("intensity", &A::intensity)
      .def_readonly("u", &A::u)
      .def_readonly("covariance", &A::covariance)
      .def_readonly("pixel_area", &A::pixel_area)
      .def_readonly("bin", &A::bin)
      .def_readonly("notes", &A::notes)
      .def("__repr__",
           [](const A& a) {
             return py::str("AreaAveraged({!r}, {} bins, for pictures)").format(a.name, a.intensity.size());
           })
      .def(pickle(&A::name, &A::q_per_nm, &A::q_low_per_nm, &A::q_high_per_nm, &A::intensity, &A::u, &A::covariance,
                  &A::pixel_area, &A::bin, &A::notes));
  py::class_<AreaAverager>(m, "AreaAverager", "Shares of pixels in bins, mask and normalisations of one geometry.")
      .def(py::init([](const DetectorGeometry& geometry, const OptionalMask& mask, Eigen::Index rows,
                       Eigen::Index columns, const VectorXd& edges, const AverageOptions& options) {
             return AreaAverager(geometry, mask.value_or(Mask{}), rows, columns, edges, options);
           }),
           no_gil(), py::arg("geometry"), py::arg("mask"), py::arg("rows"), py::arg("columns"), py::arg("edges_per_nm"),
           py::arg("options"))
      .def("average", &AreaAverager::average, no_gil(), py::arg("frames"), py::arg("options"));
}

void bind_repeats(py::module_& m) {
  using T = RepeatTest;
  py::class_<T>(m, "RepeatTest", "One exposure against the sum of the others that are kept.")
      .def_readonly("name", &T::name)
      .def_readonly("scale", &T::scale)
      .def_readonly("scale_u", &T::scale_u)
      .def_readonly("scale_probability", &T::scale_probability)
      .def_readonly("chi2", &T::chi2)
      .def_readonly("degrees_of_freedom", &T::degrees_of_freedom)
      .def_readonly("shape_probability", &T::shape_probability)
      .def_readonly("adjusted_probability", &T::adjusted_probability)
      .def_readonly("differs", &T::differs)
      .def_readonly("set_aside", &T::set_aside)
      .def("__repr__",
           [](const T& t) {
             return py::str("RepeatTest({!r}: scale {:.4g} ± {:.2g}, p {:.2g}; shape p {:.2g}{})")
                 .format(t.name, t.scale, t.scale_u, t.scale_probability, t.shape_probability,
                         t.set_aside ? ", set aside" : "");
           })
      .def(pickle(&T::name, &T::scale, &T::scale_u, &T::scale_probability, &T::chi2, &T::degrees_of_freedom,
                  &T::shape_probability, &T::adjusted_probability, &T::differs, &T::set_aside));
  using D = RepeatTrend;
  py::class_<D>(m, "RepeatTrend", "A change with the number of the exposure.")
      .def_readonly("change_percent", &D::change_percent)
      .def_readonly("u_percent", &D::u_percent)
      .def_readonly("probability", &D::probability)
      .def_readonly("adjusted_probability", &D::adjusted_probability)
      .def_readonly("claimed", &D::claimed)
      .def("__repr__",
           [](const D& d) {
             return py::str("RepeatTrend({:+.2g} ± {:.1g} %, p {:.2g})")
                 .format(d.change_percent, d.u_percent, d.probability);
           })
      .def(pickle(&D::change_percent, &D::u_percent, &D::probability, &D::adjusted_probability, &D::claimed));
  using R = RepeatReport;
  py::class_<R>(m, "RepeatReport", "Whether repeated exposures are repeats, and which to set aside.")
      .def_readonly("agree", &R::agree)
      .def_readonly("alpha", &R::alpha)
      .def_readonly("exposures", &R::exposures)
      .def_readonly("scale_trend", &R::scale_trend)
      .def_readonly("low_q_trend", &R::low_q_trend)
      .def_readonly("low_q_below_per_nm", &R::low_q_below_per_nm)
      .def_readonly("set_aside", &R::set_aside)
      .def_readonly("findings", &R::findings)
      .def("__repr__",
           [](const R& r) {
             return r.agree
                        ? py::str("RepeatReport({} exposures agree)").format(r.exposures.size())
                        : py::str("RepeatReport({} exposures, {} set aside: {})")
                              .format(r.exposures.size(), r.set_aside.size(), py::str("; ").attr("join")(r.findings));
           })
      .def(pickle(&R::agree, &R::alpha, &R::exposures, &R::scale_trend, &R::low_q_trend, &R::low_q_below_per_nm,
                  &R::set_aside, &R::findings));
  const RepeatOptions o;
  m.def(
      "compare_repeats",
      [](const std::vector<const Averaged*>& exposures, double alpha, const std::optional<double>& scale_relative_u) {
        return compare_repeats(exposures, {alpha, scale_relative_u});
      },
      no_gil(), py::arg("exposures"), py::kw_only(), py::arg("alpha") = o.alpha,
      py::arg("scale_relative_u") = py::none());
}

void bind_spikes(py::module_& m) {
  using S = Spike;
  py::class_<S>(m, "Spike", "A pixel of one exposure far above what the others count there.")
      .def_readonly("exposure", &S::exposure)
      .def_readonly("row", &S::row)
      .def_readonly("column", &S::column)
      .def_readonly("counts", &S::counts)
      .def_readonly("expected", &S::expected)
      .def_readonly("probability", &S::probability)
      .def("__repr__",
           [](const S& s) {
             return py::str("Spike(exposure {}, row {}, column {}: {:.0f} counts, {:.3g} expected, p {:.2g})")
                 .format(s.exposure, s.row, s.column, s.counts, s.expected, s.probability);
           })
      .def(pickle(&S::exposure, &S::row, &S::column, &S::counts, &S::expected, &S::probability));
  using R = SpikeReport;
  py::class_<R>(m, "SpikeReport", "Spikes of several exposures: a mask for each, and a list.")
      .def_readonly("masks", &R::masks)
      .def_readonly("spikes", &R::spikes)
      .def_readonly("share", &R::share)
      .def_readonly("pixels", &R::pixels)
      .def_readonly("notes", &R::notes)
      .def("__repr__",
           [](const R& r) {
             return py::str("SpikeReport({} spikes in {} exposures of {} pixels)")
                 .format(r.spikes.size(), r.masks.size(), r.pixels);
           })
      .def(pickle(&R::masks, &R::spikes, &R::share, &R::pixels, &R::notes));
  const SpikeOptions o;
  m.def(
      "find_spikes", [](const Frames& frames, double rate) { return find_spikes(frames, {rate}); }, no_gil(),
      py::arg("frames"), py::kw_only(), py::arg("false_per_exposure") = o.false_per_exposure);
  m.def(
      "remove_spikes", [](const Frames& frames, double rate) { return remove_spikes(frames, {rate}); }, no_gil(),
      py::arg("frames"), py::kw_only(), py::arg("false_per_exposure") = o.false_per_exposure);
}

void bind_anisotropy(py::module_& m) {
  using A = Anisotropy;
  py::class_<A>(m, "Anisotropy", "How strongly a pattern is oriented, and along which direction.")
      .def_readonly("amplitude", &A::amplitude)
      .def_readonly("amplitude_measured", &A::amplitude_measured)
      .def_readonly("amplitude_squared", &A::amplitude_squared)
      .def_readonly("amplitude_squared_u", &A::amplitude_squared_u)
      .def_readonly("isotropic_probability", &A::isotropic_probability)
      .def_readonly("director_deg", &A::director_deg)
      .def_readonly("director_u_deg", &A::director_u_deg)
      .def_readonly("order_parameter", &A::order_parameter)
      .def_readonly("covered_share", &A::covered_share)
      .def_readonly("chi2", &A::chi2)
      .def_readonly("degrees_of_freedom", &A::degrees_of_freedom)
      .def_readonly("warnings", &A::warnings)
      .def("__repr__",
           [](const A& a) {
             return py::str("<Anisotropy: A {:.3g} ± {:.2g}, director {:.4g} ± {:.2g} deg, isotropic p {:.2g}{}>")
                 .format(a.amplitude.value, a.amplitude.u, a.director_deg, a.director_u_deg, a.isotropic_probability,
                         a.warnings.empty() ? "" : ", with warnings");
           })
      .def(pickle(&A::amplitude, &A::amplitude_measured, &A::amplitude_squared, &A::amplitude_squared_u,
                  &A::isotropic_probability, &A::director_deg, &A::director_u_deg, &A::order_parameter,
                  &A::covered_share, &A::chi2, &A::degrees_of_freedom, &A::warnings));
  const AnisotropyOptions o;
  m.def(
      "anisotropy",
      [](const AzimuthalProfile& profile, const std::optional<double>& director_deg, bool fourth_harmonic) {
        return anisotropy(profile, {director_deg, fourth_harmonic});
      },
      no_gil(), py::arg("profile"), py::kw_only(), py::arg("director_deg") = py::none(),
      py::arg("fourth_harmonic") = o.fourth_harmonic);
}

}  // namespace

void bind_averages(py::module_& m) {
  bind_azimuth(m);
  bind_area(m);
  bind_repeats(m);
  bind_spikes(m);
  bind_anisotropy(m);
}

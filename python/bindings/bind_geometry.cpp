// SPDX-License-Identifier: GPL-3.0-or-later
#include "bindings.hpp"

#include "sievelight/base/units.hpp"
#include "sievelight/geometry/geometry.hpp"

#include <fmt/format.h>

using namespace sievelight;

namespace {

std::string repr(const DetectorGeometry& g) {
  return fmt::format(
      "DetectorGeometry(wavelength_nm={:.7g}, distance_mm={:.7g}, beam_center_x_px={:.6g}, beam_center_y_px={:.6g}, "
      "pixel_size_x_mm={:.6g}, pixel_size_y_mm={:.6g}, pitch_deg={:.5g}, yaw_deg={:.5g}, roll_deg={:.5g})",
      g.wavelength_nm, g.distance_mm, g.beam_center_x_px, g.beam_center_y_px, g.pixel_size_x_mm, g.pixel_size_y_mm,
      degrees(g.pitch_rad), degrees(g.yaw_rad), degrees(g.roll_rad));
}

DetectorGeometry make(double wavelength_nm, double distance_mm, double beam_center_x_px, double beam_center_y_px,
                      double pixel_size_x_mm, double pixel_size_y_mm, double pitch_deg, double yaw_deg,
                      double roll_deg) {
  const DetectorGeometry g{.wavelength_nm = wavelength_nm,
                           .distance_mm = distance_mm,
                           .beam_center_x_px = beam_center_x_px,
                           .beam_center_y_px = beam_center_y_px,
                           .pixel_size_x_mm = pixel_size_x_mm,
                           .pixel_size_y_mm = pixel_size_y_mm,
                           .pitch_rad = radians(pitch_deg),
                           .yaw_rad = radians(yaw_deg),
                           .roll_rad = radians(roll_deg)};
  check(g);
  return g;
}

auto state(const DetectorGeometry& g) {
  return std::make_tuple(g.wavelength_nm, g.distance_mm, g.beam_center_x_px, g.beam_center_y_px, g.pixel_size_x_mm,
                         g.pixel_size_y_mm, g.pitch_rad, g.yaw_rad, g.roll_rad);
}

DetectorGeometry from_state(const decltype(state(DetectorGeometry{}))& s) {
  return std::apply([](auto... values) { return DetectorGeometry{values...}; }, s);
}

/// The constructor again, with the present values under their names and the changes over them.
py::object replace(const py::object& self, const py::kwargs& changes) {
  py::dict values;
  for (const char* name : {"wavelength_nm", "distance_mm", "beam_center_x_px", "beam_center_y_px", "pixel_size_x_mm",
                           "pixel_size_y_mm", "pitch_deg", "yaw_deg", "roll_deg"})
    values[name] = self.attr(name);
  for (const auto& [name, value] : changes) values[name] = value;
  return py::type::of(self)(**values);
}

}  // namespace

void bind_geometry(py::module_& m) {
  using G = DetectorGeometry;
  py::class_<G>(
      m, "DetectorGeometry",
      "Where the detector stands: lengths in mm, beam point in pixels (x = column, y = row, centres at integers "
      "from 0), tilt in degrees, applied as R_z(roll) R_x(pitch) R_y(yaw). Immutable; `replace` gives a changed "
      "copy.")
      .def(py::init(&make), py::kw_only(), py::arg("wavelength_nm"), py::arg("distance_mm"),
           py::arg("beam_center_x_px"), py::arg("beam_center_y_px"), py::arg("pixel_size_x_mm"),
           py::arg("pixel_size_y_mm"), py::arg("pitch_deg") = 0.0, py::arg("yaw_deg") = 0.0, py::arg("roll_deg") = 0.0)
      .def_readonly("wavelength_nm", &G::wavelength_nm)
      .def_readonly("distance_mm", &G::distance_mm)
      .def_readonly("beam_center_x_px", &G::beam_center_x_px)
      .def_readonly("beam_center_y_px", &G::beam_center_y_px)
      .def_readonly("pixel_size_x_mm", &G::pixel_size_x_mm)
      .def_readonly("pixel_size_y_mm", &G::pixel_size_y_mm)
      .def_property_readonly("pitch_deg", [](const G& g) { return degrees(g.pitch_rad); })
      .def_property_readonly("yaw_deg", [](const G& g) { return degrees(g.yaw_rad); })
      .def_property_readonly("roll_deg", [](const G& g) { return degrees(g.roll_rad); })
      .def_property_readonly("beam_center_px",
                             [](const G& g) { return std::pair(g.beam_center_x_px, g.beam_center_y_px); })
      .def_property_readonly("pixel_size_mm",
                             [](const G& g) { return std::pair(g.pixel_size_x_mm, g.pixel_size_y_mm); })
      .def("replace", &replace, "A copy with the named values changed.")
      .def("position_mm", &position_mm, py::arg("x_px"), py::arg("y_px"),
           "Place (mm) of a pixel, sample at the origin.")
      .def("cos_at_beam", &cos_at_beam, "Cosine between the direct beam and the detector's normal.")
      .def("q_per_nm", &q_per_nm, py::arg("x_px"), py::arg("y_px"), "q (1/nm) of a place on the detector.")
      .def("__eq__", [](const G& a, const G& b) { return state(a) == state(b); })
      .def("__hash__",
           [](const G& g) { return std::apply([](auto... v) { return py::hash(py::make_tuple(v...)); }, state(g)); })
      .def("__repr__", &repr)
      .def(
          py::pickle([](const G& g) { return state(g); }, [](const decltype(state(G{}))& s) { return from_state(s); }));

  py::class_<PixelMap>(m, "PixelMap", "What every pixel sees; each member has the frame's shape (rows, columns).")
      .def_readonly("q_per_nm", &PixelMap::q_per_nm)
      .def_readonly("azimuth_rad", &PixelMap::azimuth_rad)
      .def_property_readonly("cos_two_theta", &PixelMap::cos_two_theta)
      .def_readonly("cos_incidence", &PixelMap::cos_incidence)
      .def_property_readonly("solid_angle_sr", py::overload_cast<>(&PixelMap::solid_angle_sr, py::const_))
      .def("__repr__", [](const PixelMap& map) {
        return fmt::format("PixelMap({} rows x {} columns, q {:.4g} .. {:.4g} 1/nm)", map.q_per_nm.rows(),
                           map.q_per_nm.cols(), map.q_per_nm.minCoeff(), map.q_per_nm.maxCoeff());
      });
  m.def("pixel_map", &pixel_map, no_gil(), py::arg("geometry"), py::arg("rows"), py::arg("columns"));
  m.def("polarisation", &polarisation, no_gil(), py::arg("map"), py::arg("horizontal_fraction"),
        py::arg("plane_rad") = 0.0);

  py::class_<Calibrant>(m, "Calibrant", "Spacings d (nm, falling) and their common relative standard uncertainty.")
      .def_readonly("name", &Calibrant::name)
      .def_readonly("d_nm", &Calibrant::d_nm)
      .def_readonly("reflections", &Calibrant::reflections)
      .def_readonly("relative_u", &Calibrant::relative_u)
      .def_readonly("source", &Calibrant::source)
      .def("__repr__",
           [](const Calibrant& c) {
             return fmt::format("Calibrant('{}', {} spacings from {:.6g} nm, relative u {:.2g})", c.name, c.d_nm.size(),
                                c.d_nm[0], c.relative_u);
           })
      .def(pickle(&Calibrant::name, &Calibrant::d_nm, &Calibrant::reflections, &Calibrant::relative_u,
                  &Calibrant::source));
  m.def("calibrant", py::overload_cast<const std::string&>(&calibrant), py::arg("name"));
  m.def("calibrant", py::overload_cast<const std::string&, const Eigen::VectorXd&, double>(&calibrant), py::arg("name"),
        py::arg("d_nm"), py::arg("relative_u"));
  m.def("known_calibrants", &known_calibrants);

  py::class_<RingCalibration>(m, "RingCalibration", "A refined geometry, its covariance and the ring points behind it.")
      .def_readonly("geometry", &RingCalibration::geometry)
      .def_readonly("parameters", &RingCalibration::parameters)
      .def_readonly("covariance", &RingCalibration::covariance)
      .def_readonly("residual_px", &RingCalibration::residual_px)
      .def_readonly("x_px", &RingCalibration::x_px)
      .def_readonly("y_px", &RingCalibration::y_px)
      .def_readonly("order", &RingCalibration::order)
      .def_readonly("residuals_px", &RingCalibration::residuals_px)
      .def_readonly("rings", &RingCalibration::rings)
      .def_readonly("arc_deg", &RingCalibration::arc_deg)
      .def_readonly("set_aside", &RingCalibration::set_aside)
      .def_readonly("dependence", &RingCalibration::dependence)
      .def_readonly("calibrant", &RingCalibration::calibrant)
      .def_readonly("calibrant_relative_u", &RingCalibration::calibrant_relative_u)
      .def_readonly("warnings", &RingCalibration::warnings)
      .def("u", &standard_uncertainty, py::arg("parameter"),
           "Standard uncertainty of a refined parameter by its name in `parameters`; 0 for one that was kept.")
      .def("__repr__",
           [](const RingCalibration& c) {
             return fmt::format(
                 "RingCalibration(distance {:.3f} +- {:.3f} mm, center ({:.3f} +- {:.3f}, {:.3f} +- {:.3f}) px, {} "
                 "points "
                 "on {} rings, residual {:.3f} px, {} warnings)",
                 c.geometry.distance_mm, standard_uncertainty(c, "distance_mm"), c.geometry.beam_center_x_px,
                 standard_uncertainty(c, "beam_center_x_px"), c.geometry.beam_center_y_px,
                 standard_uncertainty(c, "beam_center_y_px"), c.x_px.size(), c.rings.size(), c.residual_px,
                 c.warnings.size());
           })
      .def(pickle(&RingCalibration::geometry, &RingCalibration::parameters, &RingCalibration::covariance,
                  &RingCalibration::residual_px, &RingCalibration::x_px, &RingCalibration::y_px,
                  &RingCalibration::order, &RingCalibration::residuals_px, &RingCalibration::rings,
                  &RingCalibration::arc_deg, &RingCalibration::set_aside, &RingCalibration::dependence,
                  &RingCalibration::calibrant, &RingCalibration::calibrant_relative_u, &RingCalibration::warnings));
  const auto calibrate = [](const Image& counts, const Mask& masked, const G& start, const Calibrant& calibrant,
                            bool refine_tilt, int max_order, double search_relative, double search_px,
                            double beam_fwhm_mm) {
    return calibrate_rings(counts, masked, start, calibrant,
                           {refine_tilt, max_order, search_relative, search_px, beam_fwhm_mm});
  };
  const RingOptions ring;
  m.def("calibrate_rings", calibrate, no_gil(), py::arg("counts"), py::arg("masked"), py::kw_only(), py::arg("start"),
        py::arg("calibrant"), py::arg("refine_tilt") = ring.refine_tilt, py::arg("max_order") = ring.max_order,
        py::arg("search_relative") = ring.search_relative, py::arg("search_px") = ring.search_px,
        py::arg("beam_fwhm_mm") = ring.beam_fwhm_mm);

  py::class_<GeometryComponent>(m, "GeometryComponent", "One independent cause of error of a calibrated geometry.")
      .def_readonly("id", &GeometryComponent::id)
      .def_readonly("shifted_plus", &GeometryComponent::shifted_plus)
      .def("__repr__",
           [](const GeometryComponent& c) {
             return fmt::format("GeometryComponent('{}', {})", c.id, repr(c.shifted_plus));
           })
      .def(pickle(&GeometryComponent::id, &GeometryComponent::shifted_plus));
  m.def("geometry_components", py::overload_cast<const RingCalibration&>(&geometry_components), py::arg("calibration"));
  m.def("geometry_components", py::overload_cast<const RingCalibration&, double>(&geometry_components),
        py::arg("calibration"), py::arg("calibrant_relative_u"));

  py::class_<BeamCenter>(m, "BeamCenter", "The beam point found from the direct beam's spot.")
      .def_readonly("x_px", &BeamCenter::x_px)
      .def_readonly("y_px", &BeamCenter::y_px)
      .def_readonly("u_x_px", &BeamCenter::u_x_px)
      .def_readonly("u_y_px", &BeamCenter::u_y_px)
      .def_readonly("sigma_x_px", &BeamCenter::sigma_x_px)
      .def_readonly("sigma_y_px", &BeamCenter::sigma_y_px)
      .def_readonly("counts", &BeamCenter::counts)
      .def_readonly("u_counts", &BeamCenter::u_counts)
      .def_readonly("background", &BeamCenter::background)
      .def_readonly("warnings", &BeamCenter::warnings)
      .def("__repr__", [](const BeamCenter& b) {
        return fmt::format("BeamCenter(({:.3f} +- {:.3f}, {:.3f} +- {:.3f}) px, {:.6g} counts)", b.x_px, b.u_x_px,
                           b.y_px, b.u_y_px, b.counts);
      });
  m.def(
      "find_beam_center",
      [](const Image& counts, const Mask& masked, std::optional<std::pair<double, double>> near_px, double search_px) {
        return find_beam_center(counts, masked, {near_px, search_px});
      },
      no_gil(), py::arg("counts"), py::arg("masked"), py::kw_only(), py::arg("near_px") = py::none(),
      py::arg("search_px") = BeamCenterOptions{}.search_px);
}

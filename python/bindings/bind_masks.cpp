// SPDX-License-Identifier: GPL-3.0-or-later
#include "bindings.hpp"

#include "sievelight/frames/beamstop_shadow.hpp"
#include "sievelight/frames/mask_shapes.hpp"
#include "sievelight/geometry/crystal_spots.hpp"
#include "sievelight/geometry/mask_q.hpp"

using namespace sievelight;
using Eigen::Index;
using Pair = std::pair<double, double>;

void bind_masks(py::module_& m) {
  m.def(
      "mask_rectangle",
      [](Index rows, Index columns, Pair x_px, Pair y_px, bool outside) {
        return mask_rectangle({rows, columns}, x_px, y_px, outside);
      },
      py::arg("rows"), py::arg("columns"), py::kw_only(), py::arg("x_px"), py::arg("y_px"), py::arg("outside") = false);
  m.def(
      "mask_circle",
      [](Index rows, Index columns, Pair center_px, double radius_px, bool outside) {
        return mask_circle({rows, columns}, center_px, radius_px, outside);
      },
      py::arg("rows"), py::arg("columns"), py::kw_only(), py::arg("center_px"), py::arg("radius_px"),
      py::arg("outside") = false);
  m.def(
      "mask_polygon",
      [](Index rows, Index columns, const std::vector<Pair>& corners_px, bool outside) {
        return mask_polygon({rows, columns}, corners_px, outside);
      },
      py::arg("rows"), py::arg("columns"), py::kw_only(), py::arg("corners_px"), py::arg("outside") = false);
  m.def("mask_values", &mask_values, py::arg("counts"), py::kw_only(), py::arg("low"), py::arg("high"),
        py::arg("outside") = false);
  m.def("mask_q_range", &mask_q_range, py::arg("q_per_nm"), py::kw_only(), py::arg("low_per_nm"),
        py::arg("high_per_nm"), py::arg("outside") = false);

  py::class_<BeamstopShadow>(m, "BeamstopShadow", "The shadow of a beamstop and its arm; `words` says what was found.")
      .def_readonly("found", &BeamstopShadow::found)
      .def_readonly("mask", &BeamstopShadow::mask,
                    "(rows, columns) True = in the shadow; all False when none was found")
      .def_readonly("edge_radius_px", &BeamstopShadow::edge_radius_px)
      .def_readonly("shadow_level", &BeamstopShadow::shadow_level, "counts per pixel inside the edge")
      .def_readonly("surround_level", &BeamstopShadow::surround_level, "counts per pixel just outside")
      .def_readonly("words", &BeamstopShadow::words)
      .def("__repr__", [](const BeamstopShadow& s) { return "<BeamstopShadow: " + s.words + ">"; });
  m.def(
      "find_beamstop_shadow",
      [](const Image& counts, const Mask& masked, Pair beam_center_px, double contrast, double edge_px,
         double max_radius_px, int margin_px) {
        return find_beamstop_shadow(counts, masked, beam_center_px, {contrast, edge_px, max_radius_px, margin_px});
      },
      py::arg("counts"), py::arg("masked"), py::kw_only(), py::arg("beam_center_px"), py::arg("contrast") = 1.5,
      py::arg("edge_px") = 5.0, py::arg("max_radius_px") = 0.0, py::arg("margin_px") = 1, no_gil());

  py::class_<CrystalSpot>(m, "CrystalSpot", "A compact spot far above its ring.")
      .def_readonly("x_px", &CrystalSpot::x_px, "column of its centroid")
      .def_readonly("y_px", &CrystalSpot::y_px, "row of its centroid")
      .def_readonly("q_per_nm", &CrystalSpot::q_per_nm)
      .def_readonly("excess_counts", &CrystalSpot::excess_counts, "counts above the ring's level")
      .def_readonly("ratio", &CrystalSpot::ratio, "of its highest pixel to the ring's level")
      .def_readonly("pixels", &CrystalSpot::pixels, "without the margin");
  py::class_<CrystalSpots>(m, "CrystalSpots", "Spots of single crystals and the mask that leaves them out.")
      .def_readonly("mask", &CrystalSpots::mask, "(rows, columns) True = in a spot or its margin")
      .def_readonly("spots", &CrystalSpots::spots, "the strongest first");
  m.def(
      "find_crystal_spots",
      [](const Image& counts, const Mask& masked, const PixelMap& map, double false_alarm, double contrast,
         double spot_px, int margin_px) {
        return find_crystal_spots(counts, masked, map, {false_alarm, contrast, spot_px, margin_px});
      },
      py::arg("counts"), py::arg("masked"), py::arg("map"), py::kw_only(), py::arg("false_alarm") = 0.01,
      py::arg("contrast") = 1.5, py::arg("spot_px") = 8.0, py::arg("margin_px") = 1, no_gil());
}

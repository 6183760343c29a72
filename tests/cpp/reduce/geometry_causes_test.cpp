// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/geometry_causes.hpp"

#include "reduce/synthetic.hpp"
#include "sievelight/reduce/average.hpp"

namespace sievelight {
namespace {

using namespace synthetic;
using Eigen::VectorXd;

double law(double q) { return 1e4 / std::pow(1 + 4 * q * q, 2); }

struct Scene {
  DetectorGeometry geometry = small_detector();
  PixelMap map = pixel_map(geometry, 120, 140);
  Mask stop = map.q_per_nm < 0.15;
  VectorXd edges = make_bins(map, stop, {.bins = 40});
  BinTable table = bin_table(map, stop, edges);
  Frame frame = expected_frame(map, map.solid_angle_sr(), 1.0, law);
  AverageOptions options;

  Scene() { options.corrections.off = {StepKind::polarisation}; }
  Curve reduced(const DetectorGeometry& g) const {
    return average({&frame}, pixel_map(g, 120, 140), stop, edges, options).curve;
  }
};

// The same frame reduced with the shifted geometry moves by u. Pixels change bins in that brute force and do not in the
// linear estimate, hence the tolerance of 6 % of the largest shift; both signs must agree.
TEST(GeometryCauses, AreTheMoveOfTheReducedCurve) {
  const Scene s;
  std::vector<std::pair<std::string, DetectorGeometry>> shifts{{"distance", s.geometry}, {"centre", s.geometry}};
  shifts[0].second.distance_mm *= 1.002;
  shifts[1].second.beam_center_x_px += 0.2;
  for (const auto& [id, g] : shifts) {
    const Curve base = s.reduced(s.geometry);
    const GeometryShift shift = geometry_shift(id, s.table, s.geometry, g);
    const Curve c = add_geometry_causes(base, {shift}, {.solid_angle = true});
    EXPECT_EQ(c.causes.at(id).kind, CauseKind::coherent);
    EXPECT_EQ(c.private_u, base.private_u);
    if (id != "distance") continue;  // a centre's shift moves one side up and the other down: below
    const Curve moved = s.reduced(g);
    for (Eigen::Index i = 3; i + 3 < base.size(); ++i) {
      const Eigen::Index j = i;
      ASSERT_NEAR(moved.q_low_per_nm[j], base.q_low_per_nm[i], 1e-12);
      // Both at the base's q.
      const double slope = -16 * base.q_per_nm[i] * law(base.q_per_nm[i]) / (1 + 4 * std::pow(base.q_per_nm[i], 2));
      const double change = moved.intensity[j] - slope * (moved.q_per_nm[j] - base.q_per_nm[i]) - base.intensity[i];
      const double u = c.causes.at(id).u[i];
      EXPECT_NEAR(change, u, 0.06 * std::abs(slope) * base.q_per_nm[i] * 0.002) << i;
    }
  }
}

TEST(GeometryCauses, FollowTheClosedFormOfADistance) {
  const Scene s;
  DetectorGeometry longer = s.geometry;
  longer.distance_mm *= 1.001;
  const Curve base = s.reduced(s.geometry);
  const Curve c = add_geometry_causes(base, {geometry_shift("distance", s.table, s.geometry, longer)});
  for (Eigen::Index i = 0; i < base.size(); ++i) {
    const double q = base.q_per_nm[i], slope = -16 * q * law(q) / (1 + 4 * q * q);
    // q ~ 1/L at small angles (the largest here is 6 degrees: 1 %). A longer L puts pixels at lower q, Delta q = -0.001
    // q, so u = +(dI/dq) q 0.001: I falls, u is negative. Bins of 6 % are wide: the local quadratic over +-5 of them
    // costs up to 2 % where the curve bends, more in the one-sided windows at the ends.
    EXPECT_NEAR(c.causes.at("distance").u[i], slope * q * 0.001, 0.05 * std::abs(slope) * q * 0.001) << i;
  }
}

TEST(GeometryCauses, SolidAngleOfADistanceIsTwiceItsRelativeChange) {
  const Scene s;
  DetectorGeometry longer = s.geometry;
  longer.distance_mm *= 1.001;
  const GeometryShift shift = geometry_shift("distance", s.table, s.geometry, longer);
  EXPECT_NEAR(shift.relative_solid_angle[0], -0.002, 5e-6);
  const Curve base = s.reduced(s.geometry);
  const VectorXd with = add_geometry_causes(base, {shift}, {.solid_angle = true}).causes.at("distance").u;
  const VectorXd without = add_geometry_causes(base, {shift}).causes.at("distance").u;
  EXPECT_NEAR((with - without)[0] / base.intensity[0], 0.002, 5e-6);
}

TEST(GeometryCauses, AddUpByIdAndKeepTheirSign) {
  const Scene s;
  DetectorGeometry longer = s.geometry, shorter = s.geometry;
  longer.distance_mm *= 1.001;
  shorter.distance_mm *= 0.999;
  const Curve c = add_geometry_causes(s.reduced(s.geometry), {geometry_shift("d", s.table, s.geometry, longer),
                                                              geometry_shift("d", s.table, s.geometry, shorter)});
  EXPECT_LT(c.causes.at("d").u.cwiseAbs().maxCoeff(), 1e-5 * c.intensity.maxCoeff());
}

TEST(GeometryCauses, OfTheWavelengthSlideTheCurve) {
  const Curve c = curve_on_bins(
      log_edges(0.1, 2.0, 50), [](double q) { return std::pow(q, -4); }, 0.01);
  const Curve with = add_wavelength_cause(c, 0.001);
  // d ln I / d ln q = -4 and q ~ 1/lambda: a longer wavelength puts the curve at lower q, so it falls by 0.4 %.
  for (int i = 0; i < 50; ++i) EXPECT_NEAR(with.causes.at("wavelength").u[i] / c.intensity[i], -0.004, 1e-9);
  EXPECT_HOLDS(message<InputError>([&] { add_wavelength_cause(c, -1); }),
               "relative uncertainty of the wavelength is -1");
}

TEST(GeometryCauses, NeedTheBinsOfTheirTable) {
  const Scene s;
  DetectorGeometry longer = s.geometry;
  longer.distance_mm *= 1.001;
  const GeometryShift shift = geometry_shift("distance", s.table, s.geometry, longer);
  const Curve other = curve_on_bins(log_edges(0.1, 2.0, 50), law, 0.01);
  EXPECT_HOLDS(message<InputError>([&] { add_geometry_causes(other, {shift}); }),
               "is no bin of the geometry's shift 'distance'");
}

}  // namespace
}  // namespace sievelight

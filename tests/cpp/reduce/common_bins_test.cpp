// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/common_bins.hpp"

#include "reduce/synthetic.hpp"
#include "sievelight/curve/arithmetic.hpp"
#include "sievelight/reduce/bins.hpp"

#include <cmath>

namespace sievelight {
namespace {

using namespace synthetic;

Curve without(const Curve& c, int point) {
  std::vector<int> keep;
  for (int i = 0; i < c.size(); ++i)
    if (i != point) keep.push_back(i);
  Curve out = c;
  for (Eigen::VectorXd* v : {&out.q_per_nm, &out.intensity, &out.private_u, &out.q_low_per_nm, &out.q_high_per_nm})
    *v = (*v)(keep).eval();
  for (auto& [id, cause] : out.causes) cause.u = cause.u(keep).eval();
  return out;
}

TEST(CommonBins, LeaveOutWhatOneCurveLacks) {
  Curve c = curve_on_bins(
      log_edges(0.1, 1.0, 10), [](double q) { return q; }, 0.1);
  c.causes["scale"] = {CauseKind::coherent, c.intensity};
  std::vector<std::string> notes;
  const auto [a, b] = on_common_bins(without(c, 3), without(c, 7), &notes);
  ASSERT_EQ(a.size(), 8);
  EXPECT_EQ(a.q_per_nm, b.q_per_nm);
  EXPECT_EQ(a.intensity, b.intensity);
  EXPECT_EQ(b.causes.at("scale").u, b.intensity);
  EXPECT_NO_THROW(subtract(a, b));
  ASSERT_EQ(notes.size(), 1u);
  EXPECT_HOLDS(notes[0], "1 of 9 bins");
}

TEST(CommonBins, MoveAPointAlongItsCurveToTheOthersMean) {
  const auto steep = [](double q) { return std::pow(q, -4.0); };
  const Curve c = curve_on_bins(log_edges(0.1, 1.0, 100), steep, 0.1);
  Curve moved = c;
  for (int i = 0; i < moved.size(); ++i) {
    moved.q_per_nm[i] += (i % 2 ? 0.2 : -0.2) * (c.q_high_per_nm[i] - c.q_low_per_nm[i]);
    moved.intensity[i] = c.intensity[i] * std::pow(moved.q_per_nm[i] / c.q_per_nm[i], -4.0);
  }
  std::vector<std::string> notes;
  const Curve back = on_common_bins(c, moved, &notes).second;
  EXPECT_EQ(back.q_per_nm, c.q_per_nm);
  EXPECT_HOLDS(notes.at(0), "0.2 of a bin");
  // Unmoved they would differ by 4 x 0.2 x 2.3 % = 1.8 %; second order leaves (4 x 5 / 2) (0.2 x 2.3 %)^2 = 2e-4, and
  // the slope is that of a smooth curve through points that zigzag.
  EXPECT_LT(((back.intensity - c.intensity).array() / c.intensity.array()).abs().maxCoeff(), 1e-3);
}

TEST(CommonBins, RefuseAnotherBin) {
  const Curve c = curve_on_bins(
      log_edges(0.1, 1.0, 10), [](double q) { return q; }, 0.1);
  Curve moved = c;
  moved.q_per_nm[4] += 0.6 * (c.q_high_per_nm[4] - c.q_low_per_nm[4]);
  EXPECT_HOLDS(message<InputError>([&] { on_common_bins(c, moved); }), "differs by 0.6 of its width");
  const Curve other = curve_on_bins(
      log_edges(0.1, 1.0, 11), [](double q) { return q; }, 0.1);
  EXPECT_HOLDS(message<InputError>([&] { on_common_bins(c, other); }), "no bin in common");
}

}  // namespace
}  // namespace sievelight

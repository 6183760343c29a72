// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/bin_sums.hpp"

#include "reduce/synthetic.hpp"

#include <cstdlib>

namespace sievelight {
namespace {

using namespace synthetic;

// Large enough (700 x 600) for the blocks that run on several threads.
struct Scene {
  PixelMap map = pixel_map(small_detector(), 700, 600);
  BinTable table = bin_table(map, {}, make_bins(map, {}, {.bins = 100}));
  Image weight = map.solid_angle_sr();
  Frame frame, dark;
  Mask skip = Mask::Constant(700, 600, false);
  Slots slots = Slots(table);
  Eigen::ArrayXf inverse = Eigen::Map<const Eigen::ArrayXd>(weight.data(), weight.size()).inverse().cast<float>();
  Eigen::ArrayXf q = Eigen::Map<const Eigen::ArrayXd>(map.q_per_nm.data(), map.q_per_nm.size()).cast<float>();
  DeadTimeTable dead_time = {{1e-4, DeadTimeModel::non_paralyzable}, 10.0};

  Scene() {
    std::mt19937_64 random(3);
    frame = poisson_frame(expected_frame(map, map.solid_angle_sr(), 10.0, [](double at) { return 5e6 / (1 + at); }),
                          random);
    dark =
        poisson_frame(expected_frame(map, Image::Constant(700, 600, 0.05), 40.0, [](double) { return 1.0; }), random);
    skip.middleRows(100, 7).setConstant(true);
  }
  PixelInputs inputs() const {
    PixelInputs in;
    in.slots = &slots;
    in.weight = &weight;
    in.q_per_nm = &q;
    in.skip = &skip;
    in.dark = &dark;
    in.dead_time = &dead_time;
    in.inverse_weight = &inverse;
    in.name = "scene";
    in.dark_sums = sum_dark(in);
    return in;
  }
};

TEST(BinSums, AreThoseOfAPlainLoop) {
  const Scene s;
  const BinSums got = sum_frame(s.frame, s.inputs());
  Eigen::VectorXd recorded = Eigen::VectorXd::Zero(100), counts = recorded, variance = recorded, dark = recorded,
                  square = recorded, lost = recorded;
  for (Eigen::Index i = 0; i < s.weight.size(); ++i) {
    const int k = s.table.index.data()[i];
    if (k < 0) continue;
    if (s.skip.data()[i]) {
      lost[k] += s.weight.data()[i];
      continue;
    }
    const double n = s.frame.counts.data()[i], load = n / 10.0 * 1e-4, truth = n / (1 - load);
    recorded[k] += n;
    counts[k] += truth;
    variance[k] += n / ((1 - load) * (1 - load));
    dark[k] += s.dark.counts.data()[i];
    square[k] += std::pow(truth - 0.25 * s.dark.counts.data()[i], 2) / s.weight.data()[i];
  }
  EXPECT_EQ(got.recorded, recorded);  // integers: exact
  EXPECT_EQ(got.dark, dark);
  // Sums in another order: rounding only, of up to 20000 terms.
  EXPECT_TRUE(got.counts.isApprox(counts, 1e-12));
  EXPECT_TRUE(got.variance.isApprox(variance, 1e-12));
  EXPECT_TRUE(got.square.isApprox(square, 1e-7));  // the weights are single precision there
  EXPECT_TRUE(got.lost_weight.isApprox(lost, 1e-13));
  EXPECT_EQ(got.lost.sum(), 7 * 600);
}

TEST(BinSums, DoNotDependOnTheNumberOfThreads) {
  const Scene s;
  setenv("SIEVELIGHT_THREADS", "1", 1);
  const BinSums one = sum_frame(s.frame, s.inputs());
  setenv("SIEVELIGHT_THREADS", "3", 1);
  const BinSums three = sum_frame(s.frame, s.inputs());
  unsetenv("SIEVELIGHT_THREADS");
  EXPECT_EQ(one.counts, three.counts);  // bit for bit
  EXPECT_EQ(one.variance, three.variance);
  EXPECT_EQ(one.square, three.square);
}

TEST(BinSums, NameThePixelThatHoldsNoCounts) {
  Scene s;
  s.frame.counts(5, 9) = -1;
  EXPECT_HOLDS(message<DataError>([&] { sum_frame(s.frame, s.inputs()); }), "-1 at row 5, column 9");
  s.frame.counts(5, 9) = NAN;
  EXPECT_HOLDS(message<DataError>([&] { sum_frame(s.frame, s.inputs()); }), "'scene' are nan");
  s.skip(5, 9) = true;
  EXPECT_NO_THROW(sum_frame(s.frame, s.inputs()));
}

}  // namespace
}  // namespace sievelight

// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/average.hpp"

#include "reduce/synthetic.hpp"

namespace sievelight {
namespace {

using namespace synthetic;

// The steps stand in the declared order and say what was done; those that were not say why.
TEST(Averaged, ListsEveryStepInTheDeclaredOrder) {
  const PixelMap map = pixel_map(small_detector(), 61, 47);
  const Frame frame = expected_frame(map, map.solid_angle_sr(), 10.0, [](double) { return 1e7; });
  AverageOptions options;
  options.corrections.dead_time = DeadTime{1e-6};
  options.corrections.off = {StepKind::polarisation};
  const Averaged a = Averager(map, {}, make_bins(map, {}, {.bins = 20}), options).average({&frame}, {.name = "one"});
  std::vector<std::string> names, left_out;
  for (const StepEffect& step : a.steps) {
    names.push_back(step.name);
    if (!step.applied) left_out.push_back(step.name);
  }
  std::vector<std::string> expected;
  for (const Step& step : reduction_steps())
    if (step.kind <= StepKind::polarisation) expected.push_back(step.name);
  EXPECT_EQ(names, expected);
  EXPECT_EQ(left_out,
            (std::vector<std::string>{"dark", "flat field", "sensor efficiency", "flight path", "polarisation"}));
  EXPECT_EQ(a.name, "one");
  EXPECT_EQ(a.exposure_s, 10.0);
  EXPECT_FALSE(a.monitor);
}

}  // namespace
}  // namespace sievelight

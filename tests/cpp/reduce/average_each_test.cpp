// SPDX-License-Identifier: GPL-3.0-or-later
#include "frames/some_frames.hpp"
#include "reduce/synthetic.hpp"
#include "sievelight/frames/frame_source.hpp"
#include "sievelight/reduce/average.hpp"
#include "support/scratch.hpp"

#include <fmt/format.h>

#include <cstdlib>

namespace sievelight {
namespace {

using namespace synthetic;
using Eigen::Index;
constexpr Index rows = 480, columns = 450, count = 5;  // enough pixels for several blocks

struct Stack {
  Scratch scratch;
  PixelMap map = pixel_map(small_detector(), rows, columns);
  Eigen::VectorXd edges = make_bins(map, {}, {.bins = 80});
  Frame dark;
  std::vector<double> values;

  Stack() {
    std::mt19937_64 random(12);
    const Frame expected =
        expected_frame(map, map.solid_angle_sr(), 10.0, [](double q) { return 4e4 + 3e6 / (1 + 50 * q * q * q); });
    for (Index k = 0; k < count; ++k) {
      Frame frame = poisson_frame(expected, random);
      frame.counts(100, 100 + k) = -1;                            // a gap's marker
      frame.counts(200, 20) = 100000.0 + static_cast<double>(k);  // saturated
      values.insert(values.end(), frame.counts.data(), frame.counts.data() + frame.counts.size());
    }
    dark = poisson_frame(expected_frame(map, Image::Constant(rows, columns, 0.02), 40.0, [](double) { return 1.0; }),
                         random);
  }
  FrameFile file(const std::string& name, const Storage& storage) const {
    const std::string path = scratch / name;
    {
      const auto lock = hdf5_lock();
      const H5Handle made = h5_create(path);
      write_numbers(made.get(), "/data", {count, rows, columns}, values, storage);
    }
    return FrameFile(path, {.dataset = "/data", .saturation_value = 50000.0, .exposure_s = 10.0});
  }
};

void expect_same(const Averaged& a, const Averaged& b) {
  EXPECT_EQ(a.curve.q_per_nm, b.curve.q_per_nm) << a.name;
  EXPECT_EQ(a.curve.intensity, b.curve.intensity) << a.name;  // bit for bit
  EXPECT_EQ(a.curve.private_u, b.curve.private_u) << a.name;
  EXPECT_EQ(a.counts, b.counts) << a.name;
  EXPECT_EQ(a.dark_counts, b.dark_counts) << a.name;
  EXPECT_EQ(a.pixels, b.pixels) << a.name;
  EXPECT_EQ(a.normalisation, b.normalisation) << a.name;
  EXPECT_EQ(a.scatter_ratio.size(), b.scatter_ratio.size());
  if (a.scatter_ratio.size() == b.scatter_ratio.size()) {
    EXPECT_TRUE(((a.scatter_ratio.array() == b.scatter_ratio.array()) ||
                 (a.scatter_ratio.array().isNaN() && b.scatter_ratio.array().isNaN()))
                    .all())
        << a.name;
  }
  EXPECT_EQ(a.exposure_s, b.exposure_s);
  ASSERT_EQ(a.curve.causes.size(), b.curve.causes.size());
  for (const auto& [id, cause] : a.curve.causes) EXPECT_EQ(cause.u, b.curve.causes.at(id).u) << id;
}

// Whatever the layout, the corrections and the number of threads: the numbers of average(), bit for bit.
TEST(AverageEach, GivesTheNumbersOfAverageOnAnyNumberOfThreads) {
  const Stack stack;
  const std::vector<Storage> layouts{{H5T_STD_I32LE, {}, false, 0},
                                     {H5T_STD_I32LE, {1, rows, columns}, true, 1},
                                     {H5T_STD_I32BE, {1, 7, columns}, false, 1},
                                     {H5T_STD_I32LE, {2, 100, 100}, false, 1}};
  int number = 0;
  for (const Storage& layout : layouts) {
    const FrameFile file = stack.file(fmt::format("stack{}.h5", number++), layout);
    for (const double dead_time_s : {0.0, 1e-7, 1e-5}) {
      AverageOptions options;
      if (dead_time_s > 0) options.corrections.dead_time = DeadTime{dead_time_s};
      const Averager averager(stack.map, {}, stack.edges, options);
      for (const bool rich : {false, true}) {
        ExposureOptions exposure;
        exposure.name = "run";
        exposure.check_scatter = rich;
        if (rich) exposure.dark = &stack.dark;
        std::vector<Averaged> expected;
        for (Index k = 0; k < count; ++k) {
          const Frame frame = file.read(k);
          expected.push_back(averager.average({&frame}, exposure));
        }
        for (const char* threads : {"1", "2", "3", "7"}) {
          setenv("SIEVELIGHT_THREADS", threads, 1);
          const std::vector<Averaged> got = averager.average_each(file, {}, exposure);
          ASSERT_EQ(got.size(), 5u);
          for (std::size_t k = 0; k < 5; ++k) expect_same(got[k], expected[k]);
          const Frame frame = file.read(2);
          expect_same(averager.average({&frame}, exposure), expected[2]);
          unsetenv("SIEVELIGHT_THREADS");
        }
      }
    }
  }
}

TEST(AverageEach, NamesTheExposuresAndSaysWhatWasLeftOut) {
  const Stack stack;
  const FrameFile file = stack.file("stack.h5", {H5T_STD_I32LE, {}, false, 0});
  const Averager averager(stack.map, {}, stack.edges);
  const std::vector<Averaged> got = averager.average_each(file, {3, 1}, {.name = "run"});
  ASSERT_EQ(got.size(), 2u);
  EXPECT_EQ(got[0].name, "run-001");
  EXPECT_EQ(got[1].name, "run-003");
  ASSERT_GE(got[0].notes.size(), 2u);
  EXPECT_HOLDS(got[0].notes[0], "1 numbers at or above the saturation value 50000 masked");
  EXPECT_HOLDS(got[0].notes[1], "1 markers of gaps or defects masked");
  EXPECT_EQ(got[0].pixels.sum(), averager.table().pixels.sum() - 2);
}

// From memory, in any number type: the same again.
TEST(AverageEach, AgreesWithTheAverageOfNumbersInMemory) {
  const Stack stack;
  const FrameFile file = stack.file("stack.h5", {H5T_STD_I32LE, {}, false, 0});
  const Averager averager(stack.map, {}, stack.edges);
  const Frame frame = file.read(0);
  const Averaged expected = averager.average({&frame}, {});
  const std::vector<std::int32_t> whole(stack.values.begin(), stack.values.begin() + rows * columns);
  const std::vector<double> doubles(stack.values.begin(), stack.values.begin() + rows * columns);
  StoredExposure e;
  e.rows = rows;
  e.columns = columns;
  e.exposure_s = 10.0;
  e.counts = {plain_type(NumberKind::i32, false), reinterpret_cast<const unsigned char*>(whole.data()), 50000.0};
  expect_same(averager.average_stored(e), expected);
  e.counts = {plain_type(NumberKind::f64, false), reinterpret_cast<const unsigned char*>(doubles.data()), 50000.0};
  expect_same(averager.average_stored(e), expected);
  e.columns = 3;
  EXPECT_HOLDS(message<InputError>([&] { averager.average_stored(e); }), "480 x 3 pixels");
}

TEST(AverageEach, RefusesWhatDoesNotFit) {
  const Stack stack;
  const FrameFile file = stack.file("stack.h5", {H5T_STD_I32LE, {}, false, 0});
  const Averager averager(stack.map, {}, stack.edges);
  EXPECT_HOLDS(message<InputError>([&] { averager.average_each(file, {9}); }), "there is no frame 9");
  const PixelMap other = pixel_map(small_detector(), 20, 30);
  const Averager small(other, {}, make_bins(other, {}));
  EXPECT_HOLDS(message<InputError>([&] { small.average_each(file); }), "480 x 450 pixels");
}

}  // namespace
}  // namespace sievelight

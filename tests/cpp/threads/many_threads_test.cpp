// SPDX-License-Identifier: GPL-3.0-or-later
/// Many threads call the library at once, each with data of its own, and get what one thread alone gets, bit for bit.
/// HDF5, libtiff, CBF, GSL and the table of the elements keep state of their own; so do our tables that are made once.

#include "frames/cbf_writer.hpp"
#include "frames/some_frames.hpp"
#include "frames/tiff_writer.hpp"
#include "reduce/synthetic.hpp"
#include "sievelight/analysis/guinier.hpp"
#include "sievelight/base/material.hpp"
#include "sievelight/base/write_whole.hpp"
#include "sievelight/compare/batches.hpp"
#include "sievelight/curve/csv.hpp"
#include "sievelight/curve/nxcansas_io.hpp"
#include "sievelight/distribution/distribution_io.hpp"
#include "sievelight/distribution/invert.hpp"
#include "sievelight/frames/open.hpp"
#include "sievelight/reduce/average.hpp"
#include "sievelight/reduce/spikes.hpp"
#include "support/scratch.hpp"

#include <gtest/gtest.h>

#include <functional>
#include <latch>
#include <thread>

namespace sievelight {
namespace {

using namespace synthetic;
using Eigen::VectorXd;

constexpr int threads = 4, rounds = 2;

// Numbers as they are, bit for bit: what two runs are compared by.
using Numbers = std::vector<double>;
void keep(Numbers& out, const auto& values) { out.insert(out.end(), values.data(), values.data() + values.size()); }

// Does `work` in every thread at the same moment, several times, and holds it against what it gives alone. `who` tells
// the threads apart.
void expect_the_same_from_all(const std::function<Numbers(int who)>& work) {
  std::vector<Numbers> alone(threads);
  std::vector<std::vector<Numbers>> together(threads);
  std::latch start(threads);
  {  // first together: what is made once is then made by several at the same time
    std::vector<std::jthread> pool;
    for (int who = 0; who < threads; ++who)
      pool.emplace_back([&, who] {
        start.arrive_and_wait();
        for (int round = 0; round < rounds; ++round) together[static_cast<std::size_t>(who)].push_back(work(who));
      });
  }
  for (int who = 0; who < threads; ++who) {
    const Numbers want = work(who);
    ASSERT_FALSE(want.empty());
    for (const Numbers& got : together[static_cast<std::size_t>(who)]) EXPECT_EQ(got, want) << "thread " << who;
  }
}

Curve spheres(double radius_nm) {
  // Form factor of a sphere: Lord Rayleigh, Proc. R. Soc. A 84 (1911) 25.
  Curve c = curve_on_bins(
      log_edges(0.1, 2.5, 40),
      [&](double q) {
        const double x = q * radius_nm;
        return 50 * std::pow(3 * (std::sin(x) - x * std::cos(x)) / std::pow(x, 3), 2) + 0.05;
      },
      0.02);
  c.unit = IntensityUnit::per_cm;
  return c;
}

TEST(ManyThreads, ReadFilesOfEveryFormatAtOnce) {
  const Scratch scratch;
  std::vector<int> values(40 * 30);
  for (std::size_t i = 0; i < values.size(); ++i) values[i] = static_cast<int>(i * 37 % 1000);
  const std::vector<double> numbers(values.begin(), values.end());
  for (int who = 0; who < threads; ++who) {
    const std::string name = scratch / std::to_string(who);
    write_tiff<int>(name + ".tif", {values, values}, 30, 40, {.format = SAMPLEFORMAT_INT});
    CbfWriter().image(values, 40, 30, CBF_BYTE_OFFSET).write(name + ".cbf");
    const H5Handle file = h5_create(name + ".h5");
    h5_make_group(file.get(), "entry", "NXentry");
    h5_make_group(file.get(), "entry/detector", "NXdetector");
    write_numbers(file.get(), "/entry/detector/data", {1, 30, 40}, numbers, {H5T_STD_I32LE, {1, 30, 40}, true, 4});
  }
  expect_the_same_from_all([&](int who) {
    Numbers out;
    for (const char* suffix : {".tif", ".cbf", ".h5"})
      keep(out, FrameFile(scratch / (std::to_string(who) + suffix)).read_sum().counts);
    return out;
  });
}

TEST(ManyThreads, ReduceAtOnce) {
  const DetectorGeometry geometry = small_detector();
  const PixelMap map = pixel_map(geometry, 60, 70);
  const Averager averager(map, {}, make_bins(map, {}, {.bins = 30}));  // shared by all
  const Frame expected =
      expected_frame(map, map.solid_angle_sr(), 1.0, [](double q) { return 4e6 * std::exp(-q * q); });
  expect_the_same_from_all([&](int who) {
    std::mt19937_64 random(static_cast<unsigned>(who));
    std::vector<Frame> frames;
    std::vector<const Frame*> pointers;
    for (int k = 0; k < 4; ++k) frames.push_back(poisson_frame(expected, random));
    for (const Frame& frame : frames) pointers.push_back(&frame);
    Numbers out;
    keep(out, averager.average(pointers).curve.intensity);
    keep(out, find_spikes(pointers).share);
    out.push_back(attenuation_per_cm(material("SiO2"), 0.154, 2.2));
    return out;
  });
}

TEST(ManyThreads, InvertAndAnalyseAtOnce) {
  expect_the_same_from_all([&](int who) {
    const Curve curve = spheres(4 + 0.3 * who);
    Numbers out;
    for (const InversionMethod method : {InversionMethod::evidence, InversionMethod::sampled}) {
      InvertOptions options;
      options.method = method;
      options.draws = 200;
      options.contrast_per_cm2 = 1e11;
      const SizeDistribution sizes = invert(curve, options);
      keep(out, sizes.q3_per_nm);
      out.push_back(sizes.x50_nm.value);
    }
    out.push_back(fit_guinier(crop(curve, 0.1, 0.3)).rg_nm.value);
    return out;
  });
}

// Reading, HDF5 meets much that is not there and complains on standard error, unless each thread has told it not to.
TEST(ManyThreads, WriteAndReadCurvesAtOnceAndPrintNothing) {
  const Scratch scratch;
  testing::internal::CaptureStderr();
  expect_the_same_from_all([&](int who) {
    const std::string name = scratch / ("curve" + std::to_string(who));
    const Curve curve = spheres(3 + 0.1 * who);
    write_nxcansas(name + ".h5", curve, {});
    write_csv(name + ".csv", curve);
    Numbers out;
    keep(out, read_nxcansas(name + ".h5").front().curve.intensity);
    const std::string bytes = read_bytes(name + ".csv");
    out.insert(out.end(), bytes.begin(), bytes.end());
    return out;
  });
  EXPECT_EQ(testing::internal::GetCapturedStderr(), "");
}

}  // namespace
}  // namespace sievelight

// SPDX-License-Identifier: GPL-3.0-or-later
// The pass over the pixels, on one thread; the argument is the frame's width and height in pixels.
#include "kernel.hpp"
#include "reduce/synthetic.hpp"
#include "sievelight/reduce/area_sums.hpp"
#include "sievelight/reduce/bin_sums.hpp"

#include <cstdint>
#include <cstdlib>

namespace sievelight {
namespace {

using Eigen::Index;

struct Scene {
  Index side;
  DetectorGeometry geometry = synthetic::small_detector();
  PixelMap map;
  Eigen::VectorXd edges;
  BinTable table;
  Slots slots;
  Image weight;
  Eigen::ArrayXf q;
  Mask skip;
  Frame frame;
  std::vector<std::uint32_t> stored;
  DeadTimeTable dead_time{{1e-6, DeadTimeModel::non_paralyzable}, 10.0};

  explicit Scene(Index n) : side(n) {
    setenv("SIEVELIGHT_THREADS", "1", 1);
    geometry.beam_center_x_px = geometry.beam_center_y_px = 0.4 * static_cast<double>(n);
    geometry.distance_mm = 0.65 * static_cast<double>(n);
    map = pixel_map(geometry, n, n);
    edges = linear_edges(0.0, map.q_per_nm.maxCoeff(), static_cast<int>(n) / 2);
    table = bin_table(map, {}, edges);
    slots = Slots(table);
    weight = map.solid_angle_sr();
    q = Eigen::Map<const Eigen::ArrayXd>(map.q_per_nm.data(), map.q_per_nm.size()).cast<float>();
    skip = Mask::Constant(n, n, false);
    std::mt19937_64 random(1);
    frame = synthetic::poisson_frame(
        synthetic::expected_frame(map, Image::Ones(n, n), 10.0, [](double at) { return 20 / (1 + at); }), random);
    for (const double count : frame.counts.reshaped<Eigen::RowMajor>())
      stored.push_back(static_cast<std::uint32_t>(count));
  }
  PixelInputs inputs(bool dead) const {
    PixelInputs in;
    in.slots = &slots;
    in.weight = &weight;
    in.q_per_nm = &q;
    in.skip = &skip;
    in.dead_time = dead ? &dead_time : nullptr;
    in.name = "scene";
    return in;
  }
  StoredCounts counts() const {
    StoredCounts out;
    out.type.kind = NumberKind::u32;
    out.numbers = reinterpret_cast<const unsigned char*>(stored.data());
    return out;
  }
};

void per_pixel(benchmark::State& state, const Scene& s) {
  state.SetItemsProcessed(state.iterations() * s.side * s.side);
  state.SetComplexityN(s.side * s.side);
}

void check(benchmark::State& state, const Scene& s, const BinSums& got, bool dead) {
  Eigen::VectorXd recorded = Eigen::VectorXd::Zero(s.slots.bins()), counts = recorded;
  for (Index i = 0; i < s.side * s.side; ++i)
    if (const int k = s.table.index.data()[i]; k >= 0) {
      recorded[k] += s.stored[static_cast<std::size_t>(i)];
      counts[k] +=
          s.stored[static_cast<std::size_t>(i)] / (1 - (dead ? 1e-7 : 0.0) * s.stored[static_cast<std::size_t>(i)]);
    }
  if (got.recorded != recorded) wrong(state, "the recorded counts are not those of a plain loop");
  if (!got.counts.isApprox(counts, 1e-12)) wrong(state, "the true counts are not those of a plain loop");
}

void reading(benchmark::State& state) {  // the limit: every number once
  const Scene s(state.range(0));
  for (auto _ : state) {
    std::uint64_t sum = 0;
    for (const std::uint32_t n : s.stored) sum += n;
    benchmark::DoNotOptimize(sum);
  }
  per_pixel(state, s);
}
BENCHMARK(reading)->Apply(by_pixel);

template <bool dead>
void sum_frame_stored(benchmark::State& state) {
  const Scene s(state.range(0));
  const PixelInputs inputs = s.inputs(dead);
  check(state, s, sum_stored(s.counts(), 10.0, inputs), dead);
  for (auto _ : state) benchmark::DoNotOptimize(sum_stored(s.counts(), 10.0, inputs));
  per_pixel(state, s);
}
BENCHMARK(sum_frame_stored<false>)->Name("bin_sums")->Apply(by_pixel);
BENCHMARK(sum_frame_stored<true>)->Name("bin_sums_dead_time")->Apply(by_pixel);

void area_sums(benchmark::State& state) {
  const Scene s(state.range(0));
  const AreaShares shares(s.geometry, s.map.q_per_nm, s.skip, s.edges);
  const AreaTerms terms{"scene", {&s.frame}, nullptr, 0.0, {}};
  const AreaSums got = sum_areas(shares, s.skip, terms);
  Eigen::VectorXd net = Eigen::VectorXd::Zero(shares.bins());
  for (Index i = 0; i < s.side * s.side; ++i)
    if (shares.used(i)) shares.each(i, [&](Index k, double w) { net[k] += w * s.frame.counts.data()[i]; });
  if (!got.net.isApprox(net, 1e-12)) wrong(state, "the sums are not those of a plain loop");
  for (auto _ : state) benchmark::DoNotOptimize(sum_areas(shares, s.skip, terms));
  per_pixel(state, s);
}
BENCHMARK(area_sums)->Apply(by_pixel);

}  // namespace
}  // namespace sievelight

// SPDX-License-Identifier: GPL-3.0-or-later
// What a geometry costs once: angles, the map of q, the table of bins; on one thread.
#include "kernel.hpp"
#include "reduce/synthetic.hpp"
#include "sievelight/base/arctangent.hpp"
#include "sievelight/reduce/slots.hpp"

#include <cmath>
#include <cstdlib>
#include <random>

namespace sievelight {
namespace {

using Eigen::Index;

template <bool ours>
void angles(benchmark::State& state) {
  std::mt19937_64 random(1);
  std::normal_distribution<double> normal;
  const Index n = 4096;
  Eigen::ArrayXd y(n), x(n), out(n), expected(n);
  for (Index i = 0; i < n; ++i) {
    y[i] = normal(random);
    x[i] = normal(random);
    expected[i] = std::atan2(y[i], x[i]);
  }
  arctangents(y.data(), x.data(), n, out.data());
  if (!((out - expected).abs().maxCoeff() <= 2e-15)) wrong(state, "the angles are not atan2's");  // 4 ulp of pi
  for (auto _ : state) {
    if (ours)
      arctangents(y.data(), x.data(), n, out.data());
    else
      for (Index i = 0; i < n; ++i) out[i] = std::atan2(y[i], x[i]);
    benchmark::DoNotOptimize(out.data());
    benchmark::ClobberMemory();
  }
  state.SetItemsProcessed(state.iterations() * n);
}
BENCHMARK(angles<true>)->Name("arctangents")->Unit(benchmark::kMicrosecond);
BENCHMARK(angles<false>)->Name("std_atan2")->Unit(benchmark::kMicrosecond);

DetectorGeometry geometry(Index side) {
  DetectorGeometry g = synthetic::small_detector();
  g.beam_center_x_px = g.beam_center_y_px = 0.4 * static_cast<double>(side);
  return g;
}

void q_map(benchmark::State& state) {
  setenv("SIEVELIGHT_THREADS", "1", 1);
  const Index side = state.range(0);
  const DetectorGeometry g = geometry(side);
  const PixelMap map = pixel_map(g, side, side);
  // No tilt: q = 4 pi / lambda sin(theta), tan(2 theta) = r / distance.
  for (const Index row : {Index{0}, side / 3, side - 1})
    for (const Index column : {Index{0}, side / 2, side - 1}) {
      const double r = std::hypot((static_cast<double>(row) - g.beam_center_y_px) * g.pixel_size_y_mm,
                                  (static_cast<double>(column) - g.beam_center_x_px) * g.pixel_size_x_mm);
      const double q = 4 * pi / g.wavelength_nm * std::sin(0.5 * std::atan2(r, g.distance_mm));
      if (!(std::abs(map.q_per_nm(row, column) - q) <= 1e-12 * (1 + q))) wrong(state, "q is not the closed form's");
    }
  for (auto _ : state) benchmark::DoNotOptimize(pixel_map(g, side, side));
  state.SetItemsProcessed(state.iterations() * side * side);
  state.SetComplexityN(side * side);
}
BENCHMARK(q_map)->Apply(by_pixel);

void bin_slots(benchmark::State& state) {
  setenv("SIEVELIGHT_THREADS", "1", 1);
  const Index side = state.range(0);
  const PixelMap map = pixel_map(geometry(side), side, side);
  const Eigen::VectorXd edges = linear_edges(0.0, map.q_per_nm.maxCoeff(), static_cast<int>(side) / 2);
  const Slots slots(bin_table(map, {}, edges));
  for (Index i = 0; i < side * side; i += 101) {
    const double q = map.q_per_nm.data()[i];
    const Index k = slots[i];
    if (k < slots.unused() && !(edges[k] <= q && q <= edges[k + 1])) wrong(state, "a pixel is in a wrong bin");
  }
  for (auto _ : state) benchmark::DoNotOptimize(Slots(bin_table(map, {}, edges)));
  state.SetItemsProcessed(state.iterations() * side * side);
  state.SetComplexityN(side * side);
}
BENCHMARK(bin_slots)->Apply(by_pixel);

}  // namespace
}  // namespace sievelight

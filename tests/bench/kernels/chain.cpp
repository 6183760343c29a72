// SPDX-License-Identifier: GPL-3.0-or-later
// The inside of an inversion: products of the sampler, one look at the posterior, one non-negative fit, one summary.
#include "distribution/synthetic.hpp"
#include "kernel.hpp"
#include "sievelight/base/matrix_vector.hpp"
#include "sievelight/distribution/log_density.hpp"
#include "sievelight/distribution/summary.hpp"

namespace sievelight {
namespace {

template <bool ours>
void matrix_times_vector(benchmark::State& state) {
  const Eigen::MatrixXd a = Eigen::MatrixXd::Random(state.range(0), state.range(0));
  const Eigen::VectorXd x = Eigen::VectorXd::Random(state.range(0));
  Eigen::VectorXd out;
  multiply(a, x, out);
  if (!out.isApprox(a * x, 1e-12)) wrong(state, "the product is not Eigen's");
  for (auto _ : state) {
    if (ours)
      multiply(a, x, out);
    else
      out.noalias() = a * x;
    benchmark::DoNotOptimize(out.data());
    benchmark::ClobberMemory();
  }
  state.counters["flop"] = benchmark::Counter(2.0 * static_cast<double>(state.range(0) * state.range(0)),
                                              benchmark::Counter::kIsIterationInvariantRate);
}
BENCHMARK(matrix_times_vector<true>)->Name("multiply")->Arg(32)->Arg(64)->Arg(120)->Arg(240);
BENCHMARK(matrix_times_vector<false>)->Name("Eigen_product")->Arg(32)->Arg(64)->Arg(120)->Arg(240);

struct Ready {
  Curve curve = synthetic::noisy(synthetic::ideal(synthetic::log_normal(14, 0.2), {.bins = 200}), 1);
  SizeGrid grid = make_grid(0.08, 1.7);
  Kernel kernel = make_kernel(curve, grid);
  FitData data = make_fit_data(curve, kernel, synthetic::contrast_per_cm2, true, true);
};

void posterior(benchmark::State& state) {
  const Ready ready;
  const LogDensity problem = make_log_density(ready.data, 2);
  const Eigen::VectorXd g = Eigen::VectorXd::LinSpaced(problem.nodes(), -2, -1);
  Misfit at;
  evaluate(problem, g, at);
  if (!at.residual.isApprox(problem.m * g.array().exp().matrix() - problem.y, 1e-10))
    wrong(state, "the residual is not M e^g - y");
  for (auto _ : state) {
    evaluate(problem, g, at);
    benchmark::DoNotOptimize(at.value);
  }
  state.counters["rows"] = static_cast<double>(problem.m.rows());
  state.counters["sizes"] = static_cast<double>(problem.nodes());
}
BENCHMARK(posterior);

void most_probable_density(benchmark::State& state) {
  const Ready ready;
  const LogDensity problem = make_log_density(ready.data, 2);
  const Eigen::VectorXd start = Eigen::VectorXd::Constant(problem.nodes(), -2.0);
  const MostProbable found = most_probable(problem, 1.0, start);
  Misfit at;
  evaluate(problem, found.g, at);
  const Eigen::VectorXd slope = at.gradient + std::exp(1.0) * (problem.penalty * found.g);
  // The end of the search: a Newton step that promises less than 1e-5, where the start's slope is of thousands.
  if (!found.converged || slope.cwiseAbs().maxCoeff() > 1) wrong(state, "the slope at the top is not zero");
  for (auto _ : state) benchmark::DoNotOptimize(most_probable(problem, 1.0, start));
}
BENCHMARK(most_probable_density)->Unit(benchmark::kMicrosecond);

void non_negative_fit(benchmark::State& state) {
  const Ready ready;
  Tikhonov fits(ready.data.compressed, ready.data.nodes);
  const auto check = fits.at(-2);
  // Karush, Kuhn, Tucker: x >= 0, and where x > 0 the gradient is zero against the scale of the data's pull.
  const Eigen::VectorXd pull = ready.data.compressed.m.transpose() * ready.data.compressed.y;
  const Eigen::VectorXd gradient = (fits.gram() + fits.prior(-2)) * check->x - pull;
  double worst = 0;
  for (const Eigen::Index j : check->set) worst = std::max(worst, std::abs(gradient[j]));
  if (check->x.minCoeff() < 0 || worst > 1e-6 * pull.cwiseAbs().maxCoeff())
    wrong(state, "this is not the least with x >= 0");
  for (auto _ : state) benchmark::DoNotOptimize(fits.at(-2));
}
BENCHMARK(non_negative_fit)->Unit(benchmark::kMicrosecond);

void summary(benchmark::State& state) {
  const Ready ready;
  const Summariser summarise_one(ready.grid);
  const auto shape = synthetic::log_normal(14, 0.2);
  const Eigen::VectorXd x = ready.grid.diameter_nm.unaryExpr(shape);
  // Piecewise linear between nodes: x50 within step^2/8 of curvature of the closed form.
  if (!(std::abs(summarise_one(x).x50_nm - 14) <= 0.01)) wrong(state, "x50 is not the median");
  for (auto _ : state) benchmark::DoNotOptimize(summarise_one(x));
}
BENCHMARK(summary);

void kernel_of_spheres(benchmark::State& state) {
  const Ready ready;
  // Spheres summed one by one. Hats of a width h between nodes blur a peak of width s by h^2/6: 0.6 % of s^2 here,
  // which the curve sees where it falls steeply.
  const Curve summed = synthetic::ideal(synthetic::log_normal(14, 0.2), {.bins = 200, .background = 0});
  const auto shape = synthetic::log_normal(14, 0.2);
  const Eigen::VectorXd x = 0.1 * ready.grid.diameter_nm.unaryExpr(shape);
  const Eigen::VectorXd got = scattering_per_cm(ready.kernel, x, synthetic::contrast_per_cm2);
  if (!((got.array() / summed.intensity.array() - 1).abs().maxCoeff() <= 0.02))
    wrong(state, "the curve is not that of the spheres summed one by one");
  for (auto _ : state) benchmark::DoNotOptimize(make_kernel(ready.curve, ready.grid));
}
BENCHMARK(kernel_of_spheres)->Unit(benchmark::kMicrosecond);

}  // namespace
}  // namespace sievelight

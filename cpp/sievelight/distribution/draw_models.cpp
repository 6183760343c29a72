// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/draw_models.hpp"

#include "sievelight/base/parallel.hpp"
#include "sievelight/distribution/diagnose.hpp"
#include "sievelight/distribution/sample.hpp"
#include "sievelight/distribution/summary.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>

namespace sievelight {
namespace {

constexpr int chains_alone = 4, chains_among_many = 2;  // a model and prior
constexpr double enough_draws = 400, close_enough = 1.02;
constexpr int most_rounds = 15;                            // the first as long as two of the others
constexpr int fewest_alone = 25, fewest_among_many = 200;  // draws a chain and round; fewer cannot be diagnosed
constexpr double speaks = 0.1;  // share of a prior's draws from which on a model's own R-hat is looked at

struct Source {
  const WeightedModel* from;
  std::size_t prior;
  Sampler sampler;
  int draws;  // a chain in the first round
};

Eigen::Index drawn(const Source& s) { return s.sampler.chains().front().x.cols(); }

// Draws a chain that each model keeps, evenly taken: as many as its share of its prior allows.
std::vector<Eigen::Index> kept(const std::vector<Source>& sources) {
  std::array<double, prior_orders.size()> whole;
  whole.fill(std::numeric_limits<double>::infinity());
  for (const Source& s : sources)
    whole[s.prior] = std::min(whole[s.prior], static_cast<double>(drawn(s)) / s.from->weight[s.prior]);
  std::vector<Eigen::Index> out;
  for (const Source& s : sources)
    out.push_back(std::max<Eigen::Index>(1, std::llround(whole[s.prior] * s.from->weight[s.prior])));
  return out;
}

// Draws of one scalar, chain by chain.
template <typename Value>
std::vector<Eigen::VectorXd> trace(const Sampler& sampler, const Value& value) {
  std::vector<Eigen::VectorXd> out;
  for (const Chain& chain : sampler.chains()) {
    Eigen::VectorXd v(chain.x.cols());
    for (Eigen::Index k = 0; k < v.size(); ++k) v[k] = value(chain.x.col(k));
    out.push_back(std::move(v));
  }
  return out;
}

void diagnose(const std::vector<Source>& sources, SizeDistribution& out) {
  const Summariser summarise_one(sources.front().from->model.kernel.grid);
  using Value = std::function<double(const FitData&, const Eigen::VectorXd&)>;
  const std::map<std::string, Value> watched{
      {"x50_nm", [&](const FitData&, const Eigen::VectorXd& x) { return summarise_one(x).x50_nm; }},
      {"mean_nm", [&](const FitData&, const Eigen::VectorXd& x) { return summarise_one(x).mean_nm; }},
      {"relative_width", [&](const FitData&, const Eigen::VectorXd& x) { return summarise_one(x).relative_width; }},
      {"background", [](const FitData& data, const Eigen::VectorXd& x) {
         return data.noise.amplitudes(data.intensity - data.columns * x)[data.noise.shared().cols() - 1];
       }}};
  out.r_hat.clear();
  out.effective_draws.clear();
  const std::vector<Eigen::Index> keep = kept(sources);
  for (const auto& [name, value] : watched) {
    double worst = 1, total = 0;
    for (std::size_t i = 0; i < sources.size(); ++i) {
      const Source& s = sources[i];
      const auto chains = trace(s.sampler, [&](const Eigen::VectorXd& x) { return value(s.from->model.data, x); });
      if (s.from->weight[s.prior] >= speaks) worst = std::max(worst, split_r_hat(chains));
      total += std::min(effective_draws(chains), static_cast<double>(keep[i] * s.sampler.chains().size()));
    }
    out.r_hat[name] = worst;
    out.effective_draws[name] = total;
  }
  out.converged = true;
  for (const auto& [name, value] : out.r_hat)
    if (!(value < close_enough) || !(out.effective_draws.at(name) >= enough_draws)) out.converged = false;
}

void judge_convergence(SizeDistribution& out) {
  if (out.converged) return;
  std::string seen;
  for (const auto& [name, value] : out.r_hat)
    seen += fmt::format("{}{} R-hat {:.3f}, {:.0f} draws", seen.empty() ? "" : "; ", name, value,
                        out.effective_draws[name]);
  out.warnings.push_back(
      fmt::format("the chains have not converged ({}); R-hat below {} and {} independent draws are "
                  "wanted. Raise `draws`, or narrow the size window.",
                  seen, close_enough, enough_draws));
}

// The two priors see the same data; where they disagree, the prior speaks.
void judge_priors(const std::vector<Source>& sources, SizeDistribution& out) {
  const Summariser summarise_one(sources.front().from->model.kernel.grid);
  std::vector<Estimate> x50;
  for (std::size_t prior = 0; prior < prior_orders.size(); ++prior) {
    std::vector<double> values;
    for (const Source& s : sources) {
      if (s.prior != prior) continue;
      for (const Chain& chain : s.sampler.chains())
        for (Eigen::Index k = 0; k < chain.x.cols(); ++k) values.push_back(summarise_one(chain.x.col(k)).x50_nm);
    }
    x50.push_back(summarise(Eigen::Map<Eigen::VectorXd>(values.data(), static_cast<Eigen::Index>(values.size()))));
  }
  if (std::abs(x50[0].value - x50[1].value) > std::hypot(x50[0].u, x50[1].u))
    out.warnings.push_back(
        fmt::format("the result is sensitive to the prior: x50 is {:.4g} +- {:.2g} nm under one smoothness "
                    "prior and {:.4g} +- {:.2g} nm under the other.",
                    x50[0].value, x50[0].u, x50[1].value, x50[1].u));
}

}  // namespace

std::vector<DrawSet> draw_models(const std::vector<WeightedModel>& models, const InvertOptions& options,
                                 SizeDistribution& out) {
  SampleOptions each;
  each.chains = models.size() == 1 ? chains_alone : chains_among_many;
  each.seed = options.seed;
  std::vector<Source> sources;
  for (std::size_t prior = 0; prior < prior_orders.size(); ++prior)
    for (const WeightedModel& m : models) {
      if (m.weight[prior] == 0) continue;
      const PriorFit& fit = m.model.priors[prior];
      const double draws = options.draws * m.weight[prior] / static_cast<double>(prior_orders.size()) / each.chains;
      sources.push_back(
          {&m, prior, Sampler(fit.problem, fit.ln_strength, fit.path, each),
           std::max(models.size() == 1 ? fewest_alone : fewest_among_many, static_cast<int>(std::lround(draws)))});
    }
  // All chains of all models and priors share the threads.
  const std::size_t chains = static_cast<std::size_t>(each.chains), count = sources.size() * chains;
  parallel_for(count, [&](std::size_t k) { sources[k / chains].sampler.warm_up(k % chains); });
  for (Source& s : sources) s.sampler.adapt();
  for (int round = 0; round < most_rounds; ++round) {
    parallel_for(count, [&](std::size_t k) {
      const int draws = sources[k / chains].draws;
      sources[k / chains].sampler.advance(k % chains, round == 0 ? draws : (draws + 1) / 2);
    });
    diagnose(sources, out);
    if (out.converged) break;
  }
  judge_convergence(out);
  judge_priors(sources, out);
  std::vector<DrawSet> sets;
  std::map<std::string, std::vector<double>> strengths;
  const std::vector<Eigen::Index> keep = kept(sources);
  for (std::size_t i = 0; i < sources.size(); ++i) {
    const Source& s = sources[i];
    DrawSet set{fmt::format("order_{}", prior_orders[s.prior]), &s.from->model.data, s.from->value, {}};
    std::vector<Eigen::Index> taken(static_cast<std::size_t>(keep[i]));
    for (Eigen::Index k = 0; k < keep[i]; ++k) taken[static_cast<std::size_t>(k)] = k * drawn(s) / keep[i];
    for (const Chain& chain : s.sampler.chains()) {
      set.chains.push_back(chain.x(Eigen::all, taken));
      for (const Eigen::Index k : taken) strengths[set.prior].push_back(chain.ln_strength[k]);
    }
    sets.push_back(std::move(set));
  }
  for (auto& [prior, values] : strengths)
    out.ln_strength[prior] =
        summarise(Eigen::Map<Eigen::VectorXd>(values.data(), static_cast<Eigen::Index>(values.size())));
  return sets;
}

}  // namespace sievelight

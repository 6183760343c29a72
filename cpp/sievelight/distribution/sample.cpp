// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/sample.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/matrix_vector.hpp"
#include "sievelight/base/units.hpp"

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <random>

namespace sievelight {
namespace {

// The coordinates c, g = T c, and the most probable path in them.
struct Coordinates {
  Eigen::MatrixXd t, tt, inverse;  // (p, p); tt: transposed
  Eigen::ArrayXd prior, data;      // p_i and h_i
  Eigen::ArrayXd widen;            // sd of xi found in the first warm-up: walls and plains make it differ from 1
  Eigen::MatrixXd centre;          // (p, path) most probable c at each strength of the path
};

// Everything at one point of the chain.
struct State {
  double ln_strength = 0;
  Eigen::ArrayXd scale;    // these three follow from the strength
  Eigen::VectorXd centre;  //
  double ln_scale = 0;     // sum over the coordinates
  Eigen::ArrayXd xi;
  Eigen::VectorXd c, g;  // these and the misfit follow from the centre, xi and scale
  Misfit misfit;
  double energy = 0;            // U in (xi, ln strength), Jacobian included
  Eigen::VectorXd pull, force;  // T^T times the misfit's gradient; dU/dxi - xi
};

struct Walker {
  std::mt19937_64 random;
  std::normal_distribution<double> normal;
  std::uniform_real_distribution<double> uniform;
  State state, trial;
  double step = 0.5;        // rotation angle of one kick
  double ln_step_mean = 0;  // dual averaging (M. Hoffman, A. Gelman 2014, J. Mach. Learn. Res. 15, 1593)
  double shortfall = 0;
  int adapted = 0;
  double strength_step = 1.2;
  std::vector<Eigen::VectorXd> past_g;  // the second half of the first warm-up
  std::vector<double> past_strength;
  long moves = 0, accepted = 0, strength_moves = 0, strength_accepted = 0;
  bool warmed = false;
};

}  // namespace

struct Sampler::Impl {
  LogDensity problem;
  Range range;
  std::vector<MostProbable> path;
  SampleOptions options;
  Coordinates where;
  std::vector<Walker> walkers;
  std::vector<Chain> chains;

  void set_coordinates(const Eigen::MatrixXd& data_curvature, double ln_strength) {
    const double strength = std::exp(ln_strength);
    const Eigen::MatrixXd whole = data_curvature + strength * problem.penalty;
    const Eigen::GeneralizedSelfAdjointEigenSolver<Eigen::MatrixXd> solver(problem.penalty, whole);
    if (solver.info() != Eigen::Success)
      throw NumericalError("the curvature of the posterior is not positive definite.",
                           "Check the curve for points without uncertainty or with huge values.");
    where.t = solver.eigenvectors();
    where.tt = where.t.transpose();
    where.inverse = where.tt * whole;
    where.prior = solver.eigenvalues().array().max(0.0);
    where.data = (1 - strength * where.prior).max(0.0);
    where.widen = Eigen::ArrayXd::Ones(where.t.rows());
    where.centre.resize(where.t.rows(), static_cast<Eigen::Index>(path.size()));
    for (std::size_t k = 0; k < path.size(); ++k)
      where.centre.col(static_cast<Eigen::Index>(k)) = where.inverse * path[k].g;
  }

  Eigen::VectorXd centre(double ln_strength) const {
    const double at = (ln_strength - path.front().ln_strength) / (path.back().ln_strength - path.front().ln_strength) *
                      static_cast<double>(path.size() - 1);
    const auto k = std::clamp<Eigen::Index>(static_cast<Eigen::Index>(at), 0, where.centre.cols() - 2);
    const double f = at - static_cast<double>(k);
    return (1 - f) * where.centre.col(k) + f * where.centre.col(k + 1);
  }

  // What follows from xi and the strength: in three steps, because a refused move needs no force, and a strength drawn
  // at fixed g no new look at the data.
  void look(State& s) const {
    s.c = s.centre + (s.xi * s.scale).matrix();
    multiply(where.t, s.c, s.g);
    evaluate(problem, s.g, s.misfit);
    weigh(s);
  }
  void weigh(State& s) const {
    s.energy = s.misfit.value + 0.5 * std::exp(s.ln_strength) * (where.prior * s.c.array().square()).sum() -
               0.5 * problem.dof() * s.ln_strength - s.ln_scale;
  }
  void pull(State& s) const { multiply(where.tt, s.misfit.gradient, s.pull); }
  void push(State& s) const {
    s.force = (s.scale * (s.pull.array() + std::exp(s.ln_strength) * where.prior * s.c.array()) - s.xi).matrix();
  }
  void finish(State& s) const {
    look(s);
    pull(s);
    push(s);
  }

  void set_strength(State& s, double ln_strength) const {
    s.ln_strength = ln_strength;
    s.scale = where.widen * (where.data + std::exp(ln_strength) * where.prior).max(1e-12).rsqrt();
    s.ln_scale = s.scale.log().sum();
    s.centre = centre(ln_strength);
  }

  // From g: used at the start and when the coordinates change.
  void place(State& s, const Eigen::VectorXd& g, double ln_strength) const {
    set_strength(s, ln_strength);
    s.xi = (where.inverse * g - s.centre).array() / s.scale;
    finish(s);
  }

  // One Hamiltonian trajectory; returns its acceptance probability.
  double move(Walker& w) const {
    // A random total angle around a quarter turn, which makes the N(0, 1) part independent.
    const double angle = (0.6 + 0.8 * w.uniform(w.random)) * pi / 2;
    const int kicks = std::clamp(static_cast<int>(std::ceil(angle / w.step)), 1, 24);
    const double step = std::min(angle / kicks, w.step), cosine = std::cos(step), sine = std::sin(step);
    State& s = w.trial;
    s = w.state;
    Eigen::ArrayXd v(s.xi.size());
    for (double& value : v) value = w.normal(w.random);
    const double before = s.energy + 0.5 * v.square().sum();
    for (int k = 0; k < kicks; ++k) {
      v -= 0.5 * step * s.force.array();
      const Eigen::ArrayXd turned = cosine * s.xi + sine * v;
      v = cosine * v - sine * s.xi;
      s.xi = turned;
      finish(s);
      v -= 0.5 * step * s.force.array();
      if (!(s.energy < before + 1000)) break;
    }
    const double after = s.energy + 0.5 * v.square().sum();
    const double accept = std::isfinite(after) ? std::min(1.0, std::exp(before - after)) : 0.0;
    if (w.uniform(w.random) < accept) {
      std::swap(w.state, s);
      ++w.accepted;
    }
    ++w.moves;
    return accept;
  }

  double move_strength(Walker& w) const {
    State& s = w.trial;
    s = w.state;
    const double ln_strength = s.ln_strength + w.strength_step * w.normal(w.random);
    const double chance = w.uniform(w.random);
    ++w.strength_moves;
    if (!range.contains(ln_strength)) return 0;
    set_strength(s, ln_strength);
    look(s);
    const double accept = std::isfinite(s.energy) ? std::min(1.0, std::exp(w.state.energy - s.energy)) : 0.0;
    if (chance < accept) {
      pull(s);
      push(s);
      std::swap(w.state, s);
      ++w.strength_accepted;
    }
    return accept;
  }

  // strength | g is Gamma(dof/2, rate |D g|^2 / 2), cut to its range.
  void draw_strength(Walker& w) const {
    State& s = w.state;
    const double rough = 0.5 * (where.prior * s.c.array().square()).sum();
    std::gamma_distribution<double> gamma(0.5 * problem.dof(), 1 / std::max(rough, 1e-300));
    const double ln_strength = std::log(gamma(w.random));
    if (!range.contains(ln_strength)) return;
    set_strength(s, ln_strength);
    s.xi = (s.c - s.centre).array() / s.scale;
    weigh(s);
    push(s);
  }

  void sweep(Walker& w, bool adapting) const {
    const double accept = move(w);
    if (adapting) {
      ++w.adapted;
      const double eta = 1.0 / (w.adapted + 10);
      w.shortfall = (1 - eta) * w.shortfall + eta * (0.8 - accept);
      const double ln_step = std::log(0.5) - std::sqrt(static_cast<double>(w.adapted)) / 0.08 * w.shortfall;
      w.step = std::clamp(std::exp(ln_step), 0.02, 1.6);
      const double weight = std::pow(w.adapted, -0.75);
      w.ln_step_mean = weight * std::log(w.step) + (1 - weight) * w.ln_step_mean;
    }
    move_strength(w);
    const double jump = move_strength(w);
    if (adapting)
      w.strength_step = std::clamp(w.strength_step * std::exp((jump - 0.35) / std::sqrt(w.adapted)), 0.1, 6.0);
    draw_strength(w);
  }

  void restart_adaptation(Walker& w) const {
    w.adapted = 0;
    w.shortfall = 0;
    w.ln_step_mean = std::log(0.5);
    w.step = 0.5;
  }
};

Sampler::Sampler(const LogDensity& problem, const Range& ln_strength, const std::vector<MostProbable>& path,
                 const SampleOptions& options)
    : impl_(std::make_unique<Impl>()) {
  if (path.size() < 2 || options.chains < 2 || options.warm_up < 20)
    throw InputError("the sampler needs a path of strengths, 2 chains or more, and 20 sweeps of warm-up or more.",
                     "Use the defaults.");
  impl_->problem = problem;
  impl_->range = ln_strength;
  impl_->path = path;
  impl_->options = options;
  const auto best = std::max_element(path.begin(), path.end(),
                                     [](const auto& a, const auto& b) { return a.ln_evidence < b.ln_evidence; });
  const Eigen::VectorXd x = density(best->g);
  impl_->set_coordinates(curvature(problem, x * x.transpose()), best->ln_strength);
  // Starts spread over the strengths that the evidence allows.
  std::vector<double> weight;
  for (const auto& p : path) weight.push_back(std::exp(std::max(p.ln_evidence - best->ln_evidence, -700.0)));
  for (int k = 0; k < options.chains; ++k) {
    Walker w;
    std::seed_seq seeds{static_cast<std::uint32_t>(options.seed), static_cast<std::uint32_t>(options.seed >> 32),
                        static_cast<std::uint32_t>(problem.order), static_cast<std::uint32_t>(k)};
    w.random.seed(seeds);
    std::discrete_distribution<std::size_t> pick(weight.begin(), weight.end());
    const MostProbable& start = path[pick(w.random)];
    impl_->place(w.state, start.g, std::clamp(start.ln_strength, ln_strength.low, ln_strength.high));
    for (double& value : w.state.xi) value += 0.1 * w.normal(w.random);
    impl_->finish(w.state);
    impl_->walkers.push_back(std::move(w));
  }
  impl_->chains.resize(impl_->walkers.size());
}

Sampler::~Sampler() = default;
Sampler::Sampler(Sampler&&) noexcept = default;
Sampler& Sampler::operator=(Sampler&&) noexcept = default;

std::size_t Sampler::count() const { return impl_->walkers.size(); }
const std::vector<Chain>& Sampler::chains() const { return impl_->chains; }

void Sampler::warm_up(std::size_t chain) {
  Walker& w = impl_->walkers[chain];
  impl_->restart_adaptation(w);
  for (int k = 0; k < impl_->options.warm_up; ++k) {
    impl_->sweep(w, true);
    if (2 * k < impl_->options.warm_up) continue;
    w.past_g.push_back(w.state.g);
    w.past_strength.push_back(w.state.ln_strength);
  }
}

void Sampler::adapt() {
  const Eigen::Index p = impl_->problem.nodes();
  Eigen::MatrixXd outer = Eigen::MatrixXd::Zero(p, p);
  double count = 0, ln_strength = 0;
  for (const Walker& w : impl_->walkers)
    for (std::size_t k = 0; k < w.past_g.size(); ++k) {
      const Eigen::VectorXd x = density(w.past_g[k]);
      outer += x * x.transpose();
      ln_strength += w.past_strength[k];
      ++count;
    }
  impl_->set_coordinates(curvature(impl_->problem, outer / count), ln_strength / count);
  // The true spread of each coordinate, drawn towards 1 as if by 30 further draws.
  Eigen::ArrayXd square = Eigen::ArrayXd::Constant(p, 30);
  const Coordinates& where = impl_->where;
  for (const Walker& w : impl_->walkers)
    for (std::size_t k = 0; k < w.past_g.size(); ++k) {
      const Eigen::ArrayXd off = where.inverse * w.past_g[k] - impl_->centre(w.past_strength[k]);
      square += off.square() * (where.data + std::exp(w.past_strength[k]) * where.prior);
    }
  impl_->where.widen = (square / (count + 30)).sqrt().min(8.0).max(0.5);
  for (Walker& w : impl_->walkers) {
    const Eigen::VectorXd g = w.state.g;
    impl_->place(w.state, g, w.state.ln_strength);
    impl_->restart_adaptation(w);
    w.past_g.clear();
  }
}

void Sampler::advance(std::size_t chain, int draws) {
  Walker& w = impl_->walkers[chain];
  Chain& out = impl_->chains[chain];
  if (!w.warmed) {
    for (int k = 0; k < impl_->options.warm_up / 2; ++k) impl_->sweep(w, true);
    w.step = std::exp(w.ln_step_mean);
    w.moves = w.accepted = w.strength_moves = w.strength_accepted = 0;
    w.warmed = true;
  }
  const Eigen::Index had = out.x.cols();
  out.x.conservativeResize(impl_->problem.nodes(), had + draws);
  out.ln_strength.conservativeResize(had + draws);
  for (Eigen::Index k = had; k < had + draws; ++k) {
    impl_->sweep(w, false);
    out.x.col(k) = w.state.misfit.x;
    out.ln_strength[k] = w.state.ln_strength;
  }
  out.step = w.step;
  out.acceptance = static_cast<double>(w.accepted) / static_cast<double>(std::max(w.moves, 1L));
  out.strength_acceptance =
      static_cast<double>(w.strength_accepted) / static_cast<double>(std::max(w.strength_moves, 1L));
}

}  // namespace sievelight

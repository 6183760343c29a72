// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/even_product.hpp"

#include "sievelight/base/units.hpp"
#include "sievelight/distribution/orientation.hpp"

#include <gsl/gsl_integration.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>
#include <memory>
#include <mutex>
#include <vector>

namespace sievelight {
namespace {

// Numbers of points for which GSL keeps the rule to full precision.
constexpr std::size_t counts[] = {32, 64, 96, 128, 256, 512, 1024};

std::size_t points_of(double phase) {
  // Coefficients of cos(phase u) vanish beyond the order `phase` within a few times its cube root.
  const double wanted = phase + 6 * std::cbrt(phase) + 18;
  const auto* enough = std::find_if(std::begin(counts), std::end(counts),
                                    [&](std::size_t n) { return static_cast<double>(n) >= wanted; });
  return enough == std::end(counts) ? static_cast<std::size_t>(wanted / 2) * 2 : *enough;
}

// Calls visit(k, P_2k at all u) for k = 0 ... count - 1.
template <typename Visit>
void even_legendre(const Eigen::ArrayXd& u, Eigen::Index count, const Visit& visit) {
  Eigen::ArrayXd before = Eigen::ArrayXd::Ones(u.size()), now = u;
  for (Eigen::Index k = 0; k < count; ++k) {
    visit(k, before);
    for (Eigen::Index n = 2 * k + 1; n < 2 * k + 3; ++n) {
      const auto order = static_cast<double>(n);
      before = (2 * order + 1) / (order + 1) * u * now - order / (order + 1) * before;
      before.swap(now);
    }
  }
}

// From the moments of F to the weights at the positive points of the rule of n points.
struct Table {
  Eigen::VectorXd at;
  Eigen::MatrixXd weight_of_moment;

  explicit Table(std::size_t n) {
    const std::unique_ptr<gsl_integration_glfixed_table, decltype(&gsl_integration_glfixed_table_free)> table(
        gsl_integration_glfixed_table_alloc(n), gsl_integration_glfixed_table_free);
    const auto half = static_cast<Eigen::Index>(n / 2);
    at.resize(half);
    Eigen::ArrayXd gauss(half);
    Eigen::Index k = 0;
    for (std::size_t i = 0; i < n; ++i) {
      double x = 0, weight = 0;
      gsl_integration_glfixed_point(-1.0, 1.0, i, &x, &weight, table.get());
      if (x <= 0) continue;
      at[k] = x;
      gauss[k++] = weight;
    }
    weight_of_moment.resize(half, half);
    even_legendre(at.array(), half, [&](Eigen::Index order, const Eigen::ArrayXd& p) {
      weight_of_moment.col(order) = static_cast<double>(4 * order + 1) * p * gauss;
    });
  }
};

const Table& kept_table(std::size_t index) {
  static std::array<std::once_flag, std::size(counts)> once;
  static std::array<std::unique_ptr<const Table>, std::size(counts)> tables;
  std::call_once(once[index], [&] { tables[index] = std::make_unique<const Table>(counts[index]); });
  return *tables[index];
}

}  // namespace

EvenProduct::EvenProduct(const std::function<double(double)>& f, double phase, double largest) {
  const std::size_t n = points_of(largest);
  std::vector<double> at, share;
  visit_points(0.0, pi / 2, (phase + static_cast<double>(n) + 2) * pi / 2, [&](double angle, double weight) {
    at.push_back(std::cos(angle));
    share.push_back(weight * std::sin(angle) * f(at.back()));
  });
  const auto count = static_cast<Eigen::Index>(at.size());
  const Eigen::Map<const Eigen::ArrayXd> u(at.data(), count), w(share.data(), count);
  moment_.resize(static_cast<Eigen::Index>(n / 2));
  even_legendre(u, moment_.size(), [&](Eigen::Index k, const Eigen::ArrayXd& p) { moment_[k] = (w * p).sum(); });
}

const EvenProduct::Weights& EvenProduct::weights(double phase) {
  const std::size_t n = points_of(phase);
  const auto found = made_.find(n);
  if (found != made_.end()) return found->second;
  const auto* kept = std::find(std::begin(counts), std::end(counts), n);
  const auto from = [&](const Table& table) {
    return Weights{table.at, table.weight_of_moment * moment_.head(table.at.size())};
  };
  return made_
      .emplace(n, kept != std::end(counts) ? from(kept_table(static_cast<std::size_t>(kept - counts))) : from(Table(n)))
      .first->second;
}

}  // namespace sievelight

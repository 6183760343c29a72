// SPDX-License-Identifier: GPL-3.0-or-later
/// Integrals over [0, 1] of a fixed even function F(u) times many other even ones g(u).
/// g is replaced by its Legendre series of even order, whose coefficients come from n/2 Gauss points; the integrals of
/// F with those polynomials are computed once, by a fine rule in the angle arccos(u), in which P_k turns evenly. What
/// is left is a sum of n/2 weights times g: exact to rounding once n exceeds by a few what g turns, up to phases of 900
/// (a product-integration rule: P. Davis, P. Rabinowitz 1984, Methods of Numerical Integration, from memory).
#pragma once

#include <Eigen/Core>
#include <cstddef>
#include <functional>
#include <map>

namespace sievelight {

class EvenProduct {
 public:
  /// @param phase of F: how far its fastest part turns from u = -1 to 1, over 2. @param largest of all the g to come.
  EvenProduct(const std::function<double(double)>& f, double phase, double largest);

  /// The integral of F g for a g whose fastest part is cos(phase * u), phase <= largest.
  template <typename G>
  double integral(const G& g, double phase) {
    const Weights& w = weights(phase);
    double sum = 0;
    for (Eigen::Index k = 0; k < w.at.size(); ++k) sum += w.weight[k] * g(w.at[k]);
    return sum;
  }

 private:
  struct Weights {
    Eigen::VectorXd at, weight;
  };
  const Weights& weights(double phase);
  Eigen::VectorXd moment_;  // of F with P_0, P_2, ...
  std::map<std::size_t, Weights> made_;
};

}  // namespace sievelight

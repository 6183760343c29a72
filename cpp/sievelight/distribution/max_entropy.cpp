// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/max_entropy.hpp"

#include "sievelight/base/error.hpp"

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>

namespace sievelight {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

struct Entropy {
  const Compressed& data;
  VectorXd level;   // (p) default
  VectorXd weight;  // (p) 1 for sizes; nearly 0 for K q^-4, which no entropy holds back

  double value(const VectorXd& x, double alpha) const {
    const Eigen::ArrayXd s = x.array() - level.array() - x.array() * (x.array() / level.array()).log();
    return 0.5 * (data.m * x - data.y).squaredNorm() - alpha * (weight.array() * s).sum();
  }
};

// Newton's method in ln x with a step that is halved until the value falls; convex in x, so it ends at the minimum.
VectorXd minimise(const Entropy& e, const MatrixXd& gram, double alpha, VectorXd x) {
  double value = e.value(x, alpha);
  for (int step = 0; step < 200; ++step) {
    const VectorXd slope = e.data.m.transpose() * (e.data.m * x - e.data.y) +
                           VectorXd(alpha * e.weight.array() * (x.array() / e.level.array()).log());
    const VectorXd g = x.cwiseProduct(slope);
    // d^2/d(ln x)^2 without the part that can turn negative.
    MatrixXd h = x.asDiagonal() * gram * x.asDiagonal();
    h.diagonal().array() += (alpha * e.weight.array() * x.array() + g.array().cwiseAbs() * 0.5).max(1e-300);
    const VectorXd move = h.ldlt().solve(-g).cwiseMax(-2.0).cwiseMin(2.0);
    double share = 1;
    VectorXd next;
    double there = value;
    for (; share > 1e-4; share *= 0.5) {
      next = (x.array() * (share * move.array()).exp()).max(1e-12 * e.level.array());
      there = e.value(next, alpha);
      if (there < value) break;
    }
    if (!(there < value)) break;
    const bool done = value - there < 1e-9 * (1 + std::abs(value));
    x = next;
    value = there;
    if (done) break;
  }
  return x;
}

}  // namespace

Preview max_entropy(const Compressed& data, Index nodes) {
  const Preview first = preview(data, nodes);
  const Index p = data.m.cols();
  const double level = first.x.head(nodes).mean();
  if (!(level > 0))
    throw NumericalError("no scattering above the background was found; every size has zero volume.",
                         "Check the background subtraction and its scale, and the q range.");
  Entropy e{data, VectorXd::Constant(p, level), VectorXd::Ones(p)};
  for (Index j = nodes; j < p; ++j) {
    e.level[j] = std::max(first.x[j], 1e-6);
    e.weight[j] = 1e-9;
  }
  const MatrixXd gram = data.m.transpose() * data.m;
  const double wanted = static_cast<double>(data.back.rows()) - 1;
  double alpha = 0.1 * gram.topLeftCorner(nodes, nodes).diagonal().mean() * level;
  VectorXd x = e.level;
  double chi2 = 0;
  for (int step = 0; step < 40; ++step, alpha *= 0.4) {
    x = minimise(e, gram, alpha, x);
    const double before = chi2;
    chi2 = (data.m * x - data.y).squaredNorm();
    if (chi2 + data.rest <= wanted) break;
    if (step > 12 && std::abs(chi2 - before) < 1e-3 * chi2) break;  // the data are noisier than stated
  }
  Preview out;
  out.x = x;
  out.ln_strength = std::log(alpha);
  out.chi2 = chi2;
  MatrixXd h = gram;
  h.diagonal().array() += alpha * e.weight.array() / x.array();
  const Eigen::LLT<MatrixXd> llt(h);
  out.effective = llt.solve(gram).trace();
  out.root = llt.matrixU().solve(MatrixXd::Identity(p, p));
  return out;
}

}  // namespace sievelight

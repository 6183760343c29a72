// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/quick_methods.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/distribution/max_entropy.hpp"

namespace sievelight {

const char* name(InversionMethod method) {
  switch (method) {
    case InversionMethod::sampled:
      return "sampled";
    case InversionMethod::evidence:
      return "evidence";
    case InversionMethod::cross_validation:
      return "cross_validation";
    case InversionMethod::l_curve:
      return "l_curve";
    case InversionMethod::maximum_entropy:
      break;
  }
  return "maximum_entropy";
}

Preview quick_fit(InversionMethod method, const Compressed& data, Eigen::Index nodes) {
  switch (method) {
    case InversionMethod::evidence:
      return preview(data, nodes);
    case InversionMethod::cross_validation:
      return preview(data, nodes, StrengthRule::cross_validation);
    case InversionMethod::l_curve:
      return preview(data, nodes, StrengthRule::l_curve);
    case InversionMethod::maximum_entropy:
      return max_entropy(data, nodes);
    case InversionMethod::sampled:
      break;
  }
  throw InputError("sampling is no quick method.", "Use invert() with method sampled.");
}

std::string caveat(InversionMethod method) {
  switch (method) {
    case InversionMethod::evidence:
      return "quick look (non-negative fit, strength by evidence): its bands miss the uncertainty of the strength, the "
             "relative width is biased upwards, and small second peaks can be noise; use the sampled method for "
             "results.";
    case InversionMethod::cross_validation:
      return "quick look (non-negative fit, strength by generalised cross-validation): its 95 % band holds the density "
             "some "
             "91 to 93 % of the time, and at 10 % noise one second peak in eight is noise; use the sampled method for "
             "results.";
    case InversionMethod::l_curve:
      return "quick look (non-negative fit, strength at the corner of the L-curve): its 95 % band holds the density "
             "only 55 "
             "to 76 % of the time; use the sampled method for results.";
    case InversionMethod::maximum_entropy:
      return "quick look (maximum entropy, chi^2 = number of points): its 95 % band holds the density 80 to 90 % of "
             "the time "
             "and the relative width hardly ever, and at 10 % noise every other second peak is noise; use the sampled "
             "method "
             "for results.";
    case InversionMethod::sampled:
      break;
  }
  return "";
}

}  // namespace sievelight

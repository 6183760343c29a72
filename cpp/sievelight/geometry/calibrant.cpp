// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/calibrant.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <cstdlib>
#include <functional>

namespace sievelight {
namespace {

constexpr double shortest_d_nm = 0.08;  // rings listed down to here: beyond any 2 theta of a flat detector in use

struct Reflection {
  double d_nm;
  std::string indices;
};

std::string miller(int h, int k, int l) {
  return std::max({h, k, l}) > 9 ? fmt::format("{} {} {}", h, k, l) : fmt::format("{}{}{}", h, k, l);
}

/// Falling, with reflections of the same spacing (333 and 511) kept once.
Calibrant make(std::string name, std::vector<Reflection> list, double relative_u, std::string source) {
  std::ranges::stable_sort(list, std::greater{}, &Reflection::d_nm);
  const auto same = [](const Reflection& a, const Reflection& b) { return a.d_nm - b.d_nm < 1e-9 * a.d_nm; };
  list.erase(std::unique(list.begin(), list.end(), same), list.end());
  Calibrant made{std::move(name), Eigen::VectorXd(std::ssize(list)), {}, relative_u, std::move(source)};
  for (std::size_t i = 0; i < list.size(); ++i) {
    made.d_nm[static_cast<Eigen::Index>(i)] = list[i].d_nm;
    made.reflections.push_back(list[i].indices);
  }
  return made;
}

std::vector<Reflection> cubic(double a_nm, const std::function<bool(int, int, int)>& allowed) {
  std::vector<Reflection> list;
  const int most = static_cast<int>(a_nm / shortest_d_nm);
  for (int h = most; h >= 1; --h)  // of 511 and 333 the first is kept: the usual label
    for (int k = 0; k <= h; ++k)
      for (int l = 0; l <= k; ++l)
        if (const double d = a_nm / std::sqrt(h * h + k * k + l * l); allowed(h, k, l) && d >= shortest_d_nm)
          list.push_back({d, miller(h, k, l)});
  return list;
}

Calibrant silver_behenate() {
  std::vector<Reflection> list;
  for (int n = 1; n <= 13; ++n) list.push_back({5.8380 / n, miller(0, 0, n)});
  return make(
      "silver behenate", std::move(list), 5e-4,
      "d001 = 5.8380(3) nm: Huang, Toraya, Blanton, Wu 1993, J. Appl. Cryst. 26, 180; relative uncertainty from "
      "the spread between laboratories: Blanton et al. 1995, Powder Diffr. 10, 91");
}

Calibrant lanthanum_hexaboride() {
  return make("lanthanum hexaboride", cubic(0.4156826, [](int, int, int) { return true; }), 0.5 * 8e-6 / 0.4156826,
              "a = 0.4156826(80) nm expanded (k = 2), 22.5 degrees C: certificate of SRM 660c");
}

Calibrant silicon() {
  // Diamond cubic: indices all odd, or all even with a sum divisible by four (Int. Tables Cryst. A, No. 227, 8a).
  const auto allowed = [](int h, int k, int l) {
    const int odd = h % 2 + k % 2 + l % 2;
    return odd == 3 || (odd == 0 && (h + k + l) % 4 == 0);
  };
  return make("silicon", cubic(0.5431144, allowed), 8e-7 / 0.5431144,
              "a = 0.5431144(8) nm, 22.5 degrees C: SRM 640f, Black, Mendenhall, Henins, Filliben, Cline 2020, Powder "
              "Diffr. 35, 156");
}

Calibrant corundum() {
  constexpr double a_nm = 0.475893, c_nm = 1.29917;
  std::vector<Reflection> list;
  // R-3c on hexagonal axes (Int. Tables Cryst. A, No. 167; the conditions from memory): -h + k + l = 3n, and for
  // h 0 l or 0 k l also l even. One representative of each family: both signs of h - k are met by letting h and k
  // run over all values.
  const int most_hk = static_cast<int>(2.0 * a_nm / shortest_d_nm), most_l = static_cast<int>(c_nm / shortest_d_nm);
  for (int l = 0; l <= most_l; ++l)
    for (int h = 0; h <= most_hk; ++h)
      for (int k = 0; k <= most_hk; ++k) {
        if ((h == 0 && k == 0 && l == 0) || (-h + k + l) % 3 != 0 || ((h == 0 || k == 0) && l % 2 != 0)) continue;
        const double d = 1.0 / std::sqrt(4.0 / 3.0 * (h * h + h * k + k * k) / (a_nm * a_nm) + l * l / (c_nm * c_nm));
        if (d >= shortest_d_nm) list.push_back({d, miller(h, k, l)});
      }
  return make("corundum", std::move(list), 7e-5 / c_nm,
              "a = 0.475893(10), c = 1.29917(7) nm: International Tables for Crystallography C (2006), Table 5.2.11.1");
}

struct Entry {
  std::vector<std::string> aliases;  // plain spelling
  Calibrant (*make)();
};

const std::vector<Entry>& entries() {
  static const std::vector<Entry> list{
      {{"silverbehenate", "agbehenate", "agbeh", "behenate"}, silver_behenate},
      {{"lanthanumhexaboride", "lab6", "srm660c", "lab6srm660c"}, lanthanum_hexaboride},
      {{"silicon", "si", "srm640f", "sisrm640f", "siliconsrm640f"}, silicon},
      {{"corundum", "alumina", "al2o3", "alphaalumina"}, corundum}};
  return list;
}

std::string plain(const std::string& name) {
  std::string out;
  for (const char c : name)
    if (std::isalnum(static_cast<unsigned char>(c)))
      out += static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return out;
}

}  // namespace

std::vector<std::string> known_calibrants() {
  std::vector<std::string> names;
  for (const Entry& entry : entries()) names.push_back(entry.make().name);
  return names;
}

Calibrant calibrant(const std::string& name) {
  const std::string asked = plain(name);
  for (const Entry& entry : entries())
    if (std::ranges::find(entry.aliases, asked) != entry.aliases.end()) return entry.make();
  throw InputError(
      fmt::format("calibrant '{}' is not known", name),
      fmt::format("Known are: {}. For another one give its spacings d in nm.", fmt::join(known_calibrants(), ", ")));
}

Calibrant calibrant(const std::string& name, const Eigen::VectorXd& d_nm, double relative_u) {
  if (d_nm.size() == 0)
    throw InputError(fmt::format("calibrant '{}': no spacing given", name), "Give at least one spacing d in nm.");
  for (Eigen::Index i = 0; i < d_nm.size(); ++i) {
    if (!(std::isfinite(d_nm[i]) && d_nm[i] > 0.0))
      throw InputError(fmt::format("calibrant '{}': spacing {} is {} nm", name, i + 1, d_nm[i]),
                       "Spacings are positive lengths in nm.");
    if (i > 0 && !(d_nm[i] < d_nm[i - 1]))
      throw InputError(fmt::format("calibrant '{}': spacing {} ({} nm) is not below the one before it ({} nm)", name,
                                   i + 1, d_nm[i], d_nm[i - 1]),
                       "List the spacings falling, each once.");
  }
  if (!(relative_u >= 0.0 && relative_u < 0.1))
    throw InputError(fmt::format("calibrant '{}': relative uncertainty of the spacing is {}", name, relative_u),
                     "Give one standard deviation relative to d, for instance 0.0005.");
  return {name, d_nm, {}, relative_u, "spacings given by the user"};
}

Eigen::VectorXd ring_two_theta_rad(const Eigen::VectorXd& d_nm, double wavelength_nm, int max_order) {
  constexpr double widest = 80.0 * pi / 180.0;  // a flat detector sees rings up to here
  std::vector<double> angles;
  for (const double d : d_nm) {
    const double sine = wavelength_nm / (2.0 * d);
    if (sine >= std::sin(0.5 * widest) || (max_order > 0 && std::ssize(angles) >= max_order)) break;
    angles.push_back(2.0 * std::asin(sine));
  }
  if (angles.empty())
    throw InputError(fmt::format("ring calibration: no ring of these spacings (largest {} nm) lies below 2 theta = 80 "
                                 "degrees at a wavelength of {} nm",
                                 d_nm.size() > 0 ? d_nm[0] : 0.0, wavelength_nm),
                     "Check the wavelength and the spacings; both are in nm.");
  return Eigen::Map<Eigen::VectorXd>(angles.data(), std::ssize(angles));
}

}  // namespace sievelight

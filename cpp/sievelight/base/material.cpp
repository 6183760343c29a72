// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/material.hpp"

#include "sievelight/base/atomic_mass.hpp"
#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"

#include <fmt/format.h>
#include <xraylib.h>

#include <algorithm>
#include <cctype>
#include <map>
#include <memory>

namespace sievelight {
namespace {

// Everyday names of what stands in a beam, and the catalogue's entry or the formula with a usual density.
struct Known {
  const char* catalogue;  // or null
  const char* formula;
  double density_g_per_cm3;
};
const std::map<std::string, Known>& known() {
  static const std::map<std::string, Known> names{
      {"air", {"Air, Dry (near sea level)", "", 0}},
      {"water", {"Water, Liquid", "H2O", 0}},
      {"polyimide", {nullptr, "C22H10N2O5", 1.42}},
      {"silica", {nullptr, "SiO2", 2.20}},
      {"quartz", {nullptr, "SiO2", 2.648}},
      {"mica", {nullptr, "KAl3Si3O12H2", 2.8}},
      {"borosilicateglass", {"Glass, Borosilicate (Pyrex)", "", 0}},
      {"polyethyleneterephthalate", {nullptr, "C10H8O4", 1.38}},
      {"cadmiumtelluride", {nullptr, "CdTe", 5.85}},
      {"nitrogen", {nullptr, "N2", 1.165e-3}},
      {"helium", {nullptr, "He", 1.66e-4}},
  };
  return names;
}

std::string simplified(const std::string& text) {
  std::string out;
  for (const char c : text)
    if (std::isalnum(static_cast<unsigned char>(c)))
      out += static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return out;
}

struct Forget {
  void operator()(xrl_error* error) const { xrl_error_free(error); }
};

// A number of the tables; InputError with the library's own words where it has none.
template <typename Call>
double table(Call&& call, const std::string& what) {
  xrl_error* raw = nullptr;
  const double value = call(&raw);
  const std::unique_ptr<xrl_error, Forget> error(raw);
  if (error)
    throw InputError(fmt::format("{}: {}.", what, error->message), "Check the composition and the wavelength.");
  return value;
}

double energy_keV(double wavelength_nm) {
  const double energy = hc_keV_nm / wavelength_nm;
  if (!(energy >= 1.0 && energy <= 100.0))
    throw InputError(fmt::format("a wavelength of {} nm ({:.4g} keV) is outside the tables.", wavelength_nm, energy),
                     "Give the wavelength in nm, e.g. 0.1542; the tables serve 1 to 100 keV.");
  return energy;
}

Material from_catalogue(const std::string& name, const char* entry) {
  xrl_error* raw = nullptr;
  compoundDataNIST* found = GetCompoundDataNISTByName(entry, &raw);
  const std::unique_ptr<xrl_error, Forget> error(raw);
  if (!found) throw InputError(fmt::format("'{}' is missing from the tables.", name), "Give its formula instead.");
  Material out{name, {}, {}, {}, found->density};
  for (int i = 0; i < found->nElements; ++i) {
    out.elements.push_back(found->Elements[i]);
    out.mass_share.push_back(found->massFractions[i]);
  }
  FreeCompoundDataNIST(found);
  return out;
}

Material from_formula(const std::string& formula) {
  xrl_error* raw = nullptr;
  compoundData* found = CompoundParser(formula.c_str(), &raw);
  const std::unique_ptr<xrl_error, Forget> error(raw);
  if (!found)
    throw InputError(fmt::format("'{}' is neither a known material nor a formula.", formula),
                     "Write a formula such as SiO2 or Al2O3 (element symbols with capitals), or one of: air, water, "
                     "polyimide, silica, quartz, mica, borosilicate glass, nitrogen, helium.");
  Material out{formula, formula, {}, {}, 0.0};
  double whole = 0;
  for (int i = 0; i < found->nElements; ++i) {
    out.elements.push_back(found->Elements[i]);
    out.mass_share.push_back(found->nAtoms[i] * atomic_mass_g_per_mol(found->Elements[i]));
    whole += out.mass_share.back();
  }
  for (double& share : out.mass_share) share /= whole;
  FreeCompoundData(found);
  if (out.elements.size() == 1)
    out.density_g_per_cm3 = table([&](xrl_error** e) { return ElementDensity(out.elements[0], e); }, formula);
  return out;
}

}  // namespace

Material material(const std::string& text) {
  const auto name = known().find(simplified(text));
  if (name != known().end()) {
    const Known& k = name->second;
    if (k.catalogue) return from_catalogue(text, k.catalogue);
    Material out = from_formula(k.formula);
    out.name = text;
    out.density_g_per_cm3 = k.density_g_per_cm3;
    return out;
  }
  static const std::map<std::string, std::string> elements{{"silicon", "Si"},   {"carbon", "C"},  {"aluminium", "Al"},
                                                           {"aluminum", "Al"},  {"copper", "Cu"}, {"germanium", "Ge"},
                                                           {"beryllium", "Be"}, {"gold", "Au"},   {"nickel", "Ni"}};
  const auto element = elements.find(simplified(text));
  std::string formula = element != elements.end() ? element->second : text;
  std::erase(formula, ' ');
  Material out = from_formula(formula);
  out.name = text;
  return out;
}

double mass_attenuation_cm2_per_g(const Material& m, double wavelength_nm) {
  const double energy = energy_keV(wavelength_nm);
  double out = 0;
  for (std::size_t i = 0; i < m.elements.size(); ++i)
    out += m.mass_share[i] * table([&](xrl_error** e) { return CS_Total(m.elements[i], energy, e); }, m.name);
  return out;
}

double attenuation_per_cm(const Material& m, double wavelength_nm, double density) {
  const double used = density > 0 ? density : m.density_g_per_cm3;
  if (!(used > 0))
    throw InputError(fmt::format("the density of '{}' is not known.", m.name), "Give its density in g/cm3.");
  return used * mass_attenuation_cm2_per_g(m, wavelength_nm);
}

ScatteringLengthDensity scattering_length_density(const Material& m, double wavelength_nm, double density) {
  const double used = density > 0 ? density : m.density_g_per_cm3;
  if (!(used > 0))
    throw InputError(fmt::format("the density of '{}' is not known.", m.name), "Give its density in g/cm3.");
  const double energy = wavelength_nm == 0.0 ? 0.0 : energy_keV(wavelength_nm);
  ScatteringLengthDensity sum;  // of electrons per gram over N_A, for now
  for (std::size_t i = 0; i < m.elements.size(); ++i) {
    const int z = m.elements[i];
    const double share = m.mass_share[i] / atomic_mass_g_per_mol(z);
    sum.real_per_cm2 += share * z;
    if (energy == 0.0) continue;
    sum.real_per_cm2 += share * table([&](xrl_error** e) { return Fi(z, energy, e); }, m.name);
    sum.imaginary_per_cm2 += share * std::abs(table([&](xrl_error** e) { return Fii(z, energy, e); }, m.name));
  }
  const double factor = classical_electron_radius_m * 100 * avogadro_per_mol * used;
  return {factor * sum.real_per_cm2, factor * sum.imaginary_per_cm2};
}

std::vector<Fluorescence> fluorescence(const Material& m, double wavelength_nm, double least_share) {
  const double energy = energy_keV(wavelength_nm), all = mass_attenuation_cm2_per_g(m, wavelength_nm);
  std::vector<Fluorescence> out;
  for (std::size_t i = 0; i < m.elements.size(); ++i) {
    const int z = m.elements[i];
    if (z < 11) continue;  // K lines below 1 keV
    const double edge = table([&](xrl_error** e) { return EdgeEnergy(z, K_SHELL, e); }, m.name);
    if (edge >= energy) continue;
    const double absorbed = table([&](xrl_error** e) { return CS_Photo(z, energy, e); }, m.name);
    const double jump = table([&](xrl_error** e) { return JumpFactor(z, K_SHELL, e); }, m.name);
    const double yield = table([&](xrl_error** e) { return FluorYield(z, K_SHELL, e); }, m.name);
    char* symbol = AtomicNumberToSymbol(z, nullptr);
    Fluorescence f{symbol, edge, table([&](xrl_error** e) { return LineEnergy(z, KL3_LINE, e); }, m.name),
                   m.mass_share[i] * absorbed / all * (1 - 1 / jump) * yield};
    xrlFree(symbol);
    if (f.share > least_share) out.push_back(f);
  }
  std::sort(out.begin(), out.end(), [](const auto& a, const auto& b) { return a.share > b.share; });
  return out;
}

}  // namespace sievelight

#include "tests/support/attenuation.h"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <cstring>

namespace crestgate::phantom {
namespace {
constexpr int kRows = 9;
constexpr std::array<double, kRows> kEnergy{10, 15, 20, 30, 40, 50, 60, 80, 100};
using Table = std::array<double, kRows>;  // mu/rho, cm2/g

// NIST, evidence notes section 7.
constexpr Table kTitanium{110.7, 35.87, 15.85, 4.972, 2.214, 1.213, 0.7661, 0.4052, 0.2721};
constexpr Table kCortical{28.51, 9.032, 4.001, 1.331, 0.6655, 0.4242, 0.3148, 0.2229, 0.1855};
constexpr Table kSoft{5.379, 1.699, 0.8230, 0.3790, 0.2688, 0.2264, 0.2048, 0.1823, 0.1693};
constexpr Table kWater{5.329, 1.673, 0.8096, 0.3756, 0.2683, 0.2269, 0.2059, 0.1837, 0.1707};
// From memory (elements, NIST-like values).
constexpr Table kAluminium{26.23, 7.955, 3.441, 1.128, 0.5685, 0.3681, 0.2778, 0.2018, 0.1704};
constexpr Table kIron{170.6, 57.08, 25.68, 8.176, 3.629, 1.958, 1.205, 0.5952, 0.3717};
constexpr Table kGold{118.1, 164.0, 78.83, 27.52, 12.98, 7.256, 4.528, 2.185, 5.158};
constexpr Table kSilver{119.3, 39.98, 18.36, 36.68, 17.20, 9.444, 5.766, 2.651, 1.470};
constexpr Table kZirconia{58.0, 19.7, 53.7, 18.5, 8.50, 4.65, 2.85, 1.30, 0.76};

// ICRU-44 cortical bone is 22.5 % calcium by mass, hydroxyapatite 39.9 % (both from memory): bone =
// w mineral + (1 - w) soft tissue with w = 0.225 / 0.399, hence mineral = (bone - (1 - w) soft)/w.
constexpr double kMineralShare = 0.225 / 0.399;

struct Recipe {
  double density;  // g/cm3, from memory
  double mu_rho;
};

double at(const Table& table, double energy) {
  const double e = std::clamp(energy, kEnergy.front(), kEnergy.back());
  int i = 0;
  while (i < kRows - 2 && e > kEnergy[i + 1]) ++i;
  const double f = std::log(e / kEnergy[i]) / std::log(kEnergy[i + 1] / kEnergy[i]);
  return table[i] * std::pow(table[i + 1] / table[i], f);
}

double mineral(double e) {
  return (at(kCortical, e) - (1 - kMineralShare) * at(kSoft, e)) / kMineralShare;
}

Recipe recipe(Material m, double e) {
  switch (m) {
    case Material::air:
      return {0.0, 0.0};
    case Material::soft_tissue:
      return {1.06, at(kSoft, e)};
    case Material::cortical_bone:
      return {1.92, at(kCortical, e)};
    // Solid trabeculae; the share of marrow is the ridge's business.
    case Material::trabecular_bone:
      return {1.92, at(kCortical, e)};
    case Material::enamel:
      return {2.9, 0.96 * mineral(e) + 0.04 * at(kWater, e)};
    case Material::dentin:
      return {2.14, 0.70 * mineral(e) + 0.30 * at(kSoft, e)};
    case Material::titanium:
      return {4.54, at(kTitanium, e)};
    case Material::gold_alloy:
      return {16.0, 0.8 * at(kGold, e) + 0.2 * at(kSilver, e)};
    case Material::zirconia:
      return {6.05, at(kZirconia, e)};
    // Glass ceramic, silicon and oxygen mostly: close to aluminium per gram.
    case Material::porcelain:
      return {2.5, at(kAluminium, e)};
    case Material::steel:
      return {7.9, at(kIron, e)};
    // Mercury, silver, tin: between silver and gold.
    case Material::amalgam:
      return {11.0, 0.5 * at(kGold, e) + 0.5 * at(kSilver, e)};
    // Two thirds zinc oxide (zinc taken 1.45 x iron per gram), one third polymer.
    case Material::gutta_percha:
      return {2.7, 0.53 * 1.45 * at(kIron, e) + 0.47 * at(kWater, e)};
    case Material::aluminium:
      return {2.70, at(kAluminium, e)};
    case Material::plastic:
      return {1.2, at(kWater, e)};
  }
  return {0.0, 0.0};
}

// exp(x) for x <= 0 in a form compilers vectorise; relative error below 3e-6.
inline float fast_exp(float x) {
  const float y = std::max(x, -80.0F) * 1.44269504F;
  const int whole = static_cast<int>(y) - 1;  // not floor: a call on plain x86-64
  const float f = y - static_cast<float>(whole);
  const float p =
      1.0F + f * (0.69314718F +
                  f * (0.24022651F +
                       f * (0.05550411F + f * (0.00961813F + f * (0.00133336F + f * 1.54e-4F)))));
  const auto bits = static_cast<std::uint32_t>((whole + 127) << 23);
  float scale;
  std::memcpy(&scale, &bits, sizeof scale);
  return p * scale;
}
}  // namespace

double linear_attenuation_per_mm(Material material, double energy_kev) {
  const Recipe r = recipe(material, energy_kev);
  return r.density * r.mu_rho / 10.0;
}

float Spectrum::transmission(const std::array<float, kMaterials>& path_mm) const {
  std::array<float, kBins> exponent{};
  for (int m = 1; m < kMaterials; ++m) {
    if (path_mm[m] <= 0.0F) continue;
    for (int b = 0; b < kBins; ++b) exponent[b] -= mu[m][b] * path_mm[m];
  }
  float sum = 0.0F;
  for (int b = 0; b < kBins; ++b) sum += weight[b] * fast_exp(exponent[b]);
  return sum;
}

Spectrum make_spectrum(const Exposure& exposure) {
  Spectrum s;
  const bool mono = exposure.mono_kev > 0.0;
  const double low = 16.0, width = (exposure.tube_kv - low) / kBins;
  double sum = 0.0;
  for (int b = 0; b < kBins; ++b) {
    const double e = mono ? exposure.mono_kev : low + (b + 0.5) * width;
    const double filtered =
        std::exp(-linear_attenuation_per_mm(Material::aluminium, e) * exposure.filter_mm_al);
    const double w = mono ? 1.0 : (exposure.tube_kv - e) * filtered;
    s.energy_kev[b] = static_cast<float>(e);
    s.weight[b] = static_cast<float>(w);
    sum += w;
    for (int m = 0; m < kMaterials; ++m) {
      s.mu[m][b] = static_cast<float>(linear_attenuation_per_mm(static_cast<Material>(m), e));
    }
  }
  for (float& w : s.weight) w = static_cast<float>(w / sum);
  return s;
}

}  // namespace crestgate::phantom

// Attenuation of the phantom's materials over a dental spectrum.
//
// Titanium, ICRU-44 cortical bone and soft tissue: mu/rho of NIST (Hubbell & Seltzer, NISTIR 5632)
// as transcribed in the project's evidence notes, section 7. Mineral by the two-component formula
// in attenuation.cpp. All other tables and every density: from memory, good to a few per cent.
#pragma once
#include <array>
#include <vector>

#include "tests/support/scene.h"

namespace crestgate::phantom {

constexpr int kMaterials = static_cast<int>(Material::plastic) + 1;
constexpr int kBins = 8;

/// Linear attenuation in 1/mm; log-log interpolation between the tabulated energies.
double linear_attenuation_per_mm(Material material, double energy_kev);

/// Energy bins of the beam as the detector weighs them.
struct Spectrum {
  std::array<float, kBins> energy_kev{}, weight{};  ///< weights add up to 1
  /// 1/mm, [material][bin]
  std::array<std::array<float, kBins>, kMaterials> mu{};
  /// Energy-weighted transmission of the given path lengths (mm per material).
  float transmission(const std::array<float, kMaterials>& path_mm) const;
};

/// Kramers' law (intensity per energy proportional to kV - E), inherent and added filtration as
/// aluminium, detector signal proportional to absorbed energy (full absorption assumed).
Spectrum make_spectrum(const Exposure& exposure);

}  // namespace crestgate::phantom

// The jaw ridge: two cortical plates, trabecular bone between them, gingiva and cheek. Extruded
// along x, so described by crest lines over x and by depths in y.
#pragma once
#include <array>
#include <vector>

#include "tests/support/attenuation.h"
#include "tests/support/noise_field.h"
#include "tests/support/solids.h"

namespace crestgate::phantom {

class Ridge {
 public:
  explicit Ridge(const Scene& scene);
  /// Adds what the ray passes outside the occupied stretches (t in mm from the source).
  void add_paths(const Ray& ray, const Spans& occupied, std::array<float, kMaterials>* path) const;
  /// z of the ridge top above x: where bone begins, at mid-depth.
  double crest_z(double x_mm) const;

 private:
  double smooth_crest_z(double x_mm) const;
  double plate_share(double x, double z, double drop, double phase) const;
  Spans core_of(const Ray& ray, double y0, double y1) const;
  void add_bone(const Ray& ray, const Spans& occupied, Vec middle,
                std::array<float, kMaterials>* path) const;

  Bone bone_;
  std::vector<Implant> implants_;  ///< sorted by x; where the crest dips to their flanks
  std::vector<float> table_;       ///< crest_z every kStep from -kReach
  double plate_phase_ = 0.0;       ///< the plates' own waves
  NoiseTile texture_[3];
  static constexpr double kReach = 45.0, kStep = 0.02;
};

/// Level (mm apical of the platform, along the implant's axis) at which bone first touches the
/// flank line at +-R, at mid-depth. side -1: towards -x, +1: towards +x. NaN if it never does.
double first_contact_mm(const Ridge& ridge, const Implant& implant, int side);

}  // namespace crestgate::phantom

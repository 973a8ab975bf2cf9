// Seeded scenes for the joint: gap x angle x connection x abutment x noise x blur x pixel x
// processing, around the phantom's random scenes. Test code only.
#pragma once
#include <cstdint>

#include "tests/support/scene.h"

namespace crestgate::phantom {

enum class JointCase {
  closed,  ///< part fully seated
  open,    ///< lifted evenly
  wedge,   ///< closed on one side, 100-300 um on the other
  bare,    ///< nothing mounted, or a cover screw
};

/// Gaps of `open` are log-uniform over 10-190 um (the range of the published bench study,
/// Sharkey et al. 2011). Angles: half within 5 deg, the rest up to 15 deg.
Scene seating_scene(std::uint64_t seed, JointCase joint);

}  // namespace crestgate::phantom

// What the projection goals are measured with: error, coverage and direction of the vertical angle
// over random scenes, pooled and by stratum.
#pragma once
#include <ostream>
#include <string>
#include <vector>

#include "tests/numbers/case.h"

namespace crestgate::numbers {

/// One true implant with what was said about it.
struct AngleCase {
  std::uint64_t seed = 0;
  bool found = false;
  bool in_domain = false;  ///< thread depth >= 3 px, both flanks in view, not turned
  bool turned = false;     ///< left-handed or mirrored, but not both
  double true_deg = 0;
  bool given = false, direction = false;
  double value_deg = 0, u_deg = 0;
  double depth_px = 0, pixel_mm = 0, clipped = 0, noise = 0;
  int flanks_in_view = 2;
  double visible_share = 1;  ///< of the body's silhouette
  std::string form;
  std::string reason;  ///< why there is no angle, in the pipeline's words
  /// |error|; unsigned readings are compared with the magnitude.
  double error_deg() const;
};

std::vector<AngleCase> angle_cases(const std::vector<Case>& cases);

/// Markdown: one row per stratum with n, given, median, 90 %, direction, coverage with bounds.
void write_angle_table(std::ostream& out, const std::vector<AngleCase>& cases);

}  // namespace crestgate::numbers

// What the seating goals are measured with: gaps missed, false gaps, sizes and limits over seeded
// scenes through the whole chain.
#pragma once
#include <ostream>
#include <string>
#include <vector>

#include "tests/numbers/case.h"
#include "tests/numbers/seating_scenes.h"

namespace crestgate::numbers {

/// The joint of a scene's first implant with what was said about it.
struct GapCase {
  std::uint64_t seed = 0;
  phantom::JointCase kind = phantom::JointCase::closed;
  bool found = false;  ///< the implant was found and judged
  bool butt = false;   ///< true connection
  double true_left_mm = 0, true_right_mm = 0, theta_deg = 0;
  double blur_mm = 0, noise = 0, platform_error_mm = 0;  ///< the last along the axis
  bool platform_marked = false;
  JointMeasures joint;
  double true_mm() const { return std::max(true_left_mm, true_right_mm); }
};

/// Four open, three closed, two wedges and one bare implant in ten.
phantom::Scene seating_case_scene(std::uint64_t seed);
/// With `type_known` the site's table of implants holds the one that is drawn.
std::vector<GapCase> gap_cases(std::uint64_t first_seed, int count, bool type_known = false);

/// Counts behind the acceptance criteria.
struct GapCounts {
  int over_limit = 0, over_limit_missed = 0, over_limit_within_2x = 0;
  int closed = 0, closed_false = 0, closed_unread = 0;
  int twice = 0, twice_found = 0;
  int sized = 0, sized_covered = 0;
  double median_size_error_mm = 0, median_limit_mm = 0;
  int limits = 0;  ///< behind median_limit_mm: butt joint known, within 5 deg, blur <= 0.05 mm
  int straight = 0, straight_unread = 0;                    ///< within 5 deg
  int wedges = 0, wedges_found = 0, wedges_right_side = 0;  ///< butt joints
  int bare = 0, bare_invented = 0;
};
GapCounts count_gaps(const std::vector<GapCase>& cases);

/// Markdown: one row per criterion with n and the 95 % bound; then every failure by seed.
void write_gap_table(std::ostream& out, const std::vector<GapCase>& cases);

}  // namespace crestgate::numbers

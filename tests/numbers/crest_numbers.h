// What the crest goals are measured with: error and coverage of the crest level over random scenes,
// and how far it moves when nothing but the picture's processing changes.
#pragma once
#include <functional>
#include <ostream>
#include <string>
#include <vector>

#include "tests/numbers/case.h"

namespace crestgate::numbers {

/// One flank of one true implant.
struct CrestCase {
  std::uint64_t seed = 0;
  bool right = false;
  bool found = false;  ///< the implant
  /// Platform and flank in view, and a contact where it is looked for: from 2 mm coronal of the
  /// platform to 60 % of the implant's length.
  bool in_domain = false;
  double true_mm = 0;
  bool given = false;
  double value_mm = 0, u_mm = 0;
  std::string state = "implant not found";
  double angle_deg = 0, saucer_mm = 0, plate_drop_mm = 0, blur_mm = 0;
  bool part_narrower = false;  ///< or none: the platform's shoulder stands free
  double error_mm() const;
};

std::vector<CrestCase> crest_cases(const std::vector<Case>& cases);

/// Markdown: one row per stratum, then how often each reason for no level was given.
void write_crest_table(std::ostream& out, const std::vector<CrestCase>& cases);

/// A level before and after a change that leaves the patient as they were.
struct CrestShift {
  std::string change;
  bool given_before = false, given_after = false;
  double shift_mm = 0;
};

/// Whole chain on each picture and on its changed copies: gain 0.8 and 1.3, gamma 0.75 and 1.35,
/// unsharp mask, 8 bit.
std::vector<CrestShift> crest_shifts(std::uint64_t first, int count,
                                     const std::function<phantom::Scene(std::uint64_t)>& make);

void write_shift_table(std::ostream& out, const std::vector<CrestShift>& shifts);

}  // namespace crestgate::numbers

// Candidate search: bright ribbons, i.e. pairs of nearly parallel edges of opposite polarity that
// stay together over a length, in any in-plane direction. Works on edges and not on thresholded
// regions, so that bodies joined by a crown, or as bright as a neighbour, still come out singly.
#pragma once
#include <vector>

#include "pipeline/detect/survey.h"
#include "pipeline/image/strip.h"

namespace crestgate {

struct Ribbon {
  AxisFrame axis;            ///< full-resolution px; origin at the middle; +v end arbitrary
  double half_width_px = 0;  ///< full-resolution px
  double half_length_px = 0;
  int lone_side = 0;    ///< -1/+1: only the flank at u < 0 / u > 0 is in view, width assumed
  double strength = 0;  ///< mean of the weaker edge's step, survey grey units
  double score = 0;     ///< length in widths (at most 3) x bounded strength
};

struct RibbonSearch {
  double least_width_px = 0, most_width_px = 0;  ///< full-resolution px
  double typical_width_px = 0;                   ///< assumed where one flank is out of view
  double least_step = 0.04;                      ///< edge step, survey grey units
};

/// All of them, as found in each tried direction.
std::vector<Ribbon> find_ribbons(const Survey& survey, const RibbonSearch& search);

/// Best first, near-duplicates removed.
std::vector<Ribbon> distinct_ribbons(std::vector<Ribbon> ribbons, int most);

}  // namespace crestgate

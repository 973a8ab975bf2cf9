// A body as a reader looks at it: straightened, coronal end first, in units of its own radius, its
// surroundings on all sides.
#pragma once
#include <vector>

#include "pipeline/detect/body.h"
#include "pipeline/detect/ends.h"
#include "pipeline/detect/survey.h"

namespace crestgate {

/// Rows along the axis, columns across it, both in steps of radius / 16; the middle of the picture
/// is the middle between platform and apex.
struct Portrait {
  static constexpr int kRows = 128, kColumns = 56;
  static constexpr double kStepRadii = 1.0 / 16;
  std::vector<float> grey;  ///< 0 darkest .. 1 brightest of the survey, row-major; NaN: not exposed
};

Portrait portray(const Frame& frame, const Survey& survey, const Body& body, const Ends& ends);

}  // namespace crestgate

#include "pipeline/detect/portrait.h"

#include <cmath>
#include <limits>

namespace crestgate {
namespace {

/// Bilinear; NaN outside the field. (Four of them are averaged: no need for more.)
float grey_at(const Frame& frame, const Field& field, Point p) {
  if (!field.contains(p, 1.0)) return std::numeric_limits<float>::quiet_NaN();
  const int x = static_cast<int>(p.x), y = static_cast<int>(p.y);
  const auto fx = static_cast<float>(p.x - x), fy = static_cast<float>(p.y - y);
  return (1 - fy) * ((1 - fx) * frame.at(x, y) + fx * frame.at(x + 1, y)) +
         fy * ((1 - fx) * frame.at(x, y + 1) + fx * frame.at(x + 1, y + 1));
}

}  // namespace

Portrait portray(const Frame& frame, const Survey& survey, const Body& body, const Ends& ends) {
  const double step = Portrait::kStepRadii * body.radius_px;
  AxisFrame axis = body.trace.axis;
  axis.origin = axis.to_image(0.0, 0.5 * (ends.platform_v_px + ends.apex_v_px));
  if (ends.coronal_sense > 0) axis.apical = {-axis.apical.x, -axis.apical.y};
  const double low = survey.low, range = survey.high - survey.low;
  Portrait portrait;
  portrait.grey.reserve(Portrait::kRows * Portrait::kColumns);
  for (int i = 0; i < Portrait::kRows; ++i)
    for (int k = 0; k < Portrait::kColumns; ++k) {
      const double v = i - 0.5 * (Portrait::kRows - 1), u = k - 0.5 * (Portrait::kColumns - 1);
      float sum = 0.0F;
      for (const double dv : {-0.25, 0.25})
        for (const double du : {-0.25, 0.25})
          sum += grey_at(frame, survey.field, axis.to_image((u + du) * step, (v + dv) * step));
      portrait.grey.push_back(static_cast<float>((0.25 * sum - low) / range));
    }
  return portrait;
}

}  // namespace crestgate

// The coronal part of an implant and what stands on it, straightened: rows of equal height along
// the axis, grey values as shares of the metal's contrast, half widths of the metal. Private to
// this folder.
#pragma once
#include <vector>

#include "pipeline/image/analysis.h"
#include "pipeline/image/strip.h"

namespace crestgate {

/// One value per row.
using Profile = std::vector<double>;

constexpr double kRowMm = 0.04;

struct Straight {
  double mm_per_px = 1.0, radius_mm = 2.0, length_mm = 10.0;
  double v0_mm = 0.0;         ///< of row 0, from the shape's origin, apical positive
  int rows = 0, columns = 0;  ///< columns along u: x0, x0 + dx, ..., in radii
  double x0 = 0.0, dx = 0.025;
  std::vector<float> grey;  ///< 0 = surroundings, 1 = metal of the body; NaN outside the field
  Profile edge[2];  ///< half width of the metal at u < 0 and u > 0, radii; NaN = not in view
  bool in_view[2] = {true, true};
  bool apex_in_view = false;

  double v_mm(int row) const { return v0_mm + row * kRowMm; }
  float at(int column, int row) const {
    return grey[static_cast<std::size_t>(row) * columns + column];
  }
  /// Mean over |x - x_centre| <= half.
  Profile zone(double x_centre, double half) const;
};

/// Rows from 6 mm coronal to 7 mm apical of the shape's origin. Empty (rows = 0) where metal does
/// not stand out.
Straight straighten(const Frame& frame, const ImplantShape& shape, double mm_per_px);

/// Mean over the rows between v + from_mm and v + to_mm; NaN where less than 60 % of them count.
Profile window_mean(const Profile& p, double from_mm, double to_mm);
/// p(v + by_mm), linear between rows, ends held.
Profile shifted(const Profile& p, double by_mm);

}  // namespace crestgate

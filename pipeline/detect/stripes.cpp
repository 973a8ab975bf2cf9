#include "pipeline/detect/stripes.h"

#include <algorithm>
#include <cmath>

namespace crestgate {
namespace {

constexpr double kColumns[] = {0.35, 0.5, 0.65, 0.78, 0.88, 0.96, 1.02};  // |u|, radii
constexpr double kRowsPerRadius = 24.0;

/// Grey values along v at the chosen distances from the axis, without their slow course.
Side side_columns(const Strip& strip, double radius_px, int sign, int window) {
  Side side;
  for (const double at : kColumns) {
    const int iu =
        static_cast<int>(std::lround((sign * at * radius_px - strip.u0_px) / strip.step_u_px));
    if (iu < 1 || iu + 1 >= strip.columns) continue;
    std::vector<double> column(strip.rows);
    int known = 0;
    for (int iv = 0; iv < strip.rows; ++iv) {
      // Three neighbours: noise down, thread crests kept.
      column[iv] = (strip.at(iu - 1, iv) + strip.at(iu, iv) + strip.at(iu + 1, iv)) / 3.0;
      known += column[iv] == column[iv];
    }
    if (known > 0.9 * strip.rows) side.push_back(flank_serration(column, window));
  }
  return side;
}

}  // namespace

Serration find_stripes(const Frame& frame, const FlankTrace& trace, int first, int last,
                       double radius_px) {
  const double step = std::max(1.0, radius_px / kRowsPerRadius);
  const double v0 = trace.v_px(first), v1 = trace.v_px(last), reach = 1.02 * radius_px + 2 * step;
  if (!(radius_px > 3) || !(v1 - v0 > 12 * step)) return {};
  const Strip strip = sample_strip(frame, trace.axis, -reach, reach, v0, v1, step, step);
  const double r = radius_px / step, least = std::max(3.0, 0.1 * r), most = 0.8 * r;
  Side minus = side_columns(strip, radius_px, -1, static_cast<int>(most));
  Side plus = side_columns(strip, radius_px, 1, static_cast<int>(most));
  if (minus.size() < 3) minus = plus;
  if (plus.size() < 3) plus = minus;
  if (minus.size() < 3) return {};
  Serration s = find_period(minus, plus, least, most, static_cast<int>(2.5 * r));
  const double rows = step / trace.step_px;
  s.first = first + static_cast<int>(s.first * rows);
  s.last = first + static_cast<int>(s.last * rows);
  s.pitch *= step;
  s.minus_pitch *= step;
  s.plus_pitch *= step;
  return s;
}

}  // namespace crestgate

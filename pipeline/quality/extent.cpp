#include "pipeline/quality/extent.h"

#include <algorithm>
#include <cmath>

#include "pipeline/image/statistics.h"
#include "pipeline/quality/regions.h"

namespace crestgate {
namespace {

constexpr double kApexStandardUncertaintyPx = 1.0;
constexpr double kUnknownDistortion = 0.05;                    // expanded, see the header
constexpr double kNarrowestBodyMm = 3.0, kWidestBodyMm = 5.5;  // common practice

/// Grey values across the axis at one distance beyond the apex, half a body wide to either side.
struct Row {
  bool outside = true;  ///< most of it beyond the content
  double middle = 0, spread = 0;
};

bool inside(const Content& c, Point p) {
  return p.x >= c.x0 && p.y >= c.y0 && p.x <= c.x1 - 1 && p.y <= c.y1 - 1;
}

Row row_at(const Frame& frame, const Content& content, const ImplantShape& shape, double v) {
  std::vector<float> values;
  const int half = std::max(4, static_cast<int>(0.5 * shape.radius_px));
  int tried = 0;
  for (int u = -half; u <= half; ++u, ++tried) {
    const Point p = shape.axis.to_image(u, v);
    if (!inside(content, p)) continue;
    const float value = interpolate(frame, p);
    if (!std::isnan(value)) values.push_back(value);
  }
  Row row;
  row.outside = 2 * static_cast<int>(values.size()) < tried;
  if (row.outside) return row;
  const double low = quantile_of(values, 0.1), high = quantile_of(values, 0.9);
  row.middle = median_of(values);
  row.spread = high - low;
  return row;
}

/// Where an even area that reaches the last row begins; `rows.size()` if there is none. Even: no
/// row leaves its level or varies across by more than a fiftieth of the image's range; a cut ends
/// in a step to what was exposed of at least ten times that.
std::size_t even_end(const std::vector<Row>& rows, double range) {
  const double even = range / 50, step = range / 5;
  std::size_t begin = rows.size();
  while (begin > 0 && rows[begin - 1].spread < even &&
         std::abs(rows[begin - 1].middle - rows.back().middle) < even)
    --begin;
  const std::size_t least = 4, reach = 12;
  if (rows.size() - begin < least || begin == 0) return rows.size();
  const std::size_t before = begin > reach ? begin - reach : 0;
  return std::abs(rows[before].middle - rows.back().middle) > step ? begin : rows.size();
}

double grey_range(const Frame& frame, const Content& c) {
  std::vector<float> values;
  for (int y = c.y0; y < c.y1; y += 4)
    for (int x = c.x0; x < c.x1; x += 4) values.push_back(frame.at(x, y));
  if (values.empty()) return 0;
  const double low = quantile_of(values, 0.01);
  return quantile_of(values, 0.99) - low;
}

void find_margin(const Frame& frame, const ImplantShape& shape, Extent& extent) {
  const Content content = content_of(frame);
  std::vector<Row> rows;
  const int limit = frame.rows + frame.columns;
  for (int i = 0; i < limit; ++i) {
    rows.push_back(row_at(frame, content, shape, shape.length_px + i));
    if (rows.back().outside) {
      rows.pop_back();
      break;
    }
  }
  const std::size_t end = rows.empty() ? 0 : even_end(rows, grey_range(frame, content));
  extent.apical_margin_px = static_cast<double>(end);
  const Point last = shape.axis.to_image(0, shape.length_px + static_cast<double>(end) + 2);
  const bool at_border =
      last.x < 1 || last.y < 1 || last.x > frame.columns - 2 || last.y > frame.rows - 2;
  extent.bounded_by = at_border ? "image border" : "cone cut or bar";
}

}  // namespace

Extent measure_extent(const Frame& frame, const ImplantShape& shape, const Scale& along_axis,
                      bool scale_is_axial) {
  Extent extent;
  extent.platform_in_view = shape.platform_in_view;
  extent.apex_in_view = shape.apex_in_view;
  const bool minus_is_left = shape.axis.minus_is_left();
  extent.flank_in_view = {minus_is_left ? shape.minus_flank_in_view : shape.plus_flank_in_view,
                          minus_is_left ? shape.plus_flank_in_view : shape.minus_flank_in_view};
  if (!shape.apex_in_view || frame.empty() || shape.radius_px <= 0) return extent;
  find_margin(frame, shape, extent);
  const double px = *extent.apical_margin_px;
  if (const auto& mm = along_axis.mm_per_px) {
    const double scale_u = px * mm->expanded_uncertainty;
    const double apex_u = 2 * kApexStandardUncertaintyPx * mm->value;
    const double distortion_u = scale_is_axial ? 0.0 : kUnknownDistortion * px * mm->value;
    extent.apical_margin_mm =
        Quantity{px * mm->value, std::hypot(std::hypot(scale_u, apex_u), distortion_u)};
  } else {
    extent.apical_margin_least_mm = px * kNarrowestBodyMm / (2 * shape.radius_px);
    extent.apical_margin_most_mm = px * kWidestBodyMm / (2 * shape.radius_px);
  }
  return extent;
}

std::optional<double> clipped_at_joint(const Frame& frame, const ImplantShape& shape) {
  if (!shape.platform_in_view || frame.empty() || shape.radius_px <= 0) return {};
  const Content content = content_of(frame);
  const ClipLevels levels = clip_levels(frame, content);
  const double across = 1.3 * shape.radius_px, along = 0.5 * shape.radius_px;
  int total = 0, seen = 0, clipped = 0;
  for (double v = -along; v <= along; v += 1)
    for (double u = -across; u <= across; u += 1, ++total) {
      const Point p = shape.axis.to_image(u, v);
      if (!inside(content, p)) continue;
      ++seen;
      clipped += levels.clipped(
          frame.at(static_cast<int>(std::lround(p.x)), static_cast<int>(std::lround(p.y))));
    }
  if (2 * seen < total || seen == 0) return {};
  return static_cast<double>(clipped) / seen;
}

}  // namespace crestgate

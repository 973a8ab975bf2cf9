#include "pipeline/quality/regions.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>

namespace crestgate {
namespace {

// A row of a frame or bar: all but a few pixels at one value (dust, rounded corners).
template <class At>
bool uniform_line(int count, At at) {
  const float first = at(count / 2);
  int other = 0;
  for (int i = 0; i < count; ++i) other += std::abs(at(i) - first) > 1.0F;
  return other * 50 < count;
}

bool is_padding(const Frame& f, int x, int y) {
  return !f.padding.empty() && f.padding[static_cast<std::size_t>(y) * f.columns + x];
}

}  // namespace

double quantile_of(std::vector<float>& values, double share) {
  if (values.empty()) return std::numeric_limits<double>::quiet_NaN();
  const auto k = static_cast<std::ptrdiff_t>(share * static_cast<double>(values.size() - 1));
  std::nth_element(values.begin(), values.begin() + k, values.end());
  return values[static_cast<std::size_t>(k)];
}

double median_of(std::vector<float>& values) { return quantile_of(values, 0.5); }

Content content_of(const Frame& f) {
  Content c{0, 0, f.columns, f.rows};
  const auto row = [&](int y) {
    return uniform_line(c.x1 - c.x0, [&](int i) { return f.at(c.x0 + i, y); });
  };
  const auto column = [&](int x) {
    return uniform_line(c.y1 - c.y0, [&](int i) { return f.at(x, c.y0 + i); });
  };
  for (bool changed = true; changed && !c.empty();) {
    const Content before = c;
    while (!c.empty() && row(c.y0)) ++c.y0;
    while (!c.empty() && row(c.y1 - 1)) --c.y1;
    while (!c.empty() && column(c.x0)) ++c.x0;
    while (!c.empty() && column(c.x1 - 1)) --c.x1;
    changed = before.x0 != c.x0 || before.x1 != c.x1 || before.y0 != c.y0 || before.y1 != c.y1;
  }
  return c;
}

ClipLevels clip_levels(const Frame& f, const Content& c) {
  std::map<float, std::size_t> counts;
  std::size_t total = 0;
  for (int y = c.y0; y < c.y1; ++y)
    for (int x = c.x0; x < c.x1; ++x)
      if (!is_padding(f, x, y)) ++counts[f.at(x, y)], ++total;
  ClipLevels levels{f.lowest_storable, f.highest_storable};
  // A spike: more than 0.2 % of the image on the last level and 8 times the mean of the next 8.
  const auto spike = [total](auto first, auto last) {
    const std::size_t height = first->second;
    std::size_t beside = 0, n = 0;
    for (auto it = std::next(first); it != last && n < 8; ++it, ++n) beside += it->second;
    return n > 0 && height * 500 > total && height * n > 8 * beside;
  };
  if (counts.size() < 16) return levels;
  if (spike(counts.begin(), counts.end())) levels.low = counts.begin()->first;
  if (spike(counts.rbegin(), counts.rend())) levels.high = counts.rbegin()->first;
  return levels;
}

Contrast contrast_of(const Frame& f, const Content& c, const std::vector<ImplantShape>& implants) {
  std::vector<float> metal, background;
  for (const ImplantShape& shape : implants) {
    const double step = std::max(1.0, shape.length_px / 100);
    for (double v = 0.1 * shape.length_px; v < 0.9 * shape.length_px; v += step)
      for (double share : {-1.6, -1.3, -0.5, -0.25, 0.0, 0.25, 0.5, 1.3, 1.6}) {
        const float value = interpolate(f, shape.axis.to_image(share * shape.radius_px, v));
        if (!std::isnan(value)) (std::abs(share) < 1 ? metal : background).push_back(value);
      }
  }
  if (metal.empty() || background.empty()) {
    metal.clear();
    for (int y = c.y0; y < c.y1; y += 2)
      for (int x = c.x0; x < c.x1; x += 2)
        if (!is_padding(f, x, y)) metal.push_back(f.at(x, y));
    background = metal;
    return {quantile_of(metal, 0.995), median_of(background)};
  }
  return {median_of(metal), median_of(background)};
}

}  // namespace crestgate

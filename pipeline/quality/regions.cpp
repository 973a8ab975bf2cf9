#include "pipeline/quality/regions.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>

#include "pipeline/image/statistics.h"

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

namespace {

/// The outermost distinct values of an image with their counts, best first. Keeping only as many as
/// are looked at makes one pass over millions of pixels cheap.
class EndLevels {
 public:
  static constexpr std::size_t kKept = 16;
  template <class Before>
  void add(float value, Before before) {
    std::size_t i = size_;
    while (i > 0 && before(value, level_[i - 1])) --i;
    if (i > 0 && level_[i - 1] == value) {
      ++count_[i - 1];
      return;
    }
    if (i == kKept) return;
    size_ = std::min(size_ + 1, kKept);
    for (std::size_t k = size_ - 1; k > i; --k)
      level_[k] = level_[k - 1], count_[k] = count_[k - 1];
    level_[i] = value, count_[i] = 1;
  }
  bool full() const { return size_ == kKept; }
  float outermost() const { return level_[0]; }
  /// More than 0.2 % of the image on the last level and 8 times the mean of the next 8.
  bool spike(std::size_t total) const {
    std::size_t beside = 0;
    for (std::size_t i = 1; i <= 8; ++i) beside += count_[i];
    return count_[0] * 500 > total && count_[0] * 8 > 8 * beside;
  }

 private:
  std::array<float, kKept> level_{};
  std::array<std::size_t, kKept> count_{};
  std::size_t size_ = 0;
};

}  // namespace

ClipLevels clip_levels(const Frame& f, const Content& c) {
  EndLevels lowest, highest;
  std::size_t total = 0;
  for (int y = c.y0; y < c.y1; ++y)
    for (int x = c.x0; x < c.x1; ++x) {
      if (is_padding(f, x, y)) continue;
      ++total;
      lowest.add(f.at(x, y), std::less<float>());
      highest.add(f.at(x, y), std::greater<float>());
    }
  ClipLevels levels{f.lowest_storable, f.highest_storable};
  if (!lowest.full()) return levels;  // too few grey values to tell a plateau
  if (lowest.spike(total)) levels.low = lowest.outermost();
  if (highest.spike(total)) levels.high = highest.outermost();
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

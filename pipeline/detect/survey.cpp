#include "pipeline/detect/survey.h"

#include <algorithm>
#include <cmath>
#include <limits>

namespace crestgate {
namespace {

/// Spread (5-95 %) of one line of pixels, sampled.
double line_spread(const Frame& frame, bool row, int index) {
  const int n = row ? frame.columns : frame.rows;
  std::vector<float> line;
  const int stride = std::max(1, n / 400);
  for (int i = 0; i < n; i += stride) line.push_back(row ? frame.at(i, index) : frame.at(index, i));
  std::sort(line.begin(), line.end());
  return line[line.size() * 95 / 100] - line[line.size() * 5 / 100];
}

bool padded(const Frame& frame, int x, int y) {
  return !frame.padding.empty() && frame.padding[static_cast<std::size_t>(y) * frame.columns + x];
}

}  // namespace

Field find_field(const Frame& frame) {
  const auto extremes = std::minmax_element(frame.values.begin(), frame.values.end());
  const double constant = 0.02 * (*extremes.second - *extremes.first);
  Field f{0, 0, frame.columns - 1, frame.rows - 1};
  const int most_x = frame.columns / 6, most_y = frame.rows / 6;
  while (f.x0 < most_x && line_spread(frame, false, f.x0) <= constant) ++f.x0;
  while (f.x1 > frame.columns - 1 - most_x && line_spread(frame, false, f.x1) <= constant) --f.x1;
  while (f.y0 < most_y && line_spread(frame, true, f.y0) <= constant) ++f.y0;
  while (f.y1 > frame.rows - 1 - most_y && line_spread(frame, true, f.y1) <= constant) --f.y1;
  return f;
}

Survey make_survey(const Frame& frame, double size_px) {
  Survey s;
  s.field = find_field(frame);
  const int width = s.field.x1 - s.field.x0 + 1, height = s.field.y1 - s.field.y0 + 1;
  s.factor = std::max(
      1, static_cast<int>(std::lround(std::sqrt(static_cast<double>(width) * height) / size_px)));
  s.columns = width / s.factor;
  s.rows = height / s.factor;
  s.values.assign(static_cast<std::size_t>(s.rows) * s.columns, 0.0F);
  const auto ends = std::minmax_element(frame.values.begin(), frame.values.end());
  const float least = *ends.first, most = *ends.second;
  std::vector<float> sorted, between;
  for (int y = 0; y < s.rows; ++y)
    for (int x = 0; x < s.columns; ++x) {
      double sum = 0.0;
      int n = 0;
      for (int j = 0; j < s.factor; ++j)
        for (int i = 0; i < s.factor; ++i) {
          const int fx = s.field.x0 + x * s.factor + i, fy = s.field.y0 + y * s.factor + j;
          if (padded(frame, fx, fy)) continue;
          sum += frame.at(fx, fy);
          ++n;
        }
      float& v = s.values[static_cast<std::size_t>(y) * s.columns + x];
      v = n > 0 ? static_cast<float>(sum / n) : std::numeric_limits<float>::quiet_NaN();
      if (n > 0) sorted.push_back(v);
      // Clipped or never exposed (a cone cut printed white): says nothing of the picture's range.
      if (n > 0 && v > least && v < most) between.push_back(v);
    }
  if (sorted.size() < 100) return s;
  if (2 * between.size() > sorted.size()) sorted.swap(between);
  std::sort(sorted.begin(), sorted.end());
  s.low = sorted[sorted.size() / 100];
  s.high = sorted[sorted.size() * 995 / 1000];
  const double range = std::max(s.high - s.low, 1e-9);
  for (float& v : s.values) v = static_cast<float>((v - s.low) / range);
  std::vector<float> differences;
  for (int y = 0; y < s.rows; ++y)
    for (int x = 0; x + 1 < s.columns; ++x) {
      const float d = std::fabs(s.at(x + 1, y) - s.at(x, y));
      if (d == d) differences.push_back(d);
    }
  std::nth_element(differences.begin(), differences.begin() + differences.size() / 2,
                   differences.end());
  s.noise = differences[differences.size() / 2] / 0.6745 / std::sqrt(2.0);
  return s;
}

}  // namespace crestgate

#include "pipeline/quality/noise.h"

#include <cmath>

#include "pipeline/image/statistics.h"

namespace crestgate {

std::optional<double> noise_sd(const Frame& f, const Content& c, const ClipLevels& clip) {
  std::vector<float> residuals;
  const int width = c.x1 - c.x0, height = c.y1 - c.y0;
  if (width < 5 || height < 5) return {};
  // Every second pixel of large images: neighbouring residuals say little new.
  const int step = static_cast<double>(width) * height > 1e6 ? 2 : 1;
  for (int y = c.y0 + 1; y < c.y1 - 1; y += step)
    for (int x = c.x0 + 1; x < c.x1 - 1; x += step) {
      float sum = 0;
      bool usable = true;
      for (int j = -1; j <= 1; ++j)
        for (int i = -1; i <= 1; ++i) {
          const float value = f.at(x + i, y + j);
          usable &= !clip.clipped(value);
          sum += static_cast<float>((i == 0 ? -2 : 1) * (j == 0 ? -2 : 1)) * value;
        }
      if (usable) residuals.push_back(std::abs(sum));
    }
  if (residuals.size() < 1000) return {};
  // Stored values are whole numbers, so the median lies between two levels: interpolate, or low
  // noise would come out in steps.
  std::vector<float> copy = residuals;
  const double median = median_of(residuals);
  std::size_t below = 0, at = 0;
  for (float r : copy) below += r < median, at += r == median;
  const double n = static_cast<double>(copy.size());
  const double between =
      median - 0.5 + (n / 2 - static_cast<double>(below)) / static_cast<double>(at);
  constexpr double kMaskNorm = 6.0, kMedianToSd = 1.4826;
  return std::max(0.0, at > 1 ? between : median) / kMaskNorm * kMedianToSd;
}

}  // namespace crestgate

#include "pipeline/projection/thread_extent.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <complex>
#include <iterator>
#include <vector>

#include "config/units.h"
#include "pipeline/image/statistics.h"

namespace crestgate {
namespace {

constexpr double kWindowPitches = 3.0;
constexpr double kStepPitches = 0.125;
constexpr double kBeyond = 0.3;  // of the body's length, looked at beyond either end

constexpr double kColumns[] = {0.70, 0.78, 0.86, 0.94, 1.02, 1.10};  // crest radii
using Flank = std::array<std::complex<double>, std::size(kColumns)>;

/// Amplitude of the period around v in the columns of one flank, its phase counted from v = 0; NaN
/// where the frame ends.
Flank local_amplitude(const Frame& frame, const AxisFrame& axis, const Line& crest, double pitch_px,
                      double v_px, int side) {
  const int half = static_cast<int>(0.5 * kWindowPitches * pitch_px);
  Flank result;
  for (std::size_t c = 0; c < result.size(); ++c) {
    std::complex<double> sum = 0;
    double weight = 0;
    for (int r = -half; r <= half; ++r) {
      const double v = v_px + r;
      const double w = 0.5 * (1 + std::cos(kPi * r / (half + 1)));
      sum += w * interpolate(frame, axis.to_image(side * kColumns[c] * crest.at(v), v)) *
             std::polar(1.0, 2 * kPi * v / pitch_px);
      weight += w;
    }
    result[c] = sum / weight;
  }
  return result;
}

/// How much of `mean`'s pattern is in `here`, 1 = as much as in the mean: texture of the same
/// period has another phase.
double share_of(const Flank& mean, const Flank& here) {
  double same = 0, all = 0;
  for (std::size_t c = 0; c < mean.size(); ++c)
    same += std::real(here[c] * std::conj(mean[c])), all += std::norm(mean[c]);
  return same / all;
}

}  // namespace

std::optional<ThreadExtent> thread_extent(const Frame& frame, const ImplantShape& shape,
                                          const Line& crest, double pitch_px, double v0_px,
                                          double v1_px) {
  const double step = kStepPitches * pitch_px;
  const double low = -kBeyond * shape.length_px;
  const int n = static_cast<int>((1 + 2 * kBeyond) * shape.length_px / step);
  std::vector<double> sum(n, 0.0), flanks(n, 0.0);
  for (const int side : {-1, 1}) {
    if (!(side < 0 ? shape.minus_flank_in_view : shape.plus_flank_in_view)) continue;
    std::vector<Flank> local;
    Flank mean{};
    for (int i = 0; i < n; ++i) {
      const double v = low + i * step;
      local.push_back(local_amplitude(frame, shape.axis, crest, pitch_px, v, side));
      if (v >= v0_px && v <= v1_px && std::isfinite(std::abs(local[i][0] + local[i].back())))
        for (std::size_t c = 0; c < mean.size(); ++c) mean[c] += local[i][c];
    }
    std::vector<double> share(n), inside;
    for (int i = 0; i < n; ++i) {
      share[i] = share_of(mean, local[i]);
      const double v = low + i * step;
      if (v >= v0_px && v <= v1_px && std::isfinite(share[i])) inside.push_back(share[i]);
    }
    const double usual = median_of(inside);
    if (!(usual > 0)) continue;
    for (int i = 0; i < n; ++i)
      if (std::isfinite(share[i])) sum[i] += share[i] / usual, flanks[i] += 1;
  }
  // From the middle of the stretch outwards; dips shorter than a pitch are disturbances.
  const int middle = static_cast<int>((0.5 * (v0_px + v1_px) - low) / step);
  const int patience = static_cast<int>(1 / kStepPitches);
  const auto reach = [&](int direction) {
    int last = middle;
    for (int i = middle; i >= 0 && i < n && std::abs(i - last) <= patience; i += direction)
      if (sum[i] > 0.5 * flanks[i]) last = i;
    return low + last * step;
  };
  const ThreadExtent extent{reach(-1), reach(+1)};
  if (extent.end_px - extent.begin_px < kWindowPitches * pitch_px) return std::nullopt;
  return extent;
}

}  // namespace crestgate

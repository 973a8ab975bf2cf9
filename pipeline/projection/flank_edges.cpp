#include "pipeline/projection/flank_edges.h"

#include <algorithm>
#include <cmath>

#include "config/units.h"

namespace crestgate {
namespace {

bool in_flank(double x, int side, const ThreadMode& mode) {
  const double along = side * x;
  return along > (1 - mode.shape.depth) * mode.view.radius_scale - 0.08 && along < 1.12;
}

std::optional<double> side_ratio(const ThreadSignal& signal, const ThreadMode& mode, int side) {
  const double winding = 2 * kPi * signal.crest_radius_px / signal.pitch_px;
  const double lambda = std::atan(mode.starts / (winding * mode.view.radius_scale));
  const Harmonics best =
      thread_harmonics(-side * lambda, mode.starts, winding, mode.shape, mode.view);
  double seen = 0, possible = 0;
  int columns = 0;
  for (int c = 0; c < kThreadColumns; ++c) {
    const double x = thread_column_x(c);
    if (!in_flank(x, side, mode) || signal.noise[0][c] <= 0) continue;
    ++columns;
    const double gain = mode.gain[c] * (1 + mode.tilt * x);
    for (int k = 0; k < kHarmonics; ++k) {
      const double rank = (k + 1) * (k + 1);
      const double noise = std::pow(signal.noise[k][c], 2);
      seen += rank * std::max(0.0, std::norm(signal.amplitude[k][c]) - noise);
      possible += rank * gain * gain * std::norm(best[k][c]);
    }
  }
  if (columns < 3 || possible <= 0) return std::nullopt;
  return std::clamp(std::sqrt(seen / possible), 0.0, 1.0);
}

}  // namespace

LeftRight<std::optional<double>> flank_edge_ratio(const ThreadSignal& signal,
                                                  const ThreadMode& mode, const AxisFrame& axis) {
  const auto minus = side_ratio(signal, mode, -1), plus = side_ratio(signal, mode, +1);
  if (axis.minus_is_left()) return {minus, plus};
  return {plus, minus};
}

}  // namespace crestgate

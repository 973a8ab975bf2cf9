// Grey values along the axis, in columns across a threaded body, and their Fourier amplitudes.
#pragma once
#include <complex>
#include <optional>
#include <vector>

#include "pipeline/image/analysis.h"

namespace crestgate {

inline constexpr int kThreadColumns = 67;
inline constexpr double kWidestX = 1.18;  ///< outermost column, in crest radii
inline double thread_column_x(int i) {
  return -kWidestX + 2.0 * kWidestX * i / (kThreadColumns - 1);
}

struct Line {
  double at0 = 0, slope = 0;
  double at(double v) const { return at0 + slope * v; }
};

/// What the half-level edges say about a stretch of the body.
struct Silhouette {
  Line mean_radius;                        ///< px over v px, both flanks
  double crest_ratio = 1, root_ratio = 1;  ///< crest and root radius over the mean line
};

/// Empty if the flanks are lost there.
std::optional<Silhouette> silhouette(const ImplantShape& shape, double v0_px, double v1_px);

/// Columns at x = u / crest radius, each freed of its slow trend (polynomial of degree 6) and
/// windowed (Hann) for analysis. A column that leaves the frame anywhere is not usable.
class ThreadColumns {
 public:
  ThreadColumns(const Frame& frame, const AxisFrame& axis, const Line& crest, double v0_px,
                double v1_px);

  bool usable(int c) const { return !values_[c].empty(); }
  int rows() const { return rows_; }
  /// Windowed Fourier amplitude of column c at `frequency` cycles per px; phase exp(-2 pi i f z),
  /// z = -v.
  std::complex<double> amplitude(int c, double frequency) const;
  /// Share of column c at the body's highest grey level: clipped metal is flat there, at whatever
  /// level the clipping came.
  double flat_share(int c) const { return flat_share_[c]; }

 private:
  void find_clipping();

  double v0_;
  int rows_;
  std::vector<std::vector<double>> values_;
  std::vector<double> flat_share_;
  std::vector<double> window_;
};

}  // namespace crestgate

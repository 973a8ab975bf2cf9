#include "pipeline/crest/edge_view.h"

#include <algorithm>
#include <cmath>

namespace crestgate {
namespace {

constexpr float kMost = 4.0F;

float within(double x) {
  return std::isfinite(x) ? std::clamp(static_cast<float>(x), -kMost, kMost) : 0.0F;
}

/// How far the contour runs from the edge's tangent at the flank, on average, mm.
double roughness_mm(const FlankReading& r, double mm_per_px) {
  double sum = 0.0;
  for (int c = 0; c < r.strip.columns; ++c) {
    const double line = r.fit.v_px + r.fit.slope * r.strip.d_px(c);
    sum += std::abs(r.strip.v_px(0) + r.contour.row[c] - line);
  }
  return sum / std::max(1, r.strip.columns) * mm_per_px;
}

struct Samples {
  int from = 0, to = 0;
};

/// Samples of the strip that belong to a cell; to a cell below a pixel the nearest.
Samples samples_of(int index, double cell_px) {
  const int from = static_cast<int>(std::ceil(index * cell_px));
  const int to = static_cast<int>(std::ceil((index + 1) * cell_px));
  if (to > from) return {from, to};
  const int nearest = static_cast<int>((index + 0.5) * cell_px);
  return {nearest, nearest + 1};
}

/// NaN where nothing is in the picture.
double mean_of(const FlankStrip& strip, Samples columns, Samples rows) {
  double sum = 0.0;
  int n = 0;
  for (int row = rows.from; row < std::min(rows.to, strip.rows); ++row)
    for (int column = columns.from; column < std::min(columns.to, strip.columns); ++column)
      if (std::isfinite(strip.at(column, row))) sum += strip.at(column, row), ++n;
  return n > 0 ? sum / n : std::nan("");
}

}  // namespace

EdgeView view_edge(const Frame& frame, const ImplantShape& shape, int side, const FlankSetting& s,
                   const FlankReading& r) {
  const double mm = 1.0 / s.mm_per_px, cell = EdgeView::kCellMm * mm;
  const double top = r.fit.v_px - 0.5 * EdgeView::kRows * cell, inside = -EdgeView::kInsideMm * mm;
  const FlankStrip strip =
      sample_flank(frame, shape, side, inside, inside + EdgeView::kColumns * cell, top,
                   top + EdgeView::kRows * cell, s.pitch_px, s.blur_px);
  const double step = std::max(1e-6, r.contour.typical_step);
  EdgeView view;
  for (int y = 0; y < EdgeView::kRows; ++y)
    for (int x = 0; x < EdgeView::kColumns; ++x) {
      const double grey = mean_of(strip, samples_of(x, cell), samples_of(y, cell));
      view.grey.push_back(std::isfinite(grey) ? within((grey - r.levels.at) / step)
                                              : std::nanf(""));
    }
  return view;
}

EdgeSigns edge_signs(const ImplantShape& shape, const FlankSetting& s, const FlankReading& r) {
  const double mm = s.mm_per_px;
  const EdgeLevels& l = r.levels;
  const double rise = l.bone - l.before, whole = l.bone - s.darkest;
  const double step = r.contour.typical_step, contact_mm = (r.fit.v_px - s.platform.v_px) * mm;
  const double tangent = std::tan(radians(s.tilt_deg.value_or(0.0)));
  const double all[kEdgeSigns] = {
      r.fit.slope,
      2 * r.fit.rounding_px * mm,
      r.fit.unevenness,
      10 * r.fit.sd_px * mm,
      10 * r.grey_px * mm,
      10 * roughness_mm(r, mm),
      0.5 * std::log(std::max(1e-3, r.contour.step / std::max(1e-6, r.contour.noise))),
      r.contour.step / step,
      r.contour.rival ? 1.0 : 0.0,
      r.contour.bone_goes_on ? 1.0 : 0.0,
      (l.before - s.darkest) / whole,
      (l.at - l.before) / rise,
      (l.after - l.before) / rise,
      (l.further - l.before) / rise,
      5 * (l.after - l.bone) / (l.metal - l.bone),
      rise / (l.metal - l.before),
      whole / (l.metal - s.darkest),
      step / (l.metal - s.darkest),
      step / rise,
      5 * tangent,
      s.tilt_deg ? 0.0 : 1.0,
      5 * std::tan(radians(s.tilt_u_deg)),
      10 * s.blur_px * mm,
      20 * mm,
      0.5 * contact_mm,
      2 * contact_mm * contact_mm / (contact_mm * contact_mm + 1),
      r.fit.v_px / std::max(1.0, shape.length_px),
      0.5 * shape.radius_px * mm,
  };
  EdgeSigns signs{};
  for (int i = 0; i < kEdgeSigns; ++i) signs[i] = within(all[i]);
  return signs;
}

}  // namespace crestgate

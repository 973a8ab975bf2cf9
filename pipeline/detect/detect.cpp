#include "pipeline/detect/detect.h"

#include <algorithm>
#include <cmath>

#include "pipeline/detect/body.h"
#include "pipeline/detect/ends.h"
#include "pipeline/detect/evidence.h"
#include "pipeline/detect/ribbon.h"
#include "pipeline/detect/survey.h"

namespace crestgate {
namespace {

RibbonSearch search_for(const Frame& frame, const Acquisition& acquisition) {
  RibbonSearch search;
  const double size = std::sqrt(static_cast<double>(frame.rows) * frame.columns);
  search.least_width_px = 0.05 * size;
  search.most_width_px = 0.32 * size;
  if (acquisition.spacing.row_mm && *acquisition.spacing.row_mm > 0) {
    search.least_width_px = std::max(0.02 * size, 2.0 / *acquisition.spacing.row_mm);
    search.most_width_px = std::min(0.6 * size, 8.0 / *acquisition.spacing.row_mm);
  }
  return search;
}

/// The reported value: edges from the platform to the apex in v, one sample per pixel.
ImplantShape to_shape(const Frame& frame, const Field& field, const Body& body, const Ends& ends) {
  ImplantShape s;
  const AxisFrame& axis = body.trace.axis;
  const bool flip = ends.coronal_sense > 0;
  s.axis.origin = axis.to_image(0.0, ends.platform_v_px);
  s.axis.apical = flip ? Point{-axis.apical.x, -axis.apical.y} : axis.apical;
  s.length_px = std::fabs(ends.apex_v_px - ends.platform_v_px);
  s.radius_px = body.radius_px;
  s.platform_in_view = ends.platform_in_view;
  s.apex_in_view = ends.apex_in_view;
  s.coronal_known = ends.coronal_score >= 0.4;
  const FlankTrace fine = trace_flanks(frame, s.axis, s.radius_px, 0.0, s.length_px, 1.0);
  s.minus_edge_px = fine.minus_px;
  s.plus_edge_px = fine.plus_px;
  const double middle = 0.5 * s.length_px;
  s.minus_flank_in_view = field.contains(s.axis.to_image(-s.radius_px, middle), 1.0);
  s.plus_flank_in_view = field.contains(s.axis.to_image(s.radius_px, middle), 1.0);
  return s;
}

/// Two findings on the same metal: axes close to each other over a common stretch.
bool overlap(const ImplantShape& a, const ImplantShape& b) {
  const Point p = a.axis.from_image(b.axis.to_image(0.0, 0.5 * b.length_px));
  if (p.y < -0.3 * b.length_px || p.y > a.length_px + 0.3 * b.length_px) return false;
  return std::fabs(p.x) < 0.8 * std::max(a.radius_px, b.radius_px);
}

}  // namespace

std::vector<ImplantShape> detect_implants(const Frame& frame, const Acquisition& acquisition) {
  std::vector<ImplantShape> found;
  if (frame.empty() || frame.rows < 64 || frame.columns < 64) return found;
  const Survey survey = make_survey(frame);
  if (!(survey.high > survey.low)) return found;
  for (const Ribbon& ribbon : find_ribbons(survey, search_for(frame, acquisition))) {
    const Body body = work_out_body(frame, survey.field, ribbon.axis, ribbon.half_width_px,
                                    ribbon.half_length_px, 40.0);
    if (body.trace.size() == 0) continue;
    const Ends ends = find_ends(body, acquisition.jaw);
    const double confidence = weigh(gather_evidence(body, ends, survey, acquisition));
    if (confidence < 0.1) continue;
    ImplantShape shape = to_shape(frame, survey.field, body, ends);
    shape.confidence = confidence;
    found.push_back(std::move(shape));
  }
  std::sort(found.begin(), found.end(), [](const ImplantShape& a, const ImplantShape& b) {
    return a.confidence > b.confidence;
  });
  std::vector<ImplantShape> kept;
  for (ImplantShape& shape : found)
    if (std::none_of(kept.begin(), kept.end(),
                     [&](const ImplantShape& k) { return overlap(k, shape) || overlap(shape, k); }))
      kept.push_back(std::move(shape));
  std::sort(kept.begin(), kept.end(), [](const ImplantShape& a, const ImplantShape& b) {
    return a.axis.origin.x < b.axis.origin.x;
  });
  return kept;
}

}  // namespace crestgate

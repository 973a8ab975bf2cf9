#include "pipeline/detect/detect.h"

#include <algorithm>
#include <cmath>
#include <optional>

#include "pipeline/detect/body.h"
#include "pipeline/detect/ends.h"
#include "pipeline/detect/evidence.h"
#include "pipeline/detect/ribbon.h"
#include "pipeline/detect/survey.h"

namespace crestgate {
namespace {

constexpr double kSamplesPerRadius = 40.0;
constexpr double kLeastConfidence = 0.1;  // below: not even a possible implant

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

struct Candidate {
  Body body;
  Ends ends;
  double confidence = 0.0;
  double rank = 0.0;  ///< confidence, and among equals the better serration
};

std::optional<Candidate> work_out(const Frame& frame, const Survey& survey,
                                  const Acquisition& acquisition, const Ribbon& ribbon) {
  Candidate c;
  c.body = work_out_body(frame, survey.field, ribbon.axis, ribbon.half_width_px,
                         ribbon.half_length_px, kSamplesPerRadius);
  if (c.body.trace.size() == 0) return std::nullopt;
  c.ends = find_ends(c.body, acquisition.jaw);
  c.confidence = weigh(gather_evidence(c.body, c.ends, survey, acquisition));
  if (c.confidence < kLeastConfidence) return std::nullopt;
  // Once more without what is mounted on top and without the rounding of the apex.
  const double sense = c.ends.coronal_sense, r = c.body.radius_px;
  Body again = refit_body(frame, survey.field, c.body, c.ends.platform_v_px - 0.1 * sense * r,
                          c.ends.apex_v_px + 0.3 * sense * r, kSamplesPerRadius);
  if (again.trace.size() > 0) {
    c.body = std::move(again);
    c.ends = find_ends(c.body, acquisition.jaw);
  }
  const Evidence evidence = gather_evidence(c.body, c.ends, survey, acquisition);
  c.confidence = weigh(evidence);
  if (c.confidence < kLeastConfidence) return std::nullopt;
  c.rank = c.confidence + 0.2 * evidence.serration;
  return c;
}

/// Two findings on the same metal: axes close to each other over a common stretch.
bool overlap(const ImplantShape& a, const ImplantShape& b) {
  const Point p = a.axis.from_image(b.axis.to_image(0.0, 0.5 * b.length_px));
  if (p.y < -0.3 * b.length_px || p.y > a.length_px + 0.3 * b.length_px) return false;
  return std::fabs(p.x) < 0.8 * std::max(a.radius_px, b.radius_px);
}

}  // namespace

std::vector<ImplantShape> detect_implants(const Frame& frame, const Acquisition& acquisition) {
  std::vector<ImplantShape> kept;
  std::vector<Candidate> found;
  if (frame.empty() || frame.rows < 64 || frame.columns < 64) return kept;
  const Survey survey = make_survey(frame);
  if (!(survey.high > survey.low)) return kept;
  for (const Ribbon& ribbon : find_ribbons(survey, search_for(frame, acquisition))) {
    std::optional<Candidate> c = work_out(frame, survey, acquisition, ribbon);
    if (c) found.push_back(std::move(*c));
  }
  std::sort(found.begin(), found.end(),
            [](const Candidate& a, const Candidate& b) { return a.rank > b.rank; });
  for (const Candidate& c : found) {
    ImplantShape shape = to_shape(frame, survey.field, c.body, c.ends);
    shape.confidence = c.confidence;
    if (std::none_of(kept.begin(), kept.end(),
                     [&](const ImplantShape& k) { return overlap(k, shape) || overlap(shape, k); }))
      kept.push_back(std::move(shape));
  }
  std::sort(kept.begin(), kept.end(), [](const ImplantShape& a, const ImplantShape& b) {
    return a.axis.origin.x < b.axis.origin.x;
  });
  return kept;
}

}  // namespace crestgate

#include "pipeline/detect/detect.h"

#include <algorithm>
#include <cmath>

#include "pipeline/detect/candidate.h"
#include "pipeline/detect/signs.h"
#include "pipeline/image/statistics.h"

namespace crestgate {
namespace {

// More likely not an implant than one: saying 'possible implant' of every tooth helps nobody.
constexpr double kLeastReported = 0.45;
constexpr double kSureInNegative = 0.9;  // confidence: the header is doubted for a sure one only
constexpr double kInBone = 0.1;          // level beside it; between two dark things it is 0
/// Of the picture may be brighter than a body that the header is doubted for: metal is brighter
/// than all but metal, bone between two posts is not. (Of 53 implants in pictures of ours up to
/// 0.31.)
constexpr double kMostBrighter = 1.0 / 3;
constexpr double kSharedThread = 0.5;  // of the fainter flank's variance

constexpr float kClipped = 0.995F;
constexpr double kBurntOut = 0.75;  // middle of the upper greys, of the picture's range

/// The reported value: edges from the platform to the apex in v, one sample per pixel.
ImplantShape to_shape(const Frame& frame, const Field& field, const Body& body, const Ends& ends) {
  ImplantShape s;
  const AxisFrame& axis = body.trace.axis;
  const bool flip = ends.coronal_sense > 0;
  s.axis.origin = axis.to_image(0.0, ends.platform_v_px);
  s.axis.apical = flip ? Point{-axis.apical.x, -axis.apical.y} : axis.apical;
  s.length_px = std::fabs(ends.apex_v_px - ends.platform_v_px);
  s.radius_px = body.radius_px;
  s.platform_in_view = ends.platform_in_view && field.contains(s.platform_px());
  s.apex_in_view = ends.apex_in_view && field.contains(s.apex_px());
  s.coronal_known = ends.coronal_score >= kSureEnd;
  const int lone_side = flip ? -body.trace.lone_side : body.trace.lone_side;
  trace_silhouette(frame, field, lone_side, &s);
  const double middle = 0.5 * s.length_px;
  s.minus_flank_in_view =
      lone_side <= 0 && field.contains(s.axis.to_image(-s.radius_px, middle), 1.0);
  s.plus_flank_in_view =
      lone_side >= 0 && field.contains(s.axis.to_image(s.radius_px, middle), 1.0);
  return s;
}

struct Found {
  Survey survey;
  std::vector<Candidate> candidates;
};

Found find(const Frame& frame, const Acquisition& acquisition) {
  Found found;
  if (frame.empty() || frame.rows < 64 || frame.columns < 64) return found;
  found.survey = make_survey(frame);
  if (!(found.survey.high > found.survey.low)) return found;
  found.candidates = find_candidates(frame, found.survey, acquisition);
  return found;
}

std::vector<ImplantShape> to_shapes(const Frame& frame, const Found& found) {
  std::vector<ImplantShape> shapes;
  for (const Candidate& c : found.candidates) {
    if (c.confidence < kLeastReported) continue;
    shapes.push_back(to_shape(frame, found.survey.field, c.body, c.ends));
    shapes.back().confidence = c.confidence;
  }
  std::sort(shapes.begin(), shapes.end(), [](const ImplantShape& a, const ImplantShape& b) {
    return a.axis.origin.x < b.axis.origin.x;
  });
  return shapes;
}

/// Bone exposed nearly to white leaves metal a sliver of the range: the same picture with the upper
/// greys spread by a power, as a reader would turn the window. Empty if it is not like that.
Frame upper_greys_spread(const Frame& frame, const Survey& survey) {
  std::vector<double> upper;
  for (const float v : survey.values)
    if (v > 0.5F && v < kClipped) upper.push_back(v);
  const double middle = median_of(upper);
  if (4 * upper.size() < survey.values.size() || !(middle > kBurntOut)) return {};
  Frame spread = frame;
  const double power = std::log(0.5) / std::log(middle), range = survey.high - survey.low;
  for (float& v : spread.values)
    v = static_cast<float>(std::pow(std::clamp((v - survey.low) / range, 0.0, 1.05), power));
  return spread;
}

double share_brighter(const Survey& survey, double level) {
  double brighter = 0.0, seen = 0.0;
  for (const float v : survey.values)
    if (std::isfinite(v)) brighter += v > level, ++seen;
  return brighter / seen;
}

/// Both flanks of one in view.
bool whole(const Candidate& c) { return c.body.trace.lone_side == 0; }

}  // namespace

std::vector<ImplantShape> detect_implants(const Frame& frame, const Acquisition& acquisition) {
  return to_shapes(frame, find(frame, acquisition));
}

EitherWay detect_either_way(const Frame& frame, const Acquisition& acquisition,
                            double least_confidence) {
  const Found found = find(frame, acquisition);
  double best = least_confidence;
  for (const Candidate& c : found.candidates) {
    if (c.confidence >= least_confidence && whole(c)) return {to_shapes(frame, found), false};
    best = std::max(best, c.confidence);
  }
  const Frame spread = upper_greys_spread(frame, found.survey);
  const Found in_spread = find(spread, acquisition);
  for (const Candidate& c : in_spread.candidates)
    if (c.confidence > best && whole(c) && thread_of(c.evidence) > kSureThread)
      return {to_shapes(spread, in_spread), false};
  // Beside a dark implant the bone is a bright area with its thread on one flank: one flank proves
  // nothing, nor does an even band between two dark things.
  best = std::max(best, kSureInNegative);
  const Frame turned = negative(frame);
  const Found in_negative = find(turned, acquisition);
  for (const Candidate& c : in_negative.candidates)
    if (c.confidence > best && whole(c) && thread_of(c.evidence) > kSureThread &&
        c.evidence.silhouette.weaker > kSharedThread && c.evidence.bed > kInBone &&
        share_brighter(in_negative.survey, c.evidence.level) < kMostBrighter)
      return {to_shapes(turned, in_negative), true};
  return {to_shapes(frame, found), false};
}

}  // namespace crestgate

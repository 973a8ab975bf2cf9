#include "pipeline/detect/candidate.h"

#include <algorithm>
#include <cmath>
#include <optional>

#include "pipeline/detect/likeness.h"
#include "pipeline/detect/portrait.h"
#include "pipeline/detect/ribbon.h"
#include "pipeline/detect/signs.h"

namespace crestgate {
namespace {

constexpr double kSamplesPerRadius = 40.0;
constexpr double kCoarseSize = 140.0;  // survey px
constexpr int kMostRibbons = 18;
constexpr double kCrossing = 0.9;    // cosine of the least angle between crossing implants
constexpr double kLongRibbon = 1.5;  // length over width
constexpr double kSameLine = 0.96;   // cosine
constexpr double kManyPitches = 10.0, kLongBody = 2.0;  // beyond: no better a reading
constexpr double kLeastSure = 0.6;     // below: perhaps only a part of it is the implant
constexpr double kHalf = 0.55;         // of the metal's length
constexpr double kLikelyThread = 0.6;  // of a half
constexpr double kWorthRefining = 0.03;
constexpr double kLeastConfidence = 0.1;  // below: not even a possible implant

RibbonSearch search_for(const Frame& frame, const Acquisition& acquisition) {
  RibbonSearch search;
  const double size = std::sqrt(static_cast<double>(frame.rows) * frame.columns);
  search.least_width_px = 0.05 * size;
  search.most_width_px = 0.32 * size;
  search.typical_width_px = 0.17 * size;
  if (acquisition.spacing.row_mm && *acquisition.spacing.row_mm > 0) {
    search.least_width_px = std::max(0.02 * size, 2.0 / *acquisition.spacing.row_mm);
    search.typical_width_px = std::min(0.5 * size, 4.1 / *acquisition.spacing.row_mm);
    search.most_width_px = std::min(0.6 * size, 8.0 / *acquisition.spacing.row_mm);
  }
  return search;
}

/// A long ribbon may be an implant and the part on it: then each half leads to its own body.
std::vector<Ribbon> with_halves(const Ribbon& ribbon) {
  std::vector<Ribbon> parts{ribbon};
  if (ribbon.lone_side != 0 || ribbon.half_length_px < kLongRibbon * ribbon.half_width_px)
    return parts;
  for (const int end : {-1, 1}) {
    Ribbon half = ribbon;
    half.half_length_px = 0.5 * ribbon.half_length_px;
    half.axis.origin = ribbon.axis.to_image(0.0, 0.5 * end * ribbon.half_length_px);
    parts.push_back(half);
  }
  return parts;
}

Candidate judged(Body body, const Frame& frame, const Survey& survey,
                 const Acquisition& acquisition) {
  Candidate c;
  c.body = std::move(body);
  c.ends = find_ends(c.body, acquisition.jaw);
  c.evidence = gather_evidence(c.body, c.ends, survey, acquisition);
  if (const double allowed = allowance(c.evidence); allowed > 0.0)
    c.confidence = allowed * likeness(portray(frame, survey, c.body, c.ends), signs_of(c.evidence));
  const PeriodEvidence& thread = c.evidence.silhouette;
  c.rank = c.confidence + 0.2 * thread.strength * std::min(1.0, thread.pitches / kManyPitches) +
           0.1 * std::min(1.0, c.evidence.length_in_diameters / kLongBody);
  return c;
}

/// The same metal, read between two places only.
std::optional<Candidate> refitted(const Frame& frame, const Survey& survey,
                                  const Acquisition& acquisition, const Body& body,
                                  double v_from_px, double v_to_px) {
  Body part = refit_body(frame, survey.field, body, v_from_px, v_to_px, kSamplesPerRadius);
  if (part.trace.size() == 0) return std::nullopt;
  return judged(std::move(part), frame, survey, acquisition);
}

/// The likelier of the threaded halves of a body: a smooth part as wide as the implant hides where
/// one ends.
std::optional<Candidate> threaded_half(const Frame& frame, const Survey& survey,
                                       const Acquisition& acquisition, const Body& body) {
  std::optional<Candidate> best;
  if (body.trace.lone_side != 0) return best;
  const double low = body.low.tip_v_px, high = body.high.tip_v_px;
  if (high - low < 2 * kLongRibbon * body.radius_px) return best;
  for (const double from : {0.0, 1.0 - kHalf}) {
    auto half = refitted(frame, survey, acquisition, body, low + from * (high - low),
                         low + (from + kHalf) * (high - low));
    if (half && thread_of(half->evidence) > kLikelyThread && (!best || half->rank > best->rank))
      best = std::move(half);
  }
  return best;
}

std::optional<Candidate> work_out(const Frame& frame, const Survey& survey,
                                  const Acquisition& acquisition, const Ribbon& ribbon,
                                  double least_confidence) {
  Body body = work_out_body(frame, survey.field, ribbon.axis, ribbon.half_width_px,
                            ribbon.half_length_px, kSamplesPerRadius, ribbon.lone_side);
  if (body.trace.size() == 0) return std::nullopt;
  Candidate best = judged(std::move(body), frame, survey, acquisition);
  if (best.confidence < kLeastSure)
    if (auto half = threaded_half(frame, survey, acquisition, best.body);
        half && half->rank > best.rank)
      best = std::move(*half);
  if (best.confidence < std::min(kWorthRefining, least_confidence)) return std::nullopt;
  // Once more without what is mounted on top and without the rounding of the apex; a misread end
  // must not cost the implant.
  const double sense = best.ends.coronal_sense, r = best.body.radius_px;
  auto again =
      refitted(frame, survey, acquisition, best.body, best.ends.platform_v_px - 0.1 * sense * r,
               best.ends.apex_v_px + 0.3 * sense * r);
  if (again && again->rank > best.rank) best = std::move(*again);
  if (best.confidence < least_confidence) return std::nullopt;
  return best;
}

/// Two implants of one mouth are of like metal and threaded alike: beside a sure thread, a body
/// without one must at least be as bright (a root is as even, and darker).
void compare_metal(std::vector<Candidate>* found) {
  double level = 0.0;
  for (const Candidate& c : *found)
    if (c.confidence > 0.8 && thread_of(c.evidence) > kSureThread)
      level = std::max(level, c.evidence.level);
  for (Candidate& c : *found) {
    const double share = c.evidence.level / std::max(level, 1e-9);
    if (level <= 0.0 || share >= 1.0) continue;
    const double loss = 0.5 * std::min(1.0, (1.0 - share) / 0.1) * (1.0 - thread_of(c.evidence));
    c.confidence -= loss * c.confidence;
    c.rank -= loss * c.rank;
  }
}

/// Two readings of the same metal: one's middle lies on the other. Two implants may cross in the
/// picture, if each shows its own thread.
bool overlap(const Candidate& a, const Candidate& b) {
  const FlankTrace &ta = a.body.trace, &tb = b.body.trace;
  const Point da = ta.axis.apical, db = tb.axis.apical;
  if (std::fabs(da.x * db.x + da.y * db.y) < kCrossing &&
      std::min(thread_of(a.evidence), thread_of(b.evidence)) > kSureThread)
    return false;
  const double middle = 0.5 * (b.ends.platform_v_px + b.ends.apex_v_px);
  const Point p = ta.axis.from_image(tb.axis.to_image(0.0, middle));
  const double low = std::min(a.ends.platform_v_px, a.ends.apex_v_px);
  const double high = std::max(a.ends.platform_v_px, a.ends.apex_v_px);
  const double margin = 0.3 * std::fabs(b.ends.platform_v_px - b.ends.apex_v_px);
  if (p.y < low - margin || p.y > high + margin) return false;
  return std::fabs(p.x) < 0.8 * std::max(a.body.radius_px, b.body.radius_px);
}

/// `b` goes on where `a` ends: the part mounted on the implant, or a second reading of its length.
bool continues(const Candidate& a, const Candidate& b) {
  const FlankTrace &ta = a.body.trace, &tb = b.body.trace;
  const Point da = ta.axis.apical, db = tb.axis.apical;
  if (std::fabs(da.x * db.x + da.y * db.y) < kSameLine) return false;
  const double radius = std::max(a.body.radius_px, b.body.radius_px);
  double nearest = 1e30, aside = 0.0;
  for (const double v : {b.ends.platform_v_px, b.ends.apex_v_px}) {
    const Point p = ta.axis.from_image(tb.axis.to_image(0.0, v));
    const double low = std::min(a.ends.platform_v_px, a.ends.apex_v_px);
    const double high = std::max(a.ends.platform_v_px, a.ends.apex_v_px);
    const double away = std::max({0.0, low - p.y, p.y - high});
    if (away < nearest) nearest = away, aside = std::fabs(p.x);
  }
  return nearest < 1.5 * radius && aside < 0.7 * radius;
}

}  // namespace

std::vector<Candidate> all_readings(const Frame& frame, const Survey& survey,
                                    const Acquisition& acquisition, double least_confidence) {
  std::vector<Candidate> found;
  const RibbonSearch search = search_for(frame, acquisition);
  std::vector<Ribbon> ribbons = find_ribbons(survey, search);
  // Once more at half the resolution, where coarse threads are still straight edges.
  const Survey coarse = make_survey(frame, kCoarseSize);
  const std::vector<Ribbon> more = find_ribbons(coarse, search);
  ribbons.insert(ribbons.end(), more.begin(), more.end());
  for (const Ribbon& ribbon : distinct_ribbons(std::move(ribbons), kMostRibbons))
    for (const Ribbon& part : with_halves(ribbon))
      if (auto c = work_out(frame, survey, acquisition, part, least_confidence))
        found.push_back(std::move(*c));
  return found;
}

std::vector<Candidate> find_candidates(const Frame& frame, const Survey& survey,
                                       const Acquisition& acquisition) {
  std::vector<Candidate> found = all_readings(frame, survey, acquisition, kLeastConfidence), kept;
  compare_metal(&found);
  std::sort(found.begin(), found.end(),
            [](const Candidate& a, const Candidate& b) { return a.rank > b.rank; });
  for (Candidate& c : found)
    if (std::none_of(kept.begin(), kept.end(), [&](const Candidate& k) {
          return overlap(k, c) || overlap(c, k) || continues(k, c);
        }))
      kept.push_back(std::move(c));
  return kept;
}

}  // namespace crestgate

#include "node/report/visit.h"

#include <cmath>

namespace crestgate {

int verdict_rank(Verdict verdict) {
  switch (verdict) {
    case Verdict::usable:
      return 0;
    case Verdict::usable_with_limits:
    case Verdict::repeat_if_justified:
      return 1;
    case Verdict::not_assessable:
      return 2;
  }
  return 2;
}

Exposure summarise_exposure(const Analysis& analysis) {
  Exposure exposure;
  exposure.verdict = verdict_rank(analysis.verdict);
  for (const Implant& implant : analysis.implants) {
    if (implant.possible_only) continue;
    const ImplantShape& shape = implant.shape;
    exposure.seating_view |=
        shape.platform_in_view && implant.joint.state != JointState::not_assessable;
    exposure.placement_view |= shape.platform_in_view && shape.apex_in_view &&
                               shape.minus_flank_in_view && shape.plus_flank_in_view;
    const std::optional<Quantity>& angle = implant.projection.vertical_angle_deg;
    if (!angle || !std::isfinite(angle->value) || !std::isfinite(angle->expanded_uncertainty)) {
      continue;
    }
    if (!exposure.angle_deg || std::abs(angle->value) > exposure.angle_deg->value) {
      exposure.angle_deg = Quantity{std::abs(angle->value), angle->expanded_uncertainty};
    }
  }
  return exposure;
}

const char* repeat_result_name(RepeatResult result) {
  switch (result) {
    case RepeatResult::better:
      return "better";
    case RepeatResult::same:
      return "same";
    case RepeatResult::worse:
      return "worse";
  }
  return "same";
}

RepeatComparison compare_repeat(const PastExposures& past, const Exposure& now) {
  RepeatComparison repeat;
  repeat.attempt = past.count + 1;
  repeat.before = past.last;
  repeat.now = now;
  double turned = 0;  // the change of the angle where it is more than its uncertainty
  if (past.last.angle_deg && now.angle_deg) {
    const double change = now.angle_deg->value - past.last.angle_deg->value;
    const double u =
        std::hypot(now.angle_deg->expanded_uncertainty, past.last.angle_deg->expanded_uncertainty);
    repeat.angle_change_deg = Quantity{change, u};
    if (std::abs(change) > u) turned = change;
  }
  const double worse = now.verdict != past.last.verdict ? now.verdict - past.last.verdict : turned;
  repeat.result = worse < 0   ? RepeatResult::better
                  : worse > 0 ? RepeatResult::worse
                              : RepeatResult::same;
  return repeat;
}

namespace {

std::string angle_words(const Exposure& exposure, const Language& text) {
  if (!exposure.angle_deg) return text.get("value.not_assessable");
  return text.get("value.plus_minus", {{"value", fixed(exposure.angle_deg->value, 1)},
                                       {"u", fixed_up(exposure.angle_deg->expanded_uncertainty, 1)},
                                       {"unit", "°"}});
}

std::string rank_words(int rank, const Language& text) {
  return text.get(rank <= 0   ? "repeat.rank_usable"
                  : rank == 1 ? "repeat.rank_limits"
                              : "repeat.rank_not_assessable");
}

}  // namespace

std::string repeat_text(const RepeatComparison& repeat, const Language& text) {
  return text.get(
      "repeat.line",
      {{"n", std::to_string(repeat.attempt)},
       {"before", std::to_string(repeat.attempt - 1)},
       {"result", text.get(std::string("repeat_result.") + repeat_result_name(repeat.result))},
       {"verdict", rank_words(repeat.now.verdict, text)},
       {"verdict_before", rank_words(repeat.before.verdict, text)},
       {"angle", angle_words(repeat.now, text)},
       {"angle_before", angle_words(repeat.before, text)}});
}

std::string visit_text(const VisitViews& views, const Language& text) {
  if (views.seating && views.placement) return {};
  if (views.seating) return text.get("visit.no_placement");
  return text.get(views.placement ? "visit.no_seating" : "visit.neither");
}

}  // namespace crestgate

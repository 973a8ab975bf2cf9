#include "pipeline/followup/crest_change.h"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "pipeline/crest/crest.h"

namespace crestgate {
namespace {

constexpr double kUsualAngleDeg = 5.0;  // standard uncertainty of an angle not read
// Gamma 0.8 or 1.25 moves a middle grey by this share of the range: |0.5^0.8 - 0.5|.
constexpr double kGammaStep = 0.074;
// Bounds of the hidden turn (ours: what a holder or jig leaves; more is another view).
constexpr double kLeastTurnDeg = 1.0, kMostTurnDeg = 15.0;
// An onset is fitted over this length of bone along the axis (pipeline/crest): edges closer to each
// other than that share trabeculae, and with them the error these make.
constexpr double kSharedBoneMm = 0.7;

double term(const CrestLevel& level, const std::string& name) {
  for (const auto& c : level.budget)
    if (c.name == name) return c.standard_uncertainty_mm;
  return 0.0;
}

struct Angles {
  double tan_difference = 0.0, tan_u = 0.0;
};

/// Difference of tan(theta) with its standard uncertainty; signs unresolved: up to the sum.
Angles angles_of(const ProjectionMeasures& now, const ProjectionMeasures& before) {
  const auto read = [](const ProjectionMeasures& p) {
    return p.vertical_angle_deg ? *p.vertical_angle_deg : Quantity{0.0, 2 * kUsualAngleDeg};
  };
  const Quantity a = read(now), b = read(before);
  const auto tangent = [](double deg) { return std::tan(radians(std::clamp(deg, -40.0, 40.0))); };
  Angles r;
  r.tan_u =
      std::hypot(tangent(0.5 * a.expanded_uncertainty), tangent(0.5 * b.expanded_uncertainty));
  const bool signs = (now.direction_resolved || !now.vertical_angle_deg) &&
                     (before.direction_resolved || !before.vertical_angle_deg);
  r.tan_difference = signs ? std::abs(tangent(a.value) - tangent(b.value))
                           : std::abs(tangent(a.value)) + std::abs(tangent(b.value));
  return r;
}

/// Standard uncertainty of the horizontal turn between two exposures, which shows nowhere: a third
/// draw of what the turns that do show were drawn from. Few draws tell their spread badly: half of
/// Student's t for 95 % (GUM table G.2) instead of 1, so that k = 2 covers.
double hidden_turn_deg(const std::vector<double>& seen_deg) {
  if (seen_deg.empty()) return kUsualAngleDeg;
  double square = 0.0;
  for (const double turn : seen_deg) square += turn * turn;
  const double spread = std::sqrt(square / static_cast<double>(seen_deg.size()));
  const double t = seen_deg.size() == 1 ? 12.71 : 4.30;
  return std::clamp(0.5 * t * spread, kLeastTurnDeg, kMostTurnDeg);
}

Frame changed_tone(const Frame& frame, double gain, double offset, double gamma) {
  Frame out = frame;
  const double low = frame.lowest_storable, range = frame.highest_storable - low;
  for (float& g : out.values) {
    const double x = std::clamp(gain * ((g - low) / range - 0.5) + 0.5 + offset, 0.0, 1.0);
    g = static_cast<float>(low + range * std::pow(x, gamma));
  }
  return out;
}

/// Largest move of either side under two tones.
struct Moves {
  std::optional<double> brightness, contrast, gamma;
};

class Sensitivity {
 public:
  Sensitivity(const PairInput& in, const Rules& rules) : in_(in), rules_(rules) {
    plain_ = measure(in.harmonised);
    for (const double s : {-1.0, 1.0}) {
      bright_.push_back(measure(changed_tone(in.harmonised, 1.0, 0.1 * s, 1.0)));
      contrast_.push_back(measure(changed_tone(in.harmonised, 1.0 + 0.1 * s, 0.0, 1.0)));
      gamma_.push_back(measure(changed_tone(in.harmonised, 1.0, 0.0, s < 0 ? 0.8 : 1.25)));
    }
  }
  const LeftRight<CrestLevel>& plain() const { return plain_; }
  Moves moves(bool left) const {
    return {largest(bright_, left), largest(contrast_, left), largest(gamma_, left)};
  }

 private:
  using Levels = LeftRight<CrestLevel>;
  Levels measure(const Frame& frame) const {
    return measure_crest(frame, in_.now.shape, in_.now.projection, in_.quality_now, in_.scale_now,
                         rules_);
  }
  std::optional<double> largest(const std::vector<Levels>& tried, bool left) const {
    const auto& from = left ? plain_.left : plain_.right;
    std::optional<double> most;
    for (const Levels& t : tried) {
      const auto& to = left ? t.left : t.right;
      if (from.contact_px && to.contact_px)
        most = std::max(most.value_or(0.0), std::abs(*to.contact_px - *from.contact_px) *
                                                in_.scale_now.mm_per_px->value);
    }
    return most;
  }
  const PairInput& in_;
  const Rules& rules_;
  Levels plain_;
  std::vector<Levels> bright_, contrast_, gamma_;
};

CrestChange change_of(const CrestLevel& now, const CrestLevel& before, const Moves& moves,
                      const PairInput& in, const Rules& rules) {
  CrestChange c;
  c.level_mm = now.level_mm;
  c.baseline_level_mm = before.level_mm;
  c.brightness_mm = moves.brightness, c.contrast_mm = moves.contrast, c.gamma_mm = moves.gamma;
  if (!before.contact_px || !now.contact_px) {
    const bool first = !before.contact_px;
    const std::string& why = first ? before.reason : now.reason;
    c.reason = rules.words.get(first ? "pair.level_before" : "pair.level_now",
                               {{"why", rules.words.get(why)}});
    return c;
  }
  const double mm = in.scale_now.mm_per_px->value;
  const Registration& r = in.registration;
  const double expected_px = r.to_follow_up(0.0, *before.contact_px).y;
  c.change_mm = (*now.contact_px - expected_px) * mm;
  const double relative_u = 0.5 * in.scale_now.mm_per_px->expanded_uncertainty / mm;
  const Angles angles = angles_of(in.now.projection, in.before.projection);
  const double b = rules.follow_up.crest_half_width_mm;
  // The crest seen lies anywhere on a ridge that reaches 2b to either side: rectangular (GUM
  // 4.3.7). Where both images see the same place, only the difference of the angles moves it.
  // Horizontally the edge's slope counts, as in the level's own budget.
  const double along = 2 * b / std::sqrt(3.0) * std::hypot(angles.tan_difference, angles.tan_u);
  const double slope = 0.5 * (now.edge_slope.value_or(0.0) + before.edge_slope.value_or(0.0));
  const double across = 2 * b * slope * std::tan(radians(hidden_turn_deg(in.seen_turns_deg)));
  // Not read under either gamma: as far as gamma moved the level's own reading.
  const double bent_mm = moves.gamma.value_or(std::sqrt(3.0) * term(now, "grey values"));
  const double grey = bent_mm * in.tones.rest / kGammaStep;
  const auto difference = [&](const char* name, double correlation) {
    const double x = term(before, name), y = term(now, name);
    return std::sqrt(std::max(0.0, x * x + y * y - 2 * correlation * x * y));  // GUM formula 16
  };
  const double shared_bone = std::max(0.0, 1 - std::abs(*c.change_mm) / kSharedBoneMm);
  c.budget = {
      {"localisation, baseline", term(before, "localisation")},
      {"localisation, this image", term(now, "localisation")},
      {"onset model", difference("onset model", 1.0)},
      {"uneven bone", difference("uneven bone", shared_bone)},
      {"flank line", difference("flank line", 1.0)},
      {"like edges", difference("like edges", 1.0)},
      {"registration", mm * std::hypot(r.v_sd_px, r.scale_v_sd * std::abs(*before.contact_px))},
      {"scale", std::abs(*c.change_mm) * relative_u},
      {"projection", std::hypot(along, across)},
      {"grey values", grey},
  };
  double sum = 0.0;
  for (const auto& part : c.budget)
    sum += part.standard_uncertainty_mm * part.standard_uncertainty_mm;
  c.expanded_uncertainty_mm = 2 * std::sqrt(sum);
  c.state = CrestChange::State::within_error;
  return c;
}

}  // namespace

LeftRight<CrestChange> crest_changes(const PairInput& in, const Rules& rules) {
  const Sensitivity tried(in, rules);
  LeftRight<CrestChange> result;
  for (const bool left : {true, false}) {
    // The same flank has the same sign of u in both images, whatever their turn.
    const bool minus = left == in.now.shape.axis.minus_is_left();
    const bool before_left = minus == in.before.shape.axis.minus_is_left();
    const CrestLevel& before = before_left ? in.before.crest.left : in.before.crest.right;
    const CrestLevel& now = left ? tried.plain().left : tried.plain().right;
    (left ? result.left : result.right) = change_of(now, before, tried.moves(left), in, rules);
  }
  return result;
}

double normal_quantile(double p) {
  double low = -12.0, high = 12.0;
  for (int i = 0; i < 80; ++i) {
    const double x = 0.5 * (low + high);
    (0.5 * std::erfc(-x / std::sqrt(2.0)) < p ? low : high) = x;
  }
  return 0.5 * (low + high);
}

HolmResult holm(const std::vector<double>& z, double family_rate) {
  HolmResult result{std::vector<bool>(z.size(), false), std::vector<double>(z.size(), 0.0)};
  std::vector<std::size_t> order(z.size());
  std::iota(order.begin(), order.end(), 0);
  std::sort(order.begin(), order.end(),
            [&](std::size_t a, std::size_t b) { return std::abs(z[a]) > std::abs(z[b]); });
  bool going = true;
  double k = 0.0;
  for (std::size_t i = 0; i < order.size(); ++i) {
    // The test stops at the first that fails; the rest were held to that same bound.
    if (going) k = normal_quantile(1 - family_rate / (2 * static_cast<double>(order.size() - i)));
    going = going && std::abs(z[order[i]]) > k;
    result.resolved[order[i]] = going;
    result.multiple[order[i]] = k;
  }
  return result;
}

void resolve_changes(std::vector<Comparison>& comparisons) {
  std::vector<CrestChange*> sites;
  std::vector<double> z, years;
  for (Comparison& comparison : comparisons)
    for (ImplantComparison& implant : comparison.implants)
      for (CrestChange* c : {&implant.crest.left, &implant.crest.right})
        if (c->change_mm && *c->expanded_uncertainty_mm > 0) {
          sites.push_back(c);
          z.push_back(*c->change_mm / (0.5 * *c->expanded_uncertainty_mm));
          years.push_back(comparison.years.value_or(0.0));
        }
  const HolmResult family = holm(z);
  for (std::size_t i = 0; i < sites.size(); ++i) {
    CrestChange& c = *sites[i];
    const double u = *c.expanded_uncertainty_mm;
    c.smallest_resolvable_mm = 0.5 * u * std::max(2.0, family.multiple[i]);
    const bool resolved = family.resolved[i] && std::abs(*c.change_mm) > u;
    c.state = !resolved            ? CrestChange::State::within_error
              : *c.change_mm > 0.0 ? CrestChange::State::loss
                                   : CrestChange::State::gain;
    if (resolved && years[i] > 0) c.rate_mm_per_year = *c.change_mm / years[i];
  }
}

}  // namespace crestgate

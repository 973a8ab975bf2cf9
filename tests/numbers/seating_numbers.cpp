#include "tests/numbers/seating_numbers.h"

#include <algorithm>
#include <cmath>
#include <map>

#include "tests/numbers/statistics.h"

namespace crestgate::numbers {
namespace {

using phantom::JointCase;

constexpr double kStraightDeg = 5.0;

JointCase kind_of(std::uint64_t seed) {
  const int k = static_cast<int>(seed % 10);
  return k < 4   ? JointCase::open
         : k < 7 ? JointCase::closed
         : k < 9 ? JointCase::wedge
                 : JointCase::bare;
}

GapCase gap_case(const Case& c) {
  GapCase g;
  g.seed = c.seed;
  g.kind = kind_of(c.seed);
  const phantom::ImplantTruth& truth = c.truth.implants.front();
  g.butt = truth.connection == "butt joint";
  g.true_left_mm = truth.gap_left_mm;
  g.true_right_mm = truth.gap_right_mm;
  g.theta_deg = truth.vertical_angle_deg;
  g.blur_mm = c.truth.blur_sigma_px * truth.mm_per_px;
  g.noise = c.analysis.quality.noise.value_or(-1);
  if (const Implant* implant = c.found(0)) {
    g.found = true;
    g.joint = implant->joint;
    g.platform_error_mm =
        std::abs(implant->shape.axis.from_image(truth.platform_px).y) * truth.mm_per_px;
    g.platform_marked = implant->shape.platform_marked;
  }
  return g;
}

bool visible(const GapCase& g) { return g.joint.state == JointState::gap_visible; }
bool unread(const GapCase& g) { return g.joint.state == JointState::not_assessable; }
bool missed(const GapCase& g) {
  return g.joint.state == JointState::no_gap_visible && g.joint.smallest_visible_gap_mm &&
         g.true_mm() > *g.joint.smallest_visible_gap_mm;
}
bool side_right(const GapCase& g) {
  return g.true_left_mm > g.true_right_mm ? g.joint.open_side.left : g.joint.open_side.right;
}

/// What a site that places only the implant drawn would put into its rules.
Rules knowing(const phantom::Scene& scene) {
  const phantom::Implant& drawn = scene.implants.front();
  ImplantType type;
  type.name = "as drawn";
  type.outer_diameter_mm = drawn.diameter_mm;
  type.platform_diameter_mm = drawn.platform_diameter_mm;
  type.thread_pitch_mm = drawn.thread.pitch_mm;
  type.starts = drawn.thread.starts;
  type.length_mm = drawn.length_mm;
  type.connection =
      drawn.connection.form == phantom::ConnectionForm::conical ? "conical" : "butt joint";
  type.handedness = drawn.thread.right_handed ? "right" : "left";
  Rules rules;
  rules.implant_types = {type};
  return rules;
}

void count_open(const GapCase& g, GapCounts* n, std::vector<double>* errors) {
  const auto limit = g.joint.smallest_visible_gap_mm;
  if (limit && g.true_mm() > *limit) {
    ++n->over_limit;
    n->over_limit_within_2x += g.true_mm() < 2 * *limit;
    n->over_limit_missed += missed(g);
  }
  if (limit && g.true_mm() >= 2 * *limit) {
    ++n->twice;
    n->twice_found += visible(g);
  }
  if (g.butt && g.joint.gap_mm && g.joint.gap_expanded_uncertainty_mm) {
    const double error = std::abs(*g.joint.gap_mm - g.true_mm());
    errors->push_back(error);
    n->sized_covered += error <= *g.joint.gap_expanded_uncertainty_mm;
  }
  if (g.kind == JointCase::wedge && g.butt) {
    ++n->wedges;
    n->wedges_found += visible(g);
    n->wedges_right_side += visible(g) && side_right(g);
  }
}

std::string rate(int k, int n) {
  if (n == 0) return "0 of 0";
  const double top = 100 * binomial_bounds(k, n, 0.1).high;
  return std::to_string(k) + " of " + std::to_string(n) + " (95 % upper bound " +
         std::to_string(static_cast<int>(std::ceil(top))) + " %)";
}

void write_platform_rows(std::ostream& out, const std::vector<GapCase>& cases) {
  std::vector<double> marked, all;
  for (const GapCase& g : cases) {
    if (!g.found) continue;
    all.push_back(g.platform_error_mm);
    if (g.platform_marked) marked.push_back(g.platform_error_mm);
  }
  out << "| platform called marked | " << marked.size() << " of " << all.size()
      << " | >= 75 % |\n| its error along the axis where marked: median, 90 % | "
      << quantile(marked, 0.5) << ", " << quantile(marked, 0.9)
      << " mm | <= 0.1, 0.4 mm |\n| and anywhere | " << quantile(all, 0.5) << ", "
      << quantile(all, 0.9) << " mm | |\n";
}

void write_reasons(std::ostream& out, const std::vector<GapCase>& cases) {
  std::map<std::string, int> reasons;
  for (const GapCase& g : cases)
    if (g.found && g.kind != JointCase::bare && std::abs(g.theta_deg) <= kStraightDeg && unread(g))
      ++reasons[g.joint.reason];
  out << "Joints within 5 deg that are not assessable, by reason:\n\n";
  for (const auto& [reason, n] : reasons) out << "- " << n << ": " << reason << "\n";
}

void write_failures(std::ostream& out, const std::vector<GapCase>& cases) {
  for (const GapCase& g : cases) {
    if (!g.found) continue;
    const char* what = nullptr;
    if (g.kind == JointCase::bare && (visible(g) || g.joint.part_present))
      what = "part invented";
    else if (g.kind == JointCase::closed && visible(g))
      what = "false gap";
    else if (missed(g))
      what = "gap missed";
    else if (g.kind == JointCase::wedge && visible(g) && !side_right(g))
      what = "wrong side";
    if (!what) continue;
    out << "- seed " << g.seed << ": " << what << ", true " << 1000 * g.true_left_mm << "/"
        << 1000 * g.true_right_mm << " um at " << g.theta_deg << " deg, platform off by "
        << g.platform_error_mm << " mm\n";
  }
}

}  // namespace

phantom::Scene seating_case_scene(std::uint64_t seed) {
  return phantom::seating_scene(seed, kind_of(seed));
}

std::vector<GapCase> gap_cases(std::uint64_t first_seed, int count, bool type_known) {
  std::vector<GapCase> cases;
  for (const Case& c :
       run_cases(first_seed, count, seating_case_scene, type_known ? knowing : RulesOf()))
    cases.push_back(gap_case(c));
  return cases;
}

GapCounts count_gaps(const std::vector<GapCase>& cases) {
  GapCounts n;
  std::vector<double> errors, limits;
  for (const GapCase& g : cases) {
    if (!g.found) continue;
    if (g.kind == JointCase::bare) {
      ++n.bare;
      n.bare_invented += visible(g) || g.joint.part_present;
      continue;
    }
    const bool straight = std::abs(g.theta_deg) <= kStraightDeg;
    n.straight += straight;
    n.straight_unread += straight && unread(g);
    const auto limit = g.joint.smallest_visible_gap_mm;
    if (limit && straight && g.butt && g.joint.design == "butt joint" && g.blur_mm <= 0.05 &&
        g.noise <= 0.01)
      limits.push_back(*limit);
    if (g.kind == JointCase::closed) {
      ++n.closed;
      n.closed_false += visible(g);
      n.closed_unread += unread(g);
    } else {
      count_open(g, &n, &errors);
    }
  }
  n.sized = static_cast<int>(errors.size());
  n.limits = static_cast<int>(limits.size());
  n.median_size_error_mm = quantile(errors, 0.5);
  n.median_limit_mm = quantile(limits, 0.5);
  return n;
}

void write_gap_table(std::ostream& out, const std::vector<GapCase>& cases) {
  const GapCounts n = count_gaps(cases);
  out << "| seating | measured | goal |\n|---|---|---|\n"
      << "| true gap over the stated limit, said 'no gap visible' | "
      << rate(n.over_limit_missed, n.over_limit) << ", " << n.over_limit_within_2x
      << " of them within 2x | <= 2 of >= 300 |\n"
      << "| closed joints said 'gap visible' | " << rate(n.closed_false, n.closed)
      << " | <= 2 % |\n"
      << "| gaps of at least twice the stated limit found | " << n.twice_found << " of " << n.twice
      << " | >= 95 % |\n"
      << "| sizes stated: median error | " << 1000 * n.median_size_error_mm << " um, covered "
      << n.sized_covered << " of " << n.sized << " | <= 25 um, 95 % |\n"
      << "| median limit, butt joint, within 5 deg, blur <= 0.05 mm, noise <= 1 % | "
      << 1000 * n.median_limit_mm << " um, n = " << n.limits << " | <= 40 um |\n"
      << "| not assessable within 5 deg | " << n.straight_unread << " of " << n.straight
      << " | <= 15 % |\n"
      << "| wedge gaps of 100-300 um, butt joints: found, right side | " << n.wedges_found << ", "
      << n.wedges_right_side << " of " << n.wedges << " | all |\n"
      << "| nothing mounted: joint or part invented | " << n.bare_invented << " of " << n.bare
      << " | 0 |\n";
  write_platform_rows(out, cases);
  out << "\n";
  write_reasons(out, cases);
  out << "\n";
  write_failures(out, cases);
}

}  // namespace crestgate::numbers

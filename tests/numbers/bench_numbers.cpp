#include "tests/numbers/bench_numbers.h"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <map>

#include "tests/numbers/statistics.h"

namespace crestgate::numbers {
namespace {

constexpr double kDiameterMm = 4.1, kPitchMm = 0.7, kLengthMm = 10.0;

bool visible(const JointMeasures& j) { return j.state == JointState::gap_visible; }
bool closed(const JointMeasures& j) { return j.state == JointState::no_gap_visible; }

struct Row {
  int n = 0, unread = 0, none = 0, none_false = 0, over = 0, over_missed = 0, twice = 0, found = 0;
  std::vector<double> limits, errors;
  int covered = 0;
};

void count(const BenchCase& c, Row* row) {
  ++row->n;
  const JointMeasures* j = c.joint();
  if (!j || j->state == JointState::not_assessable) {
    ++row->unread;
    return;
  }
  const auto limit = j->smallest_visible_gap_mm;
  if (limit) row->limits.push_back(*limit);
  if (c.gap_mm == 0) {
    ++row->none;
    row->none_false += visible(*j);
    return;
  }
  if (limit && c.gap_mm > *limit) ++row->over, row->over_missed += closed(*j);
  if (limit && c.gap_mm >= 2 * *limit) ++row->twice, row->found += visible(*j);
  if (j->gap_mm && j->gap_expanded_uncertainty_mm) {
    row->errors.push_back(std::abs(*j->gap_mm - c.gap_mm));
    row->covered += row->errors.back() <= *j->gap_expanded_uncertainty_mm;
  }
}

}  // namespace

const JointMeasures* BenchCase::joint() const {
  const Implant* found = result.found(0);
  return found ? &found->joint : nullptr;
}

phantom::Scene bench_scene(double angle_deg, double gap_mm, std::uint64_t seed) {
  phantom::Scene scene;
  scene.beam.vertical_angle_deg = angle_deg;
  scene.bone.present = false;
  scene.bone.cheek_mm = 10.0;  // stands for the water or wax in front of a bench specimen
  phantom::Implant& m = scene.implants.front();
  m.diameter_mm = m.platform_diameter_mm = kDiameterMm;
  m.length_mm = kLengthMm;
  m.thread.pitch_mm = kPitchMm;
  m.thread.phase_deg = 47.0 * static_cast<double>(seed % 97);
  m.connection.form =
      seed % 2 ? phantom::ConnectionForm::butt_external : phantom::ConnectionForm::butt_internal;
  if (seed % 2) m.connection.bore_depth_mm = 0.7;
  m.abutment.form = phantom::AbutmentForm::post;
  m.abutment.base_diameter_mm = 3.9;
  m.crown.present = false;
  m.gap.centre_mm = gap_mm;
  scene.processing.tone = phantom::ToneKind::linear;
  scene.detector.blur_sigma_mm = 0.035;
  scene.detector.seed = seed;
  scene.identity.object_class = phantom::ObjectClass::intraoral_processing;
  return scene;
}

Rules bench_rules() {
  Rules rules;
  ImplantType type;
  type.name = "bench";
  type.outer_diameter_mm = type.platform_diameter_mm = kDiameterMm;
  type.thread_pitch_mm = kPitchMm;
  type.length_mm = kLengthMm;
  rules.implant_types = {type};
  return rules;
}

std::optional<double> reliably_seen_mm(double angle_deg) {
  const double a = std::abs(angle_deg);
  if (a <= 5) return 0.0127;
  if (a <= 10) return 0.025;
  if (a <= 15) return 0.051;
  return std::nullopt;
}

std::vector<BenchCase> bench_cases(std::uint64_t first_seed, int repeats,
                                   const std::vector<double>& angles_deg,
                                   const std::vector<double>& gaps_mm) {
  std::vector<BenchCase> cases;
  for (const double angle : angles_deg)
    for (const double gap : gaps_mm)
      for (int i = 0; i < repeats; ++i) {
        cases.emplace_back();
        cases.back().angle_deg = angle;
        cases.back().gap_mm = gap;
      }
  const auto scene = [&](std::uint64_t seed) {
    const BenchCase& c = cases[seed - first_seed];
    return bench_scene(c.angle_deg, c.gap_mm, seed);
  };
  auto results = run_cases(first_seed, static_cast<int>(cases.size()), scene,
                           [](const phantom::Scene&) { return bench_rules(); });
  for (std::size_t i = 0; i < cases.size(); ++i) cases[i].result = std::move(results[i]);
  return cases;
}

std::vector<BenchCase> whole_bench(std::uint64_t first_seed, int repeats) {
  return bench_cases(
      first_seed, repeats, {0, 5, 10, 15, 20, 25, 30, 35},
      {0, 0.0127, 0.025, 0.038, 0.051, 0.063, 0.076, 0.088, 0.102, 0.114, 0.127, 0.190});
}

void write_bench_table(std::ostream& out, const std::vector<BenchCase>& cases) {
  out << "| angle, deg | n | not assessable | median limit, um | examiners reliably saw, um | 'no "
         "gap' above the limit | gaps >= 2x the limit found | closed said open | size: median "
         "error, um, inside U |\n|---|---|---|---|---|---|---|---|---|\n";
  std::map<double, Row> rows;
  for (const BenchCase& c : cases) count(c, &rows[c.angle_deg]);
  for (const auto& [angle, r] : rows) {
    const auto seen = reliably_seen_mm(angle);
    char line[300];
    std::snprintf(line, sizeof line,
                  "| %.0f | %d | %d | %.0f | %s | %d of %d | %d of %d | %d of %d | %.0f, %d of %zu "
                  "|\n",
                  angle, r.n, r.unread, 1000 * quantile(r.limits, 0.5),
                  seen ? std::to_string(1000 * *seen).substr(0, 4).c_str() : "extrapolated",
                  r.over_missed, r.over, r.found, r.twice, r.none_false, r.none,
                  1000 * quantile(r.errors, 0.5), r.covered, r.errors.size());
    out << line;
  }
}

}  // namespace crestgate::numbers

// The published bench study of misfit gaps, rendered: gaps of 0-190 um at angles of 0-35 degrees,
// whole chain, against what its three expert examiners reliably saw. Sharkey S, Kelly A, Houston F,
// O'Sullivan M, Quinn F, O'Connell B. Int J Oral Maxillofac Implants 2011;26:807-815 (abstract):
// 12.7 um up to 5 degrees, 25-38 um up to 10, 51 um up to 15; nothing is said of larger angles.
#pragma once
#include <optional>
#include <ostream>
#include <vector>

#include "tests/numbers/case.h"

namespace crestgate::numbers {

struct BenchCase {
  double angle_deg = 0, gap_mm = 0;
  Case result;
  const JointMeasures* joint() const;  ///< nullptr: implant not found
};

/// As in the study: a part on a butt joint of a known type, external and internal connection in
/// turn, no tissue in front of it; linear tone, about 1 % noise, blur 0.04 mm. Odd seeds external.
phantom::Scene bench_scene(double angle_deg, double gap_mm, std::uint64_t seed);
/// Rules that know the scenes' implant.
Rules bench_rules();

/// Smallest gap the examiners reliably saw at an angle; empty beyond 15 degrees.
std::optional<double> reliably_seen_mm(double angle_deg);

/// `repeats` scenes per angle and gap.
std::vector<BenchCase> bench_cases(std::uint64_t first_seed, int repeats,
                                   const std::vector<double>& angles_deg,
                                   const std::vector<double>& gaps_mm);
std::vector<BenchCase> whole_bench(std::uint64_t first_seed, int repeats);

void write_bench_table(std::ostream& out, const std::vector<BenchCase>& cases);

}  // namespace crestgate::numbers

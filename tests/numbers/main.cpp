// The accuracy report: regenerates the tables of DEVELOPERS.md. Fixed seeds; prints Markdown.
#include <CLI/CLI.hpp>
#include <cstdio>
#include <fstream>
#include <iostream>

#include "tests/numbers/bench_numbers.h"
#include "tests/numbers/case.h"
#include "tests/numbers/crest_numbers.h"
#include "tests/numbers/extra_numbers.h"
#include "tests/numbers/pair_numbers.h"
#include "tests/numbers/projection_numbers.h"
#include "tests/numbers/seating_numbers.h"
#include "tests/numbers/statistics.h"

using namespace crestgate;           // NOLINT(google-build-using-namespace): a small program
using namespace crestgate::numbers;  // NOLINT(google-build-using-namespace)

namespace {

void write_crest_part(std::uint64_t seed, int scenes, int shift_scenes,
                      const std::vector<Case>& any_angle) {
  const auto within_5_deg = [](std::uint64_t s) {
    phantom::Draw draw;
    draw.vertical_angle_deg = {-5.0, 5.0};
    return phantom::random_scene(s, draw);
  };
  std::cout << "\n### Crest level, " << scenes << " random scenes within 5 degrees, seeds from "
            << seed + 40000 << "\n\n";
  write_crest_table(std::cout, crest_cases(run_cases(seed + 40000, scenes, within_5_deg)));
  if (!any_angle.empty()) {
    std::cout << "\n### Crest level, any angle up to 15 degrees, " << any_angle.size()
              << " scenes, seeds from " << seed << "\n\n";
    write_crest_table(std::cout, crest_cases(any_angle));
  }
  std::cout << "\n### Crest level after a change of processing, " << shift_scenes << " scenes\n\n";
  write_shift_table(std::cout, crest_shifts(seed + 40000, shift_scenes, within_5_deg));
}

}  // namespace

int main(int argc, char** argv) {
  CLI::App app{"crestgate accuracy report"};
  int scenes = 400, free_scenes = 300, joints = 400, known_joints = 0;
  int crest_scenes = 300, shift_scenes = 40, pairs = 0, bench = 0;
  std::uint64_t seed = 20000;
  std::string list, extra;
  app.add_option("--scenes", scenes, "random scenes with implants");
  app.add_option("--free", free_scenes, "implant-free scenes full of look-alikes");
  app.add_option("--joints", joints, "seeded scenes of joints, open and closed");
  app.add_option("--known-joints", known_joints, "the same, the implant in the site's table");
  app.add_option("--bench", bench, "scenes per angle and gap of the published bench study (96)");
  app.add_option("--crest", crest_scenes, "scenes within 5 degrees, for the crest level");
  app.add_option("--shifts", shift_scenes, "of these, measured again with changed processing");
  app.add_option("--pairs", pairs, "sites with a baseline and six follow-ups each");
  app.add_option("--seed", seed, "first seed");
  app.add_option("--list", list, "write one line per implant to this file (tab-separated)");
  app.add_option("--extra", extra, "folder of another simulator's images with truth.json");
  CLI11_PARSE(app, argc, argv);

  const auto cases =
      run_cases(seed, scenes, [](std::uint64_t s) { return phantom::random_scene(s); });
  const auto angles = angle_cases(cases);
  std::cout << "### Vertical angle, " << scenes << " random scenes, seeds from " << seed << "\n\n";
  write_angle_table(std::cout, angles);

  int false_in = 0, alarms = 0;
  for (const Case& c : cases) false_in += c.false_implants();
  const auto free_cases =
      run_cases(seed, free_scenes, [](std::uint64_t s) { return phantom::implant_free_scene(s); });
  for (const Case& c : free_cases) alarms += c.false_implants();
  std::cout << "\nFalse implants: " << alarms << " in " << free_scenes
            << " implant-free scenes (95 % upper bound of the rate "
            << binomial_bounds(alarms, free_scenes, 0.1).high << "), " << false_in << " in "
            << scenes << " scenes with implants\n";
  if (joints > 0) {
    std::cout << "\n### Joint, " << joints << " seeded scenes, seeds from " << seed << "\n\n";
    write_gap_table(std::cout, gap_cases(seed, joints));
  }
  if (known_joints > 0) {
    std::cout << "\n### Joint, implant in the site's table, " << known_joints
              << " seeded scenes, seeds from " << seed << "\n\n";
    write_gap_table(std::cout, gap_cases(seed, known_joints, true));
  }
  if (bench > 0) {
    std::cout << "\n### Joint, the grid of the published bench study, " << bench
              << " scenes each, seeds from " << seed + 80000 << "\n\n";
    write_bench_table(std::cout, whole_bench(seed + 80000, bench));
  }
  write_crest_part(seed, crest_scenes, shift_scenes, cases);
  if (pairs > 0) {
    std::cout << "\n### Follow-up against baseline, " << pairs << " sites, seeds from "
              << seed + 60000 << "\n\n";
    write_pair_table(std::cout, pair_sites(seed + 60000, pairs));
  }
  if (!extra.empty()) {
    std::cout << "\n### Images of another simulator\n\n";
    write_extra_table(std::cout, extra);
  }
  if (!list.empty()) {
    std::ofstream out(list);
    out << "seed\tfound\tdomain\ttrue\tgiven\tdirection\tvalue\tU\tdepth_"
           "px\tpixel\tclipped\tnoise\t"
           "flanks\tform\treason\n";
    for (const AngleCase& a : angles)
      out << a.seed << '\t' << a.found << '\t' << a.in_domain << '\t' << a.true_deg << '\t'
          << a.given << '\t' << a.direction << '\t' << a.value_deg << '\t' << a.u_deg << '\t'
          << a.depth_px << '\t' << a.pixel_mm << '\t' << a.clipped << '\t' << a.noise << '\t'
          << a.flanks_in_view << '\t' << a.form << '\t' << a.reason << '\n';
    for (const Case& c : free_cases)
      if (c.false_implants() > 0) out << "false implant in free scene " << c.seed << '\n';
  }
  return 0;
}

#include "tests/numbers/pair_numbers.h"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <iterator>
#include <map>
#include <set>

#include "pipeline/followup/followup.h"
#include "tests/numbers/case.h"
#include "tests/numbers/pair_scenes.h"
#include "tests/numbers/statistics.h"

namespace crestgate::numbers {
namespace {

struct Wanted {
  const char* setting;
  double left_mm, right_mm;
};
constexpr Wanted kWanted[] = {{"jig", 0.0, 0.0}, {"jig", 0.1, 0.3},      {"jig", 0.6, 0.2},
                              {"jig", 0.3, 1.0}, {"freehand", 0.0, 0.0}, {"freehand", 0.6, 0.3}};

void add_sites(const SeenSite& before, const SeenSite& now, std::uint64_t seed, int pair,
               const char* setting, std::vector<PairSite>& sites) {
  const Implant* a = now.result.found(0);
  const Implant* b = before.result.found(0);
  std::vector<Comparison> comparisons;
  if (a && b) {
    comparisons.push_back(compare_with({now.frame, now.result.analysis},
                                       {before.frame, before.result.analysis}, Rules{})
                              .comparison);
    Analysis settled = now.result.analysis;
    settled.comparisons = comparisons;
    settle_comparisons(settled, Rules{});
    comparisons = settled.comparisons;
  }
  for (const bool left : {true, false}) {
    const auto& t2 = now.truth.implants[0];
    const auto& t1 = before.truth.implants[0];
    const auto& c2 = left ? t2.crest_left_mm : t2.crest_right_mm;
    const auto& c1 = left ? t1.crest_left_mm : t1.crest_right_mm;
    if (!c1 || !c2) continue;
    PairSite s;
    s.seed = seed, s.pair = pair, s.setting = setting;
    s.true_mm = *c2 - *c1;
    s.angle_difference_deg = t2.vertical_angle_deg - t1.vertical_angle_deg;
    s.both_found = a && b;
    for (const Comparison& c : comparisons) {
      s.compared = c.state == Comparison::State::compared;
      if (!c.reasons.empty() && !s.compared) s.why = c.reasons.back();
      for (const ImplantComparison& i : c.implants) {
        if (i.implant != a->id) continue;
        const CrestChange& change = left ? i.crest.left : i.crest.right;
        s.given = change.change_mm.has_value();
        if (!s.given && s.compared) s.why = change.reason;
        if (!s.given) continue;
        s.change_mm = *change.change_mm;
        s.u_mm = *change.expanded_uncertainty_mm;
        s.k = 2 * *change.smallest_resolvable_mm / s.u_mm;
        s.resolved = change.state != CrestChange::State::within_error;
        for (const auto& part : change.budget)
          s.budget.emplace_back(part.name, part.standard_uncertainty_mm);
      }
    }
    sites.push_back(s);
  }
}

std::string share(int k, int n) {
  char text[80];
  const Bounds b = binomial_bounds(k, n, 0.1);
  std::snprintf(text, sizeof text, "%d/%d = %.0f %% (%.0f-%.0f %%)", k, n, n ? 100.0 * k / n : 0.0,
                100 * b.low, 100 * b.high);
  return text;
}

template <class Pick>
void row(std::ostream& out, const std::string& name, const std::vector<PairSite>& sites,
         Pick pick) {
  int n = 0, given = 0, resolved = 0, outside = 0, wrong = 0;
  std::vector<double> errors, us, ks;
  for (const PairSite& s : sites) {
    if (!pick(s)) continue;
    ++n;
    if (!s.given) continue;
    ++given;
    resolved += s.resolved;
    const double error = s.change_mm - s.true_mm;
    errors.push_back(std::abs(error));
    us.push_back(s.u_mm);
    ks.push_back(s.k);
    outside += std::abs(error) > s.u_mm;
    wrong += s.resolved && s.change_mm * s.true_mm < 0;
  }
  if (n == 0) return;
  char line[300];
  std::snprintf(line, sizeof line, "| %s | %d | %d | %.3f | %.3f | %.3f | %.2f | ", name.c_str(), n,
                given, quantile(errors, 0.5), quantile(errors, 0.9), quantile(us, 0.5),
                quantile(ks, 0.5));
  out << line << share(resolved, given) << " | " << share(outside + wrong, given) << " |\n";
}

}  // namespace

std::vector<PairSite> pair_sites(std::uint64_t first, int count) {
  std::vector<std::vector<PairSite>> of_site(static_cast<std::size_t>(count));
  in_parallel(count, [&](int i) {
    const std::uint64_t seed = first + static_cast<std::uint64_t>(i);
    const phantom::Scene scene = site_scene(seed);
    const SeenSite before = see_site(scene);
    constexpr int kExposures = std::size(kWanted) + 1;  // and one on another detector
    int number = 0, pair = i * kExposures;
    for (const Wanted& wanted : kWanted) {
      const SeenSite now = see_site(
          follow_up_scene(scene, seed, number++, wanted.setting, wanted.left_mm, wanted.right_mm));
      add_sites(before, now, seed, pair++, wanted.setting, of_site[i]);
      if (std::string(wanted.setting) != "freehand" || wanted.left_mm != 0) continue;
      // The same exposure on a detector of another name and pixel.
      SeenSite other = now;
      other.result.analysis.acquisition.detector_id = "SENSOR-2";
      add_sites(before, other, seed, pair++, "other detector", of_site[i]);
    }
  });
  std::vector<PairSite> sites;
  for (const auto& some : of_site) sites.insert(sites.end(), some.begin(), some.end());
  return sites;
}

void write_pair_table(std::ostream& out, const std::vector<PairSite>& sites) {
  out << "| pairs, true change | flanks | change given | median error, mm | 90 % | median U | "
         "median k | resolved (90 % bounds) | outside U or wrong sign |\n"
         "|---|---|---|---|---|---|---|---|---|\n";
  const auto near = [](const PairSite& s, double mm) { return std::abs(s.true_mm - mm) < 0.03; };
  for (const char* setting : {"jig", "freehand"})
    for (const double mm : {0.0, 0.1, 0.2, 0.3, 0.6, 1.0}) {
      char name[60];
      std::snprintf(name, sizeof name, "%s, %.1f mm", setting, mm);
      row(out, name, sites, [&](const PairSite& s) { return s.setting == setting && near(s, mm); });
    }
  row(out, "jig, all", sites, [](const PairSite& s) { return s.setting == "jig"; });
  row(out, "freehand, all", sites, [](const PairSite& s) { return s.setting == "freehand"; });
  std::map<std::string, std::set<int>> pairs, falsely, refused;
  std::map<std::string, std::map<std::string, int>> why;
  for (const PairSite& s : sites) {
    if (!s.both_found) continue;
    std::string key = s.setting;
    if (s.setting == "freehand" && std::abs(s.angle_difference_deg) <= 5)
      key += ", angles within 5 degrees";
    pairs[key].insert(s.pair);
    if (!s.compared) refused[key].insert(s.pair);
    if (!s.given) ++why[key][s.why];
    if (near(s, 0.0) && s.resolved) falsely[key].insert(s.pair);
  }
  out << "\nImage pairs (implant found in both): refused as not comparable; a change called where "
         "there was none\n\n";
  for (const auto& [key, all] : pairs)
    out << "- " << key << ": refused "
        << share(static_cast<int>(refused[key].size()), static_cast<int>(all.size()))
        << ", falsely resolved pairs " << falsely[key].size() << "\n";
  out << "\nFlanks without a change, by reason:\n\n";
  for (const auto& [key, reasons] : why)
    for (const auto& [reason, n] : reasons)
      out << "- " << key << ": " << n << " x " << reason << "\n";
}

}  // namespace crestgate::numbers

#include "tests/numbers/projection_numbers.h"

#include <cmath>
#include <cstdio>

#include "tests/numbers/statistics.h"

namespace crestgate::numbers {
namespace {

const char* form_name(phantom::ThreadForm form) {
  switch (form) {
    case phantom::ThreadForm::v:
      return "V";
    case phantom::ThreadForm::buttress:
      return "buttress";
    case phantom::ThreadForm::reverse_buttress:
      return "reverse buttress";
    case phantom::ThreadForm::square:
      return "square";
    case phantom::ThreadForm::rounded:
      return "rounded";
    case phantom::ThreadForm::fins:
      return "fins";
    case phantom::ThreadForm::none:
      return "none";
  }
  return "";
}

template <class Pick>
void row(std::ostream& out, const char* name, const std::vector<AngleCase>& cases, Pick pick) {
  int n = 0, found = 0, given = 0, signed_n = 0, covered = 0, unsigned_n = 0, unsigned_covered = 0;
  int directed = 0, right = 0, beyond = 0;
  std::vector<double> errors, us;
  for (const AngleCase& c : cases) {
    if (!pick(c)) continue;
    ++n;
    found += c.found;
    const bool far = std::abs(c.true_deg) > 2.5;
    beyond += far;
    if (!c.given) continue;
    ++given;
    errors.push_back(c.error_deg());
    us.push_back(c.u_deg);
    const bool inside = c.error_deg() <= c.u_deg;
    if (c.direction) {
      ++signed_n;
      covered += inside;
    } else {
      ++unsigned_n;
      unsigned_covered += inside;
    }
    if (far && c.direction) {
      ++directed;
      right += c.value_deg * c.true_deg > 0;
    }
  }
  if (n == 0) return;
  const Bounds bounds = binomial_bounds(covered, signed_n, 0.01);
  char line[400];
  std::snprintf(
      line, sizeof line,
      "| %s | %d | %.0f %% | %.0f %% | %.2f | %.2f | %.2f | %d/%d of %d | %d/%d (%.0f-%.0f %%) "
      "| %d/%d |\n",
      name, n, 100.0 * found / n, 100.0 * given / n, quantile(errors, 0.5), quantile(errors, 0.9),
      quantile(us, 0.5), right, directed, beyond, covered, signed_n, 100 * bounds.low,
      100 * bounds.high, unsigned_covered, unsigned_n);
  out << line;
}

}  // namespace

double AngleCase::error_deg() const {
  return std::abs(direction ? value_deg - true_deg : value_deg - std::abs(true_deg));
}

std::vector<AngleCase> angle_cases(const std::vector<Case>& cases) {
  std::vector<AngleCase> result;
  for (const Case& c : cases)
    for (std::size_t i = 0; i < c.truth.implants.size(); ++i) {
      const auto& t = c.truth.implants[i];
      AngleCase a;
      a.seed = c.seed;
      a.true_deg = t.vertical_angle_deg;
      a.turned = t.right_handed == c.truth.mirrored;
      a.depth_px = t.thread_depth_mm / t.mm_per_px;
      a.pixel_mm = t.mm_per_px;
      a.clipped = c.truth.clipped_high;
      a.flanks_in_view = t.left_flank_in_view + t.right_flank_in_view;
      a.visible_share = t.visible_share;
      a.form = t.thread_starts > 0 ? form_name(c.scene.implants[i].thread.form) : "none";
      a.in_domain = a.depth_px >= 3 && a.flanks_in_view == 2 && a.form != "none" && !a.turned;
      const Implant* found = c.found(i);
      a.found = found != nullptr;
      if (found && found->projection.vertical_angle_deg) {
        a.given = true;
        a.direction = found->projection.direction_resolved;
        a.value_deg = found->projection.vertical_angle_deg->value;
        a.u_deg = found->projection.vertical_angle_deg->expanded_uncertainty;
      }
      a.reason = found ? found->projection.reason : "not found";
      a.noise = c.analysis.quality.noise.value_or(0);
      result.push_back(a);
    }
  return result;
}

void write_angle_table(std::ostream& out, const std::vector<AngleCase>& cases) {
  out << "| stratum | n | found | angle given | median error, deg | 90 % | median U | direction "
         "right "
         "/ stated of n beyond 2.5 deg | inside U, signed (99 % bounds) | inside U, unsigned |\n"
         "|---|---|---|---|---|---|---|---|---|---|\n";
  row(out, "all", cases, [](const AngleCase&) { return true; });
  row(out, "domain: depth >= 3 px, both flanks", cases, [](auto& c) { return c.in_domain; });
  for (const double low : {0.0, 2.5, 5.0, 10.0}) {
    const double high = low == 0 ? 2.5 : low == 2.5 ? 5 : low == 5 ? 10 : 16;
    const std::string name = "domain, angle " + std::to_string(low).substr(0, 4) + " to " +
                             std::to_string(high).substr(0, 4);
    row(out, name.c_str(), cases, [=](const AngleCase& c) {
      return c.in_domain && std::abs(c.true_deg) >= low && std::abs(c.true_deg) < high;
    });
  }
  for (const char* form :
       {"V", "buttress", "reverse buttress", "square", "rounded", "fins", "none"})
    row(out, form, cases, [=](const AngleCase& c) { return c.form == form; });
  row(out, "domain, pixel < 0.03 mm", cases,
      [](const AngleCase& c) { return c.in_domain && c.pixel_mm < 0.03; });
  row(out, "domain, pixel >= 0.03 mm", cases,
      [](const AngleCase& c) { return c.in_domain && c.pixel_mm >= 0.03; });
  row(out, "domain, noise < 1 %", cases,
      [](const AngleCase& c) { return c.in_domain && c.noise < 0.01; });
  row(out, "domain, noise >= 1 %", cases,
      [](const AngleCase& c) { return c.in_domain && c.noise >= 0.01; });
  row(out, "domain, clipped white > 2 %", cases,
      [](const AngleCase& c) { return c.in_domain && c.clipped > 0.02; });
  // A left-handed thread or a mirrored picture turns the direction; each image says so once.
  row(out, "left-handed or mirrored", cases, [](const AngleCase& c) { return c.turned; });
  row(out, "depth < 3 px", cases,
      [](const AngleCase& c) { return c.form != "none" && c.depth_px < 3; });
  row(out, "one flank in view", cases, [](const AngleCase& c) { return c.flanks_in_view == 1; });
  row(out, "one flank, less than a third of the body in view", cases,
      [](const AngleCase& c) { return c.flanks_in_view == 1 && c.visible_share < 1.0 / 3; });
  row(out, "one flank, more of the body in view, threaded", cases, [](const AngleCase& c) {
    return c.flanks_in_view == 1 && c.visible_share >= 1.0 / 3 && c.form != "none";
  });
}

}  // namespace crestgate::numbers

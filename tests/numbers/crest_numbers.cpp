#include "tests/numbers/crest_numbers.h"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <map>

#include "pipeline/inspect.h"
#include "tests/numbers/statistics.h"

namespace crestgate::numbers {
namespace {

constexpr double kCoronalMm = 2.0, kLengthShare = 0.6;

template <class Pick>
void row(std::ostream& out, const char* name, const std::vector<CrestCase>& cases, Pick pick) {
  int n = 0, given = 0, covered = 0;
  std::vector<double> errors, us;
  for (const CrestCase& c : cases) {
    if (!c.in_domain || !pick(c)) continue;
    ++n;
    if (!c.given) continue;
    ++given;
    errors.push_back(c.error_mm());
    us.push_back(c.u_mm);
    covered += c.error_mm() <= c.u_mm;
  }
  if (n == 0) return;
  const Bounds bounds = binomial_bounds(covered, given, 0.01);
  char line[300];
  std::snprintf(
      line, sizeof line,
      "| %s | %d | %d (%.0f %%) | %.3f | %.3f | %.3f | %d/%d = %.0f %% (%.0f-%.0f %%) |\n", name, n,
      given, 100.0 * given / n, quantile(errors, 0.5), quantile(errors, 0.9), quantile(us, 0.5),
      covered, given, given ? 100.0 * covered / given : 0.0, 100 * bounds.low, 100 * bounds.high);
  out << line;
}

Frame changed(const Frame& frame, const std::function<double(double)>& tone) {
  Frame out = frame;
  const double low = frame.lowest_storable, range = frame.highest_storable - low;
  for (float& v : out.values)
    v = static_cast<float>(low + range * std::clamp(tone((v - low) / range), 0.0, 1.0));
  return out;
}

/// v + amount (v - mean of the surrounding square): the plain unsharp mask.
Frame unsharp(const Frame& frame, double amount, int half) {
  Frame across = frame, blurred = frame, out = frame;
  const auto mean = [&](const Frame& in, int x, int y, int dx, int dy) {
    double sum = 0;
    int n = 0;
    for (int k = -half; k <= half; ++k) {
      const int xx = x + k * dx, yy = y + k * dy;
      if (xx < 0 || yy < 0 || xx >= in.columns || yy >= in.rows) continue;
      sum += in.at(xx, yy);
      ++n;
    }
    return static_cast<float>(sum / n);
  };
  for (int y = 0; y < frame.rows; ++y)
    for (int x = 0; x < frame.columns; ++x) across.at(x, y) = mean(frame, x, y, 1, 0);
  for (int y = 0; y < frame.rows; ++y)
    for (int x = 0; x < frame.columns; ++x) blurred.at(x, y) = mean(across, x, y, 0, 1);
  for (std::size_t i = 0; i < out.values.size(); ++i)
    out.values[i] = std::clamp(
        static_cast<float>(frame.values[i] + amount * (frame.values[i] - blurred.values[i])),
        frame.lowest_storable, frame.highest_storable);
  return out;
}

std::vector<std::pair<std::string, Frame>> copies(const Frame& f) {
  std::vector<std::pair<std::string, Frame>> all;
  all.emplace_back("gain 0.8", changed(f, [](double x) { return 0.8 * x; }));
  all.emplace_back("gain 1.3", changed(f, [](double x) { return 1.3 * x; }));
  all.emplace_back("gamma 0.75", changed(f, [](double x) { return std::pow(x, 0.75); }));
  all.emplace_back("gamma 1.35", changed(f, [](double x) { return std::pow(x, 1.35); }));
  all.emplace_back("unsharp mask", unsharp(f, 1.0, 4));
  all.emplace_back("8 bit", changed(f, [](double x) { return std::round(255 * x) / 255; }));
  return all;
}

}  // namespace

double CrestCase::error_mm() const { return std::abs(value_mm - true_mm); }

std::vector<CrestCase> crest_cases(const std::vector<Case>& cases) {
  std::vector<CrestCase> result;
  for (const Case& c : cases)
    for (std::size_t i = 0; i < c.truth.implants.size(); ++i)
      for (const bool right : {false, true}) {
        const auto& t = c.truth.implants[i];
        const auto& made = c.scene.implants[i];
        const auto& bone = c.scene.bone;
        CrestCase k;
        k.seed = c.seed;
        k.right = right;
        k.angle_deg = t.vertical_angle_deg;
        const auto& contact = right ? t.crest_right_mm : t.crest_left_mm;
        k.true_mm = contact.value_or(NAN);
        k.in_domain = contact && t.platform_in_view &&
                      (right ? t.right_flank_in_view : t.left_flank_in_view) &&
                      *contact > -kCoronalMm && *contact < kLengthShare * made.length_mm;
        k.saucer_mm = std::max(bone.saucer_depth_left_mm, bone.saucer_depth_right_mm);
        k.plate_drop_mm = std::max(bone.buccal_drop_mm, bone.lingual_drop_mm);
        k.blur_mm = c.truth.blur_sigma_px * c.truth.pixel_mm;
        k.part_narrower = made.abutment.form == phantom::AbutmentForm::none ||
                          made.abutment.base_diameter_mm < made.platform_diameter_mm - 0.2;
        if (const Implant* found = c.found(i)) {
          const CrestLevel& level = right ? found->crest.right : found->crest.left;
          k.found = true;
          k.state = level.reason;
          k.given = level.level_mm.has_value();
          k.value_mm = level.level_mm.value_or(0);
          k.u_mm = level.expanded_uncertainty_mm.value_or(0);
        }
        result.push_back(k);
      }
  return result;
}

void write_crest_table(std::ostream& out, const std::vector<CrestCase>& cases) {
  out << "| stratum | flanks | level given | median error, mm | 90 % | median U | inside U (99 % "
         "bounds) |\n|---|---|---|---|---|---|---|\n";
  row(out, "all", cases, [](const CrestCase&) { return true; });
  row(out, "angle <= 5 deg", cases, [](auto& c) { return std::abs(c.angle_deg) <= 5; });
  row(out, "angle > 5 deg", cases, [](auto& c) { return std::abs(c.angle_deg) > 5; });
  row(out, "no part, or narrower than the platform", cases,
      [](auto& c) { return c.part_narrower; });
  row(out, "part as wide or wider", cases, [](auto& c) { return !c.part_narrower; });
  row(out, "crest above the platform", cases, [](auto& c) { return c.true_mm < 0; });
  row(out, "saucer on either side", cases, [](auto& c) { return c.saucer_mm > 0; });
  row(out, "no saucer", cases, [](auto& c) { return c.saucer_mm == 0; });
  row(out, "plate edge > 0.6 mm off the crest", cases,
      [](auto& c) { return c.plate_drop_mm > 0.6; });
  row(out, "blur sigma < 0.06 mm", cases, [](auto& c) { return c.blur_mm < 0.06; });
  row(out, "blur sigma >= 0.06 mm", cases, [](auto& c) { return c.blur_mm >= 0.06; });
  out << "\nHuman readers, published: 0.08 mm within, 0.14 mm between readers (Gröndahl K, et al. "
         "Clin Oral Implants Res 1998;9:243-250, as cited in BMC Oral Health 2022, "
         "s12903-022-02539-x).\n\nFlanks in the domain without a level, by reason:\n\n";
  std::map<std::string, int> reasons;
  for (const CrestCase& c : cases)
    if (c.in_domain && !c.given) ++reasons[c.state];
  for (const auto& [reason, n] : reasons) out << "- " << n << ": " << reason << "\n";
}

std::vector<CrestShift> crest_shifts(std::uint64_t first, int count,
                                     const std::function<phantom::Scene(std::uint64_t)>& make) {
  std::vector<CrestShift> shifts;
  for (int i = 0; i < count; ++i) {
    const phantom::Rendered rendered = phantom::render(make(first + i));
    const Frame frame = phantom::to_frame(rendered);
    Acquisition acquisition;
    acquisition.spacing = {rendered.truth.pixel_mm, rendered.truth.pixel_mm, "imager"};
    const auto level = [&](const Frame& f, std::size_t k, bool right) -> std::optional<double> {
      Case c;
      c.truth = rendered.truth;
      c.analysis = inspect(f, acquisition, Rules{});
      const Implant* found = c.found(k);
      if (!found) return std::nullopt;
      return right ? found->crest.right.level_mm : found->crest.left.level_mm;
    };
    if (rendered.truth.implants.empty()) continue;
    const std::optional<double> before[2] = {level(frame, 0, false), level(frame, 0, true)};
    if (!before[0] && !before[1]) continue;
    for (const auto& [name, copy] : copies(frame))
      for (const bool right : {false, true}) {
        CrestShift s;
        s.change = name;
        s.given_before = before[right].has_value();
        const auto after = level(copy, 0, right);
        s.given_after = after.has_value();
        if (s.given_before && s.given_after) s.shift_mm = std::abs(*after - *before[right]);
        if (s.given_before) shifts.push_back(s);
      }
  }
  return shifts;
}

void write_shift_table(std::ostream& out, const std::vector<CrestShift>& shifts) {
  out << "| change | levels before | also after | median shift, mm | 90 % "
         "|\n|---|---|---|---|---|\n";
  std::map<std::string, std::vector<double>> moved;
  std::map<std::string, int> before;
  for (const CrestShift& s : shifts)
    for (const std::string& name : {s.change, std::string("all")}) {
      ++before[name];
      if (s.given_after) moved[name].push_back(s.shift_mm);
    }
  for (const auto& [name, n] : before) {
    char line[200];
    std::snprintf(line, sizeof line, "| %s | %d | %zu | %.3f | %.3f |\n", name.c_str(), n,
                  moved[name].size(), quantile(moved[name], 0.5), quantile(moved[name], 0.9));
    out << line;
  }
}

}  // namespace crestgate::numbers

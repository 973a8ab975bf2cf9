#include "pipeline/seating/wide_slit.h"

#include <algorithm>
#include <cmath>
#include <vector>

namespace crestgate {
namespace {

constexpr double kInner = 0.78, kOuter = 0.88;  // of R: beside the core, inside both bodies
constexpr double kWidestCore = 0.68;            // of R
constexpr double kReachMm = 0.3, kTallestMm = 1.5, kPlateauMm = 0.3;
constexpr double kBright = 0.45, kDark = 0.25;  // of the metal's contrast
constexpr double kFullWidth = 2.355;            // full width at half maximum / sigma
constexpr double kMostUneven = 2.0;             // heights of the two sides

struct Run {
  double from = 0.0, to = 0.0;  // v of the half-level crossings
};

double grey_at(const JointFitInput& in, double share) {
  return in.implant.tone.background + share * in.implant.tone.contrast;
}

/// Mean grey of one row between u = a and b; NaN where the picture ends, so that a row cut there
/// never counts.
double row_mean(const Strip& s, int iv, double a, double b) {
  double sum = 0.0;
  int n = 0;
  for (int iu = 0; iu < s.columns; ++iu)
    if (s.u_px(iu) >= std::min(a, b) && s.u_px(iu) <= std::max(a, b)) sum += s.at(iu, iv), ++n;
  return n > 0 ? sum / n : std::nan("");
}

std::vector<double> rows_mean(const Strip& s, double a, double b) {
  std::vector<double> out(s.rows);
  for (int iv = 0; iv < s.rows; ++iv) out[iv] = row_mean(s, iv, a, b);
  return out;
}

bool all_above(const std::vector<double>& x, int from, int to, double level) {
  if (from < 0 || to >= static_cast<int>(x.size())) return false;
  return std::all_of(x.begin() + from, x.begin() + to + 1, [&](double g) { return g > level; });
}

double mean_of(const std::vector<double>& x, int from, int to) {
  double sum = 0.0;
  for (int i = from; i <= to; ++i) sum += x[i];
  return sum / (to - from + 1);
}

/// Half level between the slit's floor and the metal beside it, from sample `in_slit` outwards.
double half_crossing(const Strip& s, const std::vector<double>& x, int in_slit, int step,
                     double half) {
  int i = in_slit;
  while (x[i] < half) i += step;
  if (i == in_slit) return s.v_px(i);
  return s.v_px(i) - step * s.step_v_px * (x[i] - half) / (x[i] - x[i - step]);
}

/// Dark stretches with bright metal for 0.3 mm on either end.
std::vector<Run> dark_runs(const Strip& s, const std::vector<double>& x, const JointFitInput& in) {
  std::vector<Run> runs;
  const double dark = grey_at(in, kDark), bright = grey_at(in, kBright);
  const double level = 0.5 * (dark + bright);
  const int edge = static_cast<int>(2.5 * in.spread.sigma_px / s.step_v_px) + 1;
  const int plateau = static_cast<int>(kPlateauMm / in.mm_per_px / s.step_v_px);
  for (int a = 0; a + 1 < s.rows; ++a) {
    if (!(x[a] >= level && x[a + 1] < level)) continue;
    int b = a + 1;
    double least = x[b];
    while (b + 1 < s.rows && x[b + 1] < level) least = std::min(least, x[++b]);
    if (b + 1 >= s.rows || !(x[b + 1] >= level) || !(least < dark)) continue;
    const int above = a - edge, below = b + 1 + edge;
    if (!all_above(x, above - plateau, above, bright) ||
        !all_above(x, below, below + plateau, bright))
      continue;
    const double half_above = 0.5 * (least + mean_of(x, above - plateau, above));
    const double half_below = 0.5 * (least + mean_of(x, below, below + plateau));
    const int middle = (a + b + 1) / 2;
    runs.push_back(
        {half_crossing(s, x, middle, -1, half_above), half_crossing(s, x, middle, 1, half_below)});
  }
  return runs;
}

/// Half way up the run: metal in the middle, none beyond the widest a core may be.
bool core_alone(const Strip& s, const Run& run, const JointFitInput& in) {
  const double r = in.implant.radius_px, c = in.implant.centre_px;
  const double middle = 0.5 * (run.from + run.to);
  const int iv = static_cast<int>(std::lround((middle - s.v0_px) / s.step_v_px));
  if (iv < 0 || iv >= s.rows) return false;
  const double edge = kWidestCore * r + 1.5 * in.spread.sigma_px;
  for (const int side : {-1, 1})
    if (!(row_mean(s, iv, c + side * edge, c + side * (edge + 2.0)) < grey_at(in, kDark)))
      return false;
  return row_mean(s, iv, c - 0.3 * r, c + 0.3 * r) > grey_at(in, 0.5);
}

}  // namespace

std::optional<WideSlit> find_wide_slit(const Strip& s, const JointFitInput& in) {
  const double r = in.implant.radius_px, c = in.implant.centre_px, mm = 1.0 / in.mm_per_px;
  std::vector<Run> side[2];
  for (const int k : {0, 1}) {
    const double sign = k == 0 ? -1.0 : 1.0;
    side[k] = dark_runs(s, rows_mean(s, c + sign * kInner * r, c + sign * kOuter * r), in);
  }
  const double least = 2.0 * kFullWidth * in.spread.sigma_px;
  for (const Run& a : side[0])
    for (const Run& b : side[1]) {
      const double ha = a.to - a.from, hb = b.to - b.from;
      if (std::min(ha, hb) < least || std::max(ha, hb) > kTallestMm * mm) continue;
      if (std::max(ha, hb) > kMostUneven * std::min(ha, hb)) continue;
      if (std::abs(0.5 * (a.to + b.to) - in.joint_px) > kReachMm * mm) continue;
      if (core_alone(s, a, in) && core_alone(s, b, in)) return WideSlit{ha, hb};
    }
  return std::nullopt;
}

}  // namespace crestgate

#include "pipeline/seating/plain_slit.h"

#include <algorithm>
#include <cmath>
#include <vector>

namespace crestgate {
namespace {

// Mean grey over a stretch of u, row by row.
std::vector<double> column_profile(const Strip& s, double u_from, double u_to) {
  std::vector<double> profile(s.rows, std::nan(""));
  for (int iv = 0; iv < s.rows; ++iv) {
    double sum = 0.0;
    int n = 0;
    for (int iu = 0; iu < s.columns; ++iu)
      if (s.u_px(iu) >= u_from && s.u_px(iu) <= u_to && std::isfinite(s.at(iu, iv))) {
        sum += s.at(iu, iv);
        ++n;
      }
    if (n > 0) profile[iv] = sum / n;
  }
  return profile;
}

double least_of(const std::vector<double>& grey, int from, int to) {
  if (from < 0 || to >= static_cast<int>(grey.size())) return std::nan("");
  return *std::min_element(grey.begin() + from, grey.begin() + to + 1);
}

struct Slit {
  double v_px = 0.0, left = 1.0;
};

std::vector<Slit> slits_in(const Strip& s, const std::vector<double>& grey, const JointFitInput& in,
                           double v_from, double v_to) {
  std::vector<Slit> slits;
  const double mm = 1.0 / in.mm_per_px / s.step_v_px, background = in.implant.tone.background;
  const int near = static_cast<int>(0.25 * mm), far = static_cast<int>(0.5 * mm);
  for (int iv = 0; iv < s.rows; ++iv) {
    if (s.v_px(iv) < v_from || s.v_px(iv) > v_to) continue;
    const double rim =
        std::min(least_of(grey, iv - far, iv - near), least_of(grey, iv + near, iv + far));
    if (rim - background > 0.4 * in.implant.tone.contrast && std::isfinite(grey[iv]))
      slits.push_back({s.v_px(iv), (grey[iv] - background) / (rim - background)});
  }
  return slits;
}

}  // namespace

SlitsLeft left_in_slits(const Strip& strip, const JointFitInput& in, double v_from_px,
                        double v_to_px) {
  SlitsLeft left;
  const double r = in.implant.radius_px, centre = in.implant.centre_px;
  for (int side : {-1, 1}) {
    const auto at = [&](double x0, double x1) {
      const double a = centre + side * x0 * r, b = centre + side * x1 * r;
      return slits_in(strip, column_profile(strip, std::min(a, b), std::max(a, b)), in, v_from_px,
                      v_to_px);
    };
    double& least = side < 0 ? left.minus : left.plus;
    const std::vector<Slit> inner = at(0.68, 0.74), outer = at(0.76, 0.82);
    for (const Slit& a : inner)
      for (const Slit& b : outer)
        if (std::abs(a.v_px - b.v_px) * in.mm_per_px < 0.1)
          least = std::min(least, std::max(a.left, b.left));
  }
  return left;
}

}  // namespace crestgate

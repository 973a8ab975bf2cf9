#include "pipeline/crest/contour.h"

#include <algorithm>
#include <cmath>

#include "pipeline/image/statistics.h"

namespace crestgate {
namespace {

constexpr float kLost = -1e9F;
/// Edges of bone at the flank are steep: up to this many px along the axis per px outward.
constexpr int kSteepest = 4;
/// A more coronal edge is the bone's first one if its step is this share of the strongest edge's:
/// two plates give two steps of like size, gum over bone a step several times smaller and softer.
constexpr double kFirstEdgeShare = 0.25;

/// Mean apical minus mean coronal of every sample: brighter apically = positive. Column-major.
struct Steps {
  int columns = 0, rows = 0;
  std::vector<float> value;
  float& at(int column, int row) { return value[static_cast<std::size_t>(column) * rows + row]; }
  float at(int column, int row) const {
    return value[static_cast<std::size_t>(column) * rows + row];
  }
};

/// Below a fall as deep as this many typical steps lies a halo or the shade of a crown.
constexpr double kCrownFall = 0.7, kCrownShadeWindows = 3.0;
/// A first edge fainter than this share of the strongest may be one plate, a wall before a crater
/// or no bone at all: it is not known where the bone meets the implant.
constexpr double kFaintShare = 0.4;
/// A step twice as large over twice the window is a ramp (gum), not an edge.
constexpr double kLeastSharpness = 0.5;
/// A large step of this sharpness is neither clearly gum nor clearly bone.
constexpr double kDoubtfulSharpness = 0.35;
/// Share of the brightest contrast that must be left at the apical end of the strip.
constexpr double kBoneGoesOn = 0.35;

/// `onset`: less what the grey value already changed just coronal of that. Bone begins out of even
/// soft tissue, while gum thickens slowly and the halo below a crown follows a fall.
Steps steps_of(const FlankStrip& s, int window, bool onset) {
  Steps out{s.columns, s.rows, std::vector<float>(s.values.size(), kLost)};
  std::vector<double> sum(s.rows + 1);
  std::vector<int> count(s.rows + 1);
  for (int c = 0; c < s.columns; ++c) {
    for (int r = 0; r < s.rows; ++r) {
      const float x = s.at(c, r);
      const bool good = std::isfinite(x);
      sum[r + 1] = sum[r] + (good ? x : 0.0F);
      count[r + 1] = count[r] + (good ? 1 : 0);
    }
    for (int r = window; r + window <= s.rows; ++r) {
      if (count[r + window] - count[r - window] < 2 * window) continue;
      const double apical = sum[r + window] - sum[r], coronal = sum[r] - sum[r - window];
      double step = apical - coronal;
      const int first = r - 2 * window;
      if (onset) {
        if (first < 0 || count[r] - count[first] < 2 * window) continue;
        step -= std::abs(coronal - (sum[r - window] - sum[first]));
      }
      out.at(c, r) = static_cast<float>(step / window);
    }
  }
  return out;
}

/// Best path over the columns from the flank outward: most step, least bending back and forth.
/// Steps count up to `cap`, so that one very strong edge does not pull the path off a plain one.
std::vector<int> best_path(const Steps& steps, float cap, const std::vector<int>& row_end) {
  const int n = steps.rows;
  std::vector<float> score(n, 0.0F), next(n);
  std::vector<std::vector<int>> from(steps.columns, std::vector<int>(n, 0));
  const float bend = 0.05F * cap;
  for (int c = 0; c < steps.columns; ++c) {
    for (int r = 0; r < n; ++r) {
      int best = r;
      float value = c == 0 ? 0.0F : -1e30F;
      if (c > 0)
        for (int k = std::max(0, r - kSteepest); k <= std::min(n - 1, r + kSteepest); ++k) {
          const float w = score[k] - bend * static_cast<float>(std::abs(k - r));
          if (w > value) value = w, best = k;
        }
      const float x = steps.at(c, r);
      next[r] = value + (r >= row_end[c] ? -10 * cap : x == kLost ? -cap : std::min(x, cap));
      from[c][r] = best;
    }
    std::swap(score, next);
  }
  std::vector<int> path(steps.columns);
  int r = static_cast<int>(std::max_element(score.begin(), score.end()) - score.begin());
  for (int c = steps.columns - 1; c >= 0; --c) {
    path[c] = r;
    r = from[c][r];
  }
  return path;
}

/// Mean step along a path; 0 if it leaves what can be seen for half of its length.
double mean_along(const Steps& steps, const std::vector<int>& path) {
  double sum = 0.0;
  int n = 0;
  for (int c = 0; c < steps.columns; ++c)
    if (steps.at(c, path[c]) != kLost) sum += steps.at(c, path[c]), ++n;
  return 2 * n > steps.columns ? sum / n : 0.0;
}

std::vector<int> shifted(std::vector<int> path, int by) {
  for (int& r : path) r += by;
  return path;
}

/// Takes out what lies just apical of a fall: a crown's halo or shade.
void block_crown_shade(const Steps& plain, double deep, int reach, Steps* steps) {
  for (int c = 0; c < steps->columns; ++c) {
    int until = -1;
    for (int r = 0; r < steps->rows; ++r) {
      if (plain.at(c, r) != kLost && -plain.at(c, r) > deep) until = r + reach;
      if (r <= until) steps->at(c, r) = kLost;
    }
  }
}

/// From third differences along v, robust against edges and texture.
double noise_of(const FlankStrip& s) {
  std::vector<float> d;
  for (int r = 0; r + 2 < s.rows; ++r)
    for (int c = 0; c < s.columns; ++c) {
      const float x = std::fabs(s.at(c, r) - 2 * s.at(c, r + 1) + s.at(c, r + 2));
      if (std::isfinite(x)) d.push_back(x);
    }
  return d.empty() ? 0.0 : median_of(d) / 0.6745 / std::sqrt(6.0);
}

/// Bone fills the strip from its edge on; what turns dark again (another part's edge, the field's
/// end, an implant read upside down) is no crest.
bool stays_bright(const FlankStrip& s, const std::vector<double>& path, int window) {
  std::vector<float> coronal, apical, all;
  for (int c = 0; c < s.columns; ++c) {
    const int at = static_cast<int>(path[c]);
    for (int r = std::max(0, at - 2 * window); r < at - window / 2; ++r)
      if (std::isfinite(s.at(c, r))) coronal.push_back(s.at(c, r));
    for (int r = at; r < s.rows; ++r) {
      if (!std::isfinite(s.at(c, r))) continue;
      all.push_back(s.at(c, r));
      if (r >= s.rows - 3 * window) apical.push_back(s.at(c, r));
    }
  }
  if (coronal.empty() || apical.empty()) return false;
  const double dark = median_of(coronal);
  return median_of(apical) - dark > kBoneGoesOn * (quantile_of(all, 0.95) - dark);
}

}  // namespace

std::optional<Contour> find_contour(const FlankStrip& strip, int window_px) {
  if (strip.columns < 4 || strip.rows < 4 * window_px) return std::nullopt;
  const Steps narrow = steps_of(strip, window_px, false);
  Steps wide = steps_of(strip, 2 * window_px, false);
  Steps onset = steps_of(strip, window_px, true);
  std::vector<float> seen;
  for (const float x : wide.value)
    if (x != kLost) seen.push_back(x);
  if (seen.size() < wide.value.size() / 4) return std::nullopt;
  Contour found;
  found.noise = noise_of(strip);
  const double strongest = quantile_of(seen, 0.98);
  if (strongest <= 0) return std::nullopt;
  const int shade = static_cast<int>(kCrownShadeWindows * window_px);
  block_crown_shade(narrow, kCrownFall * strongest, shade, &wide);
  block_crown_shade(narrow, kCrownFall * strongest, shade, &onset);

  // The main edge, soft tissue to bone, at coarse scale; then the onset at or coronal of it.
  const std::vector<int> everywhere(strip.columns, strip.rows);
  const std::vector<int> main = best_path(wide, static_cast<float>(strongest), everywhere);
  found.typical_step = mean_along(wide, main);
  if (found.typical_step <= 0) return std::nullopt;
  const auto cap = static_cast<float>(0.6 * found.typical_step);
  std::vector<int> path = best_path(onset, cap, shifted(main, window_px));
  found.step = mean_along(onset, path);
  for (int i = 0; i < 3; ++i) {
    const std::vector<int> earlier = best_path(onset, cap, shifted(path, -window_px));
    const double step = mean_along(onset, earlier);
    const double soft = mean_along(wide, earlier);
    if (step < kFirstEdgeShare * found.typical_step) break;
    if (step < kLeastSharpness * soft) {
      found.rival = step > kDoubtfulSharpness * soft;
      break;
    }
    path = earlier;
    found.step = step;
  }
  if (found.step < kFaintShare * found.typical_step) found.rival = true;
  found.row.assign(path.begin(), path.end());
  found.bone_goes_on = stays_bright(strip, found.row, window_px);
  return found;
}

}  // namespace crestgate

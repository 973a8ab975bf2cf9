#include "node/report/subtraction_picture.h"

#include <cairo.h>

#include <algorithm>
#include <cmath>
#include <cstring>

#include "node/report/comparison_text.h"
#include "node/report/sides.h"
#include "node/report/wording.h"

namespace crestgate {
namespace {

constexpr int kWidth = 1280, kHeight = 960;
constexpr double kGain = 3.0;  // of the difference

void draw_grey(Canvas& canvas, const Box& box, const Subtraction& s, const std::vector<float>& grey,
               double low, double high) {
  const int stride = cairo_format_stride_for_width(CAIRO_FORMAT_RGB24, s.columns);
  std::vector<unsigned char> pixels(static_cast<std::size_t>(stride) * s.rows);
  for (int y = 0; y < s.rows; ++y)
    for (int x = 0; x < s.columns; ++x) {
      const float g = grey[static_cast<std::size_t>(y) * s.columns + x];
      const double f = std::isfinite(g) ? std::clamp((g - low) / (high - low), 0.0, 1.0) : 0.0;
      const auto v = static_cast<std::uint32_t>(std::lround(255 * f));
      const std::uint32_t word = v << 16 | v << 8 | v;
      std::memcpy(&pixels[static_cast<std::size_t>(y) * stride + 4UL * x], &word, 4);
    }
  cairo_surface_t* surface = cairo_image_surface_create_for_data(pixels.data(), CAIRO_FORMAT_RGB24,
                                                                 s.columns, s.rows, stride);
  const double scale = std::min(box.width / s.columns, box.height / s.rows);
  cairo_t* pen = canvas.pen();
  cairo_save(pen);
  cairo_translate(pen, box.x + 0.5 * (box.width - scale * s.columns),
                  box.y + 0.5 * (box.height - scale * s.rows));
  cairo_scale(pen, scale, scale);
  cairo_set_source_surface(pen, surface, 0, 0);
  cairo_paint(pen);
  cairo_restore(pen);
  cairo_surface_destroy(surface);
}

/// Range of the finite values, so that a dark picture still fills the greys.
std::pair<double, double> range_of(const std::vector<float>& grey) {
  std::vector<float> x;
  for (const float g : grey)
    if (std::isfinite(g)) x.push_back(g);
  if (x.size() < 100) return {0.0, 1.0};
  std::sort(x.begin(), x.end());
  const double low = x[x.size() / 100], high = x[x.size() - 1 - x.size() / 100];
  return {low, high > low ? high : low + 1};
}

/// What the picture shows of an analysis.
struct Pair {
  const Comparison* comparison = nullptr;
  const ImplantComparison* sides = nullptr;
  const Implant* implant = nullptr;
};

Pair pair_of(const Subtraction& s, const Analysis& analysis) {
  Pair found;
  for (const Comparison& comparison : analysis.comparisons) {
    if (comparison.baseline_uid != s.baseline_uid) continue;
    found.comparison = &comparison;
    for (const ImplantComparison& sides : comparison.implants)
      if (sides.implant == s.implant) found.sides = &sides;
  }
  for (const Implant& implant : analysis.implants)
    if (implant.id == s.implant) found.implant = &implant;
  return found;
}

/// One block per side: the change large, what the pair could have resolved below.
void draw_changes(Canvas& canvas, Box box, const Pair& pair, const Analysis& analysis,
                  const Language& text) {
  if (pair.sides == nullptr || pair.implant == nullptr) return;
  const std::string implant =
      text.get("report.implant_group", {{"site", site_name(analysis, *pair.implant, text)}});
  const LeftRight<std::string> names = side_names(analysis, *pair.implant, text);
  TextStyle quiet;
  quiet.colour = colours::kQuiet;
  for (const bool left : {true, false}) {
    const CrestChange& change = left ? pair.sides->crest.left : pair.sides->crest.right;
    canvas.text(
        {box.x, box.y, box.width, 40},
        text.get("picture.change", {{"side", implant + ", " + (left ? names.left : names.right)},
                                    {"change", change_text(change, text)}}),
        {});
    if (change.smallest_resolvable_mm)
      canvas.text({box.x + 32, box.y + 40, box.width - 32, 36},
                  text.get("change.least", {{"mm", fixed_up(*change.smallest_resolvable_mm, 2)}}),
                  quiet);
    box.y += 86;
  }
}

}  // namespace

Canvas draw_subtraction(const Subtraction& s, const Analysis& analysis, const Language& text) {
  Canvas canvas(kWidth, kHeight);
  canvas.fill({0, 0, kWidth, kHeight}, colours::kPage);
  TextStyle title;
  title.size_px = 34;
  title.bold = true;
  canvas.text({24, 16, kWidth - 48, 44}, text.get("picture.comparison"), title);
  const auto [low, high] = range_of(s.before);
  const double half = 0.5 * (high - low) / kGain;
  const struct {
    const std::vector<float>& grey;
    const char* key;
    double low, high;
  } panels[] = {{s.before, "picture.baseline", low, high},
                {s.now, "picture.follow_up", low, high},
                {s.difference, "picture.difference", -half, half}};
  const Pair pair = pair_of(s, analysis);
  const std::string date = pair.comparison ? date_text(pair.comparison->baseline_date) : "";
  double x = 24;
  for (const auto& panel : panels) {
    const Box box{x, 112, 400, 600};
    TextStyle label;
    label.align = Align::centre;
    canvas.text({x, 72, 400, 34}, text.get(panel.key, {{"date", date}}), label);
    canvas.fill(box, colours::kPanel);
    draw_grey(canvas, box, s, panel.grey, panel.low, panel.high);
    x += 416;
  }
  draw_changes(canvas, {24, 728, kWidth - 48, 180}, pair, analysis, text);
  TextStyle quiet;
  quiet.colour = colours::kQuiet;
  canvas.text({24, kHeight - 50, kWidth - 48, 34}, text.get("picture.difference_note"), quiet);
  return canvas;
}

}  // namespace crestgate

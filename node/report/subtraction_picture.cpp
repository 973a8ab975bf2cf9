#include "node/report/subtraction_picture.h"

#include <cairo.h>

#include <algorithm>
#include <cmath>
#include <cstring>

#include "node/report/comparison_text.h"

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

}  // namespace

Canvas draw_subtraction(const Subtraction& s, const Analysis& analysis, const TextTable& text) {
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
  double x = 24;
  for (const auto& panel : panels) {
    const Box box{x, 112, 400, 600};
    TextStyle label;
    label.align = Align::centre;
    canvas.text({x, 72, 400, 34}, text.get(panel.key), label);
    canvas.fill(box, colours::kPanel);
    draw_grey(canvas, box, s, panel.grey, panel.low, panel.high);
    x += 416;
  }
  double y = 728;
  for (const Comparison& comparison : analysis.comparisons)
    for (const ImplantComparison& pair : comparison.implants)
      for (const bool left : {true, false}) {
        if (y > 850) break;
        canvas.text(
            {24, y, kWidth - 48, 34},
            "implant " + std::to_string(pair.implant) + ", " +
                change_line(left ? pair.crest.left : pair.crest.right, left ? "left" : "right"),
            {});
        y += 40;
      }
  TextStyle quiet;
  quiet.colour = colours::kQuiet;
  canvas.text({24, kHeight - 50, kWidth - 48, 34}, text.get("picture.difference_note"), quiet);
  return canvas;
}

}  // namespace crestgate

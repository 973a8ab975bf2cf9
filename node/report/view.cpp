#include "node/report/view.h"

#include <algorithm>
#include <cmath>

namespace crestgate {
namespace {

struct Window {
  float low = 0, high = 1;
};

/// Grey window from the 1st to the 99th percentile of what is shown. Padding does not count, nor do
/// the image's outer 4 %: frames, burned-in borders and rounded corners sit there.
Window window_of(const Frame& frame, const View& view) {
  const int rim_x = frame.columns / 25, rim_y = frame.rows / 25;
  const int x0 = std::clamp(int(view.origin.x), rim_x, frame.columns - rim_x);
  const int y0 = std::clamp(int(view.origin.y), rim_y, frame.rows - rim_y);
  const int x1 =
      std::clamp(int(view.origin.x + view.box.width / view.scale), rim_x, frame.columns - rim_x);
  const int y1 =
      std::clamp(int(view.origin.y + view.box.height / view.scale), rim_y, frame.rows - rim_y);
  const int step = std::max(1, std::max(x1 - x0, y1 - y0) / 400);
  std::vector<float> values;
  for (int y = y0; y < y1; y += step) {
    for (int x = x0; x < x1; x += step) {
      const std::size_t at = std::size_t(y) * frame.columns + x;
      const bool padding = !frame.padding.empty() && frame.padding[at];
      if (!padding && std::isfinite(frame.values[at])) values.push_back(frame.values[at]);
    }
  }
  if (values.empty()) return {};
  auto quantile = [&](double q) {
    auto nth = values.begin() + static_cast<std::ptrdiff_t>(q * double(values.size() - 1));
    std::nth_element(values.begin(), nth, values.end());
    return *nth;
  };
  Window window{quantile(0.01), quantile(0.99)};
  if (window.high <= window.low) window.high = window.low + 1;
  return window;
}

cairo_surface_t* grey_surface(const Frame& frame, Window window) {
  cairo_surface_t* surface =
      cairo_image_surface_create(CAIRO_FORMAT_RGB24, frame.columns, frame.rows);
  unsigned char* data = cairo_image_surface_get_data(surface);
  const int stride = cairo_image_surface_get_stride(surface);
  for (int y = 0; y < frame.rows; ++y) {
    auto* row = reinterpret_cast<std::uint32_t*>(data + std::size_t(y) * stride);
    for (int x = 0; x < frame.columns; ++x) {
      const float part = (frame.at(x, y) - window.low) / (window.high - window.low);
      const auto grey = static_cast<std::uint32_t>(std::clamp(part, 0.0F, 1.0F) * 255.0F + 0.5F);
      row[x] = grey << 16 | grey << 8 | grey;
    }
  }
  cairo_surface_mark_dirty(surface);
  return surface;
}

}  // namespace

void paint(Canvas& canvas, const Frame& frame, const View& view) {
  canvas.fill(view.box, colours::kPanel);
  if (frame.empty()) return;
  cairo_surface_t* surface = grey_surface(frame, window_of(frame, view));
  cairo_t* pen = canvas.pen();
  cairo_save(pen);
  cairo_rectangle(pen, view.box.x, view.box.y, view.box.width, view.box.height);
  cairo_clip(pen);
  cairo_translate(pen, view.box.x - view.origin.x * view.scale,
                  view.box.y - view.origin.y * view.scale);
  cairo_scale(pen, view.scale, view.scale);
  cairo_set_source_surface(pen, surface, 0, 0);
  cairo_pattern_set_filter(cairo_get_source(pen), CAIRO_FILTER_GOOD);
  cairo_rectangle(pen, 0, 0, frame.columns, frame.rows);
  cairo_fill(pen);
  cairo_restore(pen);
  cairo_surface_destroy(surface);
}

}  // namespace crestgate

#include "node/report/canvas.h"

#include <pango/pangocairo.h>

#include <algorithm>

namespace crestgate {
namespace {

struct FreeObject {
  void operator()(void* object) const { g_object_unref(object); }
};
using Layout = std::unique_ptr<PangoLayout, FreeObject>;

Layout make_layout(cairo_t* pen, const std::string& words, const TextStyle& style) {
  Layout layout(pango_cairo_create_layout(pen));
  // Hinting and metrics off: the same picture whatever the desktop's font settings.
  cairo_font_options_t* options = cairo_font_options_create();
  cairo_font_options_set_antialias(options, CAIRO_ANTIALIAS_GRAY);
  cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
  cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
  pango_cairo_context_set_font_options(pango_layout_get_context(layout.get()), options);
  cairo_font_options_destroy(options);
  pango_layout_set_text(layout.get(), words.c_str(), static_cast<int>(words.size()));
  pango_layout_set_wrap(layout.get(), PANGO_WRAP_WORD_CHAR);
  pango_layout_set_alignment(layout.get(), style.align == Align::left    ? PANGO_ALIGN_LEFT
                                           : style.align == Align::right ? PANGO_ALIGN_RIGHT
                                                                         : PANGO_ALIGN_CENTER);
  return layout;
}

void set_size(PangoLayout* layout, double size_px, bool bold) {
  PangoFontDescription* font = pango_font_description_new();
  pango_font_description_set_family(font, "DejaVu Sans");
  pango_font_description_set_weight(font, bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
  pango_font_description_set_absolute_size(font, size_px * PANGO_SCALE);
  pango_layout_set_font_description(layout, font);
  pango_font_description_free(font);
}

PangoRectangle extents(PangoLayout* layout) {
  PangoRectangle logical;
  pango_layout_get_pixel_extents(layout, nullptr, &logical);
  return logical;
}

}  // namespace

Canvas::Canvas(int width_px, int height_px)
    : width_px_(width_px),
      height_px_(height_px),
      surface_(cairo_image_surface_create(CAIRO_FORMAT_RGB24, width_px, height_px)),
      pen_(cairo_create(surface_.get())) {
  fill({0, 0, double(width_px), double(height_px)}, colours::kPage);
}

void Canvas::use(Colour colour) {
  cairo_set_source_rgb(pen(), colour.red, colour.green, colour.blue);
}

void Canvas::fill(const Box& box, Colour colour) {
  use(colour);
  cairo_rectangle(pen(), box.x, box.y, box.width, box.height);
  cairo_fill(pen());
}

void Canvas::frame(const Box& box, Colour colour, double line_px) {
  use(colour);
  cairo_set_line_width(pen(), line_px);
  cairo_rectangle(pen(), box.x, box.y, box.width, box.height);
  cairo_stroke(pen());
}

void Canvas::line(Point from, Point to, Colour colour, double width_px) {
  use(colour);
  cairo_set_line_width(pen(), width_px);
  cairo_move_to(pen(), from.x, from.y);
  cairo_line_to(pen(), to.x, to.y);
  cairo_stroke(pen());
}

void Canvas::outlined_line(Point from, Point to, Colour colour, double width_px) {
  line(from, to, colours::kInk, width_px + 3);
  line(from, to, colour, width_px);
}

Box Canvas::measure(const std::string& words, const TextStyle& style) {
  Layout layout = make_layout(pen(), words, style);
  set_size(layout.get(), style.size_px, style.bold);
  const PangoRectangle size = extents(layout.get());
  return {0, 0, double(size.width), double(size.height)};
}

Box Canvas::text(const Box& box, const std::string& words, const TextStyle& style) {
  if (words.empty()) return {box.x, box.y, 0, 0};
  Layout layout = make_layout(pen(), words, style);
  pango_layout_set_width(layout.get(), static_cast<int>(box.width * PANGO_SCALE));
  double size_px = style.size_px;
  set_size(layout.get(), size_px, style.bold);
  const auto too_high = [&] { return extents(layout.get()).height > box.height; };
  const auto shrink_to = [&](double least_px) {
    while (too_high() && size_px > least_px) {
      size_px = std::max(least_px, size_px - 1);
      set_size(layout.get(), size_px, style.bold);
    }
  };
  shrink_to(style.least_size_px);
  if (too_high()) {
    small_texts_.push_back(words);
    shrink_to(style.least_size_px * 2 / 3);
  }
  if (too_high()) {
    cut_texts_.push_back(words);
    pango_layout_set_ellipsize(layout.get(), PANGO_ELLIPSIZE_END);
    pango_layout_set_height(layout.get(), static_cast<int>(box.height * PANGO_SCALE));
  }
  const PangoRectangle size = extents(layout.get());
  const double y = style.middle ? box.y + (box.height - size.height) / 2 : box.y;
  use(style.colour);
  cairo_move_to(pen(), box.x, y);
  pango_cairo_show_layout(pen(), layout.get());
  const Box drawn{box.x + size.x, y, double(size.width), double(size.height)};
  text_boxes_.push_back(drawn);
  texts_.push_back(words);
  return drawn;
}

std::vector<std::uint8_t> Canvas::png() {
  std::vector<std::uint8_t> bytes;
  cairo_surface_flush(surface_.get());
  cairo_surface_write_to_png_stream(
      surface_.get(),
      [](void* closure, const unsigned char* data, unsigned length) {
        auto* out = static_cast<std::vector<std::uint8_t>*>(closure);
        out->insert(out->end(), data, data + length);
        return CAIRO_STATUS_SUCCESS;
      },
      &bytes);
  return bytes;
}

std::vector<std::uint8_t> Canvas::rgb() {
  cairo_surface_flush(surface_.get());
  const unsigned char* rows = cairo_image_surface_get_data(surface_.get());
  const int stride = cairo_image_surface_get_stride(surface_.get());
  std::vector<std::uint8_t> bytes;
  bytes.reserve(std::size_t(width_px_) * height_px_ * 3);
  for (int y = 0; y < height_px_; ++y) {
    const auto* pixels = reinterpret_cast<const std::uint32_t*>(rows + std::size_t(y) * stride);
    for (int x = 0; x < width_px_; ++x) {
      bytes.push_back(static_cast<std::uint8_t>(pixels[x] >> 16));
      bytes.push_back(static_cast<std::uint8_t>(pixels[x] >> 8));
      bytes.push_back(static_cast<std::uint8_t>(pixels[x]));
    }
  }
  return bytes;
}

}  // namespace crestgate

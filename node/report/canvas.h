// A page to draw on: cairo for shapes, pango for text (shaping, fonts, line breaks). Remembers
// where text went and whether it was cut, so that a test can prove nothing overlaps. Not
// thread-safe; one canvas per picture.
#pragma once
#include <cairo.h>

#include <cstdint>
#include <memory>
#include <string>
#include <vector>

#include "pipeline/image/frame.h"

namespace crestgate {

struct Box {
  double x = 0, y = 0, width = 0, height = 0;
  double right() const { return x + width; }
  double bottom() const { return y + height; }
  Box inset(double by) const { return {x + by, y + by, width - 2 * by, height - 2 * by}; }
  bool overlaps(const Box& other) const {
    return x < other.right() && other.x < right() && y < other.bottom() && other.y < bottom();
  }
  bool contains(const Box& other) const {
    return other.x >= x && other.y >= y && other.right() <= right() && other.bottom() <= bottom();
  }
};

struct Colour {
  double red = 0, green = 0, blue = 0;
};
/// Okabe and Ito's colour-blind safe set (2008) on near-black; no green and no red anywhere, so
/// that nothing reads as 'good' or 'bad' by colour alone.
namespace colours {
inline constexpr Colour kPage{0.07, 0.07, 0.08};
inline constexpr Colour kPanel{0.14, 0.14, 0.16};
inline constexpr Colour kText{0.96, 0.96, 0.96};
inline constexpr Colour kQuiet{0.74, 0.74, 0.76};
inline constexpr Colour kFinding{0.90, 0.62, 0.00};  ///< orange
inline constexpr Colour kMark{0.34, 0.71, 0.91};     ///< sky blue
inline constexpr Colour kInk{0.07, 0.07, 0.08};
}  // namespace colours

enum class Align { left, centre, right };

struct TextStyle {
  double size_px = 24;
  /// Shrinks down to this, which still reads at half size; a longer language goes on to two thirds
  /// of it (small_texts), then is cut with an ellipsis (cut_texts).
  double least_size_px = 22;
  bool bold = false;
  Colour colour = colours::kText;
  Align align = Align::left;
  bool middle = false;  ///< centred vertically in its box
};

class Canvas {
 public:
  Canvas(int width_px, int height_px);
  cairo_t* pen() { return pen_.get(); }
  int width() const { return width_px_; }
  int height() const { return height_px_; }

  void fill(const Box& box, Colour colour);
  void frame(const Box& box, Colour colour, double line_px);
  void line(Point from, Point to, Colour colour, double width_px);
  /// A line that shows on dark and bright ground alike: dark halo below.
  void outlined_line(Point from, Point to, Colour colour, double width_px);
  void use(Colour colour);
  /// Lays `words` (UTF-8) into `box` and returns the ink's box; the text never leaves `box`.
  Box text(const Box& box, const std::string& words, const TextStyle& style);
  /// Size the words would take on one line.
  Box measure(const std::string& words, const TextStyle& style);

  const std::vector<Box>& text_boxes() const { return text_boxes_; }
  const std::vector<std::string>& cut_texts() const { return cut_texts_; }
  const std::vector<std::string>& small_texts() const { return small_texts_; }
  const std::vector<std::string>& texts() const { return texts_; }

  std::vector<std::uint8_t> png();
  /// Interleaved 8-bit RGB, row by row.
  std::vector<std::uint8_t> rgb();

 private:
  struct Free {
    void operator()(cairo_surface_t* surface) const { cairo_surface_destroy(surface); }
    void operator()(cairo_t* pen) const { cairo_destroy(pen); }
  };
  int width_px_, height_px_;
  std::unique_ptr<cairo_surface_t, Free> surface_;
  std::unique_ptr<cairo_t, Free> pen_;
  std::vector<Box> text_boxes_;
  std::vector<std::string> cut_texts_, small_texts_, texts_;
};

}  // namespace crestgate

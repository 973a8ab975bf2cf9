#include <algorithm>
#include <array>
#include <cctype>
#include <cmath>
#include <string>

#include "config/units.h"
#include "tests/support/image_ops.h"

namespace crestgate::phantom {
namespace {

// 5x7 dots, one byte per row, bit 4 = leftmost.
struct Glyph {
  char c;
  std::array<unsigned char, 7> rows;
};
constexpr Glyph kFont[] = {
    {'0', {14, 17, 19, 21, 25, 17, 14}}, {'1', {4, 12, 4, 4, 4, 4, 14}},
    {'2', {14, 17, 1, 2, 4, 8, 31}},     {'3', {31, 2, 4, 2, 1, 17, 14}},
    {'4', {2, 6, 10, 18, 31, 2, 2}},     {'5', {31, 16, 30, 1, 1, 17, 14}},
    {'6', {6, 8, 16, 30, 17, 17, 14}},   {'7', {31, 1, 2, 4, 8, 8, 8}},
    {'8', {14, 17, 17, 14, 17, 17, 14}}, {'9', {14, 17, 17, 15, 1, 2, 12}},
    {'A', {14, 17, 17, 31, 17, 17, 17}}, {'B', {30, 17, 17, 30, 17, 17, 30}},
    {'C', {14, 17, 16, 16, 16, 17, 14}}, {'D', {28, 18, 17, 17, 17, 18, 28}},
    {'E', {31, 16, 16, 30, 16, 16, 31}}, {'F', {31, 16, 16, 30, 16, 16, 16}},
    {'G', {14, 17, 16, 23, 17, 17, 15}}, {'H', {17, 17, 17, 31, 17, 17, 17}},
    {'I', {14, 4, 4, 4, 4, 4, 14}},      {'K', {17, 18, 20, 24, 20, 18, 17}},
    {'L', {16, 16, 16, 16, 16, 16, 31}}, {'M', {17, 27, 21, 21, 17, 17, 17}},
    {'N', {17, 25, 21, 19, 17, 17, 17}}, {'O', {14, 17, 17, 17, 17, 17, 14}},
    {'P', {30, 17, 17, 30, 16, 16, 16}}, {'R', {30, 17, 17, 30, 20, 18, 17}},
    {'S', {15, 16, 16, 14, 1, 1, 30}},   {'T', {31, 4, 4, 4, 4, 4, 4}},
    {'U', {17, 17, 17, 17, 17, 17, 14}}, {'V', {17, 17, 17, 17, 17, 10, 4}},
    {'X', {17, 17, 10, 4, 10, 17, 17}},  {'Y', {17, 17, 10, 4, 4, 4, 4}},
    {'-', {0, 0, 0, 31, 0, 0, 0}},       {':', {0, 4, 0, 0, 0, 4, 0}},
    {'.', {0, 0, 0, 0, 0, 12, 12}},      {'/', {1, 1, 2, 4, 8, 16, 16}},
};

Plane mirrored(const Plane& in) {
  Plane out = in;
  for (int y = 0; y < in.rows; ++y) {
    for (int x = 0; x < in.columns; ++x) out.at(in.columns - 1 - x, y) = in.at(x, y);
  }
  return out;
}

Plane quarter_turn(const Plane& in) {
  Plane out{in.columns, in.rows, std::vector<float>(in.values.size())};
  for (int y = 0; y < in.rows; ++y) {
    for (int x = 0; x < in.columns; ++x) out.at(in.rows - 1 - y, x) = in.at(x, y);
  }
  return out;
}

// Where the collimator's circle ends nothing reaches the sensor: white once inverted, as unexposed.
void cone_cut(const Opening& opening, Plane* image) {
  for (int y = 0; y < image->rows; ++y) {
    for (int x = 0; x < image->columns; ++x) {
      const float f = static_cast<float>(opening.cone_cut(x, y));
      image->at(x, y) = image->at(x, y) * (1 - f) + 0.98F * f;
    }
  }
}

void fill(Plane* image, int x0, int y0, int x1, int y1, float value) {
  for (int y = std::max(0, y0); y < std::min(image->rows, y1); ++y) {
    for (int x = std::max(0, x0); x < std::min(image->columns, x1); ++x) image->at(x, y) = value;
  }
}

void round_corners(const Opening& opening, Plane* image) {
  for (int y = 0; y < image->rows; ++y) {
    for (int x = 0; x < image->columns; ++x) {
      if (opening.in_corner(x, y)) image->at(x, y) = 0.0F;
    }
  }
}

void ruler(Plane* image, double pixel_mm) {
  for (int mm = 0; mm * 1.0 / pixel_mm < image->rows; ++mm) {
    const int y = static_cast<int>(mm / pixel_mm);
    fill(image, 4, y, mm % 5 == 0 ? 34 : 20, y + 2, 1.0F);
  }
}
}  // namespace

Opening::Opening(const Scene& scene, int columns, int rows)
    : columns_(columns),
      rows_(rows),
      corner_(scene.readout.corner_radius_mm / scene.detector.pixel_mm) {
  if (!(scene.readout.cone_cut_mm > 0)) return;
  radius_ = 30.0 / scene.detector.pixel_mm;  // a 60 mm field, common practice
  soft_ = 0.3 / scene.detector.pixel_mm;
  const double a = radians(scene.readout.cone_cut_direction_deg);
  const double half = 0.5 * (std::abs(std::cos(a)) * columns + std::abs(std::sin(a)) * rows);
  const double shift = half - scene.readout.cone_cut_mm / scene.detector.pixel_mm - radius_;
  x_ = 0.5 * columns + shift * std::cos(a);
  y_ = 0.5 * rows + shift * std::sin(a);
}

double Opening::cone_cut(double x, double y) const {
  if (!(radius_ > 0)) return 0.0;
  return std::clamp((std::hypot(x - x_, y - y_) - radius_) / soft_, 0.0, 1.0);
}

bool Opening::in_corner(double x, double y) const {
  const double dx = std::max({corner_ - x, x - (columns_ - 1 - corner_), 0.0});
  const double dy = std::max({corner_ - y, y - (rows_ - 1 - corner_), 0.0});
  return dx * dx + dy * dy > corner_ * corner_;
}

void draw_text(Plane* image, const std::string& text, int x, int y, int scale, float value) {
  for (const char raw : text) {
    const char c = static_cast<char>(std::toupper(static_cast<unsigned char>(raw)));
    for (const Glyph& g : kFont) {
      if (g.c != c) continue;
      for (int row = 0; row < 7; ++row) {
        for (int dot = 0; dot < 5; ++dot) {
          if (!(g.rows[row] >> (4 - dot) & 1)) continue;
          fill(image, x + dot * scale, y + row * scale, x + (dot + 1) * scale,
               y + (row + 1) * scale, value);
        }
      }
    }
    x += 6 * scale;
  }
}

Plane read_out_plane(const Scene& scene, const Plane& image) {
  const Readout& r = scene.readout;
  Plane out = r.mirrored ? mirrored(image) : image;
  for (int i = 0; i < ((r.quarter_turns % 4) + 4) % 4; ++i) out = quarter_turn(out);
  const Opening opening(scene, out.columns, out.rows);
  if (r.cone_cut_mm > 0) cone_cut(opening, &out);
  if (r.corner_radius_mm > 0) round_corners(opening, &out);
  if (r.bar_px > 0) fill(&out, 0, 0, out.columns, r.bar_px, 0.0F);
  if (r.ruler) ruler(&out, scene.detector.pixel_mm);
  if (!r.text.empty()) {
    draw_text(&out, r.text, 10 + r.frame_px, 10 + r.frame_px, std::max(1, out.columns / 400), 1.0F);
  }
  if (r.frame_px > 0) {
    const float v = r.frame_white ? 1.0F : 0.0F;
    fill(&out, 0, 0, out.columns, r.frame_px, v);
    fill(&out, 0, out.rows - r.frame_px, out.columns, out.rows, v);
    fill(&out, 0, 0, r.frame_px, out.rows, v);
    fill(&out, out.columns - r.frame_px, 0, out.columns, out.rows, v);
  }
  return out;
}

}  // namespace crestgate::phantom

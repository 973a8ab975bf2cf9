#include "node/report/pictogram.h"

#include <cmath>

namespace crestgate {
namespace {

void polygon(Canvas& canvas, std::initializer_list<Point> corners, Colour colour, bool filled,
             double line_px = 3) {
  cairo_t* pen = canvas.pen();
  canvas.use(colour);
  bool first = true;
  for (const Point& corner : corners) {
    first ? cairo_move_to(pen, corner.x, corner.y) : cairo_line_to(pen, corner.x, corner.y);
    first = false;
  }
  cairo_close_path(pen);
  cairo_set_line_width(pen, line_px);
  filled ? cairo_fill(pen) : cairo_stroke(pen);
}

void ring(Canvas& canvas, Point centre, double radius, Colour colour, double line_px) {
  cairo_t* pen = canvas.pen();
  canvas.use(colour);
  cairo_set_line_width(pen, line_px);
  cairo_new_sub_path(pen);
  cairo_arc(pen, centre.x, centre.y, radius, 0, 2 * kPi);
  cairo_stroke(pen);
}

void arrow(Canvas& canvas, Point from, Point to, Colour colour, double width_px) {
  const double length = std::hypot(to.x - from.x, to.y - from.y);
  const Point along{(to.x - from.x) / length, (to.y - from.y) / length};
  const Point neck{to.x - 16 * along.x, to.y - 16 * along.y};
  canvas.line(from, neck, colour, width_px);
  polygon(canvas,
          {to,
           {neck.x - 11 * along.y, neck.y + 11 * along.x},
           {neck.x + 11 * along.y, neck.y - 11 * along.x}},
          colour, true);
}

/// Tube head: a box with a cone, at `mouth` looking along `aim` (unit vector).
void tube(Canvas& canvas, Point mouth, Point aim, Colour colour, bool filled) {
  const Point across{-aim.y, aim.x};
  auto at = [&](double back, double off) {
    return Point{mouth.x - back * aim.x + off * across.x, mouth.y - back * aim.y + off * across.y};
  };
  if (!filled) {
    const double dashes[] = {5, 4};
    cairo_set_dash(canvas.pen(), dashes, 2, 0);
  }
  polygon(canvas, {at(0, -7), at(0, 7), at(20, 11), at(20, -11)}, colour, filled, 2);
  polygon(canvas, {at(22, -19), at(22, 19), at(54, 19), at(54, -19)}, colour, filled, 2);
  cairo_set_dash(canvas.pen(), nullptr, 0, 0);
}

/// Implant with crown, crown end towards `crown` (unit vector), centre at `c`.
void implant(Canvas& canvas, Point c, Point crown) {
  const Point side{-crown.y, crown.x};
  auto at = [&](double up, double off) {
    return Point{c.x + up * crown.x + off * side.x, c.y + up * crown.y + off * side.y};
  };
  polygon(canvas, {at(10, -10), at(10, 10), at(-40, 7), at(-40, -7)}, colours::kText, true);
  for (double v = 2; v > -40; v -= 8) {
    canvas.line(at(v, -11), at(v - 3, 11), colours::kPage, 2);
  }
  polygon(canvas, {at(12, -9), at(12, 9), at(22, 17), at(40, 15), at(40, -15), at(22, -17)},
          colours::kText, false, 2.5);
}

}  // namespace

void draw_verdict_sign(Canvas& canvas, const Box& box, Verdict verdict) {
  const Point c{box.x + box.width / 2, box.y + box.height / 2};
  const double r = std::min(box.width, box.height) / 2 - 4;
  cairo_t* pen = canvas.pen();
  switch (verdict) {
    case Verdict::usable:
      ring(canvas, c, r, colours::kMark, 7);
      canvas.line({c.x - 0.45 * r, c.y}, {c.x - 0.1 * r, c.y + 0.38 * r}, colours::kMark, 8);
      canvas.line({c.x - 0.1 * r, c.y + 0.38 * r}, {c.x + 0.48 * r, c.y - 0.4 * r}, colours::kMark,
                  8);
      break;
    case Verdict::usable_with_limits:
      ring(canvas, c, r, colours::kMark, 7);
      canvas.use(colours::kMark);
      cairo_arc(pen, c.x, c.y, r, kPi / 2, 3 * kPi / 2);
      cairo_fill(pen);
      break;
    case Verdict::repeat_if_justified:
      polygon(canvas, {{c.x, c.y - r}, {c.x + r, c.y + 0.8 * r}, {c.x - r, c.y + 0.8 * r}},
              colours::kFinding, false, 8);
      canvas.line({c.x, c.y - 0.35 * r}, {c.x, c.y + 0.3 * r}, colours::kFinding, 9);
      canvas.line({c.x, c.y + 0.42 * r}, {c.x, c.y + 0.58 * r}, colours::kFinding, 9);
      break;
    case Verdict::not_assessable:
      canvas.frame({c.x - r, c.y - r, 2 * r, 2 * r}, colours::kText, 7);
      canvas.text({c.x - r, c.y - r, 2 * r, 2 * r}, "?",
                  {1.3 * r, 20, true, colours::kText, Align::centre, true});
      break;
  }
}

namespace {

const TextStyle kSmall{20, 18, false, colours::kQuiet, Align::right, true};

/// Lying implant, crown left, root right: no claim about up and down.
void draw_lying(Canvas& canvas, const Box& box, const TubeMove& move, const Language& text) {
  const Point c{box.x + box.width / 2, box.bottom() - 26};
  implant(canvas, c, {-1, 0});
  const double y = c.y - 30;
  tube(canvas, {c.x, y}, {0, 1}, colours::kText, true);
  if (!move.direction_known) {
    canvas.text({box.x, box.y + 8, box.width / 2 - 30, 60}, "?",
                {44, 30, true, colours::kFinding, Align::right, true});
    canvas.text({box.x + box.width / 2 + 30, box.y + 8, box.width / 2 - 30, 60},
                text.get("pictogram.no_direction"),
                {20, 18, false, colours::kText, Align::left, true});
    return;
  }
  const double shift = move.source_too_coronal ? -62 : 62;
  tube(canvas, {c.x + shift, y}, {0, 1}, colours::kQuiet, false);
  arrow(canvas, {c.x + shift, box.y + 14}, {c.x + (shift > 0 ? -8 : 8), box.y + 14},
        colours::kFinding, 6);
  canvas.text({c.x + 48, c.y - 16, box.right() - c.x - 48, 32}, text.get("pictogram.root_end"),
              {20, 18, false, colours::kText, Align::left, true});
}

}  // namespace

void draw_tube_move(Canvas& canvas, const Box& box, const TubeMove& move, const Language& text) {
  if (move.jaw == Jaw::unknown || !move.direction_known) {
    draw_lying(canvas, box, move, text);
    return;
  }
  const bool mandible = move.jaw == Jaw::mandible;
  // Source too coronal means too high for the mandible, too low for the maxilla.
  const bool now_is_above = mandible == move.source_too_coronal;
  const double up = now_is_above ? -1 : 1;
  const Point c{box.right() - 30, box.y + box.height / 2 + 28 * -up};
  implant(canvas, {c.x, c.y}, {0, mandible ? -1.0 : 1.0});
  const Point next{c.x - 58, c.y}, now{c.x - 52, c.y + up * 60};
  const double tilt = -up * 0.42;
  const double dashes[] = {4, 5};
  cairo_set_dash(canvas.pen(), dashes, 2, 0);
  canvas.line({next.x + 6, next.y}, {c.x - 14, c.y}, colours::kText, 2);
  cairo_set_dash(canvas.pen(), nullptr, 0, 0);
  tube(canvas, now, {std::cos(tilt), std::sin(tilt)}, colours::kQuiet, false);
  tube(canvas, next, {1, 0}, colours::kText, true);
  const double x = next.x - 76;
  arrow(canvas, {x, now.y}, {x, next.y + up * 4}, colours::kFinding, 7);
  const double words = x - 18 - box.x;
  canvas.text({box.x, now.y - 16, words, 32}, text.get("pictogram.now"), kSmall);
  canvas.text({box.x, next.y - 16, words, 32}, text.get("pictogram.next"), kSmall);
}

}  // namespace crestgate

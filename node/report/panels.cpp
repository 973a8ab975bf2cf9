#include "node/report/panels.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>

#include "node/report/sides.h"
#include "node/report/view.h"
#include "node/report/wording.h"

namespace crestgate {
namespace {

constexpr double kArrowAway = 26;  ///< page px between flank and crown-side arrow

/// Sign of u on the image's left.
double left_sign(const AxisFrame& axis) { return axis.minus_is_left() ? -1.0 : 1.0; }

class Marker {
 public:
  Marker(Canvas& canvas, const View& view, const Implant& implant)
      : canvas_(canvas), view_(view), implant_(implant) {}

  /// Hollow triangles pointing at the bone contacts from outside, short lines beside the platform.
  void crest_and_platform(double mark_px) {
    const AxisFrame& axis = implant_.shape.axis;
    const double away = implant_.shape.radius_px + 0.6 * mark_px / view_.scale;
    const double mark = mark_px / view_.scale;
    for (const double side : {-1.0, 1.0}) {
      if (implant_.platform_placed()) {
        const bool gap = gap_on(side == left_sign(axis));
        canvas_.outlined_line(view_.page(axis.to_image(side * away, 0)),
                              view_.page(axis.to_image(side * (away + 1.4 * mark), 0)),
                              gap ? colours::kFinding : colours::kMark, gap ? 5 : 2.5);
      }
      const CrestLevel& level =
          side == left_sign(axis) ? implant_.crest.left : implant_.crest.right;
      if (!level.level_mm) continue;
      const double v = *level.contact_px;
      const double tip = side * (away + 0.2 * mark), base = side * (away + 1.2 * mark);
      hollow_triangle({view_.page(axis.to_image(tip, v)),
                       view_.page(axis.to_image(base, v - 0.5 * mark)),
                       view_.page(axis.to_image(base, v + 0.5 * mark))});
    }
  }

  /// Dashed axis beyond the apex only: the metal stays free.
  void axis_beyond_metal() {
    const ImplantShape& shape = implant_.shape;
    if (!shape.apex_in_view) return;
    cairo_t* pen = canvas_.pen();
    const Point from = view_.page(shape.axis.to_image(0, shape.length_px + 8 / view_.scale));
    const Point to = view_.page(shape.axis.to_image(0, 1.3 * shape.length_px));
    const double dashes[] = {9, 6};
    cairo_set_dash(pen, dashes, 2, 0);
    canvas_.line(from, to, colours::kMark, 2);
    cairo_set_dash(pen, nullptr, 0, 0);
  }

  /// Arrow beside the body towards the crown; double-headed when the crown side is not known.
  void crown_arrow(double side) {
    const ImplantShape& shape = implant_.shape;
    const double u = side * (shape.radius_px + kArrowAway / view_.scale);
    const Point tail = view_.page(shape.axis.to_image(u, 0.75 * shape.length_px));
    const Point head = view_.page(shape.axis.to_image(u, 0.35 * shape.length_px));
    canvas_.outlined_line(tail, head, colours::kMark, 3);
    arrow_head(tail, head);
    if (!shape.coronal_known) arrow_head(head, tail);
  }

 private:
  /// A side without a figure of its own is marked too when a gap is seen at all.
  bool gap_on(bool left) const {
    const JointMeasures& joint = implant_.joint;
    if (joint.state != JointState::gap_visible) return false;
    const std::optional<double>& side = left ? joint.gap_side_mm.left : joint.gap_side_mm.right;
    return !side || *side > 0;
  }

  void hollow_triangle(const std::array<Point, 3>& corners) {
    for (const auto& [colour, width] : {std::pair{colours::kInk, 5.0}, {colours::kMark, 2.2}}) {
      cairo_t* pen = canvas_.pen();
      canvas_.use(colour);
      cairo_set_line_width(pen, width);
      cairo_move_to(pen, corners[0].x, corners[0].y);
      cairo_line_to(pen, corners[1].x, corners[1].y);
      cairo_line_to(pen, corners[2].x, corners[2].y);
      cairo_close_path(pen);
      cairo_stroke(pen);
    }
  }

  void arrow_head(Point tail, Point head) {
    const double length = std::hypot(head.x - tail.x, head.y - tail.y);
    if (length <= 0) return;
    const Point along{(head.x - tail.x) / length, (head.y - tail.y) / length};
    for (const double side : {-1.0, 1.0}) {
      canvas_.outlined_line(
          head,
          {head.x - 13 * along.x - side * 8 * along.y, head.y - 13 * along.y + side * 8 * along.x},
          colours::kMark, 3);
    }
  }

  Canvas& canvas_;
  const View& view_;
  const Implant& implant_;
};

/// Box around everything of an implant that must stay visible, on the page.
Box hull(const View& view, const Implant& implant, double side_room_px) {
  const ImplantShape& shape = implant.shape;
  const double u = shape.radius_px + side_room_px / view.scale;
  Box box{1e9, 1e9, 0, 0};
  double right = -1e9, bottom = -1e9;
  for (const double su : {-u, u}) {
    for (const double v : {-0.45 * shape.length_px, 1.05 * shape.length_px}) {
      const Point p = view.page(shape.axis.to_image(su, v));
      box.x = std::min(box.x, p.x);
      box.y = std::min(box.y, p.y);
      right = std::max(right, p.x);
      bottom = std::max(bottom, p.y);
    }
  }
  return {box.x, box.y, right - box.x, bottom - box.y};
}

std::string label_words(const Analysis& analysis, const Implant& implant, const Language& text) {
  if (implant.possible_only) return text.get("mark.possible");
  std::string words = text.get("mark.site", {{"site", site_name(analysis, implant, text)}});
  words += "\n" + text.get(implant.shape.coronal_known ? "mark.crown" : "mark.crown_unknown");
  if (analysis.acquisition.mirrored_possible) words += "\n" + text.get("mark.mirror");
  return words;
}

/// Where a label's line leaves it: the middle of the edge that faces the target.
Point line_start(const Box& label, Point target) {
  const double middle_x = label.x + label.width / 2, middle_y = label.y + label.height / 2;
  if (target.x < label.x) return {label.x, middle_y};
  if (target.x > label.right()) return {label.right(), middle_y};
  return {middle_x, target.y < label.y ? label.y : label.bottom()};
}

/// What of the radiograph must stay free of a label, and which of it is the label's own implant.
struct Taken {
  std::vector<Box> boxes;   ///< implants with their surroundings, then labels
  std::vector<Box> bodies;  ///< implants alone
  std::vector<std::pair<Point, Point>> lines;
  std::size_t own = 0;
};

/// First free place for a label whose line ends at `target`: outside the image at the target's
/// height, then up and down along the panel's edges, then right beside, below and above the
/// implant. Neither the label nor its line may touch another implant or label.
Box place_label(const Box& panel, const Box& image, Point target, const Taken& taken, double width,
                double height) {
  const Box& own = taken.boxes[taken.own];
  auto clamped_x = [&](double x) { return std::clamp(x, panel.x, panel.right() - width); };
  auto clamped_y = [&](double y) { return std::clamp(y, panel.y, panel.bottom() - height); };
  const double level = clamped_y(target.y - height / 2);
  const double left = std::max(panel.x, image.x - width - 10);
  const double right = std::min(panel.right() - width, image.right() + 10);
  const bool left_first = own.x + own.width / 2 < panel.x + panel.width / 2;
  std::vector<Box> candidates;
  for (const double x : {left_first ? left : right, left_first ? right : left}) {
    candidates.push_back({x, level, width, height});
    for (double step = height / 2; step < panel.height; step += height / 2) {
      candidates.push_back({x, clamped_y(level + step), width, height});
      candidates.push_back({x, clamped_y(level - step), width, height});
    }
  }
  for (const double x : {own.x - width - 4, own.right() + 4}) {
    candidates.push_back({x, level, width, height});
  }
  const double above_or_below = clamped_x(target.x - width / 2);
  for (const double y : {clamped_y(own.bottom() + 8), clamped_y(own.y - height - 8)}) {
    candidates.push_back({above_or_below, y, width, height});
  }
  auto free_of_others = [&](const Box& label, bool with_line) {
    for (std::size_t i = 0; i < taken.boxes.size(); ++i) {
      if (taken.boxes[i].overlaps(label)) return false;
      if (!with_line) continue;
      const Box& body = i < taken.bodies.size() ? taken.bodies[i] : taken.boxes[i];
      if (crosses(line_start(label, target), target, body)) return false;
    }
    for (const auto& [from, to] : taken.lines) {
      if (crosses(from, to, label)) return false;
    }
    return panel.contains(label);
  };
  for (const bool with_line : {true, false}) {
    for (const Box& candidate : candidates) {
      if (free_of_others(candidate, with_line)) return candidate;
    }
  }
  return candidates.front();
}

void draw_label(Canvas& canvas, const Box& box, const std::string& words, Point target,
                double size_px) {
  canvas.outlined_line(line_start(box, target), target, colours::kQuiet, 1.5);
  canvas.fill(box, colours::kPage);
  canvas.frame(box, colours::kMark, 1.5);
  canvas.text(box.inset(5), words,
              {size_px, size_px - 3, false, colours::kText, Align::left, true});
}

View whole_view(const Box& box, const Frame& frame) {
  const double scale =
      std::min(box.width / std::max(1, frame.columns), box.height / std::max(1, frame.rows));
  const double width = frame.columns * scale, height = frame.rows * scale;
  return {{box.x + (box.width - width) / 2, box.y + (box.height - height) / 2, width, height},
          {0, 0},
          scale};
}

/// Millimetre bar whose length is a round number and fits.
void draw_bar(Canvas& canvas, const Box& box, double px_per_mm, const Language& text) {
  double mm = 2;
  for (const double round : {2.0, 1.0, 0.5, 0.2}) {
    mm = round;
    if (round * px_per_mm <= 0.45 * box.width) break;
  }
  const double length = mm * px_per_mm, y = box.y + box.height / 2;
  const double x = box.x + 4;
  canvas.line({x, y}, {x + length, y}, colours::kText, 4);
  for (const double end : {x, x + length}) {
    canvas.line({end, y - 9}, {end, y + 9}, colours::kText, 3);
  }
  canvas.text({x + length + 14, box.y, box.right() - x - length - 14, box.height},
              text.get("panel.bar", {{"mm", fixed(mm, mm < 1 ? 1 : 0)}}),
              {24, 22, true, colours::kText, Align::left, true});
}

View crop_view(const Box& box, Point centre, double scale) {
  return {box,
          {centre.x + 0.5 - box.width / scale / 2, centre.y + 0.5 - box.height / scale / 2},
          scale};
}

bool inside(const Frame& frame, Point p) {
  return p.x >= 0 && p.y >= 0 && p.x < frame.columns && p.y < frame.rows;
}

}  // namespace

bool crosses(Point from, Point to, const Box& box) {
  double enter = 0, leave = 1;
  const double step[] = {from.x - to.x, to.x - from.x, from.y - to.y, to.y - from.y};
  const double room[] = {from.x - box.x, box.right() - from.x, from.y - box.y,
                         box.bottom() - from.y};
  for (int i = 0; i < 4; ++i) {
    if (step[i] == 0) {
      if (room[i] < 0) return false;
      continue;
    }
    const double at = room[i] / step[i];
    if (step[i] < 0) {
      enter = std::max(enter, at);
    } else {
      leave = std::min(leave, at);
    }
  }
  return enter <= leave;
}

RadiographLayout draw_radiograph(Canvas& canvas, const Box& box, const Analysis& analysis,
                                 const Frame& frame, const Language& text) {
  constexpr double kLegend = 30;
  const double label_px = box.width < 700 ? 15 : 22;
  const Box panel{box.x, box.y, box.width, box.height - kLegend};
  canvas.fill(panel, colours::kPanel);
  const View view = whole_view(panel, frame);
  paint(canvas, frame, view);
  Taken taken;
  for (const Implant& implant : analysis.implants) {
    taken.boxes.push_back(hull(view, implant, 40));
    taken.bodies.push_back(hull(view, implant, 10));
  }
  RadiographLayout layout{taken.boxes, {}, taken.bodies, {}};
  for (std::size_t i = 0; i < analysis.implants.size(); ++i) {
    const Implant& implant = analysis.implants[i];
    const AxisFrame& axis = implant.shape.axis;
    const std::string words = label_words(analysis, implant, text);
    const Box size = canvas.measure(words, {label_px, label_px});
    // The arrow stands on the side with more room, and the label's line ends at its tail.
    const Point middle = view.page(axis.to_image(0, 0.75 * implant.shape.length_px));
    const bool on_left = middle.x < panel.x + panel.width / 2;
    const double side = on_left ? left_sign(axis) : -left_sign(axis);
    const double away = implant.shape.radius_px + kArrowAway / view.scale;
    const Point tail = view.page(axis.to_image(side * away, 0.75 * implant.shape.length_px));
    taken.own = i;
    const Box label = place_label(panel, view.box, tail, taken, size.width + 12, size.height + 12);
    taken.boxes.push_back(label);
    taken.lines.emplace_back(line_start(label, tail), tail);
    cairo_save(canvas.pen());
    cairo_rectangle(canvas.pen(), panel.x, panel.y, panel.width, panel.height);
    cairo_clip(canvas.pen());
    Marker marker(canvas, view, implant);
    if (!implant.possible_only) {
      marker.axis_beyond_metal();
      marker.crest_and_platform(15);
      marker.crown_arrow(side);
    }
    cairo_restore(canvas.pen());
    draw_label(canvas, label, words, tail, label_px);
    layout.labels.push_back(label);
  }
  layout.lines = taken.lines;
  if (!analysis.implants.empty())
    canvas.text({box.x, panel.bottom() + 2, box.width, kLegend - 2}, text.get("mark.legend"),
                {label_px, label_px - 2, false, colours::kQuiet, Align::centre, true});
  return layout;
}

void draw_crops(Canvas& canvas, const Box& box, const Analysis& analysis, const Implant* implant,
                const Frame& frame, const Language& text) {
  constexpr double kTitle = 32, kBar = 34, kSpace = 8;
  if (!implant || frame.empty()) {
    canvas.fill(box, colours::kPanel);
    canvas.text(box.inset(20), text.get("panel.nothing"),
                {28, 22, false, colours::kQuiet, Align::centre, true});
    return;
  }
  const std::string site =
      implant->possible_only
          ? text.get("mark.possible")
          : text.get("mark.site", {{"site", site_name(analysis, *implant, text)}});
  const std::string title =
      analysis.implants.size() < 2
          ? text.get("panel.site", {{"site", site}})
          : text.get("panel.site_of", {{"site", site},
                                       {"n", std::to_string(implant->id)},
                                       {"count", std::to_string(analysis.implants.size())}});
  canvas.text({box.x, box.y, box.width, kTitle}, title, {24, 22, true});
  const ImplantShape& shape = implant->shape;
  const double cell_width = (box.width - kSpace) / 2;
  const double cell_height = (box.height - kTitle - kBar - kSpace) / 2;
  const double image_height = cell_height - kTitle;
  constexpr double kFieldInRadii = 3.0;
  const double scale = cell_width / (kFieldInRadii * std::max(4.0, shape.radius_px));
  const double left_u = left_sign(shape.axis) * shape.radius_px;
  const LeftRight<std::string> sides = side_names(analysis, *implant, text);
  struct Cell {
    std::string title;
    Point centre;
    bool marked;
  };
  const bool sure = implant->platform_placed() || !shape.platform_in_view;
  const std::string joint_title = text.get(sure ? "panel.joint" : "panel.joint_unsure");
  const Cell cells[] = {{joint_title, shape.axis.to_image(0, 0), false},
                        {text.get("panel.joint_marked"), shape.axis.to_image(0, 0), true},
                        {text.get("panel.flank", {{"side", sides.left}}),
                         shape.axis.to_image(left_u, 0.5 * shape.length_px), false},
                        {text.get("panel.flank", {{"side", sides.right}}),
                         shape.axis.to_image(-left_u, 0.5 * shape.length_px), false}};
  for (int i = 0; i < 4; ++i) {
    const double x = box.x + (i % 2) * (cell_width + kSpace);
    const double y = box.y + kTitle + (i / 2) * (cell_height + kSpace);
    const View view = crop_view({x, y + kTitle, cell_width, image_height}, cells[i].centre, scale);
    canvas.text({x, y, cell_width, kTitle}, cells[i].title,
                {22, 20, false, colours::kQuiet, Align::left, true});
    const bool joint = i < 2;
    if (!inside(frame, cells[i].centre) || (joint && !shape.platform_in_view)) {
      canvas.fill(view.box, colours::kPanel);
      canvas.text(view.box.inset(10), text.get("panel.cut"),
                  {24, 22, false, colours::kText, Align::centre, true});
      continue;
    }
    if (cells[i].marked && !sure) {
      canvas.fill(view.box, colours::kPanel);
      canvas.text(view.box.inset(10), sentence(text.get("why.platform_not_marked")),
                  {24, 22, false, colours::kText, Align::centre, true});
      continue;
    }
    paint(canvas, frame, view);
    if (!cells[i].marked) continue;
    cairo_save(canvas.pen());
    cairo_rectangle(canvas.pen(), view.box.x, view.box.y, view.box.width, view.box.height);
    cairo_clip(canvas.pen());
    Marker(canvas, view, *implant).crest_and_platform(18);
    cairo_restore(canvas.pen());
  }
  const Box bar{box.x, box.bottom() - kBar, box.width, kBar};
  if (analysis.scale.mm_per_px) {
    draw_bar(canvas, bar, scale / analysis.scale.mm_per_px->value, text);
  } else {
    canvas.text(bar, text.get("panel.no_scale"), {24, 22, true, colours::kText, Align::left, true});
  }
}

}  // namespace crestgate

#include "node/report/picture.h"

#include <algorithm>

#include "node/report/comparison_text.h"
#include "node/report/panels.h"
#include "node/report/pictogram.h"
#include "node/report/wording.h"

namespace crestgate {
namespace {

constexpr double kMargin = 20;
constexpr double kInner = kPictureWidth - 2 * kMargin;
constexpr double kHeaderHeight = 148, kUsabilityTop = 158, kUsabilityHeight = 146;
constexpr double kPanelsTop = kUsabilityTop + kUsabilityHeight + 8;
constexpr double kTableHead = 30, kTableRow = 56, kCautions = 32, kLastLine = 32;
constexpr std::size_t kMostRows = 3;

void draw_header(Canvas& canvas, const Analysis& analysis, const ReportContext& context,
                 const Language& text) {
  const Headline line = headline(analysis, text);
  canvas.fill({0, 0, double(kPictureWidth), kHeaderHeight},
              line.is_finding ? colours::kFinding : colours::kPanel);
  const Colour ink = line.is_finding ? colours::kInk : colours::kText;
  canvas.text({kMargin, 10, kInner, 72}, line.main, {52, 34, true, ink, Align::left, true});
  const std::string absent = context.views ? " " + visit_text(*context.views, text) : "";
  canvas.text({kMargin, 86, kInner, 56}, line.sub + absent,
              {26, 22, false, ink, Align::left, true});
}

/// The reason that decides: the first rule not met by a figure, else the first whose figure is not
/// known, else the first statement but that of the intent, else what kept the implant from being
/// judged.
std::string deciding_reason(const Analysis& analysis, const Language& text) {
  const std::vector<const Reason*> unmet = unmet_reasons(analysis);
  for (const Reason* reason : unmet) {
    if (reason->value) return sentence(reason->text);
  }
  for (const bool with_limit : {true, false})
    for (const Reason* reason : unmet)
      if (analysis.verdict != Verdict::usable && reason->rule != "intents" &&
          reason->limit.has_value() == with_limit)
        return sentence(reason->text);
  const Implant* implant = leading_implant(analysis);
  if (!implant || implant->verdict != Verdict::not_assessable) return {};
  return sentence(
      text.get(implant->joint.reason.empty() ? implant->projection.reason : implant->joint.reason));
}

/// The advice on a repeat, or on none any more, names the exposure itself.
bool advice_names_exposure(const Analysis& analysis) {
  return analysis.verdict == Verdict::repeat_if_justified ||
         std::any_of(analysis.reasons.begin(), analysis.reasons.end(), [](const Reason& reason) {
           return reason.rule == "alerts.most_advised_repeats";
         });
}

void draw_advice(Canvas& canvas, const Box& box, const Analysis& analysis,
                 const ReportContext& context, const Language& text) {
  std::string advice = action_sentence(analysis);
  if (context.repeat) advice += "\n" + repeat_text(*context.repeat, text);
  if (advice.empty()) advice = text.get("advice.none");
  constexpr double kAttempt = 30;
  const bool named = advice_names_exposure(analysis);
  const Box words{box.x, box.y, box.width, box.height - (named ? 0 : kAttempt)};
  canvas.text(words, advice, {26, 18, true, colours::kText, Align::left, true});
  if (named) return;
  canvas.text({box.x, box.bottom() - kAttempt, box.width, kAttempt},
              text.get("repeat.attempt", {{"n", std::to_string(context.attempt)}}),
              {22, 20, false, colours::kQuiet, Align::left, true});
}

void draw_usability(Canvas& canvas, const Analysis& analysis, const ReportContext& context,
                    const Language& text) {
  const Box row{kMargin, kUsabilityTop, kInner, kUsabilityHeight};
  draw_verdict_sign(canvas, {row.x, row.y + 18, 110, 110}, analysis.verdict);
  const std::string reason = deciding_reason(analysis, text);
  canvas.text({row.x + 130, row.y, 410, reason.empty() ? row.height : 76},
              text.get(std::string("verdict.") + verdict_name(analysis.verdict)),
              {34, 28, true, colours::kText, Align::left, true});
  canvas.text({row.x + 130, row.y + 76, 410, row.height - 76}, reason,
              {21, 17, false, colours::kQuiet, Align::left, false});
  const Implant* implant = leading_implant(analysis);
  double x = row.x + 560;
  if (analysis.verdict == Verdict::repeat_if_justified && implant && implant->move_tube &&
      implant->projection.vertical_angle_deg) {
    const ProjectionMeasures& projection = implant->projection;
    draw_tube_move(canvas, {x, row.y, 270, row.height},
                   {analysis.acquisition.jaw, projection.vertical_angle_deg->value > 0,
                    projection.direction_resolved},
                   text);
    x += 290;
  }
  draw_advice(canvas, {x, row.y, row.right() - x, row.height}, analysis, context, text);
}

std::vector<const Implant*> rows_of(const Analysis& analysis) {
  std::vector<const Implant*> rows;
  if (const Implant* leading = leading_implant(analysis)) rows.push_back(leading);
  for (const Implant& implant : analysis.implants) {
    if (implant.possible_only) continue;  // told by their labels
    if (rows.size() < kMostRows && &implant != rows.front()) rows.push_back(&implant);
  }
  std::sort(rows.begin(), rows.end(),
            [](const Implant* a, const Implant* b) { return a->id < b->id; });
  return rows;
}

double table_height(std::size_t rows) {
  return kTableHead + double(std::max<std::size_t>(rows, 1)) * kTableRow;
}

void draw_table(Canvas& canvas, double top, const Analysis& analysis, const Language& text) {
  const double widths[] = {120, 380, 310, 370, 380};
  auto row = [&](double y, double height, const std::vector<std::string>& cells,
                 const TextStyle& style) {
    double x = kMargin;
    for (std::size_t i = 0; i < cells.size(); ++i) {
      canvas.text({x, y, widths[i] - 14, height}, cells[i], style);
      x += widths[i];
    }
  };
  row(top, kTableHead,
      {text.get("table.implant"), text.get("table.angle"), text.get("table.limit"),
       text.get("table.crest"), text.get("table.change")},
      {22, 19, false, colours::kQuiet, Align::left, true});
  canvas.line({kMargin, top + kTableHead}, {kPictureWidth - kMargin, top + kTableHead},
              colours::kQuiet, 1);
  const TextStyle value{22, 19, true, colours::kText, Align::left, true};
  double y = top + kTableHead;
  const std::vector<const Implant*> rows = rows_of(analysis);
  if (rows.empty()) row(y, kTableRow, {"–", "–", "–", "–", "–"}, value);
  for (const Implant* implant : rows) {
    std::string name =
        implant->possible_only ? text.get("mark.possible") : site_name(analysis, *implant, text);
    if (implant == rows.back() && rows.size() < analysis.implants.size()) {
      name += " (+" + std::to_string(analysis.implants.size() - rows.size()) + ")";
    }
    row(y, kTableRow,
        {name, angle_text(*implant, text), limit_text(*implant, text),
         crest_text(analysis, *implant, text), change_cell(analysis, *implant, text)},
        value);
    y += kTableRow;
  }
}

std::string time_text(const ReportContext& context) {
  const std::string& d = context.now_date;
  const std::string& t = context.now_time;
  if (d.size() != 8 || t.size() < 4) return d + " " + t;
  return d.substr(0, 4) + "-" + d.substr(4, 2) + "-" + d.substr(6) + " " + t.substr(0, 2) + ":" +
         t.substr(2, 2) + " " + context.timezone_offset;
}

std::string version_text(const Analysis& analysis, const Rules& rules, const ReportContext& context,
                         const Language& text) {
  const std::string& digest =
      analysis.ruleset_digest.empty() ? rules.digest : analysis.ruleset_digest;
  std::string version = text.get("foot.version", {{"version", context.software_version},
                                                  {"digest", digest.substr(0, 8)},
                                                  {"time", time_text(context)},
                                                  {"attempt", std::to_string(context.attempt)}});
  if (rules.mode == Mode::trial) version = text.get("series.trial") + version;
  return version;
}

void draw_foot(Canvas& canvas, double top, const Analysis& analysis, const Rules& rules,
               const ReportContext& context, const Language& text) {
  canvas.fill({0, top, double(kPictureWidth), kCautions + 2}, colours::kPanel);
  canvas.text({kMargin, top, kInner, kCautions}, cautions_text(text),
              {23, 20, true, colours::kText, Align::left, true});
  const double y = top + kCautions + 4;
  canvas.text({kMargin, y, 860, kLastLine},
              text.get("table.scale") + ": " + scale_text(analysis, text),
              {22, 18, false, colours::kText, Align::left, true});
  canvas.text({kMargin + 880, y, kInner - 880, kLastLine},
              version_text(analysis, rules, context, text),
              {20, 16, false, colours::kQuiet, Align::right, true});
}

}  // namespace

void draw_picture(Canvas& canvas, const Analysis& analysis, const Frame& frame, const Rules& rules,
                  const ReportContext& context, const Language& text) {
  draw_header(canvas, analysis, context, text);
  draw_usability(canvas, analysis, context, text);
  const double foot_top = kPictureHeight - kCautions - kLastLine - 8;
  const double table_top = foot_top - table_height(rows_of(analysis).size()) - 4;
  const double panels_height = table_top - kPanelsTop - 6;
  const double left_width = 0.6 * kPictureWidth - kMargin;
  draw_radiograph(canvas, {kMargin, kPanelsTop, left_width, panels_height}, analysis, frame, text);
  const double right_x = kMargin + left_width + 16;
  draw_crops(canvas, {right_x, kPanelsTop, kPictureWidth - kMargin - right_x, panels_height},
             analysis, leading_implant(analysis), frame, text);
  draw_table(canvas, table_top, analysis, text);
  draw_foot(canvas, foot_top, analysis, rules, context, text);
}

bool small_picture_wanted(const Analysis& analysis, const Rules& rules) {
  return rules.output.small_picture_when_usable && analysis.verdict == Verdict::usable &&
         analysis.findings.empty();
}

void draw_small_picture(Canvas& canvas, const Analysis& analysis, const Frame& frame,
                        const Rules& rules, const ReportContext& context, const Language& text) {
  const Headline line = headline(analysis, text);
  constexpr double kEdge = 12, kWide = kSmallPictureWidth - 2 * kEdge;
  canvas.fill({0, 0, double(kSmallPictureWidth), 88}, colours::kPanel);
  canvas.text({kEdge, 4, kWide, 44}, line.main, {30, 20, true, colours::kText, Align::left, true});
  canvas.text({kEdge, 48, kWide, 38}, line.sub, {18, 13, false, colours::kText, Align::left, true});
  draw_radiograph(canvas, {kEdge, 94, 480, 420}, analysis, frame, text);
  const double x = kEdge + 496, width = kSmallPictureWidth - kEdge - x;
  draw_verdict_sign(canvas, {x, 98, 64, 64}, analysis.verdict);
  canvas.text({x + 74, 98, width - 74, 64},
              text.get(std::string("verdict.") + verdict_name(analysis.verdict)),
              {22, 17, true, colours::kText, Align::left, true});
  if (small_picture_wanted(analysis, rules)) {
    canvas.text({x, 168, width, 48}, text.get("small.no_action"), {18, 15});
  }
  if (const Implant* implant = leading_implant(analysis)) {
    double y = 222;
    for (const auto& [name, value] : {std::pair{"table.angle", angle_text(*implant, text)},
                                      {"table.limit", limit_text(*implant, text)},
                                      {"table.crest", crest_text(analysis, *implant, text)}}) {
      canvas.text({x, y, width, 24}, text.get(name), {16, 14, false, colours::kQuiet});
      canvas.text({x, y + 24, width, 66}, value, {17, 13, true});
      y += 94;
    }
  }
  canvas.text({kEdge, 520, kWide, 44}, cautions_text(text), {16, 14, true});
  canvas.text({kEdge, 570, kWide, 24}, version_text(analysis, rules, context, text),
              {15, 12, false, colours::kQuiet, Align::left, true});
}

}  // namespace crestgate

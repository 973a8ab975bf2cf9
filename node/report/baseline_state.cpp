#include "node/report/baseline_state.h"

#include <algorithm>

#include "node/report/comparison_text.h"
#include "node/report/sides.h"
#include "node/report/wording.h"

namespace crestgate {
namespace {

bool has_change(const ImplantComparison& pair) {
  return pair.crest.left.change_mm || pair.crest.right.change_mm;
}

const Comparison* comparison_with(const Analysis& now, const std::string& baseline_uid) {
  for (const Comparison& comparison : now.comparisons)
    if (comparison.state == Comparison::State::compared && comparison.baseline_uid == baseline_uid)
      return &comparison;
  return nullptr;
}

/// The baseline with nothing but the implants that gave a change.
Analysis compared_part(const Analysis& baseline, const Comparison& comparison) {
  Analysis part = baseline;
  const auto left_out = [&](const Implant& implant) {
    return std::none_of(comparison.implants.begin(), comparison.implants.end(),
                        [&](const ImplantComparison& pair) {
                          return pair.baseline_implant == implant.id && has_change(pair);
                        });
  };
  part.implants.erase(std::remove_if(part.implants.begin(), part.implants.end(), left_out),
                      part.implants.end());
  return part;
}

const Implant* implant_of(const Analysis& analysis, int id) {
  for (const Implant& implant : analysis.implants)
    if (implant.id == id) return &implant;
  return nullptr;
}

/// One line per implant, its sides named as the baseline shows them.
std::vector<std::string> outcome_lines(const Analysis& baseline, const Analysis& now,
                                       const Comparison& comparison, const Language& text) {
  std::vector<std::string> lines;
  for (const ImplantComparison& pair : comparison.implants) {
    const Implant* before = implant_of(baseline, pair.baseline_implant);
    const Implant* after = implant_of(now, pair.implant);
    if (before == nullptr || after == nullptr || !has_change(pair)) continue;
    // The same flank has the same sign of u in both images, whatever their turn.
    const bool same_way = before->shape.axis.minus_is_left() == after->shape.axis.minus_is_left();
    const CrestChange& left = same_way ? pair.crest.left : pair.crest.right;
    const CrestChange& right = same_way ? pair.crest.right : pair.crest.left;
    const LeftRight<std::string> names = short_side_names(baseline, *before, text);
    lines.push_back(
        text.get("baseline_state.outcome", {{"site", site_name(baseline, *before, text)},
                                            {"left_name", names.left},
                                            {"left", change_words(left, text)},
                                            {"right_name", names.right},
                                            {"right", change_words(right, text)}}));
  }
  return lines;
}

std::size_t characters(const std::string& utf8) {
  return static_cast<std::size_t>(
      std::count_if(utf8.begin(), utf8.end(), [](char c) { return (c & 0xC0) != 0x80; }));
}

std::string first_characters(const std::string& utf8, std::size_t most) {
  if (characters(utf8) <= most) return utf8;
  const std::string end = "...";
  std::size_t bytes = utf8.size();  // the count falls with a character's first byte: none is split
  while (characters(utf8.substr(0, bytes)) + end.size() > most) --bytes;
  return utf8.substr(0, bytes) + end;
}

}  // namespace

std::string state_words(DcmDataset& source, const std::string& head,
                        const std::vector<std::string>& outcomes, const std::string& cautions,
                        const Language& text) {
  const auto joined = [&](std::size_t shown) {
    std::string words = head;
    for (std::size_t i = 0; i < shown; ++i) words += "\r\n" + outcomes[i];
    if (shown < outcomes.size())
      words += "\r\n" + text.get("baseline_state.more",
                                 {{"number", std::to_string(outcomes.size() - shown)}});
    return encode(source, words + "\r\n" + cautions);
  };
  std::size_t shown = outcomes.size();
  while (shown > 0 && characters(joined(shown)) > kMostStateCharacters) --shown;
  return first_characters(joined(shown), kMostStateCharacters);
}

TextBox state_text_box(const Analysis& baseline) {
  constexpr double kHeight = 0.14, kMargin = 0.01;  // of the image: six lines of legible text
  const double rows = baseline.rows, margin = kMargin * rows;
  // Rows free of what a reader looks at: joint and crest of every implant.
  double above = rows, below = rows;
  for (const Implant& implant : baseline.implants) {
    const double clear = kKeepClear_mm * drawing_px_per_mm(baseline, implant.shape);
    for (const double u : {-implant.shape.radius_px, implant.shape.radius_px})
      for (const double v : {0.0, implant.crest.left.contact_px.value_or(0.0),
                             implant.crest.right.contact_px.value_or(0.0)}) {
        const double row = implant.shape.axis.to_image(u, v).y;
        above = std::min(above, row - clear);
        below = std::min(below, rows - row - clear);
      }
  }
  const double height = std::clamp(std::max(above, below) - margin, 1.0, kHeight * rows);
  const double top = above > below ? margin : rows - margin - height;
  const double side = kMargin * baseline.columns;
  return {{side, top}, {baseline.columns - side, top + height}};
}

bool baseline_state_wanted(const AnnotatedBaseline& baseline, const Analysis& now) {
  const Comparison* comparison =
      comparison_with(now, baseline.analysis.acquisition.sop_instance_uid);
  return comparison != nullptr && source_identity(*baseline.source).ok() &&
         can_be_drawn_on(compared_part(baseline.analysis, *comparison), *baseline.source);
}

Result<BuiltObject> build_baseline_state(const AnnotatedBaseline& baseline, const Analysis& now,
                                         const Rules& rules, const Shared& shared,
                                         const Language& text) {
  const Comparison* comparison =
      comparison_with(now, baseline.analysis.acquisition.sop_instance_uid);
  const Result<SourceIdentity> from = source_identity(*baseline.source);
  if (comparison == nullptr || !from.ok())
    return Status::error(Code::internal, "baseline-state: no comparison with this image");
  const Analysis part = compared_part(baseline.analysis, *comparison);

  ReportContext context = shared.context;
  context.baseline_uids = {shared.from.sop_instance_uid};
  context.prior_report_uids.clear();
  const Shared own{*baseline.source, from.value(), context, shared.ruleset_digest};
  const std::string trial = rules.mode == Mode::trial ? text.get("series.trial") : "";
  const ObjectPlan plan{"baseline-state",
                        "baseline-state",
                        UID_GrayscaleSoftcopyPresentationStateStorage,
                        "PR",
                        9005,
                        encode(*baseline.source, trial + text.get("baseline_state.series"))};

  StateGraphics graphics;
  graphics.lines = presentation_lines(part);
  const std::string date = date_text(now.acquisition.content_date.substr(0, 8));
  const std::string& uid = shared.from.sop_instance_uid;
  const std::string head =
      text.get("baseline_state.head", {{"image", date.empty() ? uid : date + " (" + uid + ")"}});
  std::string cautions = cautions_text(text);
  if (rules.mode == Mode::trial) cautions += "\r\n" + text.get("caution.trial");
  graphics.text = state_words(*baseline.source, head, outcome_lines(part, now, *comparison, text),
                              cautions, text);
  graphics.text_box = state_text_box(baseline.analysis);
  return build_state(plan, part, own, graphics);
}

}  // namespace crestgate

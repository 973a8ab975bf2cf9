#include "node/inspect_json.h"

#include <algorithm>
#include <cmath>

namespace crestgate {
namespace {

using Json = nlohmann::ordered_json;

Json number(double value) { return std::isfinite(value) ? Json(value) : Json(nullptr); }
Json number(const std::optional<double>& value) { return value ? number(*value) : Json(nullptr); }
Json point(const Point& p) { return Json::array({number(p.x), number(p.y)}); }
template <class T>
Json or_null(const std::optional<T>& value) {
  return value ? Json(*value) : Json(nullptr);
}
Json text_or_null(const std::string& text) { return text.empty() ? Json(nullptr) : Json(text); }
double finite(double value) { return std::isfinite(value) ? value : 0.0; }

Json value_json(const std::optional<Quantity>& q) { return q ? number(q->value) : Json(nullptr); }
Json uncertainty_json(const std::optional<Quantity>& q) {
  return q ? number(q->expanded_uncertainty) : Json(nullptr);
}

Json other_scales_json(const Analysis& a) {
  Json list = Json::array();
  for (const Scale& scale : a.other_scales)
    list.push_back({{"mm_per_px", value_json(scale.mm_per_px)},
                    {"mm_per_px_expanded_uncertainty", uncertainty_json(scale.mm_per_px)},
                    {"spacing_source", scale.source}});
  return list;
}

/// Null: the site has none, or it was not read (a reason says why).
Json step_wedge_json(const WedgeReading& wedge) {
  if (wedge.steps.empty()) return nullptr;
  Json list = Json::array();
  for (const auto& step : wedge.steps)
    list.push_back({{"aluminium_mm", number(step.aluminium_mm)},
                    {"grey", value_json(step.grey)},
                    {"grey_expanded_uncertainty", uncertainty_json(step.grey)}});
  return list;
}

Json image_json(const Analysis& a) {
  const auto& scale = a.scale.mm_per_px;
  const auto& blur = a.quality.blur_sigma_px;
  const Json blur_mm = scale && blur ? number(*blur * scale->value) : Json(nullptr);
  return {{"rows", a.rows},
          {"columns", a.columns},
          {"mm_per_px", scale ? number(scale->value) : Json(nullptr)},
          {"mm_per_px_expanded_uncertainty",
           scale ? number(scale->expanded_uncertainty) : Json(nullptr)},
          {"spacing_source", a.scale.source},
          {"tone", a.tone == Tone::linear ? "linear"
                   : a.tone == Tone::log  ? "log"
                                          : "unknown"},
          {"mirrored_possible", a.acquisition.mirrored_possible},
          {"clipped_low", finite(a.quality.clipped_low)},
          {"clipped_high", finite(a.quality.clipped_high)},
          {"blur_sigma_mm", blur_mm},
          {"blur_sigma_px", number(blur)},
          {"noise", number(a.quality.noise)},
          {"halo", number(a.quality.halo)},
          {"step_wedge", step_wedge_json(a.step_wedge)},
          {"other_scales", other_scales_json(a)},
          {"scale_disagreement", text_or_null(a.scale_disagreement)}};
}

/// Smallest upright box around the traced silhouette, or around axis and radius where none is.
Json box_json(const ImplantShape& s) {
  double x0 = 1e30, y0 = 1e30, x1 = -1e30, y1 = -1e30;
  auto add = [&](double u, double v) {
    if (!std::isfinite(u)) return;
    const Point p = s.axis.to_image(u, v);
    x0 = std::min(x0, p.x), x1 = std::max(x1, p.x);
    y0 = std::min(y0, p.y), y1 = std::max(y1, p.y);
  };
  for (const auto* edge : {&s.minus_edge_px, &s.plus_edge_px}) {
    for (std::size_t v = 0; v < edge->size(); ++v) add((*edge)[v], static_cast<double>(v));
  }
  if (s.minus_edge_px.empty() || s.plus_edge_px.empty()) {
    for (const double u : {-s.radius_px, s.radius_px}) add(u, 0.0), add(u, s.length_px);
  }
  add(0.0, 0.0);
  add(0.0, s.length_px);
  return Json::array({number(x0), number(y0), number(x1), number(y1)});
}

/// Where the crown is in the image: against +v, within 45 degrees.
ImageSide coronal_side(const ImplantShape& s) {
  if (!s.coronal_known) return ImageSide::unknown;
  const Point a = s.axis.apical;
  if (std::abs(a.y) >= std::abs(a.x)) return a.y > 0 ? ImageSide::up : ImageSide::down;
  return a.x > 0 ? ImageSide::left : ImageSide::right;
}

/// Turn of the axis from crown-up, clockwise in the image, -180..180.
double in_plane_angle_deg(const ImplantShape& s) {
  return degrees(std::atan2(-s.axis.apical.x, s.axis.apical.y));
}

template <class Contribution>
Json budget_json(const std::vector<Contribution>& budget) {
  Json list = Json::array();
  for (const Contribution& part : budget)
    list.push_back(
        {{"name", part.name}, {"standard_uncertainty_mm", number(part.standard_uncertainty_mm)}});
  return list;
}

Json crest_json(const CrestLevel& c, const Language& text) {
  const std::string why = c.reason.empty() ? "" : ": " + text.get(c.reason);
  return {{"level_mm", number(c.level_mm)},
          {"expanded_uncertainty_mm", number(c.expanded_uncertainty_mm)},
          {"state", c.level_mm ? "measured" : "not assessable" + why},
          {"budget", c.level_mm ? budget_json(c.budget) : Json::array()}};
}

Json joint_json(const JointMeasures& j) {
  return {{"state", joint_state_name(j.state)},
          {"gap_mm", number(j.gap_mm)},
          {"gap_left_mm", number(j.gap_side_mm.left)},
          {"gap_right_mm", number(j.gap_side_mm.right)},
          {"gap_expanded_uncertainty_mm", number(j.gap_expanded_uncertainty_mm)},
          {"smallest_visible_gap_mm", number(j.smallest_visible_gap_mm)},
          {"scale_assumed", j.scale_assumed},
          {"design", j.design}};
}

Json known_type_json(const KnownType& known) {
  return {{"name", text_or_null(known.name)},
          {"chosen_by", text_or_null(known.chosen_by)},
          {"reason", text_or_null(known.reason)}};
}

Json extent_json(const Extent& e) {
  return {{"platform_in_view", e.platform_in_view},
          {"apex_in_view", e.apex_in_view},
          {"left_flank_in_view", e.flank_in_view.left},
          {"right_flank_in_view", e.flank_in_view.right},
          {"apical_margin_px", number(e.apical_margin_px)},
          {"apical_margin_mm", value_json(e.apical_margin_mm)},
          {"apical_margin_expanded_uncertainty_mm", uncertainty_json(e.apical_margin_mm)},
          {"apical_margin_least_mm", number(e.apical_margin_least_mm)},
          {"apical_margin_most_mm", number(e.apical_margin_most_mm)},
          {"bounded_by", text_or_null(e.bounded_by)}};
}

Json implant_json(const Implant& i, const Language& text) {
  const ImplantShape& s = i.shape;
  const ProjectionMeasures& p = i.projection;
  const auto& angle = p.vertical_angle_deg;
  return {
      {"id", i.id},
      {"confidence", finite(s.confidence)},
      {"possible_only", i.possible_only},
      {"verdict", verdict_name(i.verdict)},
      {"platform_px", s.platform_in_view ? point(s.platform_px()) : Json(nullptr)},
      {"apex_px", s.apex_in_view ? point(s.apex_px()) : Json(nullptr)},
      {"box_px", box_json(s)},
      {"coronal_side", image_side_name(coronal_side(s))},
      {"in_plane_angle_deg", number(in_plane_angle_deg(s))},
      {"platform_in_view", s.platform_in_view},
      {"apex_in_view", s.apex_in_view},
      {"thread_pitch_px", number(p.thread_pitch_px)},
      {"thread_starts", or_null(p.thread_starts)},
      {"outer_diameter_px", number(p.outer_diameter_px)},
      {"vertical_angle_deg", angle ? number(angle->value) : Json(nullptr)},
      {"vertical_angle_expanded_uncertainty_deg",
       angle ? number(angle->expanded_uncertainty) : Json(nullptr)},
      {"direction_resolved", p.direction_resolved},
      {"flank_edge_ratio",
       {{"left", number(p.flank_edge_ratio.left)}, {"right", number(p.flank_edge_ratio.right)}}},
      {"platform_minor_axis_ratio", number(p.platform_minor_axis_ratio)},
      {"platform_minor_axis_ratio_expanded_uncertainty",
       number(p.platform_minor_axis_ratio_expanded_uncertainty)},
      {"axial_to_transverse_scale", number(p.axial_to_transverse_scale)},
      {"axial_to_transverse_scale_expanded_uncertainty",
       number(p.axial_to_transverse_scale_expanded_uncertainty)},
      {"known_type", known_type_json(i.known_type)},
      {"extent", extent_json(i.extent)},
      {"clipped_at_joint", number(i.clipped_at_joint)},
      {"interface", joint_json(i.joint)},
      {"crest",
       {{"left", crest_json(i.crest.left, text)}, {"right", crest_json(i.crest.right, text)}}}};
}

Json findings_json(const Analysis& a) {
  Json list = Json::array();
  for (const Finding& f : a.findings) {
    list.push_back({{"kind", f.kind},
                    {"implant", f.implant},
                    {"side", text_or_null(f.side)},
                    {"text", f.text}});
  }
  return list;
}

Json reasons_json(const Analysis& a) {
  Json list = Json::array();
  for (const Reason& r : a.reasons) {
    list.push_back({{"rule", r.rule},
                    {"implant", or_null(r.implant)},
                    {"text", r.text},
                    {"value", number(r.value)},
                    {"limit", number(r.limit)},
                    {"unit", r.unit}});
  }
  return list;
}

Json repeat_json(const RepeatComparison& repeat, const Language& text) {
  const auto angle = [](const Exposure& e) {
    return e.angle_deg ? number(e.angle_deg->value) : Json(nullptr);
  };
  const auto& change = repeat.angle_change_deg;
  return {{"attempt", repeat.attempt},
          {"result", repeat_result_name(repeat.result)},
          {"angle_deg", angle(repeat.now)},
          {"previous_angle_deg", angle(repeat.before)},
          {"angle_change_deg", change ? number(change->value) : Json(nullptr)},
          {"angle_change_expanded_uncertainty_deg",
           change ? number(change->expanded_uncertainty) : Json(nullptr)},
          {"text", repeat_text(repeat, text)}};
}

Json change_json(const CrestChange& c) {
  return {{"state", crest_change_name(c.state)},
          {"reason", text_or_null(c.reason)},
          {"baseline_level_mm", number(c.baseline_level_mm)},
          {"level_mm", number(c.level_mm)},
          {"change_mm", number(c.change_mm)},
          {"expanded_uncertainty_mm", number(c.expanded_uncertainty_mm)},
          {"smallest_resolvable_mm", number(c.smallest_resolvable_mm)},
          {"rate_mm_per_year", number(c.rate_mm_per_year)},
          {"brightness_mm", number(c.brightness_mm)},
          {"contrast_mm", number(c.contrast_mm)},
          {"gamma_mm", number(c.gamma_mm)},
          {"budget", budget_json(c.budget)}};
}

Json processing_json(const Comparison& c) {
  Json stated = Json::array();
  for (const StatedDifference& d : c.stated_processing)
    stated.push_back({{"attribute", d.attribute}, {"now", d.now}, {"before", d.before}});
  return {{"state", processing_state_name(c.processing)}, {"stated", stated}};
}

Json comparisons_json(const Analysis& a, const ReportContext* visit) {
  Json list = Json::array();
  for (const Comparison& c : a.comparisons) {
    Json report = nullptr;
    if (visit != nullptr)
      if (const auto found = visit->baseline_reports.find(c.baseline_uid);
          found != visit->baseline_reports.end())
        report = found->second.sop_instance_uid;
    Json implants = Json::array();
    for (const ImplantComparison& i : c.implants)
      implants.push_back(
          {{"implant", i.implant},
           {"baseline_implant", i.baseline_implant},
           {"vertical_angle_difference_deg", number(i.vertical_angle_difference_deg)},
           {"in_plane_difference_deg", number(i.in_plane_difference_deg)},
           {"scale_ratio", number(i.scale_ratio)},
           {"registration_rest_mm", number(i.registration_rest_mm)},
           {"tone_bend", number(i.tone_bend)},
           {"tone_bend_expanded_uncertainty", number(i.tone_bend_expanded_uncertainty)},
           {"wedge_steps", or_null(i.wedge_steps)},
           {"wedge_correction", number(i.wedge_correction)},
           {"crest",
            {{"left", change_json(i.crest.left)}, {"right", change_json(i.crest.right)}}}});
    list.push_back({{"state", comparison_state_name(c.state)},
                    {"baseline_sop_instance_uid", c.baseline_uid},
                    {"baseline_study_instance_uid", c.baseline_study_uid},
                    {"baseline_report_sop_instance_uid", report},
                    {"baseline_date", text_or_null(c.baseline_date)},
                    {"chosen_as", text_or_null(c.chosen_as)},
                    {"years", number(c.years)},
                    {"early_period", c.early_period},
                    {"processing", processing_json(c)},
                    {"reasons", c.reasons},
                    {"implants", implants}});
  }
  return list;
}

Json visit_json(const VisitViews& views, const Language& text) {
  return {{"seating_view", views.seating},
          {"placement_view", views.placement},
          {"text", visit_text(views, text)}};
}

}  // namespace

nlohmann::ordered_json inspect_json(const Analysis& a, const std::string& file,
                                    const std::string& software, const ReportContext* visit,
                                    const Language& text) {
  const Json null = nullptr;
  Json error = nullptr;
  if (!a.error.ok()) {
    error = {
        {"code", code_name(a.error.code)}, {"text", a.error.text}, {"tag", or_null(a.error.tag)}};
  }
  Json implants = Json::array();
  for (const Implant& implant : a.implants) implants.push_back(implant_json(implant, text));
  return {
      {"schema", 1},
      {"file", file},
      {"software", software},
      {"ruleset_digest", a.ruleset_digest},
      {"error", error},
      {"sop_instance_uid", text_or_null(a.acquisition.sop_instance_uid)},
      {"intent",
       {{"value", intent_name(a.intent)}, {"source", a.intent_from_rule ? "rule" : "inferred"}}},
      {"verdict", verdict_name(a.verdict)},
      {"findings", findings_json(a)},
      {"reasons", reasons_json(a)},
      {"advice", a.advice},
      {"repeat", visit != nullptr && visit->repeat ? repeat_json(*visit->repeat, text) : null},
      {"visit", visit != nullptr && visit->views ? visit_json(*visit->views, text) : null},
      {"comparison_pending", text_or_null(a.comparison_pending)},
      {"comparisons", comparisons_json(a, visit)},
      {"image", image_json(a)},
      {"implants", implants}};
}

std::string json_text(const nlohmann::ordered_json& json, int indent) {
  return json.dump(indent, ' ', false, nlohmann::ordered_json::error_handler_t::replace);
}

}  // namespace crestgate

#include "node/inspect_json.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

#include "node/inspect_text.h"
#include "tests/node/inspect_schema.h"

namespace crestgate {
namespace {

using Json = nlohmann::json;
constexpr double kNaN = std::numeric_limits<double>::quiet_NaN();

Json as_json(const Analysis& analysis) {
  return Json::parse(
      json_text(nlohmann::ordered_json::array({inspect_json(analysis, "f.dcm", "crestgate 0")})));
}

Analysis full_analysis() {
  Analysis a;
  a.acquisition.sop_instance_uid = "1.2.3";
  a.rows = 100;
  a.columns = 80;
  a.tone = Tone::linear;
  a.scale.mm_per_px = Quantity{0.03, 0.001};
  a.scale.source = "imager";
  a.quality.blur_sigma_px = 2.0;
  a.quality.noise = 0.01;
  a.intent = Intent::follow_up;
  a.intent_from_rule = true;
  a.verdict = Verdict::usable_with_limits;
  a.findings.push_back({"gap visible", 1, "left", "gap on the left"});
  a.reasons.push_back({"seating.x", 1, "too large", 7.5, 6.0, "deg"});
  Implant i;
  i.id = 1;
  i.shape.axis.origin = {40, 20};
  i.shape.length_px = 60;
  i.shape.radius_px = 10;
  i.shape.platform_in_view = i.shape.apex_in_view = true;
  i.shape.confidence = 0.9;
  i.projection.vertical_angle_deg = Quantity{7.5, 1.5};
  i.projection.direction_resolved = true;
  i.projection.thread_starts = 2;
  i.projection.flank_edge_ratio.left = 0.9;
  i.joint.state = JointState::gap_visible;
  i.joint.gap_mm = 0.2;
  i.crest.left.level_mm = 1.5;
  a.implants.push_back(i);
  a.comparison_pending = "asked for";
  Comparison c;
  c.state = Comparison::State::compared;
  c.baseline_uid = "1.2.4";
  c.baseline_date = "20240110";
  c.chosen_as = "the first of all";
  c.years = 2.0;
  c.reasons = {"a limit"};
  ImplantComparison pair;
  pair.implant = pair.baseline_implant = 1;
  pair.crest.left.state = CrestChange::State::loss;
  pair.crest.left.change_mm = 0.5;
  pair.crest.left.expanded_uncertainty_mm = 0.2;
  pair.crest.left.budget = {{"scale", 0.1}};
  pair.crest.right.reason = "no bone beside this flank";
  pair.wedge_steps = 5;
  pair.wedge_correction = 0.012;
  c.implants = {pair};
  a.step_wedge = {"why.wedge_found", {{1.0, Quantity{812.0, 3.0}}, {2.0, std::nullopt}}};
  a.comparisons.push_back(c);
  return a;
}

TEST(InspectJson, FitsTheSchema) {
  EXPECT_EQ(schema_complaints(as_json(full_analysis())), "");
  const Analysis nothing;
  EXPECT_EQ(schema_complaints(as_json(nothing)), "");
  Analysis failed;
  failed.error = Status::error(Code::unsupported, "text", "(0028,0008)");
  EXPECT_EQ(schema_complaints(as_json(failed)), "");
}

TEST(InspectJson, TheSchemaRejectsWhatItShould) {
  Json json = as_json(full_analysis());
  json[0]["verdict"] = "good";
  EXPECT_NE(schema_complaints(json), "");
  json = as_json(full_analysis());
  json[0]["implants"][0].erase("apex_px");
  EXPECT_NE(schema_complaints(json), "");
  json = as_json(full_analysis());
  json[0]["extra"] = 1;
  EXPECT_NE(schema_complaints(json), "");
  json = as_json(full_analysis());
  json[0]["implants"][0]["interface"]["gap_mm"] = "0.2";
  EXPECT_NE(schema_complaints(json), "");
  json = as_json(full_analysis());
  json[0]["comparisons"][0]["state"] = "done";
  EXPECT_NE(schema_complaints(json), "");
  json = as_json(full_analysis());
  json[0]["comparisons"][0]["implants"][0]["crest"]["left"].erase("change_mm");
  EXPECT_NE(schema_complaints(json), "");
}

TEST(InspectJson, ComparisonsAreToldWithTheReportTheyRestOn) {
  ReportContext context;
  context.baseline_reports["1.2.4"] = {"", "1.2.5", "", ""};
  const Json c =
      Json::parse(json_text(inspect_json(full_analysis(), "f", "x", &context)))["comparisons"][0];
  EXPECT_EQ(c["state"], "compared");
  EXPECT_EQ(c["baseline_report_sop_instance_uid"], "1.2.5");
  const Json& left = c["implants"][0]["crest"]["left"];
  EXPECT_EQ(left["state"], "resolved: loss");
  EXPECT_EQ(left["change_mm"], 0.5);
  EXPECT_EQ(left["budget"][0]["name"], "scale");
  EXPECT_TRUE(c["implants"][0]["crest"]["right"]["change_mm"].is_null());
}

TEST(InspectJson, AContactWithoutALevelIsNoMeasurement) {
  Analysis analysis = full_analysis();
  CrestLevel& crest = analysis.implants[0].crest.right;
  crest.contact_px = 30.0;
  crest.budget = {{"localisation", 0.03}};
  crest.reason = "why.platform_not_certain";
  const Json right = as_json(analysis)[0]["implants"][0]["crest"]["right"];
  EXPECT_TRUE(right["level_mm"].is_null());
  EXPECT_TRUE(right["budget"].empty());
}

TEST(InspectJson, TheStepWedgeIsThereWithWhatItDidForAComparison) {
  const Json json = as_json(full_analysis())[0];
  const Json& steps = json["image"]["step_wedge"];
  ASSERT_EQ(steps.size(), 2U);
  EXPECT_EQ(steps[0]["aluminium_mm"], 1.0);
  EXPECT_EQ(steps[0]["grey"], 812.0);
  EXPECT_EQ(steps[0]["grey_expanded_uncertainty"], 3.0);
  EXPECT_TRUE(steps[1]["grey"].is_null());
  EXPECT_EQ(json["comparisons"][0]["implants"][0]["wedge_steps"], 5);
  EXPECT_EQ(json["comparisons"][0]["implants"][0]["wedge_correction"], 0.012);
  EXPECT_TRUE(as_json(Analysis())[0]["image"]["step_wedge"].is_null());
}

TEST(InspectJson, NotANumberBecomesNull) {
  Analysis a = full_analysis();
  a.scale.mm_per_px = Quantity{kNaN, std::numeric_limits<double>::infinity()};
  a.quality.clipped_low = kNaN;
  Implant& i = a.implants[0];
  i.shape.confidence = kNaN;
  i.shape.minus_edge_px = {-10, kNaN, -9};
  i.shape.plus_edge_px = {10, kNaN, 9};
  i.projection.vertical_angle_deg = Quantity{kNaN, kNaN};
  i.joint.gap_mm = kNaN;
  const Json json = as_json(a);
  EXPECT_EQ(schema_complaints(json), "");
  EXPECT_TRUE(json[0]["image"]["mm_per_px"].is_null());
  EXPECT_TRUE(json[0]["implants"][0]["vertical_angle_deg"].is_null());
  EXPECT_EQ(json.dump().find("nan"), std::string::npos);
}

TEST(InspectJson, GeometryIsInImageCoordinates) {
  Analysis a = full_analysis();
  const Json up = as_json(a)[0]["implants"][0];
  EXPECT_EQ(up["platform_px"], Json::array({40.0, 20.0}));
  EXPECT_EQ(up["apex_px"], Json::array({40.0, 80.0}));
  EXPECT_EQ(up["box_px"], Json::array({30.0, 20.0, 50.0, 80.0}));
  EXPECT_EQ(up["coronal_side"], "up");
  EXPECT_EQ(up["in_plane_angle_deg"], 0.0);
  // Turned so that the apex points to image left: the crown is at the right, a clockwise quarter.
  a.implants[0].shape.axis.apical = {-1, 0};
  const Json turned = as_json(a)[0]["implants"][0];
  EXPECT_EQ(turned["coronal_side"], "right");
  EXPECT_NEAR(turned["in_plane_angle_deg"].get<double>(), 90.0, 1e-9);
  EXPECT_EQ(turned["apex_px"], Json::array({-20.0, 20.0}));
  a.implants[0].shape.apex_in_view = false;
  EXPECT_TRUE(as_json(a)[0]["implants"][0]["apex_px"].is_null());
}

TEST(InspectJson, HostileTextIsStillJson) {
  Analysis a;
  a.acquisition.sop_instance_uid = "1.2\xff\xfe";
  a.error = Status::error(Code::invalid_input, "bad \x80 text");
  EXPECT_EQ(schema_complaints(as_json(a)), "");
}

TEST(InspectText, LeadsWithTheFinding) {
  const std::string text = inspect_text(inspect_json(full_analysis(), "f.dcm", "x"));
  EXPECT_LT(text.find("FINDING: gap on the left"), text.find("verdict: usable with limits"));
  EXPECT_NE(text.find("7.5 +- 1.5 deg (source too coronal)"), std::string::npos) << text;
  EXPECT_NE(text.find("gap 0.20 mm"), std::string::npos) << text;
  Analysis failed;
  failed.error = Status::error(Code::unsupported, "two frames", "(0028,0008)");
  EXPECT_EQ(inspect_text(inspect_json(failed, "f.dcm", "x")),
            "f.dcm\n  could not be used: two frames (0028,0008) [unsupported]\n");
}

}  // namespace
}  // namespace crestgate

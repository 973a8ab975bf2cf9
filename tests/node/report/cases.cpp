#include "tests/node/report/cases.h"

#include <dcmtk/dcmdata/dcistrmb.h>

#include <cmath>
#include <sstream>
#include <stdexcept>

#include "tests/node/report/case_parts.h"

namespace crestgate::report_test {
namespace {

// By name: the struct grows.
CrestLevel measured(double level_mm, double expanded_uncertainty_mm) {
  CrestLevel level;
  level.level_mm = level_mm;
  level.contact_px = level_mm / kMmPerPx;
  level.expanded_uncertainty_mm = expanded_uncertainty_mm;
  return level;
}

}  // namespace

Implant implant_at(int id, Point platform, Point apical, double radius_px, double length_px) {
  Implant implant;
  implant.id = id;
  implant.shape.axis = {platform, apical};
  implant.shape.length_px = length_px;
  implant.shape.radius_px = radius_px;
  implant.shape.platform_in_view = implant.shape.apex_in_view = true;
  implant.shape.platform_marked = true;
  implant.shape.confidence = 0.97;
  implant.projection.thread_pitch_px = 34.2;
  implant.projection.outer_diameter_px = 2 * radius_px;
  implant.projection.flank_edge_ratio = {0.91, 0.84};
  implant.projection.vertical_angle_deg = Quantity{1.2, 1.4};
  implant.projection.basis = "threads";
  implant.joint.state = JointState::no_gap_visible;
  implant.joint.part_present = true;
  implant.joint.smallest_visible_gap_mm = 0.0395;
  implant.joint.design = "design unknown";
  implant.crest.left = measured(0.84, 0.18);
  implant.crest.right = measured(1.12, 0.20);
  implant.verdict = Verdict::usable;
  return implant;
}

Frame painted_frame(int rows, int columns, Point platform, double radius_px, double length_px) {
  Frame frame;
  frame.rows = rows;
  frame.columns = columns;
  frame.highest_storable = 255;
  frame.values.resize(std::size_t(rows) * columns);
  for (int y = 0; y < rows; ++y) {
    for (int x = 0; x < columns; ++x) {
      const double v = y - platform.y, u = x - platform.x;
      const double crest = radius_px + 3 * std::sin(v * 0.35);
      float value = v > 40 ? 110.0F : 45.0F;
      if (v >= 0 && v < length_px && std::abs(u) < crest) value = 205.0F;
      if (v < -2 && v > -160 && std::abs(u) < 0.8 * radius_px - 0.1 * v) value = 225.0F;
      frame.at(x, y) = value + float((x * 31 + y * 17) % 7);
    }
  }
  return frame;
}

Case base_case(const std::string& name) {
  Case c;
  c.name = name;
  c.source = fill_source;
  c.frame = painted_frame(900, 700, {350, 330}, 95, 480);
  Analysis& a = c.analysis;
  a.rows = 900;
  a.columns = 700;
  a.acquisition.jaw = Jaw::mandible;
  a.acquisition.teeth = {"36"};
  a.acquisition.image_laterality = "L";
  a.acquisition.patient_orientation_row = "P";  // crown up, facing the patient
  a.acquisition.patient_orientation_column = "F";
  a.acquisition.patient_id = "CG-0001";
  a.acquisition.issuer_of_patient_id = "INVENTED CLINIC";
  a.acquisition.mirrored_possible = false;
  a.scale = {Quantity{kMmPerPx, 0.0006}, "imager"};
  a.quality.clipped_low = 0.01;
  a.quality.clipped_high = 0.002;
  a.quality.blur_sigma_px = 1.8;
  a.quality.noise = 0.012;
  a.intent = Intent::seating;
  a.intent_from_rule = true;
  a.verdict = Verdict::usable;
  a.implants = {implant_at(1, {350, 330}, {0, 1}, 95, 480)};
  a.reasons = {
      {"seating.largest_hidden_gap_mm", 1, "Gaps under 40 µm could hide", 0.0395, 0.05, "mm"}};
  a.action = "no reason for a repeat found";
  lead_advice_with_findings(a);
  a.ruleset_digest = "1f0c5d7e9a2b4c6d8e0f1a3b5c7d9e1f00112233445566778899aabbccddeeff";
  c.rules.mode = Mode::live;
  c.rules.digest = a.ruleset_digest;
  c.context.software_version = "0.1.0";
  c.context.now_date = "20261125";
  c.context.now_time = "075000";
  c.context.timezone_offset = "+0000";
  c.context.device_uid = "2.25.4242";
  c.context.station_name = "GATE-1";
  return c;
}

std::vector<Case> all_cases() {
  std::vector<Case> cases;
  add_views(cases);
  add_comparisons(cases);
  add_odd_headers(cases);
  return cases;
}

std::string printed_report(const Case& c) {
  DcmDataset source;
  c.source(source);
  const auto built = build_objects(c.analysis, c.frame, source, c.rules, c.context);
  if (!built.ok()) throw std::runtime_error(c.name + ": " + built.status().text);
  DcmFileFormat file;
  parse(built.value().at(0), file);
  std::ostringstream text;
  file.getDataset()->print(text, 0);
  return text.str();
}

void parse(const BuiltObject& object, DcmFileFormat& file) {
  DcmInputBufferStream stream;
  stream.setBuffer(object.bytes.data(), static_cast<offile_off_t>(object.bytes.size()));
  stream.setEos();
  file.transferInit();
  const OFCondition read = file.read(stream);
  file.transferEnd();
  if (read.bad()) throw std::runtime_error(object.kind + ": " + read.text());
}

}  // namespace crestgate::report_test

#include "tests/node/report/cases.h"

#include <dcmtk/dcmdata/dcistrmb.h>

#include <cctype>
#include <cmath>
#include <sstream>
#include <stdexcept>

namespace crestgate::report_test {
namespace {

void put(DcmItem& item, const DcmTagKey& key, const char* value) {
  item.putAndInsertString(key, value);
}

void put_code(DcmItem& item, const DcmTagKey& key, const char* value, const char* meaning) {
  DcmItem* entry = nullptr;
  item.findOrCreateSequenceItem(key, entry, -2);
  put(*entry, DCM_CodeValue, value);
  put(*entry, DCM_CodingSchemeDesignator, "SCT");
  put(*entry, DCM_CodeMeaning, meaning);
}

constexpr double kMmPerPx = 0.0195;

// By name: the struct grows.
CrestLevel measured(double level_mm, double expanded_uncertainty_mm) {
  CrestLevel level;
  level.level_mm = level_mm;
  level.contact_px = level_mm / kMmPerPx;
  level.expanded_uncertainty_mm = expanded_uncertainty_mm;
  level.state = "measured";
  return level;
}

CrestLevel not_measured(const std::string& why) {
  CrestLevel level;
  level.state = "not assessable: " + why;
  return level;
}

Implant implant_at(int id, Point platform, Point apical, double radius_px, double length_px) {
  Implant implant;
  implant.id = id;
  implant.shape.axis = {platform, apical};
  implant.shape.length_px = length_px;
  implant.shape.radius_px = radius_px;
  implant.shape.platform_in_view = implant.shape.apex_in_view = true;
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

Case tilted(Case c) {
  Implant& implant = c.analysis.implants[0];
  implant.projection.vertical_angle_deg = Quantity{9.1, 1.5};
  implant.projection.direction_resolved = true;
  implant.projection.flank_edge_ratio = {0.8, 0.1};
  implant.joint.smallest_visible_gap_mm = 0.083;
  implant.joint.bounded_by = "angle";
  implant.verdict = c.analysis.verdict = Verdict::repeat_if_justified;
  implant.move_tube = true;
  // Words as the judge writes them: the picture has to hold the longest.
  c.analysis.reasons = {{"seating.largest_vertical_angle_deg", 1,
                         "beam 9.1° ± 1.5° off perpendicular, source too far to the crown side, "
                         "limit 6.0°: over the limit",
                         9.1, 6.0, "deg"},
                        {"seating.largest_hidden_gap_mm", 1,
                         "smallest visible gap 0.083 mm (worst inside the angle's uncertainty), "
                         "limit 0.050 mm: over the limit, bounded by angle",
                         0.083, 0.05, "mm"}};
  c.analysis.advice =
      "Repeat if justified (this was exposure 1): lower the tube head and aim it 9.1° ± 1.5° more "
      "towards the ceiling (the other way round if the image is mirrored or the thread "
      "left-handed), expected smallest visible gap 0.040 mm instead of 0.083 mm.";
  return c;
}

Case with_gap(Case c) {
  Implant& implant = c.analysis.implants[0];
  implant.joint.state = JointState::gap_visible;
  implant.joint.gap_mm = 0.18;
  implant.joint.gap_expanded_uncertainty_mm = 0.05;
  implant.joint.gap_side_mm = {0.06, 0.18};
  const std::string finding =
      "gap visible at implant 1 (image right), 0.180 mm ± 0.050 mm: check seating before the "
      "patient leaves";
  c.analysis.findings = {{"gap visible", 1, "right", finding}};
  std::string action = c.analysis.advice;
  action[0] = static_cast<char>(std::tolower(action[0]));
  c.analysis.advice = "G" + finding.substr(1) + "; " + action;
  return c;
}

CrestChange changed(double change_mm, double u_mm, CrestChange::State state) {
  CrestChange c;
  c.state = state;
  c.change_mm = change_mm;
  c.expanded_uncertainty_mm = u_mm;
  c.smallest_resolvable_mm = 1.1 * u_mm;
  c.baseline_level_mm = 0.84;
  c.level_mm = 0.84 + change_mm;
  c.brightness_mm = c.contrast_mm = 0.0;
  c.gamma_mm = 0.02;
  c.budget = {{"localisation, baseline", 0.4 * u_mm}, {"localisation, this image", 0.3 * u_mm}};
  return c;
}

void add_comparisons(std::vector<Case>& cases) {
  Case c = base_case("follow-up-loss");
  Comparison comparison;
  comparison.state = Comparison::State::compared;
  comparison.baseline_uid = "2.25.55";
  comparison.baseline_study_uid = "2.25.56";
  comparison.baseline_series_uid = "2.25.57";
  comparison.baseline_sop_class_uid = UID_DigitalIntraOralXRayImageStorageForPresentation;
  comparison.baseline_date = "20240110";
  comparison.years = 2.87;
  ImplantComparison pair;
  pair.implant = pair.baseline_implant = 1;
  pair.vertical_angle_difference_deg = 0.8;
  pair.in_plane_difference_deg = -1.5;
  pair.scale_ratio = 1.004;
  pair.registration_rest_mm = 0.021;
  pair.crest.left = changed(0.45, 0.181, CrestChange::State::loss);
  pair.crest.left.rate_mm_per_year = 0.157;
  pair.crest.right = changed(0.03, 0.202, CrestChange::State::within_error);
  comparison.implants = {pair};
  c.analysis.intent = Intent::follow_up;
  c.analysis.comparisons = {comparison};
  c.analysis.findings = {{"bone change resolved", 1, "left",
                          "crestal bone loss resolved at implant 1 (image left), +0.45 ± 0.19 mm "
                          "since 2024-01-10"}};
  c.analysis.implants[0].extent.apex_in_view = true;
  c.analysis.implants[0].extent.apical_margin_mm = Quantity{2.4, 0.31};
  c.analysis.implants[0].extent.bounded_by = "image border";
  c.analysis.implants[0].known_type = {"Sample 4.1", "best fit", "pitch over diameter agrees"};
  c.analysis.implants[0].projection.axial_to_transverse_scale = 0.98;
  c.analysis.implants[0].projection.axial_to_transverse_scale_expanded_uncertainty = 0.02;
  c.analysis.implants[0].projection.platform_minor_axis_ratio = 0.03;
  c.context.baseline_reports["2.25.55"] = {UID_ComprehensiveSRStorage, "2.25.58", "2.25.56",
                                           "2.25.59"};
  Subtraction picture;
  picture.implant = 1;
  picture.baseline_uid = "2.25.55";
  picture.rows = 600;
  picture.columns = 400;
  picture.mm_per_px = 0.02;
  for (int i = 0; i < 600 * 400; ++i) {
    const float grey = static_cast<float>((i % 400) / 4 + (i / 400 > 300 ? 60 : 0));
    picture.before.push_back(grey);
    picture.now.push_back(grey + ((i % 400) < 100 && i / 400 > 290 && i / 400 < 320 ? -30 : 1));
    picture.difference.push_back(picture.now.back() - grey);
  }
  c.context.subtractions = {picture};
  cases.push_back(c);
  c.name = "follow-up-of-two-baselines";
  comparison.baseline_uid = "2.25.65";
  comparison.baseline_date = "20250110";
  comparison.early_period = true;
  comparison.implants[0].crest.left = {};
  comparison.implants[0].crest.left.reason = "baseline: no bone beside this flank";
  c.analysis.comparisons.push_back(comparison);
  cases.push_back(c);
  c = base_case("follow-up-not-certain");
  comparison = {};
  comparison.state = Comparison::State::identity_not_certain;
  comparison.baseline_uid = "2.25.55";
  comparison.baseline_study_uid = "2.25.56";
  comparison.baseline_series_uid = "2.25.57";
  comparison.baseline_sop_class_uid = UID_DigitalIntraOralXRayImageStorageForPresentation;
  comparison.reasons = {"birth date differs"};
  c.analysis.comparisons = {comparison};
  cases.push_back(c);
  c = base_case("follow-up-pending");
  c.analysis.comparison_pending = "the archive could not be asked for earlier images yet";
  cases.push_back(c);
}

void add_odd_headers(std::vector<Case>& cases) {
  Case c = base_case("missing-study-attributes");
  c.source = [](DcmDataset& s) {
    fill_source(s);
    for (const DcmTagKey& key : {DCM_StudyDate, DCM_StudyTime, DCM_AccessionNumber, DCM_StudyID,
                                 DCM_ReferringPhysicianName, DCM_PatientBirthDate, DCM_PatientSex,
                                 DCM_BurnedInAnnotation, DCM_TimezoneOffsetFromUTC}) {
      delete s.remove(key);
    }
  };
  cases.push_back(c);
  c.name = "empty-name-and-id";
  c.source = [](DcmDataset& s) {
    fill_source(s);
    put(s, DCM_PatientName, "");
    put(s, DCM_PatientID, "");
  };
  cases.push_back(c);
  c.name = "latin1-name";
  c.source = [](DcmDataset& s) {
    fill_source(s);
    put(s, DCM_SpecificCharacterSet, "ISO_IR 100");
    put(s, DCM_PatientName, "J\xF8rgensen^S\xF8ren");
  };
  cases.push_back(c);
  c.name = "utf8-name";
  c.source = [](DcmDataset& s) {
    fill_source(s);
    put(s, DCM_SpecificCharacterSet, "ISO_IR 192");
    put(s, DCM_PatientName, "Jørgensen^Søren=山田^太郎");
  };
  cases.push_back(c);
  c.name = "iso2022-name";  // PS3.5 annex H.3.1, example 1
  c.source = [](DcmDataset& s) {
    fill_source(s);
    put(s, DCM_SpecificCharacterSet, "\\ISO 2022 IR 87");
    put(s, DCM_PatientName,
        "Yamada^Tarou=\x1b$B;3ED\x1b(B^\x1b$BB@O:\x1b(B=\x1b$B$d$^$@\x1b(B^\x1b$B$?$m$&\x1b(B");
  };
  cases.push_back(c);
  c.name = "burned-in-source";
  c.source = [](DcmDataset& s) {
    fill_source(s);
    put(s, DCM_BurnedInAnnotation, "YES");
  };
  cases.push_back(c);
  c.name = "lossy-secondary-capture-source";
  c.source = [](DcmDataset& s) {
    fill_source(s);
    put(s, DCM_SOPClassUID, UID_SecondaryCaptureImageStorage);
    put(s, DCM_ConversionType, "WSD");
    put(s, DCM_LossyImageCompression, "01");
    put(s, DCM_LossyImageCompressionRatio, "11.3");
    put(s, DCM_LossyImageCompressionMethod, "ISO_10918_1");
  };
  cases.push_back(c);
}

}  // namespace

void fill_source(DcmDataset& s) {
  put(s, DCM_SOPClassUID, UID_DigitalIntraOralXRayImageStorageForPresentation);
  put(s, DCM_SOPInstanceUID, "2.25.1001");
  put(s, DCM_StudyInstanceUID, "2.25.1002");
  put(s, DCM_SeriesInstanceUID, "2.25.1003");
  put(s, DCM_ImageType, "ORIGINAL\\PRIMARY");
  put(s, DCM_Modality, "IO");
  put(s, DCM_PresentationIntentType, "FOR PRESENTATION");
  put(s, DCM_PatientName, "Example^Erika");
  put(s, DCM_PatientID, "CG-0001");
  put(s, DCM_IssuerOfPatientID, "INVENTED CLINIC");
  put(s, DCM_PatientBirthDate, "19700101");
  put(s, DCM_PatientSex, "F");
  put(s, DCM_StudyDate, "20261124");
  put(s, DCM_StudyTime, "101500");
  put(s, DCM_StudyID, "S1");
  put(s, DCM_AccessionNumber, "A100");
  put(s, DCM_ReferringPhysicianName, "Sample^Doctor");
  put(s, DCM_StudyDescription, "Implant control");
  put(s, DCM_Manufacturer, "Invented Detector Works");
  put(s, DCM_ManufacturerModelName, "Demo 2");
  put(s, DCM_TimezoneOffsetFromUTC, "+0100");
  put(s, DCM_ImageLaterality, "L");
  put(s, DCM_BurnedInAnnotation, "NO");
  put(s, DCM_ImagerPixelSpacing, "0.02\\0.02");
  put(s, DCM_KVP, "65");
  put_code(s, DCM_AnatomicRegionSequence, "91609006", "Mandible");
  put_code(s, DCM_PrimaryAnatomicStructureSequence, "866006002",
           "Mandibular left first molar tooth");
  s.putAndInsertUint16(DCM_Rows, 900);
  s.putAndInsertUint16(DCM_Columns, 700);
  s.putAndInsertUint16(DCM_BitsStored, 8);
  put(s, DCM_WindowCenter, "128");
  put(s, DCM_WindowWidth, "256");
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
  a.advice = "No reason for a repeat found.";
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
  std::vector<Case> cases = {base_case("usable-seating"), tilted(base_case("tilted-repeat")),
                             with_gap(base_case("gap-usable")),
                             with_gap(tilted(base_case("gap-and-tilt")))};
  Case c = base_case("no-implant");
  c.analysis.implants.clear();
  c.analysis.reasons.clear();
  c.analysis.intent = Intent::other;
  c.analysis.acquisition.jaw = Jaw::unknown;
  c.analysis.acquisition.teeth.clear();
  cases.push_back(c);
  c = base_case("three-implants-no-scale");
  c.analysis.scale = {};
  c.analysis.implants = {implant_at(1, {140, 330}, {0, 1}, 60, 380),
                         implant_at(2, {350, 330}, {0, 1}, 60, 380),
                         implant_at(3, {560, 330}, {0, 1}, 60, 380)};
  c.frame = painted_frame(900, 700, {140, 330}, 60, 380);
  for (const double x : {350.0, 560.0}) {
    const Frame other = painted_frame(900, 700, {x, 330}, 60, 380);
    for (std::size_t i = 0; i < other.values.size(); ++i) {
      c.frame.values[i] = std::max(c.frame.values[i], other.values[i]);
    }
  }
  for (Implant& implant : c.analysis.implants) {
    implant.crest.left = implant.crest.right = not_measured("no scale");
    implant.joint.smallest_visible_gap_mm.reset();
    implant.joint.state = JointState::not_assessable;
    implant.joint.reason = "no scale";
    implant.verdict = Verdict::not_assessable;
  }
  c.analysis.verdict = Verdict::not_assessable;
  cases.push_back(c);
  c = base_case("apex-only-mirror-unknown");
  c.analysis.implants[0].shape.platform_in_view = false;
  c.analysis.implants[0].shape.axis.origin = {350, 0};
  c.analysis.implants[0].shape.coronal_known = false;
  c.analysis.implants[0].joint = {};
  c.analysis.implants[0].joint.reason = "platform outside the image";
  c.analysis.implants[0].crest.left = c.analysis.implants[0].crest.right =
      not_measured("platform outside the image");
  c.analysis.implants[0].projection.vertical_angle_deg.reset();
  c.analysis.implants[0].projection.reason = "no thread in view";
  c.analysis.implants[0].verdict = c.analysis.verdict = Verdict::not_assessable;
  c.analysis.acquisition.mirrored_possible = true;
  cases.push_back(c);
  c = with_gap(tilted(base_case("trial-mode")));
  c.rules.mode = Mode::trial;
  cases.push_back(c);
  c = tilted(base_case("inferred-intent"));
  c.analysis.intent_from_rule = false;
  cases.push_back(c);
  c = tilted(base_case("second-attempt-with-history"));
  c.context.attempt = 2;
  PastExposures past{1, {}, true, false};
  past.last.verdict = 1;
  past.last.angle_deg = Quantity{13.4, 1.6};
  Exposure now = summarise_exposure(c.analysis);
  c.context.repeat = compare_repeat(past, now);
  c.context.views = VisitViews{true, false};
  c.context.noted_before = {
      {UID_DigitalIntraOralXRayImageStorageForPresentation, "2.25.901", "2.25.1003", true, false}};
  c.context.prior_report_uids = {"2.25.77", "2.25.66"};
  c.context.known_documents = {{UID_ComprehensiveSRStorage, "2.25.66", "2.25.1002", "2.25.67"}};
  cases.push_back(c);
  c = base_case("small-no-action-form");
  c.rules.output.small_picture_when_usable = true;
  cases.push_back(c);
  c = base_case("possible-implant-only");
  c.analysis.implants[0].possible_only = true;
  c.analysis.implants[0].shape.confidence = 0.4;
  c.analysis.implants[0].verdict = c.analysis.verdict = Verdict::not_assessable;
  cases.push_back(c);
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

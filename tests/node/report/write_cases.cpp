// Writes every case's objects and picture into a folder, to be looked at and fed to other programs:
// write_cases FOLDER [IMAGES]. With IMAGES (a folder of radiographs with truth.json) also pictures
// of those, described by their truth, so that layout is judged on real-looking images.
#include <cmath>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <iterator>
#include <nlohmann/json.hpp>

#include "pipeline/read/read.h"
#include "tests/node/report/cases.h"

using namespace crestgate;

namespace {

void save(const std::filesystem::path& path, const std::vector<std::uint8_t>& bytes) {
  std::ofstream(path, std::ios::binary)
      .write(reinterpret_cast<const char*>(bytes.data()),
             static_cast<std::streamsize>(bytes.size()));
}

bool write(const std::filesystem::path& folder, report_test::Case& c) {
  DcmDataset source;
  c.source(source);
  const auto built = build_objects(c.analysis, c.frame, source, c.rules, c.context);
  if (!built.ok()) {
    std::cerr << c.name << ": " << built.status().text << "\n";
    return false;
  }
  int index = 0;
  for (const BuiltObject& object : built.value()) {
    save(folder / (c.name + "-" + std::to_string(++index) + "-" + object.kind + ".dcm"),
         object.bytes);
  }
  const auto png = picture_png(c.analysis, c.frame, c.rules, c.context);
  if (png.ok()) save(folder / (c.name + ".png"), png.value());
  return png.ok();
}

std::vector<std::uint8_t> load(const std::filesystem::path& path) {
  std::ifstream in(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

/// What a perfect analysis would say of a simulated radiograph.
void describe(report_test::Case& c, const nlohmann::json& truth) {
  Analysis& a = c.analysis;
  a.rows = c.frame.rows;
  a.columns = c.frame.columns;
  a.acquisition.jaw = Jaw::unknown;
  if (!truth.at("implant").get<bool>()) {
    a.implants.clear();
    a.intent = Intent::other;
    return;
  }
  Implant& implant = a.implants[0];
  const double mm_per_px = truth.at("pixel_at_detector_mm").get<double>() * 330.0 / 338.0;
  a.scale.mm_per_px = Quantity{mm_per_px, 0.03 * mm_per_px};
  a.acquisition.jaw = truth.at("jaw") == "maxilla" ? Jaw::maxilla : Jaw::mandible;
  const std::string crown = truth.at("coronal_side");
  const Point apical = crown == "up"     ? Point{0, 1}
                       : crown == "down" ? Point{0, -1}
                       : crown == "left" ? Point{1, 0}
                                         : Point{-1, 0};
  implant.shape.axis = {{truth.at("platform_px")[0], truth.at("platform_px")[1]}, apical};
  implant.shape.radius_px = truth.at("radius_mm").get<double>() / mm_per_px;
  implant.shape.length_px = truth.at("length_mm").get<double>() / mm_per_px;
  for (const auto& [level, key] : {std::pair{&implant.crest.left, "crest_left_mm"},
                                   std::pair{&implant.crest.right, "crest_right_mm"}}) {
    level->level_mm = truth.at(key).get<double>();
    level->contact_px = *level->level_mm / mm_per_px;
  }
  const double angle = truth.at("vertical_angle_deg");
  implant.projection.vertical_angle_deg = Quantity{angle, 1.5};
  implant.projection.direction_resolved = std::abs(angle) > 2;
  if (std::abs(angle) > 6) {
    implant.verdict = a.verdict = Verdict::repeat_if_justified;
    a.reasons[0] = {"seating.largest_vertical_angle_deg",
                    1,
                    "The beam is off the perpendicular to the implant",
                    std::abs(angle),
                    6,
                    "deg"};
    a.advice = "If a repeat is justified: move the tube head as drawn and aim it more level.";
  }
  const double gap =
      std::max(truth.at("gap_left_mm").get<double>(), truth.at("gap_right_mm").get<double>());
  if (gap > 0.06) {
    implant.joint.state = JointState::gap_visible;
    implant.joint.gap_mm = gap;
    implant.joint.gap_expanded_uncertainty_mm = 0.05;
    a.findings = {{"gap visible", 1, "", "Gap at the joint"}};
  }
}

}  // namespace

int main(int argc, char** argv) {
  if (argc < 2) {
    std::cerr << "usage: write_cases FOLDER [IMAGES]\n";
    return 1;
  }
  const std::filesystem::path folder = argv[1];
  std::filesystem::create_directories(folder);
  for (report_test::Case& c : report_test::all_cases()) {
    if (!write(folder, c)) return 1;
  }
  if (argc < 3) return 0;
  const std::filesystem::path images = argv[2];
  std::ifstream truth_file(images / "truth.json");
  const nlohmann::json truths = nlohmann::json::parse(truth_file);
  for (const auto& [name, truth] : truths.items()) {
    report_test::Case c = report_test::base_case(name);
    auto image = read_image(load(images / (name + ".dcm")));
    if (!image.ok()) {
      std::cerr << name << ": " << image.status().text << "\n";
      continue;
    }
    c.frame = std::move(image.value().frame);
    describe(c, truth);
    if (!write(folder, c)) return 1;
  }
  return 0;
}

#include "tests/numbers/extra_numbers.h"

#include <cmath>
#include <cstdio>
#include <fstream>
#include <iterator>
#include <nlohmann/json.hpp>
#include <stdexcept>
#include <vector>

#include "pipeline/inspect.h"
#include "pipeline/read/read.h"
#include "tests/numbers/statistics.h"

namespace crestgate::numbers {
namespace {

std::string text(const std::optional<double>& value, const char* format = "%.2f") {
  if (!value) return "-";
  char buffer[40];
  std::snprintf(buffer, sizeof buffer, format, *value);
  return buffer;
}

Analysis analyse(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  if (!file) throw std::runtime_error(path + ": cannot be opened");
  const std::vector<std::uint8_t> bytes{std::istreambuf_iterator<char>(file), {}};
  const auto image = read_image(bytes);
  if (!image.ok()) throw std::runtime_error(path + ": " + image.status().text);
  return inspect(image.value().frame, image.value().acquisition, Rules());
}

struct Errors {
  std::vector<double> angle, crest;
  int angle_inside = 0, wrong_direction = 0, false_implants = 0, missed = 0;
};

void write_row(std::ostream& out, const std::string& name, const nlohmann::json& t,
               const Implant& implant, Errors& errors) {
  const auto& p = implant.projection;
  const double true_deg = t["vertical_angle_deg"];
  std::string angle = "-", u = "-";
  if (p.vertical_angle_deg) {
    const double value = p.vertical_angle_deg->value;
    const double error =
        p.direction_resolved ? value - true_deg : std::abs(value) - std::abs(true_deg);
    errors.angle.push_back(std::abs(error));
    errors.angle_inside += std::abs(error) <= p.vertical_angle_deg->expanded_uncertainty;
    errors.wrong_direction += p.direction_resolved && value * true_deg < 0;
    angle = text(value) + (p.direction_resolved ? "" : " (unsigned)");
    u = text(p.vertical_angle_deg->expanded_uncertainty);
  }
  const auto crest = [&](const CrestLevel& level, const char* key) {
    if (level.level_mm) errors.crest.push_back(std::abs(*level.level_mm - t[key].get<double>()));
    return text(level.level_mm) + " / " + text(t[key].get<double>());
  };
  out << "| " << name << " | " << text(true_deg, "%.1f") << " | " << angle << " | " << u << " | "
      << joint_state_name(implant.joint.state) << " " << text(implant.joint.gap_mm) << " / "
      << text(std::max(t["gap_left_mm"].get<double>(), t["gap_right_mm"].get<double>())) << " | "
      << text(implant.joint.smallest_visible_gap_mm, "%.3f") << " | "
      << crest(implant.crest.left, "crest_left_mm") << " | "
      << crest(implant.crest.right, "crest_right_mm") << " |\n";
}

}  // namespace

void write_extra_table(std::ostream& out, const std::string& folder) {
  std::ifstream file(folder + "/truth.json");
  if (!file) throw std::runtime_error(folder + "/truth.json: cannot be opened");
  const auto truth = nlohmann::json::parse(file);
  Errors errors;
  int with_implant = 0;
  out << "| file | true angle | read | U | joint, gap read / true mm | limit mm | crest left read "
         "/ "
         "true | crest right |\n|---|---|---|---|---|---|---|---|\n";
  for (const auto& [name, t] : truth.items()) {
    const Analysis analysis = analyse(folder + "/" + name + ".dcm");
    const bool has = t["implant"];
    with_implant += has;
    const Implant* best = nullptr;
    for (const Implant& implant : analysis.implants) {
      if (implant.possible_only) continue;
      const bool on_truth = has && std::abs(implant.shape.axis
                                                .from_image({t["platform_px"][0].get<double>(),
                                                             t["platform_px"][1].get<double>()})
                                                .x) < implant.shape.radius_px;
      if (on_truth && !best) best = &implant;
      errors.false_implants += !on_truth;
    }
    if (best)
      write_row(out, name, t, *best, errors);
    else if (has)
      ++errors.missed;
  }
  out << "\nImplants " << with_implant << ", missed " << errors.missed << ", false "
      << errors.false_implants << "; angle: median error " << quantile(errors.angle, 0.5)
      << " deg, 90 % " << quantile(errors.angle, 0.9) << ", inside U " << errors.angle_inside
      << " of " << errors.angle.size() << ", wrong direction " << errors.wrong_direction
      << "; crest: median error " << quantile(errors.crest, 0.5) << " mm, 90 % "
      << quantile(errors.crest, 0.9) << " (n " << errors.crest.size() << ")\n";
}

}  // namespace crestgate::numbers

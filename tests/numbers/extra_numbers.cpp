#include "tests/numbers/extra_numbers.h"

#include <cmath>
#include <cstdio>
#include <fstream>
#include <iterator>
#include <stdexcept>
#include <vector>

#include "pipeline/inspect.h"
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
  const ReadImage image = read_file(path);
  return inspect(image.frame, image.acquisition, Rules());
}

struct Errors {
  std::vector<double> angle, crest, crest_seen;
  int implants = 0, found = 0, one_flank = 0, one_flank_found = 0;
  int angle_inside = 0, crest_inside = 0, wrong_direction = 0, false_implants = 0;
  int open_called_closed = 0, closed_called_open = 0;
};

std::optional<double> number(const nlohmann::json& t, const std::string& key) {
  return t.contains(key) && t[key].is_number() ? std::optional<double>(t[key].get<double>())
                                               : std::nullopt;
}

bool on(const ImplantShape& shape, const nlohmann::json& t) {
  const Point p =
      shape.axis.from_image({t["platform_px"][0].get<double>(), t["platform_px"][1].get<double>()});
  return std::abs(p.x) < shape.radius_px && std::abs(p.y) < 1.2 * shape.length_px;
}

/// True if what the truth calls left is what we call right.
bool left_is_right(const AxisFrame& axis, const nlohmann::json& t) {
  const Point p = axis.from_image(
      {t["platform_left_px"][0].get<double>(), t["platform_left_px"][1].get<double>()});
  return (p.x < 0) != axis.minus_is_left();
}

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
  const auto crest = [&](const CrestLevel& level, const std::string& side) {
    const auto truth = number(t, "crest_" + side + "_mm");
    const auto seen = number(t, "crest_visible_" + side + "_mm");
    if (level.level_mm && seen) errors.crest_seen.push_back(std::abs(*level.level_mm - *seen));
    if (level.level_mm && truth) {
      errors.crest.push_back(std::abs(*level.level_mm - *truth));
      errors.crest_inside += errors.crest.back() <= *level.expanded_uncertainty_mm;
    }
    return text(level.level_mm) + " / " + text(truth);
  };
  // A horizontal axis has no left: the truth says where its left end of the platform is.
  const bool mirrored = t.contains("platform_left_px") && left_is_right(implant.shape.axis, t);
  const auto& ours = implant.crest;
  const std::string crests = crest(mirrored ? ours.right : ours.left, "left") + " | " +
                             crest(mirrored ? ours.left : ours.right, "right");
  const auto left = number(t, "gap_left_mm"), right = number(t, "gap_right_mm");
  const auto gap = left && right ? std::optional<double>(std::max(*left, *right)) : std::nullopt;
  const JointMeasures& joint = implant.joint;
  errors.closed_called_open += gap == 0.0 && joint.state == JointState::gap_visible;
  errors.open_called_closed += gap && joint.state == JointState::no_gap_visible &&
                               *gap > joint.smallest_visible_gap_mm.value_or(0.0);
  out << "| " << name << " | " << text(true_deg, "%.1f") << " | " << angle << " | " << u << " | "
      << joint_state_name(joint.state) << " " << text(joint.gap_mm) << " / " << text(gap) << " | "
      << text(joint.smallest_visible_gap_mm, "%.3f") << " | " << crests << " |\n";
}

}  // namespace

ReadImage read_file(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  if (!file) throw std::runtime_error(path + ": cannot be opened");
  const std::vector<std::uint8_t> bytes{std::istreambuf_iterator<char>(file), {}};
  auto image = read_image(bytes);
  if (!image.ok()) throw std::runtime_error(path + ": " + image.status().text);
  return std::move(image.value());
}

nlohmann::json implants_of(const nlohmann::json& t) {
  if (t.contains("implants")) return t["implants"];
  return t["implant"].get<bool>() ? nlohmann::json::array({t}) : nlohmann::json::array();
}

void write_extra_table(std::ostream& out, const std::string& folder) {
  std::ifstream file(folder + "/truth.json");
  if (!file) throw std::runtime_error(folder + "/truth.json: cannot be opened");
  const auto truth = nlohmann::json::parse(file);
  Errors errors;
  out << "| file | true angle | read | U | joint, gap read / true mm | limit mm | crest left read "
         "/ true | crest right |\n|---|---|---|---|---|---|---|---|\n";
  for (const auto& [name, t] : truth.items()) {
    const Analysis analysis = analyse(folder + "/" + name + ".dcm");
    const nlohmann::json implants = implants_of(t);
    std::vector<bool> taken(analysis.implants.size(), false);
    for (const auto& one : implants) {
      const bool both =
          one.value("flank_left_in_view", true) && one.value("flank_right_in_view", true);
      ++(both ? errors.implants : errors.one_flank);
      for (std::size_t i = 0; i < taken.size(); ++i) {
        const Implant& implant = analysis.implants[i];
        if (taken[i] || implant.possible_only || !on(implant.shape, one)) continue;
        taken[i] = true;
        ++(both ? errors.found : errors.one_flank_found);
        write_row(out, name, one, implant, errors);
        break;
      }
    }
    for (std::size_t i = 0; i < taken.size(); ++i)
      errors.false_implants += !taken[i] && !analysis.implants[i].possible_only;
  }
  out << "\nImplants found " << errors.found << " of " << errors.implants
      << ", with one flank in view " << errors.one_flank_found << " of " << errors.one_flank
      << ", false " << errors.false_implants << "; angle: median error "
      << quantile(errors.angle, 0.5) << " deg, 90 % " << quantile(errors.angle, 0.9)
      << ", inside U " << errors.angle_inside << " of " << errors.angle.size()
      << ", wrong direction " << errors.wrong_direction
      << "; gaps over the limit said 'no gap visible' " << errors.open_called_closed
      << ", closed joints said 'gap visible' " << errors.closed_called_open
      << "; crest: median error " << quantile(errors.crest, 0.5) << " mm, 90 % "
      << quantile(errors.crest, 0.9) << ", inside U " << errors.crest_inside << " of "
      << errors.crest.size() << "; against the bone that the rays beside the flank meet first: "
      << quantile(errors.crest_seen, 0.5) << " mm, 90 % " << quantile(errors.crest_seen, 0.9)
      << " (n " << errors.crest_seen.size() << ")\n";
}

}  // namespace crestgate::numbers

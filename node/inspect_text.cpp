#include "node/inspect_text.h"

#include <spdlog/fmt/fmt.h>

#include <cmath>

#include "config/number_text.h"

namespace crestgate {
namespace {

using Json = nlohmann::ordered_json;

/// "1.23", "1.23 +- 0.04" or "not known".
std::string value(const Json& v, const Json& uncertainty, const char* unit, int digits) {
  if (!v.is_number()) return "not known";
  std::string text = fixed(v.get<double>(), digits);
  if (uncertainty.is_number()) text += " +- " + fixed_up(uncertainty.get<double>(), digits);
  return text + unit;
}
std::string value(const Json& v, const char* unit, int digits) {
  return value(v, nullptr, unit, digits);
}

void angle_line(std::string& out, const Json& i) {
  const Json& angle = i["vertical_angle_deg"];
  std::string line = value(angle, i["vertical_angle_expanded_uncertainty_deg"], " deg", 1);
  if (angle.is_number()) {
    const double a = angle.get<double>();
    line += !i["direction_resolved"].get<bool>() ? " (direction not resolved)"
            : a > 0                              ? " (source too coronal)"
            : a < 0                              ? " (source too apical)"
                                                 : "";
  }
  out += "    vertical angle   " + line + "\n";
}

void implant_text(std::string& out, const Json& i) {
  out += fmt::format("  implant {}: {}{}\n", i["id"].get<int>(), i["verdict"].get<std::string>(),
                     i["possible_only"].get<bool>() ? " (possible implant only, not judged)" : "");
  out += fmt::format("    in view          platform {}, apex {}\n",
                     i["platform_in_view"].get<bool>() ? "yes" : "no",
                     i["apex_in_view"].get<bool>() ? "yes" : "no");
  angle_line(out, i);
  out += "    thread pitch     " + value(i["thread_pitch_px"], " px", 1) + ", diameter " +
         value(i["outer_diameter_px"], " px", 1) + "\n";
  const Json& flanks = i["flank_edge_ratio"];
  out += "    flank sharpness  left " + value(flanks["left"], "", 2) + ", right " +
         value(flanks["right"], "", 2) + "\n";
  const Json& joint = i["interface"];
  out += "    joint            " + joint["state"].get<std::string>();
  if (joint["gap_mm"].is_number()) {
    out += ", gap " + value(joint["gap_mm"], joint["gap_expanded_uncertainty_mm"], " mm", 2);
  }
  out += "; smallest visible gap " + value(joint["smallest_visible_gap_mm"], " mm", 2) + "\n";
  for (const char* side : {"left", "right"}) {
    const Json& crest = i["crest"][side];
    out += fmt::format("    crest {:<10} {}\n", side,
                       crest["level_mm"].is_number()
                           ? value(crest["level_mm"], crest["expanded_uncertainty_mm"], " mm", 2)
                           : crest["state"].get<std::string>());
  }
}

}  // namespace

std::string inspect_text(const Json& e) {
  std::string out = e["file"].get<std::string>() + "\n";
  if (!e["error"].is_null()) {
    const Json& error = e["error"];
    out += "  could not be used: " + error["text"].get<std::string>();
    if (error["tag"].is_string()) out += " " + error["tag"].get<std::string>();
    return out + " [" + error["code"].get<std::string>() + "]\n";
  }
  for (const Json& finding : e["findings"]) {
    out += "  FINDING: " + finding["text"].get<std::string>() + "\n";
  }
  out += "  verdict: " + e["verdict"].get<std::string>() + "\n";
  out += "  taken for: " + e["intent"]["value"].get<std::string>() + " (" +
         (e["intent"]["source"] == "rule" ? "by rule" : "inferred") + ")\n";
  for (const Json& reason : e["reasons"]) {
    out += "  because: " + reason["text"].get<std::string>() + " [" +
           reason["rule"].get<std::string>() + "]\n";
  }
  if (!e["advice"].get<std::string>().empty()) {
    out += "  advice: " + e["advice"].get<std::string>() + "\n";
  }
  for (const char* key : {"repeat", "visit"}) {
    if (!e[key].is_object() || e[key]["text"].get<std::string>().empty()) continue;
    out += std::string("  ") + key + ": " + e[key]["text"].get<std::string>() + "\n";
  }
  const Json& image = e["image"];
  out += fmt::format(
      "  image: {} x {} px, {} mm/px ({}), blur sigma {}, clipped {:.1f} % dark, "
      "{:.1f} % bright\n",
      image["columns"].get<int>(), image["rows"].get<int>(), value(image["mm_per_px"], "", 4),
      image["spacing_source"].get<std::string>(), value(image["blur_sigma_px"], " px", 2),
      100 * image["clipped_low"].get<double>(), 100 * image["clipped_high"].get<double>());
  for (const Json& implant : e["implants"]) implant_text(out, implant);
  return out;
}

}  // namespace crestgate

#include "node/report/sides.h"

#include <cmath>

#include "node/report/wording.h"

namespace crestgate {
namespace {

constexpr int kLastFrontTooth = 3;

char opposite(char letter) {
  switch (letter) {
    case 'A':
      return 'P';
    case 'P':
      return 'A';
    case 'L':
      return 'R';
    default:
      return 'L';
  }
}

/// Patient direction that is mesial at a tooth, as its letter (PS3.3 C.7.6.1.1.1).
char mesial_letter(const std::string& iso_3950) {
  if (iso_3950[1] - '0' > kLastFrontTooth) return 'A';
  const bool patients_right = iso_3950[0] == '1' || iso_3950[0] == '4';
  return patients_right ? 'L' : 'R';
}

}  // namespace

std::optional<bool> mesial_is_left(const Analysis& analysis, const Implant& implant) {
  const std::string site = iso_site(analysis, implant);
  if (site.size() != 2) return {};
  // Left/right of an axis lying horizontally are smaller and larger y (analysis.h).
  const Point right = implant.shape.axis.right();
  const bool upright = std::abs(right.x) >= std::abs(right.y);
  const Acquisition& facts = analysis.acquisition;
  const std::string& towards =
      upright ? facts.patient_orientation_row : facts.patient_orientation_column;
  // Only the main direction counts: the first letter.
  if (towards.empty()) return {};
  const char mesial = mesial_letter(site);
  if (towards[0] == mesial) return false;
  if (towards[0] == opposite(mesial)) return true;
  return {};
}

LeftRight<std::string> short_side_names(const Analysis& analysis, const Implant& implant,
                                        const Language& text) {
  const std::optional<bool> left = mesial_is_left(analysis, implant);
  if (!left) return {text.get("side.left"), text.get("side.right")};
  return {text.get(*left ? "side.mesial" : "side.distal"),
          text.get(*left ? "side.distal" : "side.mesial")};
}

LeftRight<std::string> side_names(const Analysis& analysis, const Implant& implant,
                                  const Language& text) {
  const std::optional<bool> left = mesial_is_left(analysis, implant);
  if (!left) return {text.get("side.left"), text.get("side.right")};
  return {text.get(*left ? "side.left_mesial" : "side.left_distal"),
          text.get(*left ? "side.right_distal" : "side.right_mesial")};
}

}  // namespace crestgate

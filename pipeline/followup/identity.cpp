#include "pipeline/followup/identity.h"

#include <algorithm>
#include <cmath>

#include "config/number_text.h"

namespace crestgate {
namespace {

// Standard uncertainties of the implant's dimensions as read from one image, relative: pitch and
// diameter from projected outlines that blur and tilt change; the axial scale differs from the
// transverse one by cos(theta - phi).
constexpr double kPitchOverDiameterU = 0.025;
constexpr double kDiameterU = 0.02;
constexpr double kLengthU = 0.03;
constexpr double kCoverage = 3.0;  // a refusal blocks the comparison: fewer than 1 % by chance

void need_equal(const char* what, const std::string& now, const std::string& before,
                const Language& text, std::vector<std::string>& conflicts) {
  if (now.empty() && before.empty()) {
    conflicts.push_back(text.get("pair.in_neither", {{"what", text.get(what)}}));
  } else if (now != before) {
    conflicts.push_back(
        text.get("pair.differs", {{"what", text.get(what)}, {"now", now}, {"before", before}}));
  }
}

std::string joined(const std::vector<std::string>& words) {
  std::string text;
  for (const std::string& w : words) text += (text.empty() ? "" : ", ") + w;
  return text;
}

/// 'R' or 'L' of an ISO 3950 designation, 0 if it is none.
char side_of(const std::string& tooth) {
  if (tooth.size() != 2) return 0;
  if (tooth[0] == '1' || tooth[0] == '4') return 'R';
  if (tooth[0] == '2' || tooth[0] == '3') return 'L';
  return 0;
}

void check_laterality(const Acquisition& a, const char* which, const Language& text,
                      std::vector<std::string>& conflicts) {
  if (a.image_laterality != "R" && a.image_laterality != "L") return;
  for (const std::string& tooth : a.teeth)
    if (const char side = side_of(tooth); side != 0 && side != a.image_laterality[0])
      conflicts.push_back(text.get(which, {{"laterality", a.image_laterality}, {"site", tooth}}));
}

void check_site(const Acquisition& now, const Acquisition& before, const Language& text,
                std::vector<std::string>& conflicts) {
  if (now.teeth.empty() || before.teeth.empty()) {
    conflicts.push_back(text.get(now.teeth.empty() ? "pair.no_site_now" : "pair.no_site_before"));
  } else if (std::none_of(now.teeth.begin(), now.teeth.end(), [&](const std::string& t) {
               return std::find(before.teeth.begin(), before.teeth.end(), t) != before.teeth.end();
             })) {
    conflicts.push_back(
        text.get("pair.site", {{"now", joined(now.teeth)}, {"before", joined(before.teeth)}}));
  }
  const auto& a = now.image_laterality;
  const auto& b = before.image_laterality;
  if (!a.empty() && !b.empty() && a != b)
    conflicts.push_back(text.get("pair.laterality", {{"now", a}, {"before", b}}));
  if (now.jaw != Jaw::unknown && before.jaw != Jaw::unknown && now.jaw != before.jaw)
    conflicts.push_back(text.get("pair.jaw"));
}

/// Relative difference beyond what its standard uncertainty allows, in words.
void compare(const char* dimension, double now, double before, double relative_u,
             const Language& text, GeometryCheck& check) {
  if (!(now > 0) || !(before > 0)) return;
  ++check.compared;
  const double difference = std::log(now / before);
  if (std::abs(difference) <= kCoverage * relative_u) return;
  const double percent = 100 * (now / before - 1);
  check.differences.push_back(
      text.get("pair.dimension", {{"dimension", text.get(dimension)},
                                  {"difference", (percent > 0 ? "+" : "") + fixed(percent, 0)},
                                  {"allowed", fixed(100 * kCoverage * relative_u, 0)}}));
}

double relative_u(const Scale& s) {
  return s.mm_per_px ? 0.5 * s.mm_per_px->expanded_uncertainty / s.mm_per_px->value : 0.0;
}

/// Judged implants in order along the jaw, as seen with the crown up.
std::vector<int> in_order(const Analysis& a) {
  std::vector<int> order;
  for (std::size_t i = 0; i < a.implants.size(); ++i)
    if (!a.implants[i].possible_only) order.push_back(static_cast<int>(i));
  if (order.empty()) return order;
  const AxisFrame& frame = a.implants[static_cast<std::size_t>(order[0])].shape.axis;
  std::sort(order.begin(), order.end(), [&](int i, int k) {
    return frame.from_image(a.implants[static_cast<std::size_t>(i)].shape.platform_px()).x <
           frame.from_image(a.implants[static_cast<std::size_t>(k)].shape.platform_px()).x;
  });
  return order;
}

}  // namespace

std::vector<std::string> identity_conflicts(const Acquisition& now, const Acquisition& before,
                                            const Language& text) {
  std::vector<std::string> conflicts;
  need_equal("attribute.patient_id", now.patient_id, before.patient_id, text, conflicts);
  if (now.issuer_of_patient_id != before.issuer_of_patient_id)
    need_equal("attribute.issuer", now.issuer_of_patient_id, before.issuer_of_patient_id, text,
               conflicts);
  need_equal("attribute.birth_date", now.birth_date, before.birth_date, text, conflicts);
  check_site(now, before, text, conflicts);
  check_laterality(now, "pair.laterality_now", text, conflicts);
  check_laterality(before, "pair.laterality_before", text, conflicts);
  if (now.horizontal_flip && before.horizontal_flip &&
      *now.horizontal_flip != *before.horizontal_flip)
    conflicts.push_back(text.get("pair.mirrored"));
  return conflicts;
}

GeometryCheck compare_geometry(const Implant& now, const Scale& scale_now, const Implant& before,
                               const Scale& scale_before, const Language& text) {
  GeometryCheck check;
  const auto& a = now.projection;
  const auto& b = before.projection;
  const double two = std::sqrt(2.0);
  const auto ratio = [](const ProjectionMeasures& p) {
    return p.thread_pitch_px && p.outer_diameter_px ? *p.thread_pitch_px / *p.outer_diameter_px
                                                    : 0.0;
  };
  compare("dimension.pitch_over_diameter", ratio(a), ratio(b), two * kPitchOverDiameterU, text,
          check);
  const bool whole = now.shape.platform_in_view && now.shape.apex_in_view &&
                     before.shape.platform_in_view && before.shape.apex_in_view;
  const double ra = now.shape.radius_px, rb = before.shape.radius_px;
  if (whole && ra > 0 && rb > 0)
    compare("dimension.length_over_diameter", now.shape.length_px / ra, before.shape.length_px / rb,
            two * std::hypot(kLengthU, kDiameterU), text, check);
  if (scale_now.mm_per_px && scale_before.mm_per_px) {
    const double u =
        std::hypot(std::hypot(relative_u(scale_now), relative_u(scale_before)), two * kDiameterU);
    compare("dimension.diameter", ra * scale_now.mm_per_px->value,
            rb * scale_before.mm_per_px->value, u, text, check);
  }
  return check;
}

std::vector<int> pair_implants(const Analysis& now, const Analysis& before) {
  std::vector<int> pairs(now.implants.size(), -1);
  const std::vector<int> a = in_order(now), b = in_order(before);
  if (a.size() == b.size()) {
    for (std::size_t i = 0; i < a.size(); ++i) pairs[static_cast<std::size_t>(a[i])] = b[i];
    return pairs;
  }
  // Unequal numbers: only where one and one alone agrees, both ways.
  std::vector<int> taken(before.implants.size(), 0);
  for (const int i : a) {
    int found = -1, count = 0;
    for (const int k : b) {
      const auto& p = now.implants[static_cast<std::size_t>(i)];
      const auto& q = before.implants[static_cast<std::size_t>(k)];
      if (!compare_geometry(p, now.scale, q, before.scale).differences.empty()) continue;
      found = k;
      ++count;
    }
    if (count != 1) continue;
    pairs[static_cast<std::size_t>(i)] = found;
    ++taken[static_cast<std::size_t>(found)];
  }
  for (int& p : pairs)
    if (p >= 0 && taken[static_cast<std::size_t>(p)] > 1) p = -1;
  return pairs;
}

}  // namespace crestgate

#include "pipeline/followup/comparability.h"

#include <algorithm>
#include <cmath>

#include "config/number_text.h"
#include "pipeline/image/scale_words.h"

namespace crestgate {
namespace {

constexpr double kSamePixel = 0.005;    // relative
constexpr double kTubeVoltageKv = 5.0;  // beyond, bone and metal change their contrast
constexpr double kExposureRatio = 2.0;

void check_detector(const Acquisition& now, const Acquisition& before, const Language& text,
                    Comparability& c) {
  const auto differ = [&](const char* what, const std::string& a, const std::string& b) {
    if (!a.empty() && !b.empty() && a != b)
      c.refusals.push_back(
          text.get("pair.detector", {{"what", text.get(what)}, {"now", a}, {"before", b}}));
  };
  differ("attribute.detector_id", now.detector_id, before.detector_id);
  differ("attribute.serial_number", now.device_serial, before.device_serial);
  differ("attribute.model", now.model, before.model);
  const bool named = (!now.detector_id.empty() && !before.detector_id.empty()) ||
                     (!now.device_serial.empty() && !before.device_serial.empty());
  if (!named) c.limits.push_back(text.get("pair.detector_not_stated"));
  const auto& a = now.spacing.row_mm;
  const auto& b = before.spacing.row_mm;
  if (a && b && std::abs(*a / *b - 1) > kSamePixel)
    c.refusals.push_back(
        text.get("pair.pixels", {{"now", fixed(*a, 4)}, {"before", fixed(*b, 4)}}));
  if (now.spacing.source != before.spacing.source)
    c.refusals.push_back(
        text.get("pair.spacing", {{"now", scale_source_text(now.spacing.source, text)},
                                  {"before", scale_source_text(before.spacing.source, text)}}));
}

double wrapped_quarter_deg(double deg) { return deg - 90.0 * std::round(deg / 90.0); }

double in_plane_deg(const ImplantShape& shape) {
  return degrees(std::atan2(-shape.axis.apical.x, shape.axis.apical.y));
}

}  // namespace

Comparability compare_acquisition(const Acquisition& now, const Acquisition& before,
                                  const Language& text) {
  Comparability c;
  check_detector(now, before, text, c);
  if (now.for_presentation != before.for_presentation)
    c.refusals.push_back(text.get("pair.presentation"));
  if (now.kvp && before.kvp && std::abs(*now.kvp - *before.kvp) > kTubeVoltageKv)
    c.limits.push_back(
        text.get("pair.voltage", {{"now", fixed(*now.kvp, 0)}, {"before", fixed(*before.kvp, 0)}}));
  if (now.exposure_uas && before.exposure_uas && *now.exposure_uas > 0 &&
      *before.exposure_uas > 0 &&
      std::abs(std::log(*now.exposure_uas / *before.exposure_uas)) > std::log(kExposureRatio))
    c.limits.push_back(
        text.get("pair.exposure", {{"now", fixed(*now.exposure_uas / 1000, 2)},
                                   {"before", fixed(*before.exposure_uas / 1000, 2)}}));
  return c;
}

Comparability compare_projection(const Analysis& now, const Analysis& before, const Registration& r,
                                 const Rules& rules, ImplantComparison& result) {
  Comparability c;
  const auto& limits = rules.follow_up;
  const Language& text = rules.words;
  const auto find = [](const Analysis& a, int id) -> const Implant& {
    return *std::find_if(a.implants.begin(), a.implants.end(),
                         [id](const Implant& i) { return i.id == id; });
  };
  const Implant& a = find(now, result.implant);
  const Implant& b = find(before, result.baseline_implant);
  const auto& ta = a.projection.vertical_angle_deg;
  const auto& tb = b.projection.vertical_angle_deg;
  if (ta && tb) {
    const bool signs = a.projection.direction_resolved && b.projection.direction_resolved;
    const double difference =
        signs ? ta->value - tb->value : std::abs(ta->value) - std::abs(tb->value);
    result.vertical_angle_difference_deg = difference;
    if (std::abs(difference) > limits.largest_angle_difference_deg)
      c.refusals.push_back(
          text.get("pair.angle", {{"difference", fixed(std::abs(difference), 1)},
                                  {"limit", fixed(limits.largest_angle_difference_deg, 1)}}));
    if (!signs) c.limits.push_back(text.get("pair.signs"));
  } else {
    c.limits.push_back(text.get(ta ? "pair.no_angle_before" : "pair.no_angle_now"));
  }
  const double turn = wrapped_quarter_deg(in_plane_deg(a.shape) - in_plane_deg(b.shape));
  result.in_plane_difference_deg = turn;
  if (std::abs(turn) > limits.largest_in_plane_difference_deg)
    c.refusals.push_back(
        text.get("pair.turned", {{"difference", fixed(std::abs(turn), 0)},
                                 {"limit", fixed(limits.largest_in_plane_difference_deg, 0)}}));
  const double mm_now = now.scale.mm_per_px->value, mm_before = before.scale.mm_per_px->value;
  const double ratio = r.scale_v * mm_now / mm_before;
  result.scale_ratio = ratio;
  if (std::abs(ratio - 1) > limits.largest_scale_difference)
    c.refusals.push_back(
        text.get("pair.size", {{"difference", fixed(100 * std::abs(ratio - 1), 1)},
                               {"limit", fixed(100 * limits.largest_scale_difference, 1)}}));
  result.registration_rest_mm = r.rest_px * mm_now;
  if (*result.registration_rest_mm > limits.largest_registration_rest_mm)
    c.refusals.push_back(
        text.get("pair.rest", {{"difference", fixed(*result.registration_rest_mm, 3)},
                               {"limit", fixed(limits.largest_registration_rest_mm, 3)}}));
  if (!r.by_threads) c.limits.push_back(text.get("pair.no_threads"));
  return c;
}

}  // namespace crestgate

#include "pipeline/followup/comparability.h"

#include <algorithm>
#include <cmath>
#include <cstdio>

namespace crestgate {
namespace {

constexpr double kSamePixel = 0.005;    // relative
constexpr double kTubeVoltageKv = 5.0;  // beyond, bone and metal change their contrast
constexpr double kExposureRatio = 2.0;

std::string words(const char* format, double a, double b) {
  char text[200];
  std::snprintf(text, sizeof text, format, a, b);
  return text;
}

void check_detector(const Acquisition& now, const Acquisition& before, Comparability& c) {
  const auto differ = [&](const char* what, const std::string& a, const std::string& b) {
    if (!a.empty() && !b.empty() && a != b)
      c.refusals.push_back(std::string("another detector: ") + what + " '" + a + "' now, '" + b +
                           "' in the baseline");
  };
  differ("Detector ID", now.detector_id, before.detector_id);
  differ("serial number", now.device_serial, before.device_serial);
  differ("model", now.model, before.model);
  const bool named = (!now.detector_id.empty() && !before.detector_id.empty()) ||
                     (!now.device_serial.empty() && !before.device_serial.empty());
  if (!named) c.limits.emplace_back("whether the detector is the same is not stated");
  const auto& a = now.spacing.row_mm;
  const auto& b = before.spacing.row_mm;
  if (a && b && std::abs(*a / *b - 1) > kSamePixel)
    c.refusals.push_back(
        words("another detector or binning: pixels of %.4f mm now, %.4f mm in the "
              "baseline",
              *a, *b));
  if (now.spacing.source != before.spacing.source)
    c.refusals.push_back("spatial scale does not agree: spacing is '" + now.spacing.source +
                         "' now, '" + before.spacing.source + "' in the baseline");
}

double wrapped_quarter_deg(double deg) { return deg - 90.0 * std::round(deg / 90.0); }

double in_plane_deg(const ImplantShape& shape) {
  return degrees(std::atan2(-shape.axis.apical.x, shape.axis.apical.y));
}

}  // namespace

Comparability compare_acquisition(const Acquisition& now, const Acquisition& before) {
  Comparability c;
  check_detector(now, before, c);
  if (now.for_presentation != before.for_presentation)
    c.refusals.emplace_back("processing differs: one image is for presentation, one is not");
  if (now.kvp && before.kvp && std::abs(*now.kvp - *before.kvp) > kTubeVoltageKv)
    c.limits.push_back(
        words("tube voltage %.0f kV now, %.0f kV in the baseline", *now.kvp, *before.kvp));
  if (now.exposure_uas && before.exposure_uas && *now.exposure_uas > 0 &&
      *before.exposure_uas > 0 &&
      std::abs(std::log(*now.exposure_uas / *before.exposure_uas)) > std::log(kExposureRatio))
    c.limits.push_back(words("exposure %.2f mAs now, %.2f mAs in the baseline",
                             *now.exposure_uas / 1000, *before.exposure_uas / 1000));
  return c;
}

Comparability compare_projection(const Analysis& now, const Analysis& before, const Registration& r,
                                 const Rules& rules, ImplantComparison& result) {
  Comparability c;
  const auto& limits = rules.follow_up;
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
          words("projection not repeated: vertical angle differs by %.1f degrees "
                "(limit %.1f)",
                std::abs(difference), limits.largest_angle_difference_deg));
    if (!signs)
      c.limits.emplace_back(
          "the direction of an angle is not resolved: signs assumed "
          "to be opposite in the uncertainty");
  } else {
    c.limits.emplace_back(ta ? "the baseline's vertical angle is not known"
                             : "this image's vertical angle is not known");
  }
  const double turn = wrapped_quarter_deg(in_plane_deg(a.shape) - in_plane_deg(b.shape));
  result.in_plane_difference_deg = turn;
  if (std::abs(turn) > limits.largest_in_plane_difference_deg)
    c.refusals.push_back(words("the receptor was turned by %.0f degrees in the plane (limit %.0f)",
                               std::abs(turn), limits.largest_in_plane_difference_deg));
  const double mm_now = now.scale.mm_per_px->value, mm_before = before.scale.mm_per_px->value;
  const double ratio = r.scale_v * mm_now / mm_before;
  result.scale_ratio = ratio;
  if (std::abs(ratio - 1) > limits.largest_scale_difference)
    c.refusals.push_back(words("the implant is %.1f %% larger or smaller in mm (limit %.1f %%)",
                               100 * std::abs(ratio - 1), 100 * limits.largest_scale_difference));
  result.registration_rest_mm = r.rest_px * mm_now;
  if (*result.registration_rest_mm > limits.largest_registration_rest_mm)
    c.refusals.push_back(
        words("the implant's outlines do not lie on each other: %.3f mm left "
              "(limit %.3f)",
              *result.registration_rest_mm, limits.largest_registration_rest_mm));
  if (!r.by_threads) c.limits.emplace_back("no threads to register by: platform laid on platform");
  return c;
}

}  // namespace crestgate

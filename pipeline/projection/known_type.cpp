#include "pipeline/projection/known_type.h"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <optional>

#include "config/lower_case.h"
#include "config/units.h"
#include "pipeline/image/scale_words.h"

namespace crestgate {
namespace {

// Relative standard uncertainties of what the picture gives, checked against the phantom's truth
// on development scenes. Pitch: the spectral peak over some ten turns. Diameter over the
// crests: thread model, taper. Diameter of a smooth body: half-level edges lie inside a cylinder's
// flank. Apex: its rounded tip, share of the length.
constexpr double kPitchSd = 0.004;
constexpr double kCrestDiameterSd = 0.025;
constexpr double kSmoothDiameterSd = 0.03;
constexpr double kApexSd = 0.03;
// Axial over transverse scale, cos(theta) / cos(theta - phi), for 15 deg of beam and 10 deg of
// receptor tilt: 0.96 to 1.07; half of that width as standard uncertainty where neither is known.
constexpr double kDistortionSd = 0.03;
constexpr double kWidestReceptorTiltDeg = 10.0;  // common practice with a holder

std::string percent_text(double share) {
  char buffer[64];
  const auto end =
      std::to_chars(buffer, buffer + sizeof buffer, 100 * share, std::chars_format::fixed, 0);
  return std::string(buffer, end.ptr) + " %";
}

bool named_by_text(const ImplantType& type, const Acquisition& acquisition) {
  if (type.contains.empty()) return false;
  const auto found = acquisition.reason_texts.find(type.attribute);
  return found != acquisition.reason_texts.end() &&
         lower_case(found->second).find(lower_case(type.contains)) != std::string::npos;
}

/// One comparison of picture and table: relative difference and its expanded uncertainty.
struct Deviation {
  const char* what = "";
  double difference = 0, expanded_uncertainty = 0;
  bool agrees() const { return std::abs(difference) <= expanded_uncertainty; }
};

double tolerance_sd(const ImplantType& type, double dimension_mm) {
  return type.tolerance_mm / std::sqrt(3.0) / dimension_mm;  // rectangular (GUM 4.3.7)
}

/// Widest over mean width of the body's upper nine tenths: a tapered implant is called by its
/// widest part, the thread model sees the mean.
double taper_factor(const ImplantShape& shape) {
  constexpr int kParts = 5;
  double widest = 0, sum = 0;
  for (int part = 0; part < kParts; ++part) {
    std::vector<double> widths;
    const double from = 0.15 + 0.77 * part / kParts, to = 0.15 + 0.77 * (part + 1) / kParts;
    const auto end = static_cast<std::size_t>(to * shape.length_px);
    for (auto v = static_cast<std::size_t>(from * shape.length_px);
         v < end && v < shape.minus_edge_px.size() && v < shape.plus_edge_px.size(); ++v) {
      const double width = shape.plus_edge_px[v] - shape.minus_edge_px[v];
      if (std::isfinite(width)) widths.push_back(width);
    }
    if (widths.size() < 4) return 1;
    std::nth_element(widths.begin(), widths.begin() + widths.size() / 2, widths.end());
    const double middle = widths[widths.size() / 2];
    widest = std::max(widest, middle);
    sum += middle;
  }
  return widest / (sum / kParts);
}

/// Diameter over the crests of a threaded body, over the flanks of a smooth one; value and relative
/// standard uncertainty. A thread that was not read has no diameter worth comparing.
struct Diameter {
  double px = 0, relative_sd = 0;
};
std::optional<Diameter> diameter(const ImplantType& type, const ImplantShape& shape,
                                 const ProjectionMeasures& p) {
  if (type.thread_pitch_mm > 0) {
    if (!p.crest_diameter_px || *p.crest_diameter_px <= 0) return {};
    return Diameter{*p.crest_diameter_px * taper_factor(shape), kCrestDiameterSd};
  }
  if (!p.outer_diameter_px || *p.outer_diameter_px <= 0 || p.thread_pitch_px) return {};
  return Diameter{*p.outer_diameter_px, kSmoothDiameterSd};
}

std::vector<Deviation> compare(const ImplantType& type, const ImplantShape& shape,
                               const ProjectionMeasures& p, const Scale& scale) {
  std::vector<Deviation> all;
  const auto add = [&all](const char* what, double seen, double wanted, double sd) {
    all.push_back({what, seen / wanted - 1, 2 * sd});
  };
  const std::optional<Diameter> across = diameter(type, shape, p);
  if (!across) return all;
  const double across_sd =
      std::hypot(across->relative_sd, tolerance_sd(type, type.outer_diameter_mm));
  const bool threaded = type.thread_pitch_mm > 0 && p.thread_pitch_px;
  if (threaded)
    add("dimension.pitch_over_diameter", *p.thread_pitch_px / across->px,
        type.thread_pitch_mm / type.outer_diameter_mm,
        std::hypot(std::hypot(across_sd, kPitchSd), kDistortionSd));
  if (shape.apex_in_view && shape.platform_marked && shape.platform_sd_px && shape.length_px > 0) {
    const double length_sd = std::hypot(kApexSd, std::hypot(*shape.platform_sd_px / shape.length_px,
                                                            tolerance_sd(type, type.length_mm)));
    if (threaded)
      add("dimension.length_over_pitch", shape.length_px / *p.thread_pitch_px,
          type.length_mm / type.thread_pitch_mm, std::hypot(length_sd, kPitchSd));
    else
      add("dimension.length_over_diameter", shape.length_px / across->px,
          type.length_mm / type.outer_diameter_mm,
          std::hypot(std::hypot(length_sd, across_sd), kDistortionSd));
  }
  if (scale.mm_per_px) {
    const double scale_sd = scale.mm_per_px->expanded_uncertainty / 2 / scale.mm_per_px->value;
    add("dimension.diameter", across->px * scale.mm_per_px->value, type.outer_diameter_mm,
        std::hypot(scale_sd, across_sd));
  }
  return all;
}

/// A smooth body has no thread pattern; a threaded one may lose it to blur, but has no other pitch.
bool thread_excludes(const ImplantType& type, const ProjectionMeasures& p) {
  return p.thread_pitch_px && type.thread_pitch_mm <= 0;
}

TypeChoice by_fit(const std::vector<ImplantType>& types, const ImplantShape& shape,
                  const ProjectionMeasures& p, const Scale& scale, const Language& text) {
  TypeChoice choice;
  int fitting = 0;
  for (const ImplantType& type : types) {
    if (thread_excludes(type, p)) continue;
    // A thread that was not read says little: the body could be any of about that diameter.
    if (!p.thread_pitch_px && type.thread_pitch_mm > 0) continue;
    const std::vector<Deviation> all = compare(type, shape, p, scale);
    const bool parity_differs =
        p.thread_starts && p.thread_pitch_px && (*p.thread_starts - type.starts) % 2 != 0;
    if (all.size() < 2 || parity_differs) continue;
    if (!std::all_of(all.begin(), all.end(), [](const Deviation& c) { return c.agrees(); }))
      continue;
    ++fitting;
    choice.type = &type;
    choice.known = {type.name, "best fit", text.get("type.only_fit")};
  }
  if (fitting == 1) return choice;
  return {nullptr, {"", "", text.get(fitting == 0 ? "type.none_fits" : "type.several_fit")}};
}

Scale from_ratio(double mm, double px, double relative_sd, std::string source) {
  Scale scale;
  scale.mm_per_px = Quantity{mm / px, 2 * relative_sd * mm / px};
  scale.source = std::move(source);
  return scale;
}

/// Mean and standard deviation of cos(theta) / cos(theta - phi) over every receptor tilt phi that a
/// holder allows and the angle's own uncertainty, both signs where the direction is open.
struct Distortion {
  double mean = 1, sd = 0;
};
Distortion expected_distortion(const ProjectionMeasures& p) {
  constexpr int kTilts = 41, kAngles = 9;
  double sum = 0, squares = 0;
  int n = 0;
  for (int sign : {1, -1}) {
    if (sign < 0 && p.direction_resolved) continue;
    for (int a = 0; a < kAngles; ++a)
      for (int t = 0; t < kTilts; ++t) {
        const Quantity& angle = *p.vertical_angle_deg;
        const double theta = radians(sign * angle.value +
                                     angle.expanded_uncertainty * (2.0 * a / (kAngles - 1) - 1));
        const double phi = radians(kWidestReceptorTiltDeg * (2.0 * t / (kTilts - 1) - 1));
        const double ratio = std::cos(theta) / std::cos(theta - phi);
        sum += ratio, squares += ratio * ratio, ++n;
      }
  }
  const double mean = sum / n;
  return {mean, std::sqrt(std::max(0.0, squares / n - mean * mean))};
}

}  // namespace

TypeChoice choose_type(const std::vector<ImplantType>& types, const Acquisition& acquisition,
                       const ImplantShape& shape, const ProjectionMeasures& projection,
                       const Scale& scale, const Language& text) {
  for (const ImplantType& type : types) {
    if (!named_by_text(type, acquisition)) continue;
    for (const Deviation& c : compare(type, shape, projection, Scale{}))
      if (!c.agrees() || thread_excludes(type, projection))
        return {nullptr,
                {"", "",
                 text.get("type.contradicted", {{"type", type.name},
                                                {"dimension", text.get(c.what)},
                                                {"difference", percent_text(c.difference)},
                                                {"u", percent_text(c.expanded_uncertainty)}})}};
    return {&type,
            {type.name, "rule",
             text.get("reason.holds", {{"attribute", type.attribute}, {"text", type.contains}})}};
  }
  if (types.empty()) return {};
  return by_fit(types, shape, projection, scale, text);
}

void add_distortion(const ImplantType& type, const ImplantShape& shape, ProjectionMeasures& p) {
  const std::optional<Diameter> across = diameter(type, shape, p);
  if (!p.thread_pitch_px || !across || type.thread_pitch_mm <= 0) return;
  const double ratio =
      *p.thread_pitch_px / type.thread_pitch_mm / (across->px / type.outer_diameter_mm);
  const double sd = std::hypot(std::hypot(kPitchSd, across->relative_sd),
                               tolerance_sd(type, type.outer_diameter_mm));
  p.axial_to_transverse_scale = ratio;
  p.axial_to_transverse_scale_expanded_uncertainty = 2 * sd * ratio;
}

Scale scale_across(const ImplantType& type, const ImplantShape& shape,
                   const ProjectionMeasures& p) {
  if (p.thread_pitch_px && type.thread_pitch_mm > 0 && p.vertical_angle_deg) {
    const Distortion d = expected_distortion(p);
    return from_ratio(type.thread_pitch_mm * d.mean, *p.thread_pitch_px,
                      std::hypot(kPitchSd, d.sd / d.mean), "known pitch of " + type.name);
  }
  const std::optional<Diameter> across = diameter(type, shape, p);
  if (!across) return {};
  return from_ratio(type.outer_diameter_mm, across->px,
                    std::hypot(across->relative_sd, tolerance_sd(type, type.outer_diameter_mm)),
                    "known diameter of " + type.name);
}

Scale scale_along(const ImplantType& type, const ProjectionMeasures& p) {
  if (!p.thread_pitch_px || *p.thread_pitch_px <= 0 || type.thread_pitch_mm <= 0) return {};
  return from_ratio(type.thread_pitch_mm, *p.thread_pitch_px, kPitchSd,
                    "known pitch of " + type.name);
}

void settle_scale(Analysis& analysis, const std::vector<Scale>& from_known_dimensions,
                  const Language& text) {
  for (const Scale& other : from_known_dimensions) {
    if (!other.mm_per_px) continue;
    if (!analysis.scale.mm_per_px) {
      analysis.scale = other;
      continue;
    }
    Quantity& now = *analysis.scale.mm_per_px;
    const double difference = std::abs(now.value - other.mm_per_px->value);
    if (difference > now.expanded_uncertainty + other.mm_per_px->expanded_uncertainty) {
      analysis.scale_disagreement =
          text.get("type.scales_differ", {{"one", scale_source_text(analysis.scale.source, text)},
                                          {"other", scale_source_text(other.source, text)},
                                          {"difference", percent_text(difference / now.value)}});
      now.expanded_uncertainty = std::max(now.expanded_uncertainty, difference);
      analysis.other_scales.push_back(other);
    } else if (other.mm_per_px->expanded_uncertainty < now.expanded_uncertainty) {
      analysis.other_scales.push_back(analysis.scale);
      analysis.scale = other;
    } else {
      analysis.other_scales.push_back(other);
    }
  }
}

}  // namespace crestgate

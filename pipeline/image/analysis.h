// Everything the pipeline finds out about one image: the value each stage adds to, and the source
// of the JSON contract, the structured report and the picture. Unknown = empty optional, never 0.
// "left"/"right" are image left/right (an axis lying horizontally: left = the side with smaller y).
// A `reason` of a measure is a key of the language table ("why.no_thread"); texts of findings,
// reasons, known types and comparisons are words already, in the language of the rules.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "config/rules.h"
#include "config/status.h"
#include "config/units.h"
#include "pipeline/image/acquisition.h"
#include "pipeline/image/comparison.h"
#include "pipeline/image/frame.h"
#include "pipeline/image/strip.h"

namespace crestgate {

enum class Verdict { usable, usable_with_limits, repeat_if_justified, not_assessable };
inline const char* verdict_name(Verdict v) {
  switch (v) {
    case Verdict::usable: return "usable";
    case Verdict::usable_with_limits: return "usable with limits";
    case Verdict::repeat_if_justified: return "repeat if justified";
    case Verdict::not_assessable: return "not assessable";
  }
  return "not assessable";
}

enum class ImageSide { up, down, left, right, unknown };
inline const char* image_side_name(ImageSide s) {
  switch (s) {
    case ImageSide::up: return "up";
    case ImageSide::down: return "down";
    case ImageSide::left: return "left";
    case ImageSide::right: return "right";
    case ImageSide::unknown: return "unknown";
  }
  return "unknown";
}

/// Stage detect: where an implant is. Body edges are offsets along u from the axis, so that
/// the silhouette at v is [-edge(-u side), +edge(+u side)].
struct ImplantShape {
  AxisFrame axis;                    ///< origin at the platform centre, or at the visible coronal end
  double length_px = 0.0;            ///< origin to apex tip, or to the visible apical end
  double radius_px = 0.0;            ///< median outer (crest) radius of the body
  bool platform_in_view = false;
  bool apex_in_view = false;
  bool minus_flank_in_view = true;   ///< u < 0 flank inside the image
  bool plus_flank_in_view = true;    ///< u > 0
  bool coronal_known = true;         ///< false: which end is coronal could not be told
  double confidence = 0.0;           ///< 0..1 that this is an implant
  /// Silhouette sampled every pixel of v from 0: half-level edge position along u, px; NaN if lost.
  std::vector<double> minus_edge_px; ///< u < 0 side (negative numbers)
  std::vector<double> plus_edge_px;  ///< u > 0 side
  /// Standard uncertainty of the origin along v if it is marked (stage platform); unset: that stage
  /// has not run.
  std::optional<double> platform_sd_px;
  bool platform_marked = false;      ///< something in the image marks the platform's place
  /// Where else it may be, v along the axis; empty if nowhere else, or at too many places.
  std::vector<double> rival_platforms_px;
  /// From the site's table of known types, empty/unset if none applies: "butt joint", "conical".
  std::string known_design;
  std::optional<bool> left_handed;   ///< thread's handedness where the type is known
  /// Marked and without a rival: whatever counts from the platform needs this.
  bool platform_certain(double mm_per_px) const {
    constexpr double most_mm = 0.2;  // standard uncertainty; ours
    return platform_marked && platform_sd_px.value_or(0.0) * mm_per_px <= most_mm;
  }
  /// So little known that heights counted from it may be a turn of the thread off.
  bool platform_lost(double mm_per_px) const {
    constexpr double most_mm = 1.0;  // standard uncertainty; ours
    return platform_sd_px.value_or(0.0) * mm_per_px > most_mm;
  }
  bool both_flanks_in_view() const { return minus_flank_in_view && plus_flank_in_view; }
  Point platform_px() const { return axis.origin; }
  Point apex_px() const { return axis.to_image(0.0, length_px); }
};

/// Stage measure, projection.
struct ProjectionMeasures {
  std::optional<double> thread_pitch_px;      ///< along the axis
  std::optional<int> thread_starts;           ///< unset when not told apart
  std::optional<double> outer_diameter_px;    ///< half-level edges: inside the crests by blur
  std::optional<double> crest_diameter_px;    ///< over the crests by the thread model, blur undone
  std::optional<double> thread_depth_px;
  LeftRight<std::optional<double>> flank_edge_ratio;  ///< 0 lost .. 1 as sharp as the image allows
  /// Vertical angle at the platform centre, positive = source coronal; signed if direction_resolved,
  /// else the magnitude. Empty with `reason` when not assessable.
  std::optional<Quantity> vertical_angle_deg;
  bool direction_resolved = false;
  std::string basis;                          ///< "threads", "platform", "flanks", "markers", ...
  std::string reason;                         ///< why there is no angle or no direction
  std::optional<double> platform_minor_axis_ratio;   ///< minor / major
  std::optional<double> platform_minor_axis_ratio_expanded_uncertainty;
  /// (pitch px / pitch mm) over (diameter px / diameter mm) of a known type: 1 = no distortion.
  std::optional<double> axial_to_transverse_scale;
  std::optional<double> axial_to_transverse_scale_expanded_uncertainty;
};

enum class JointState { no_gap_visible, gap_visible, not_assessable };
inline const char* joint_state_name(JointState s) {
  switch (s) {
    case JointState::no_gap_visible: return "no gap visible";
    case JointState::gap_visible: return "gap visible";
    case JointState::not_assessable: return "not assessable";
  }
  return "not assessable";
}

/// Stage measure, seating. Lengths in mm in the implant's plane.
struct JointMeasures {
  JointState state = JointState::not_assessable;
  bool part_present = false;                  ///< something is mounted on the platform
  int places = 1;                             ///< heights it may be at, each found closed
  bool scale_assumed = false;                 ///< none known: holds for any width implants have
  std::optional<double> gap_mm;               ///< larger side
  LeftRight<std::optional<double>> gap_side_mm;
  LeftRight<bool> open_side;                  ///< gap visible there, its size known or not
  std::optional<double> gap_expanded_uncertainty_mm;
  std::optional<double> smallest_visible_gap_mm;
  /// The same limit if the angle were 0 and motion/exposure corrected: would a repeat help?
  std::optional<double> smallest_visible_gap_at_best_mm;
  /// The limit for either family of joints. Design known: the one that applies is stated above;
  /// unknown: the larger. If the rule lies between them, the image cannot answer.
  std::optional<double> smallest_visible_gap_butt_mm, smallest_visible_gap_conical_mm;
  std::string bounded_by;                     ///< "angle", "blur", "noise", "clipping", ...
  std::string design = "design unknown";      ///< "butt joint", "conical", "design unknown"
  std::string reason;                         ///< why not assessable
};

/// Stage measure, crest.
struct CrestLevel {
  std::optional<double> level_mm;             ///< positive apical of the platform
  std::optional<double> expanded_uncertainty_mm;
  /// The bone contact alone: v along shape.axis, px (level_mm counts from the platform's edge, so a
  /// contact may be known where the level is not).
  std::optional<double> contact_px;
  std::optional<double> edge_slope;           ///< |rise| of the bone's edge there, mm per mm outward
  struct Contribution {
    std::string name;
    double standard_uncertainty_mm = 0.0;
  };
  std::vector<Contribution> budget;           ///< of the level, or of what would be one
  std::string reason;                         ///< why there is no level
};

struct Finding {
  std::string kind;                 ///< "gap visible", "bone change resolved", "processing changed"
  int implant = 0;
  std::string side;                 ///< "left", "right" or empty
  std::string text;
};

struct Reason {
  std::string rule;                 ///< YAML key, e.g. "seating.largest_vertical_angle_deg"
  std::optional<int> implant;
  std::string text;
  std::optional<double> value, limit;
  std::string unit;
};

/// Which entry of the site's table of implant types this is, if any.
struct KnownType {
  std::string name;       ///< empty: none applies
  std::string chosen_by;  ///< "rule" or "best fit"
  std::string reason;     ///< what was compared, or why none applies
};

/// What of the implant and its surroundings is in view, for the placement question. The margin is
/// the distance along the axis from the apex to the border, a cone cut or a bar.
struct Extent {
  bool platform_in_view = false, apex_in_view = false;
  LeftRight<bool> flank_in_view;
  std::optional<double> apical_margin_px;     ///< empty: apex not in view
  std::optional<Quantity> apical_margin_mm;   ///< empty as well without a scale
  /// Without a scale: the margin if the body is 3 or 5.5 mm wide (common practice).
  std::optional<double> apical_margin_least_mm, apical_margin_most_mm;
  std::string bounded_by;                     ///< "image border", "cone cut or bar"
};

struct Implant {
  int id = 0;                       ///< 1.. in order of x
  ImplantShape shape;
  bool possible_only = false;       ///< confidence below the rule: reported, not judged
  KnownType known_type;
  Extent extent;
  std::optional<double> clipped_at_joint;  ///< fraction of the pixels around the platform
  ProjectionMeasures projection;
  JointMeasures joint;
  LeftRight<CrestLevel> crest;
  Verdict verdict = Verdict::not_assessable;
  bool move_tube = false;           ///< judged: a repeat would correct the beam angle

  /// Where nothing marks the platform its place is a guess, and is not drawn as one.
  bool platform_placed() const {
    return shape.platform_in_view &&
           (shape.platform_marked || joint.state == JointState::gap_visible);
  }
};

/// Stage measure, image quality.
struct QualityMeasures {
  double clipped_low = 0.0, clipped_high = 0.0;  ///< fraction of image pixels
  std::optional<double> blur_sigma_px;
  std::optional<double> noise;                   ///< sd / (metal - background)
  std::optional<double> motion_direction_deg;    ///< blur clearly longer this way; 0 = along x
  /// Processing halo beside metal edges: over- and undershoot over the edge's height; 0 = none.
  std::optional<double> halo;
};

/// The step wedge on the site's jig, thin step first. Grey values as in Frame.
struct WedgeReading {
  struct Step {
    double aluminium_mm = 0.0;
    std::optional<Quantity> grey;  ///< unset: outside the image, clipped, or not even
  };
  std::string result;              ///< key: found, or why not; empty: none asked for
  std::vector<Step> steps;         ///< empty unless found
};

struct Scale {
  std::optional<Quantity> mm_per_px;             ///< in the implant's plane
  std::string source = "none";
};

/// The whole result for one image.
struct Analysis {
  Status error;                                  ///< not ok: the file could not be used
  Acquisition acquisition;
  int rows = 0, columns = 0;
  Tone tone = Tone::unknown;
  bool grey_inverted = false;  ///< read as its negative: implants show only there (a reason says so)
  Scale scale;
  std::vector<Scale> other_scales;               ///< further origins, not used: for comparison
  std::string jig;                               ///< key: found, or why not; empty: none asked for
  WedgeReading step_wedge;
  std::string scale_disagreement;                ///< which origins differ by more than both U
  QualityMeasures quality;
  Intent intent = Intent::other;
  bool intent_from_rule = false;
  std::vector<Implant> implants;
  Verdict verdict = Verdict::not_assessable;
  std::vector<Finding> findings;
  std::vector<Reason> reasons;
  std::string action;                            ///< what is advised about the image
  std::string advice;                            ///< findings, then the action; one line
  std::string ruleset_digest;
  std::vector<Comparison> comparisons;           ///< with earlier images, oldest first
  /// Why no comparison is here yet although one is wanted ("archive unreachable"); else empty.
  std::string comparison_pending;
};

}  // namespace crestgate

// The rules of a site as plain values: what config/ loads from YAML and pipeline/judge applies.
// Immutable after loading; share freely between threads. Every field is described, with unit,
// range, default and reason, in the schema table (config/schema.cpp).
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "config/language.h"

namespace crestgate {

enum class Intent { seating, placement, follow_up, constancy, other };
enum class Mode { trial, live };
/// Which earlier image of the site a follow-up is compared with.
enum class Baseline { first_after_loading, last, all };
/// Which images are compared at all.
enum class Compare { follow_up, always, never };

/// Who tried the rules on the site's own images before they were allowed to raise notes.
struct Commissioning {
  std::string by;
  std::string date;  ///< YYYY-MM-DD
  int own_images = 0;
  double agreement_percent = 0.0;      ///< agreement with the site's own readers
  std::vector<std::string> detectors;  ///< Detector IDs (0018,700A) or serial numbers covered
};

/// DICOM keywords of the texts an intent rule may look at: texts, or sequences of codes (value and
/// meaning). A closed list, so that a misspelt keyword is an error and not a rule that never
/// matches.
inline std::vector<std::string> intent_attributes() {
  return {"StudyDescription",
          "SeriesDescription",
          "ProtocolName",
          "RequestedProcedureDescription",
          "RequestedProcedureCodeSequence",
          "RequestedProcedureComments",
          "ReasonForTheRequestedProcedure",
          "ReasonForRequestedProcedureCodeSequence",
          "ProcedureCodeSequence",
          "ScheduledProcedureStepDescription",
          "PerformedProcedureStepDescription",
          "PerformedProtocolCodeSequence",
          "ViewCodeSequence",
          "BodyPartExamined",
          "ImageComments"};
}

/// First matching rule states why the image was taken.
struct IntentRule {
  std::string attribute;  ///< DICOM keyword, e.g. "RequestedProcedureDescription"
  std::string contains;   ///< case-insensitive substring
  Intent intent = Intent::other;
};

/// Dimensions of a type of implant the site uses: a ruler inside the picture.
struct ImplantType {
  std::string name;
  double outer_diameter_mm = 4.0;     ///< over the thread's crests
  double platform_diameter_mm = 4.0;  ///< of the platform's rim
  double thread_pitch_mm = 0.8;  ///< crest to crest along the axis, not the lead; 0 = no thread
  int starts = 1;                ///< threads side by side: lead = starts x pitch
  double length_mm = 10.0;       ///< platform to apex
  double tolerance_mm = 0.05;    ///< half width within which a made part keeps its dimensions
  std::string connection = "butt joint";  ///< "butt joint" or "conical", as JointMeasures::design
  std::string handedness = "right";       ///< of the thread: "right" or "left"
  /// Chosen where this DICOM keyword's text holds `contains` (as for intents); both empty: chosen
  /// only by its dimensions.
  std::string attribute, contains;
};

/// Balls in the field that tell scale and angle (pipeline/markers); layout in units of spacing.
struct Jig {
  double ball_diameter_mm = 2.0;
  double spacing_mm = 5.0;
  double tolerance_mm = 0.05;  ///< half width within which every ball centre was placed
  double alignment_deg = 1.0;  ///< half width within which the jig stands parallel to the implant
};

/// An aluminium staircase on the jig, read as a scale of grey values; its place: DEVELOPERS.md,
/// 'Jig'.
struct StepWedge {
  int steps = 6;
  double step_thickness_mm = 1.0;  ///< aluminium added per step; the first step has this much
  double step_length_mm = 1.6;     ///< of one step, along the jig's x
  double width_mm = 3.0;           ///< of the staircase, along the jig's z
};

/// A holder or bite index made for one site, to repeat a projection (not the balls of Jig).
struct Positioning {
  std::string attribute;             ///< DICOM keyword of the text that names it
  std::string before;                ///< its id is the word after this
  double largest_drift_deg = 2.0;    ///< of vertical angle and of the turn in the picture plane
  double largest_size_drift = 0.02;  ///< relative, of the implant's size in mm
};

struct Rules {
  Mode mode = Mode::trial;
  std::optional<Commissioning> commissioning;
  std::string language = "en";  ///< "en" or a language file, beside the rules unless absolute
  Language words;               ///< of that language; set by the loader
  std::vector<IntentRule> intents;
  std::vector<std::string>
      secondary_capture_senders;  ///< calling AE titles whose SC images are judged

  std::vector<ImplantType> implant_types;
  std::optional<Jig> jig;                  ///< absent: no jig is looked for
  std::optional<StepWedge> step_wedge;     ///< absent: no wedge is looked for
  std::optional<Positioning> positioning;  ///< absent: no holder is judged by what it repeats

  struct {
    double least_confidence = 0.6;  ///< below: 'possible implant', not judged
  } detection;
  struct {
    double largest_vertical_angle_deg = 6.0;
    double largest_hidden_gap_mm = 0.05;
  } seating;
  struct {
    double least_apical_margin_mm = 2.0;
  } placement;
  struct {
    double largest_vertical_angle_deg = 5.0;
    double crest_half_width_mm = 1.0;  ///< b in b tan(theta), buccolingual offset of the crest
    Compare compare = Compare::follow_up;
    Baseline baseline = Baseline::first_after_loading;
    int most_compared = 8;                      ///< earlier images, with baseline: all
    double largest_angle_difference_deg = 5.0;  ///< vertical, between the two images
    double largest_in_plane_difference_deg = 15.0;
    double largest_scale_difference = 0.05;      ///< relative
    double largest_registration_rest_mm = 0.08;  ///< rms left after laying implant on implant
    int early_period_months = 12;                ///< remodelling until here, loss after
    double largest_yearly_loss_mm = 0.2;         ///< after the early period
    double largest_tone_bend = 0.02;  ///< share of the grey range, beyond the bend's own U
    bool stated_processing = true;    ///< a difference the headers state counts as well
    bool subtraction_picture = true;
    bool annotate_baseline = false;  ///< a presentation state into the baseline's own study
  } follow_up;
  struct {
    double largest_blur_sigma_mm = 0.12;
    double largest_noise = 0.05;            ///< sd / (metal - background)
    double largest_clipped_fraction = 0.5;  ///< of the joint's neighbourhood
  } exposure;
  struct {
    int largest_image_age_days = 14;
    int most_advised_repeats = 1;
  } alerts;
  struct {
    bool structured_report = true;
    bool picture = true;
    bool small_picture_when_usable = false;
    bool presentation_state = true;
    bool notes = true;
  } output;

  std::string digest;  ///< hex SHA-256 of the canonical values; set by the loader
};

inline const char* baseline_name(Baseline baseline) {
  switch (baseline) {
    case Baseline::first_after_loading:
      return "first-after-loading";
    case Baseline::last:
      return "last";
    case Baseline::all:
      return "all";
  }
  return "all";
}

inline const char* compare_name(Compare compare) {
  switch (compare) {
    case Compare::follow_up:
      return "follow-up";
    case Compare::always:
      return "always";
    case Compare::never:
      return "never";
  }
  return "never";
}

inline const char* intent_name(Intent intent) {
  switch (intent) {
    case Intent::seating:
      return "seating";
    case Intent::placement:
      return "placement";
    case Intent::follow_up:
      return "follow-up";
    case Intent::constancy:
      return "constancy";
    case Intent::other:
      return "other";
  }
  return "other";
}

}  // namespace crestgate

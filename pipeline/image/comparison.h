// What a follow-up image says against one earlier image of the same site: part of Analysis, filled
// by pipeline/followup. Levels and changes in mm along the implant's axis; change > 0 = loss (the
// crest lies further apical than in the baseline). left/right are image left/right of the
// follow-up.
#pragma once
#include <optional>
#include <string>
#include <vector>

namespace crestgate {

/// One value per flank, image left and right.
template <class T>
struct LeftRight {
  T left{};
  T right{};
};

struct CrestChange {
  enum class State { loss, gain, within_error, not_assessable };
  State state = State::not_assessable;
  std::string reason;                                        ///< why not assessable
  std::optional<double> change_mm, expanded_uncertainty_mm;  ///< U: k = 2
  /// Smallest change this pair could have resolved, at the level its test was held to (Holm).
  std::optional<double> smallest_resolvable_mm;
  std::optional<double> baseline_level_mm, level_mm;  ///< level_mm: on harmonised grey values
  /// Per year since the baseline (loss > 0), only when resolved.
  std::optional<double> rate_mm_per_year;
  struct Contribution {
    std::string name;
    double standard_uncertainty_mm = 0.0;
  };
  std::vector<Contribution> budget;
  /// Largest move of the level under +-10 % brightness, +-10 % contrast, gamma 0.8 to 1.25.
  std::optional<double> brightness_mm, contrast_mm, gamma_mm;
};
inline const char* crest_change_name(CrestChange::State s) {
  switch (s) {
    case CrestChange::State::loss:
      return "resolved: loss";
    case CrestChange::State::gain:
      return "resolved: gain";
    case CrestChange::State::within_error:
      return "within measurement error";
    case CrestChange::State::not_assessable:
      return "not assessable";
  }
  return "not assessable";
}

struct ImplantComparison {
  int implant = 0, baseline_implant = 0;  ///< ids within their images
  std::optional<double> vertical_angle_difference_deg, in_plane_difference_deg;
  std::optional<double> scale_ratio;           ///< follow-up / baseline, implant's size in mm
  std::optional<double> registration_rest_mm;  ///< rms distance of the outlines
  /// Largest departure of the grey values' map from a straight line, share of the baseline's range.
  std::optional<double> tone_bend, tone_bend_expanded_uncertainty;
  /// Steps of the step wedge the map was tied to, and by how much they moved it, share of the
  /// range.
  std::optional<int> wedge_steps;
  std::optional<double> wedge_correction;
  LeftRight<CrestChange> crest;
};

/// Whether both images were processed alike; `no_change_seen`: as far as grey values and header
/// tell (sharpening alone bends no grey value).
enum class ProcessingState { not_known, no_change_seen, changed };
inline const char* processing_state_name(ProcessingState s) {
  switch (s) {
    case ProcessingState::changed:
      return "changed";
    case ProcessingState::no_change_seen:
      return "no change seen";
    case ProcessingState::not_known:
      return "not known";
  }
  return "not known";
}

/// A fact of the processing that both headers state, differently.
struct StatedDifference {
  std::string attribute;  ///< DICOM keyword
  std::string now, before;
};

struct Comparison {
  enum class State {
    compared,
    not_comparable,        ///< the images: why, in `reasons`
    identity_not_certain,  ///< not compared; what disagrees, in `reasons`
    new_baseline,          ///< another implant stands at the site: this image begins anew
  };
  State state = State::not_comparable;
  std::string baseline_uid, baseline_study_uid, baseline_series_uid, baseline_sop_class_uid;
  std::string baseline_date;         ///< YYYYMMDD
  std::string chosen_as;             ///< why this image is the baseline, in plain words
  std::optional<double> years;       ///< between the two images
  bool early_period = false;         ///< within the rule's early remodelling period
  std::vector<std::string> reasons;  ///< refusals and limits, in plain words
  ProcessingState processing = ProcessingState::not_known;
  std::vector<StatedDifference> stated_processing;
  std::vector<ImplantComparison> implants;
};
inline const char* comparison_state_name(Comparison::State s) {
  switch (s) {
    case Comparison::State::compared:
      return "compared";
    case Comparison::State::not_comparable:
      return "not comparable";
    case Comparison::State::identity_not_certain:
      return "identity not certain, not compared";
    case Comparison::State::new_baseline:
      return "new baseline";
  }
  return "not comparable";
}

}  // namespace crestgate

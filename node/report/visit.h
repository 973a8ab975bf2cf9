// Repeats and views of one visit: what is kept of an exposure (numbers only, never patient text),
// how a repeat compares with the exposure before it, and which kind of view is still absent. Pure.
#pragma once
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "config/language.h"
#include "config/number_text.h"
#include "config/units.h"
#include "pipeline/image/analysis.h"

namespace crestgate {

/// An image of the study that got a note: what a later note of the same kind has to name too.
struct NotedImage {
  std::string sop_class_uid, sop_instance_uid, series_instance_uid;
  bool repeat = false, finding = false;  ///< kinds of note
};

/// What one judged image leaves behind for the rest of its visit.
struct Exposure {
  std::string visit_key;              ///< hash of patient, study, day and site; empty: none kept
  bool site_known = false;            ///< exposures without a site are no repeats of each other
  int verdict = 0;                    ///< verdict_rank()
  std::optional<Quantity> angle_deg;  ///< magnitude, of the worst judged implant
  bool seating_view = false, placement_view = false;  ///< what this image shows
  std::string study_key;                              ///< hash of the study, with `noted`
  NotedImage noted;                                   ///< UIDs are kept only if it got a note
};

/// What came before in the visit, under one visit key.
struct PastExposures {
  int count = 0;
  Exposure last;                                      ///< the latest of them
  bool seating_view = false, placement_view = false;  ///< shown by any of them
};

/// 0 usable, 1 usable with limits or to be repeated (one class: beyond the permitted repeats the
/// judge turns the second into the first), 2 not assessable.
int verdict_rank(Verdict verdict);

/// Seating: platform in view and its joint assessable; placement: platform, apex and both flanks in
/// view; of any judged implant. The key is left to the caller.
Exposure summarise_exposure(const Analysis& analysis);

enum class RepeatResult { better, same, worse };
const char* repeat_result_name(RepeatResult result);

struct RepeatComparison {
  int attempt = 2;  ///< this exposure; compared with the one before
  RepeatResult result = RepeatResult::same;
  Exposure before, now;
  /// |angle| now minus before; U: root of the sum of squares (both independent readings).
  std::optional<Quantity> angle_change_deg;
};

/// The verdict decides; with equal verdicts the angle, if it changed by more than the uncertainty
/// of the difference.
RepeatComparison compare_repeat(const PastExposures& past, const Exposure& now);

/// "Exposure 2 of this site compared with exposure 1: better (...)."
std::string repeat_text(const RepeatComparison& repeat, const Language& text);

struct VisitViews {
  bool seating = false, placement = false;  ///< this image included
};
/// Which of the two kinds of view is absent so far; empty if both are there.
std::string visit_text(const VisitViews& views, const Language& text);

}  // namespace crestgate

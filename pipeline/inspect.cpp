#include "pipeline/inspect.h"

#include <algorithm>

#include "pipeline/crest/crest.h"
#include "pipeline/detect/detect.h"
#include "pipeline/followup/baseline.h"
#include "pipeline/followup/followup.h"
#include "pipeline/followup/jig_repeat.h"
#include "pipeline/judge/intent.h"
#include "pipeline/judge/judge.h"
#include "pipeline/markers/markers.h"
#include "pipeline/markers/step_wedge.h"
#include "pipeline/platform/either_end.h"
#include "pipeline/projection/known_type.h"
#include "pipeline/projection/left_handed.h"
#include "pipeline/projection/projection.h"
#include "pipeline/quality/extent.h"
#include "pipeline/quality/quality.h"
#include "pipeline/seating/seating.h"

namespace crestgate {
namespace {

/// What a known type adds to beam angle and dimensions: distortion, the thread's hand, the joint to
/// expect. Returns the scales its dimensions give.
struct KnownScales {
  Scale across, along;
};

KnownScales known_scales(const Frame& frame, const Rules& rules, const Analysis& image,
                         Implant& implant) {
  const TypeChoice choice = choose_type(rules.implant_types, image.acquisition, implant.shape,
                                        implant.projection, image.scale, rules.words);
  implant.known_type = choice.known;
  if (!choice.type) return {};
  implant.shape.known_design = choice.type->connection;
  implant.shape.left_handed = choice.type->handedness == "left";
  if (*implant.shape.left_handed)
    implant.projection =
        measure_left_handed(frame, image.acquisition, implant.shape, image.quality, image.scale);
  add_distortion(*choice.type, implant.shape, implant.projection);
  return {scale_across(*choice.type, implant.shape, implant.projection),
          scale_along(*choice.type, implant.projection)};
}

KnownScales measure_body(const Frame& frame, const Rules& rules, const Analysis& image,
                         const Markers& markers, Implant& implant) {
  const auto project = [&] {
    implant.projection =
        measure_projection(frame, image.acquisition, implant.shape, image.quality, image.scale);
  };
  project();
  const bool known = implant.shape.coronal_known;
  const PlatformFix fix =
      locate_at_either_end(frame, implant.projection, image.scale, &implant.shape);
  if (implant.shape.coronal_known != known) project();
  settle_platform(frame, fix, &implant.shape);
  KnownScales scales = known_scales(frame, rules, image, implant);
  const bool along_jig = rules.jig && apply_markers(markers, *rules.jig, image.acquisition,
                                                    implant.shape, implant.projection);
  if (along_jig && !scales.along.mm_per_px) scales.along = markers.along;
  return scales;
}

void measure_surroundings(const Frame& frame, const Rules& rules, const Analysis& image,
                          const Scale& known_along, Implant& implant) {
  const ImplantShape& shape = implant.shape;
  // Levels and margins lie along the axis: a known pitch is a better ruler there, free of tilt.
  const bool axial = known_along.mm_per_px.has_value();
  const Scale& along = axial ? known_along : image.scale;
  implant.joint = measure_joint(frame, image.acquisition, shape, implant.projection, image.quality,
                                image.scale);
  implant.crest = measure_crest(frame, shape, implant.projection, image.quality, along, rules);
  implant.extent = measure_extent(frame, shape, along, axial);
  implant.clipped_at_joint = clipped_at_joint(frame, shape);
}

bool shows_part(const Analysis& a) {
  return std::any_of(a.implants.begin(), a.implants.end(),
                     [](const Implant& i) { return !i.possible_only && i.joint.part_present; });
}

}  // namespace

namespace {

Analysis inspect_shapes(const Frame& frame, const std::vector<ImplantShape>& shapes,
                        const Acquisition& acquisition, const Rules& rules,
                        const Circumstances& circumstances) {
  Analysis result;
  result.acquisition = acquisition;
  result.rows = frame.rows;
  result.columns = frame.columns;
  result.tone = frame.tone;
  result.ruleset_digest = rules.digest;
  result.scale = scale_from_header(acquisition);

  result.quality = measure_quality(frame, shapes);
  Markers markers;
  if (rules.jig) {
    markers = find_markers(frame, acquisition, *rules.jig, result.scale);
    result.jig = markers.found ? "why.jig_found" : markers.reason;
    if (rules.step_wedge && markers.found)
      result.step_wedge = read_step_wedge(frame, markers.pose, *rules.step_wedge, *rules.jig);
    else if (rules.step_wedge)
      result.step_wedge.result = "why.wedge_without_jig";
  }
  std::vector<Scale> across{markers.across}, along;
  for (const ImplantShape& shape : shapes) {
    Implant implant;
    implant.id = static_cast<int>(result.implants.size()) + 1;
    implant.shape = shape;
    implant.possible_only = shape.confidence < rules.detection.least_confidence;
    KnownScales known;
    if (!implant.possible_only) known = measure_body(frame, rules, result, markers, implant);
    across.push_back(known.across);
    along.push_back(known.along);
    result.implants.push_back(std::move(implant));
  }
  settle_scale(result, across, rules.words);
  for (std::size_t i = 0; i < result.implants.size(); ++i)
    if (!result.implants[i].possible_only)
      measure_surroundings(frame, rules, result, along[i], result.implants[i]);
  judge(result, rules, circumstances);
  return result;
}

}  // namespace

Analysis inspect(const Frame& frame, const Acquisition& acquisition, const Rules& rules,
                 const Circumstances& circumstances) {
  const EitherWay found = detect_either_way(frame, acquisition, rules.detection.least_confidence);
  if (!found.in_negative)
    return inspect_shapes(frame, found.shapes, acquisition, rules, circumstances);
  Analysis result =
      inspect_shapes(negative(frame), found.shapes, acquisition, rules, circumstances);
  result.grey_inverted = true;
  result.reasons.push_back({"detection", {}, rules.words.get("reason.grey_inverted"), {}, {}, ""});
  return result;
}

ComparedEarlier compare_with_earlier(Analysis& analysis, const Frame& frame,
                                     const std::vector<EarlierImage>& earlier, const Rules& rules) {
  ComparedEarlier result;
  const Frame turned = analysis.grey_inverted ? negative(frame) : Frame();
  std::vector<std::optional<Intent>> stated;
  for (const EarlierImage& image : earlier)
    stated.push_back(stated_intent(image.acquisition, rules.intents));
  std::vector<std::optional<Analysis>> inspected(earlier.size());
  const auto before = [&](std::size_t i) -> const Analysis& {
    if (!inspected[i]) inspected[i] = inspect(earlier[i].frame, earlier[i].acquisition, rules);
    return *inspected[i];
  };
  const BaselineChoice choice = choose_baseline(
      stated, rules.follow_up.baseline, [&](std::size_t i) { return shows_part(before(i)); },
      rules.words);
  for (const std::size_t i : choice.chosen) {
    const Frame& as_stored = earlier[i].frame;
    Compared compared =
        compare_with({analysis.grey_inverted ? turned : frame, analysis},
                     {before(i).grey_inverted ? negative(as_stored) : as_stored, before(i)}, rules);
    compared.comparison.chosen_as = choice.why;
    analysis.comparisons.push_back(std::move(compared.comparison));
    for (Subtraction& picture : compared.pictures) result.pictures.push_back(std::move(picture));
    result.baselines.push_back(before(i));
  }
  settle_comparisons(analysis, rules);
  const std::string jig = jig_id(analysis.acquisition, rules.positioning);
  if (jig.empty()) return result;
  const auto first = std::find_if(earlier.begin(), earlier.end(), [&](const EarlierImage& image) {
    return jig_id(image.acquisition, rules.positioning) == jig;
  });
  if (first != earlier.end()) {
    judge_jig(analysis, before(static_cast<std::size_t>(first - earlier.begin())), rules);
  } else {
    analysis.reasons.push_back(
        {"positioning", {}, rules.words.get("positioner.first", {{"id", jig}}), {}, {}, ""});
  }
  return result;
}

}  // namespace crestgate

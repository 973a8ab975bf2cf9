#include "pipeline/inspect.h"

#include "pipeline/crest/crest.h"
#include "pipeline/detect/detect.h"
#include "pipeline/followup/followup.h"
#include "pipeline/judge/judge.h"
#include "pipeline/projection/projection.h"
#include "pipeline/quality/quality.h"
#include "pipeline/seating/seating.h"

namespace crestgate {

Analysis inspect(const Frame& frame, const Acquisition& acquisition, const Rules& rules,
                 const Circumstances& circumstances) {
  Analysis result;
  result.acquisition = acquisition;
  result.rows = frame.rows;
  result.columns = frame.columns;
  result.tone = frame.tone;
  result.ruleset_digest = rules.digest;
  result.scale = scale_from_header(acquisition);

  const std::vector<ImplantShape> shapes = detect_implants(frame, acquisition);
  result.quality = measure_quality(frame, shapes);
  for (const ImplantShape& shape : shapes) {
    Implant implant;
    implant.id = static_cast<int>(result.implants.size()) + 1;
    implant.shape = shape;
    implant.possible_only = shape.confidence < rules.detection.least_confidence;
    if (!implant.possible_only) {
      implant.projection =
          measure_projection(frame, acquisition, shape, result.quality, result.scale);
      implant.joint = measure_joint(frame, acquisition, shape, implant.projection, result.quality,
                                    result.scale);
      implant.crest = measure_crest(frame, shape, implant.projection, result.quality, result.scale,
                                    rules);
    }
    result.implants.push_back(std::move(implant));
  }
  judge(result, rules, circumstances);
  return result;
}

std::vector<Subtraction> compare_with_earlier(Analysis& analysis, const Frame& frame,
                                              const std::vector<EarlierImage>& earlier,
                                              const Rules& rules) {
  std::vector<Subtraction> pictures;
  for (const EarlierImage& image : earlier) {
    const Analysis before = inspect(image.frame, image.acquisition, rules);
    Compared compared = compare_with({frame, analysis}, {image.frame, before}, rules);
    analysis.comparisons.push_back(std::move(compared.comparison));
    for (Subtraction& picture : compared.pictures) pictures.push_back(std::move(picture));
  }
  settle_comparisons(analysis, rules);
  return pictures;
}

}  // namespace crestgate

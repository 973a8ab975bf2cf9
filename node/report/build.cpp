#include "node/report/build.h"

#include <exception>

#include "node/report/baseline_state.h"
#include "node/report/canvas.h"
#include "node/report/identity.h"
#include "node/report/key_object.h"
#include "node/report/picture.h"
#include "node/report/presentation_state.h"
#include "node/report/secondary_capture.h"
#include "node/report/structured_report.h"
#include "node/report/subtraction_picture.h"

namespace crestgate {
namespace {

Canvas draw(const Analysis& analysis, const Frame& frame, const Rules& rules,
            const ReportContext& context, const Language& text) {
  const bool small = small_picture_wanted(analysis, rules);
  Canvas canvas(small ? kSmallPictureWidth : kPictureWidth,
                small ? kSmallPictureHeight : kPictureHeight);
  (small ? draw_small_picture : draw_picture)(canvas, analysis, frame, rules, context, text);
  return canvas;
}

Result<std::vector<BuiltObject>> build_all(const Analysis& analysis, const Frame& frame,
                                           const Rules& rules, const Shared& shared,
                                           const Language& text) {
  std::vector<BuiltObject> objects;
  Status failure;
  auto keep = [&](Result<BuiltObject> built) {
    if (built.ok()) {
      objects.push_back(std::move(built.value()));
    } else if (failure.ok()) {
      failure = built.status();
    }
  };
  if (rules.output.structured_report) {
    keep(build_structured_report(analysis, rules, shared, text));
  }
  const NotesWanted notes = notes_wanted(analysis, rules, shared.context);
  if (notes.repeat) keep(build_repeat_note(analysis, rules, shared, text));
  if (notes.finding) keep(build_finding_note(analysis, rules, shared, text));
  if (presentation_state_wanted(analysis, shared.source, rules)) {
    keep(build_presentation_state(analysis, rules, shared, text));
  }
  for (const AnnotatedBaseline& baseline : shared.context.annotated_baselines)
    if (baseline_state_wanted(baseline, analysis))
      keep(build_baseline_state(baseline, analysis, rules, shared, text));
  if (rules.output.picture) {
    Canvas canvas = draw(analysis, frame, rules, shared.context, text);
    keep(build_picture_object(canvas, analysis, rules, shared, text));
  }
  if (rules.output.picture)
    for (std::size_t i = 0; i < shared.context.subtractions.size(); ++i) {
      Canvas canvas = draw_subtraction(shared.context.subtractions[i], analysis, text);
      keep(build_subtraction_object(canvas, static_cast<int>(i) + 1, shared, text));
    }
  if (!failure.ok()) return failure;
  return objects;
}

}  // namespace

Result<std::vector<BuiltObject>> build_objects(const Analysis& analysis, const Frame& frame,
                                               DcmDataset& source, const Rules& rules,
                                               const ReportContext& context) {
  try {
    const Result<SourceIdentity> from = source_identity(source);
    if (!from.ok()) return from.status();
    const std::string& digest =
        analysis.ruleset_digest.empty() ? rules.digest : analysis.ruleset_digest;
    const Shared shared{source, from.value(), context, digest};
    return build_all(analysis, frame, rules, shared, rules.words);
  } catch (const std::exception& unforeseen) {
    return Status::error(Code::internal, std::string("building objects: ") + unforeseen.what());
  }
}

Result<std::vector<std::uint8_t>> picture_png(const Analysis& analysis, const Frame& frame,
                                              const Rules& rules, const ReportContext& context) {
  try {
    return draw(analysis, frame, rules, context, rules.words).png();
  } catch (const std::exception& unforeseen) {
    return Status::error(Code::internal, std::string("picture: ") + unforeseen.what());
  }
}

}  // namespace crestgate

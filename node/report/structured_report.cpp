#include "node/report/structured_report.h"

#include <dcmtk/dcmsr/dsrdoc.h>

#include <algorithm>

#include "node/report/codes.h"
#include "node/report/comparison_text.h"
#include "node/report/measurement_group.h"
#include "node/report/quality_codes.h"
#include "node/report/wording.h"

namespace crestgate {
namespace {

using MeasurementReport = TID1500_MeasurementReport;

void keep_first(OFCondition& result, const OFCondition& next) {
  if (result.good()) result = next;
}

/// TID 1001/1002/1004: the device that observed.
OFCondition add_observer(MeasurementReport& report, const Shared& shared) {
  const ReportContext& context = shared.context;
  const std::string uid = context.device_uid.empty()
                              ? tracking_uid("", "", "", "device " + context.station_name, 0)
                              : context.device_uid;
  return report.getObservationContext().addDeviceObserver(
      uid.c_str(), encode(shared.source, context.station_name).c_str(), kManufacturer,
      kManufacturer);
}

/// TID 1600 with what the header says of the image; by reference only if DCMTK cannot describe it.
OFCondition add_image(MeasurementReport& report, const Shared& shared) {
  TID1600_ImageLibrary& library = report.getImageLibrary();
  OFCondition result = library.createNewImageLibrary();
  keep_first(result, library.addImageGroup());
  if (result.good()) {
    result = library.addImageEntry(shared.source, TID1600_ImageLibrary::withAllDescriptors);
    if (result.bad()) {
      result = library.addImageEntry(shared.source, TID1600_ImageLibrary::withoutDescriptors);
    }
  }
  return result;
}

OFCondition add_text(MeasurementReport& report, const CodedConcept& name, const std::string& words,
                     const Shared& shared) {
  if (words.empty()) return EC_Normal;
  return report.addQualitativeEvaluation(entry(name),
                                         OFString(encode(shared.source, words).c_str()));
}

OFCondition add_findings(MeasurementReport& report, const GroupContext& context) {
  OFCondition result = EC_Normal;
  const Headline line = headline(context.analysis, context.text);
  keep_first(result,
             add_text(report, codes::kConclusion, line.main + ". " + line.sub, context.shared));
  for (const Finding& finding : context.analysis.findings) {
    keep_first(result,
               report.addQualitativeEvaluation(entry(codes::kFinding), finding_code(finding.kind)));
  }
  keep_first(result, report.addQualitativeEvaluation(entry(codes::kVerdict),
                                                     verdict_code(context.analysis.verdict)));
  keep_first(result, add_text(report, codes::kRecommendation, sentence(context.analysis.advice),
                              context.shared));
  const std::string intent =
      context.text.get(std::string("intent.") + intent_name(context.analysis.intent));
  keep_first(result,
             add_text(report, codes::kIndications,
                      context.text.get(context.analysis.intent_from_rule ? "report.intent_rule"
                                                                         : "report.intent_inferred",
                                       {{"intent", intent}}),
                      context.shared));
  return result;
}

/// TID 4014's concepts, outside its template: assessment, standard, findings of CID 6135.
OFCondition add_quality(MeasurementReport& report, const GroupContext& context) {
  OFCondition result = EC_Normal;
  const Verdict verdict = context.analysis.verdict;
  const CodedConcept& assessment = verdict == Verdict::usable           ? codes::kMeetsStandard
                                   : verdict == Verdict::not_assessable ? codes::kNotAssessable
                                                                        : codes::kMissesStandard;
  keep_first(result,
             report.addQualitativeEvaluation(entry(codes::kQualityAssessment), entry(assessment)));
  keep_first(result, report.addQualitativeEvaluation(entry(codes::kQualityStandard),
                                                     entry(codes::kOwnStandard)));
  for (const CodedConcept* finding : quality_codes(context.analysis)) {
    keep_first(result,
               report.addQualitativeEvaluation(entry(codes::kQualityFinding), entry(*finding)));
  }
  return result;
}

/// What the visit adds: the repeat against its predecessor, and the kind of view still absent.
OFCondition add_visit(MeasurementReport& report, const GroupContext& context) {
  const ReportContext& run = context.shared.context;
  OFCondition result = EC_Normal;
  if (run.repeat) {
    const RepeatResult compared = run.repeat->result;
    const CodedConcept& code = compared == RepeatResult::better  ? codes::kBetter
                               : compared == RepeatResult::worse ? codes::kWorse
                                                                 : codes::kSame;
    keep_first(result, report.addQualitativeEvaluation(entry(codes::kRepeatResult), entry(code)));
    keep_first(result, add_text(report, codes::kComment, repeat_text(*run.repeat, context.text),
                                context.shared));
  }
  if (run.views) {
    keep_first(result, add_text(report, codes::kVisitViews, visit_text(*run.views, context.text),
                                context.shared));
  }
  return result;
}

const CodedConcept& state_code(Comparison::State state) {
  switch (state) {
    case Comparison::State::compared:
      return codes::kCompared;
    case Comparison::State::identity_not_certain:
      return codes::kIdentityNotCertain;
    case Comparison::State::new_baseline:
      return codes::kNewBaseline;
    case Comparison::State::not_comparable:
      break;
  }
  return codes::kNotComparable;
}

const CodedConcept& processing_code(ProcessingState state) {
  switch (state) {
    case ProcessingState::changed:
      return codes::kProcessingChanged;
    case ProcessingState::no_change_seen:
      return codes::kNoChangeSeen;
    case ProcessingState::not_known:
      break;
  }
  return codes::kNotKnown;
}

OFCondition add_reasons_and_cautions(MeasurementReport& report, const GroupContext& context) {
  OFCondition result = EC_Normal;
  const Language& text = context.text;
  for (const Reason& reason : context.analysis.reasons) {
    if (reason.implant) continue;  // told in the implant's group
    keep_first(result, add_text(report, codes::kReason, reason_text(reason, text), context.shared));
  }
  const ReportContext& run = context.shared.context;
  const std::vector<std::string> compared = comparison_lines(context.analysis, context.text);
  if (!context.analysis.comparison_pending.empty())
    keep_first(result, report.addQualitativeEvaluation(entry(codes::kComparisonState),
                                                       entry(codes::kPending)));
  for (const Comparison& comparison : context.analysis.comparisons) {
    keep_first(result, report.addQualitativeEvaluation(entry(codes::kComparisonState),
                                                       entry(state_code(comparison.state))));
    keep_first(result,
               report.addQualitativeEvaluation(entry(codes::kProcessing),
                                               entry(processing_code(comparison.processing))));
  }
  for (const std::string& line : compared)
    keep_first(result, add_text(report, codes::kComparison, line, context.shared));
  if (compared.empty()) {
    keep_first(result, add_text(report, codes::kComparison, text.get("report.no_baseline"),
                                context.shared));
  }
  for (const auto& [image, earlier] : run.baseline_reports)
    keep_first(result, add_text(report, codes::kComparison,
                                text.get("report.baseline_report",
                                         {{"report", earlier.sop_instance_uid}, {"uid", image}}),
                                context.shared));
  for (const std::string& uid : run.prior_report_uids) {
    keep_first(result, add_text(report, codes::kPredecessor, uid, context.shared));
  }
  std::vector<std::string> cautions = {"caution.aid", "caution.tight", "caution.dose",
                                       "caution.two_dimensional"};
  if (context.rules.mode == Mode::trial) cautions.emplace_back("caution.trial");
  for (const std::string& key : cautions) {
    keep_first(result, add_text(report, codes::kCaution, text.get(key), context.shared));
  }
  if (context.analysis.acquisition.mirrored_possible) {
    keep_first(result,
               add_text(report, codes::kCaution, text.get("report.mirror"), context.shared));
  }
  return result;
}

OFCondition fill(MeasurementReport& report, const GroupContext& context) {
  OFCondition result = report.setLanguage(
      DSRCodedEntryValue(context.text.code().c_str(), "RFC5646",
                         encode(context.shared.source, context.text.name()).c_str()));
  keep_first(result, add_observer(report, context.shared));
  keep_first(result, report.addProcedureReported(
                         CID100_QuantitativeDiagnosticImagingProcedures::ImagingProcedure));
  keep_first(result, add_image(report, context.shared));
  for (const Implant& implant : context.analysis.implants) {
    keep_first(result, report.addIndividualMeasurements());
    keep_first(result, fill_implant_group(report.getIndividualMeasurements(), implant, context));
  }
  keep_first(result, report.addIndividualMeasurements());
  keep_first(result, fill_image_group(report.getIndividualMeasurements(), context));
  keep_first(result, add_findings(report, context));
  keep_first(result, add_quality(report, context));
  keep_first(result, add_visit(report, context));
  keep_first(result, add_reasons_and_cautions(report, context));
  return result;
}

/// The source, and what of other studies the comparison rests on (C.17.2): earlier images and,
/// where the caller knows them, their reports. Predecessors the caller could place; the others are
/// named in the text.
OFCondition add_references(DSRDocument& document, const Analysis& analysis, const Shared& shared) {
  OFCondition result = document.getCurrentRequestedProcedureEvidence().addItem(
      shared.from.study_uid.c_str(), shared.from.series_uid.c_str(),
      shared.from.sop_class_uid.c_str(), shared.from.sop_instance_uid.c_str());
  DSRSOPInstanceReferenceList& others = document.getPertinentOtherEvidence();
  for (const Comparison& c : analysis.comparisons)
    keep_first(result, others.addItem(c.baseline_study_uid.c_str(), c.baseline_series_uid.c_str(),
                                      c.baseline_sop_class_uid.c_str(), c.baseline_uid.c_str()));
  for (const auto& [image, report] : shared.context.baseline_reports)
    keep_first(result,
               others.addItem(report.study_instance_uid.c_str(), report.series_instance_uid.c_str(),
                              report.sop_class_uid.c_str(), report.sop_instance_uid.c_str()));
  for (const KnownDocument& known : shared.context.known_documents) {
    const auto& priors = shared.context.prior_report_uids;
    if (std::find(priors.begin(), priors.end(), known.sop_instance_uid) == priors.end()) continue;
    keep_first(result, document.getPredecessorDocuments().addItem(
                           known.study_instance_uid.c_str(), known.series_instance_uid.c_str(),
                           known.sop_class_uid.c_str(), known.sop_instance_uid.c_str()));
  }
  return result;
}

Status failed(const std::string& step, const OFCondition& condition) {
  return Status::error(Code::internal, "structured report, " + step + ": " + condition.text());
}

}  // namespace

Result<BuiltObject> build_structured_report(const Analysis& analysis, const Rules& rules,
                                            const Shared& shared, const Language& text) {
  MeasurementReport report(CID7021_MeasurementReportDocumentTitles::ImagingMeasurementReport);
  const OFCondition filled = fill(report, {analysis, rules, shared, text});
  if (filled.bad()) return failed("content", filled);
  if (!report.isValid()) {
    return Status::error(Code::internal, "structured report: TID 1500 is not complete");
  }
  // DCMTK 3.6.7 types TID 1500 as Enhanced SR; ours is a Comprehensive SR (design section 4).
  DSRDocument document(DSRTypes::DT_EnhancedSR);
  OFCondition result = document.setTreeFromRootTemplate(report);
  keep_first(result, document.changeDocumentType(DSRTypes::DT_ComprehensiveSR));
  if (result.bad()) return failed("tree", result);
  result = add_references(document, analysis, shared);
  if (result.bad()) return failed("references", result);
  document.getCodingSchemeIdentification().addPrivateDcmtkCodingScheme();
  document.completeDocument();
  DcmDataset dataset;
  result = document.write(dataset);
  if (result.bad()) return failed("writing", result);
  const ObjectPlan plan{"structured-report",
                        "structured-report",
                        UID_ComprehensiveSRStorage,
                        "SR",
                        9001,
                        encode(shared.source, series_description(analysis, rules, text))};
  write_common(dataset, shared, plan);
  put(dataset, DCM_InstanceNumber, "1");
  return to_object(dataset, plan);
}

}  // namespace crestgate

#include "node/worker.h"

#include <dcmtk/config/osconfig.h>
#include <dcmtk/dcmdata/dcistrmb.h>
#include <dcmtk/dcmdata/dctk.h>

#include <algorithm>

#include "config/load.h"
#include "node/hash.h"
#include "node/inspect_json.h"
#include "node/never_judged.h"
#include "node/report/build.h"
#include "node/report/key_object.h"
#include "pipeline/followup/jig_repeat.h"
#include "pipeline/inspect.h"
#include "pipeline/read/read.h"

namespace crestgate {
namespace {

/// The data set, or null if the bytes are not DICOM; the read stage says why.
std::unique_ptr<DcmFileFormat> parse(const Bytes& image) {
  DcmInputBufferStream stream;
  stream.setBuffer(image.data(), static_cast<offile_off_t>(image.size()));
  stream.setEos();
  auto file = std::make_unique<DcmFileFormat>();
  file->transferInit();
  const OFCondition got = file->read(stream);
  file->transferEnd();
  return got.good() ? std::move(file) : nullptr;
}

std::string text_of(DcmItem& item, const DcmTagKey& tag) {
  OFString text;
  item.findAndGetOFString(tag, text);
  return text.c_str();
}

/// Exposures are counted per patient, study, site and day; without a site only the views are told.
std::string visit_key(const Acquisition& a) {
  std::vector<std::string> teeth = a.teeth;
  std::sort(teeth.begin(), teeth.end());
  std::string key = a.issuer_of_patient_id + '\n' + a.patient_id + '\n' + a.study_instance_uid +
                    '\n' + a.content_date.substr(0, 8);
  for (const std::string& tooth : teeth) key += '\n' + tooth;
  return short_hash(key);
}

std::string study_key(const Acquisition& a) { return short_hash("study\n" + a.study_instance_uid); }

nlohmann::ordered_json manifest_of(const char* outcome, const std::string& why,
                                   const Analysis& analysis, const WorkerJob& job,
                                   const ReportContext* visit = nullptr,
                                   const Language& text = {}) {
  return {{"outcome", outcome},
          {"why", why},
          {"element", inspect_json(analysis, job.file, software_name(), visit, text)},
          {"comparison", nullptr},
          {"exposure", exposure_json({})},
          {"note_withheld", ""},
          {"objects", nlohmann::ordered_json::array()}};
}

Bundle failed(const Status& status, Analysis analysis, const WorkerJob& job) {
  analysis.error = status;
  Bundle bundle;
  bundle.manifest = json_text(manifest_of("error", status.text, analysis, job));
  return bundle;
}

ReportContext report_context(const WorkerJob& job, int attempt, bool suppress_notes) {
  ReportContext context;
  context.software_version = software_version();
  context.now_date = job.now_date;
  context.now_time = job.now_time;
  context.timezone_offset = job.timezone_offset;
  context.device_uid = job.device_uid;
  context.station_name = job.station_name;
  context.attempt = attempt;
  context.suppress_notes = suppress_notes;
  return context;
}

bool comparison_wanted(const Analysis& analysis, const Rules& rules, const WorkerJob& job) {
  if (job.archive == WorkerJob::Archive::none) return false;
  switch (rules.follow_up.compare) {
    case Compare::never:
      return false;
    case Compare::follow_up:
      return analysis.intent_from_rule && analysis.intent == Intent::follow_up;
    case Compare::always:
      return std::any_of(analysis.implants.begin(), analysis.implants.end(),
                         [](const Implant& implant) { return !implant.possible_only; });
  }
  return false;
}

/// Compares with what the archive has; pending and nothing found are said, too.
ComparedEarlier compare(Analysis& analysis, const Frame& frame, const Rules& rules,
                        const WorkerJob& job) {
  const Language& text = rules.words;
  if (job.archive == WorkerJob::Archive::pending) {
    analysis.comparison_pending = text.get("compare.not_asked_yet");
    return {};
  }
  std::vector<EarlierImage> earlier;
  std::string unread;
  for (const Bytes& bytes : job.earlier) {
    auto image = read_image(bytes);
    if (image.ok()) {
      earlier.push_back({std::move(image.value().frame), std::move(image.value().acquisition)});
    } else {
      unread = image.status().text;
    }
  }
  std::string why;
  if (job.earlier.empty()) {
    why = text.get("compare.none_found");
    std::string sites;
    for (const std::string& site : job.other_sites) sites += (sites.empty() ? "" : ", ") + site;
    if (!sites.empty()) why = text.get("compare.other_sites", {{"none", why}, {"sites", sites}});
  } else if (earlier.empty()) {
    why = text.get("compare.unreadable", {{"why", unread}});
  }
  if (!why.empty()) analysis.reasons.push_back({"follow_up.baseline", {}, why, {}, {}, ""});
  if (job.left_out > 0) {
    const int limit = rules.follow_up.most_compared;
    analysis.reasons.push_back({"follow_up.most_compared",
                                {},
                                text.get("compare.left_out", {{"n", std::to_string(job.left_out)},
                                                              {"limit", std::to_string(limit)}}),
                                static_cast<double>(job.left_out),
                                static_cast<double>(limit),
                                ""});
  }
  return compare_with_earlier(analysis, frame, earlier, rules);
}

/// The baselines with their headers as stored: their states go into their own studies.
std::vector<AnnotatedBaseline> annotated(std::vector<Analysis> baselines, const WorkerJob& job) {
  std::vector<AnnotatedBaseline> all;
  for (const Bytes& bytes : job.earlier) {
    auto file = parse(bytes);
    if (!file) continue;
    const std::string uid = text_of(*file->getDataset(), DCM_SOPInstanceUID);
    for (Analysis& baseline : baselines)
      if (baseline.acquisition.sop_instance_uid == uid)
        all.push_back(
            {std::move(baseline), std::shared_ptr<DcmDataset>(file->getAndRemoveDataset())});
  }
  return all;
}

void add_comparison(ReportContext& context, const Analysis& analysis, ComparedEarlier compared,
                    const Rules& rules, const WorkerJob& job) {
  context.subtractions = std::move(compared.pictures);
  if (rules.follow_up.annotate_baseline)
    context.annotated_baselines = annotated(std::move(compared.baselines), job);
  for (const Comparison& c : analysis.comparisons) {
    context.baseline_uids.push_back(c.baseline_uid);
    if (const auto report = job.earlier_reports.find(c.baseline_uid);
        report != job.earlier_reports.end())
      context.baseline_reports.insert(*report);
  }
  if (!job.prior) return;
  context.prior_report_uids.push_back(job.prior->sop_instance_uid);
  context.known_documents.push_back(*job.prior);
}

/// What the node is to look for in the archive, and the report that goes out until then.
nlohmann::ordered_json wanted_json(const Acquisition& a, const Rules& rules,
                                   const BuiltObject& report) {
  DcmInputBufferStream stream;
  stream.setBuffer(report.bytes.data(), static_cast<offile_off_t>(report.bytes.size()));
  stream.setEos();
  DcmFileFormat file;
  file.transferInit();
  file.read(stream);
  file.transferEnd();
  return {{"patient_id", a.patient_id},
          {"issuer_of_patient_id", a.issuer_of_patient_id},
          {"sop_instance_uid", a.sop_instance_uid},
          {"content_date", a.content_date},
          {"teeth", a.teeth},
          {"jig", jig_id(a, rules.positioning)},
          {"baseline", baseline_name(rules.follow_up.baseline)},
          {"report",
           {report.sop_class_uid, report.sop_instance_uid, a.study_instance_uid,
            text_of(*file.getDataset(), DCM_SeriesInstanceUID)}}};
}

}  // namespace

std::string software_version() { return CRESTGATE_VERSION; }
std::string software_name() { return "crestgate " + software_version(); }

Bundle process_image(const Bytes& image, const WorkerJob& job) {
  Analysis analysis;
  const Loaded<Rules> rules = load_rules(job.rules);
  if (!rules.ok()) {
    return failed(Status::error(Code::invalid_input, rules.report), analysis, job);
  }
  analysis.ruleset_digest = rules.value.digest;
  const auto file = parse(image);
  if (file) {
    analysis.acquisition.sop_instance_uid = text_of(*file->getDataset(), DCM_SOPInstanceUID);
    const std::string sender = job.calling_ae.empty()
                                   ? text_of(*file->getMetaInfo(), DCM_SourceApplicationEntityTitle)
                                   : job.calling_ae;
    const std::string why =
        why_not_judged(*file->getDataset(), rules.value, sender, job.any_sender);
    if (!why.empty()) {
      Bundle bundle;
      analysis.error = Status::error(Code::unsupported, why);
      bundle.manifest = json_text(manifest_of("not judged", why, analysis, job));
      return bundle;
    }
  }
  const auto read = read_image(image);
  if (!read.ok()) return failed(read.status(), analysis, job);
  const Acquisition& acquisition = read.value().acquisition;

  const std::string key = visit_key(acquisition);
  const bool site_known = !acquisition.teeth.empty();
  PastExposures past;
  if (const auto seen = job.exposures.find(key); seen != job.exposures.end()) past = seen->second;
  Circumstances circumstances;
  if (site_known) circumstances.attempt = past.count + 1;
  analysis = inspect(read.value().frame, acquisition, rules.value, circumstances);
  const bool wanted = comparison_wanted(analysis, rules.value, job);
  ComparedEarlier compared;
  if (wanted) compared = compare(analysis, read.value().frame, rules.value, job);
  const std::string withheld = why_no_note(acquisition, rules.value, job.now_date);
  ReportContext context = report_context(job, circumstances.attempt, !withheld.empty());
  add_comparison(context, analysis, std::move(compared), rules.value, job);
  Exposure exposure = summarise_exposure(analysis);
  exposure.visit_key = key;
  exposure.site_known = site_known;
  exposure.study_key = study_key(acquisition);
  const NotesWanted notes = notes_wanted(analysis, rules.value, context);
  if (notes.repeat || notes.finding) {
    exposure.noted = {acquisition.sop_class_uid, acquisition.sop_instance_uid,
                      acquisition.series_instance_uid, notes.repeat, notes.finding};
  }
  if (const auto noted = job.noted.find(exposure.study_key); noted != job.noted.end()) {
    context.noted_before = noted->second;
  }
  if (site_known && past.count > 0) context.repeat = compare_repeat(past, exposure);
  const bool any_judged =
      std::any_of(analysis.implants.begin(), analysis.implants.end(),
                  [](const Implant& implant) { return !implant.possible_only; });
  if (job.visit_known && any_judged) {
    context.views = {past.seating_view || exposure.seating_view,
                     past.placement_view || exposure.placement_view};
  }

  Bundle bundle;
  nlohmann::ordered_json manifest =
      manifest_of("judged", "", analysis, job, &context, rules.value.words);
  manifest["exposure"] = exposure_json(exposure);
  manifest["note_withheld"] = withheld;
  if (job.want_objects) {
    if (!file) {
      return failed(Status::error(Code::invalid_input, "not a complete DICOM file"), analysis, job);
    }
    auto built =
        build_objects(analysis, read.value().frame, *file->getDataset(), rules.value, context);
    if (!built.ok()) return failed(built.status(), analysis, job);
    for (BuiltObject& object : built.value()) {
      manifest["objects"].push_back({{"kind", object.kind},
                                     {"sop_class_uid", object.sop_class_uid},
                                     {"sop_instance_uid", object.sop_instance_uid}});
      if (wanted && job.archive == WorkerJob::Archive::pending &&
          object.kind == "structured-report")
        manifest["comparison"] = wanted_json(acquisition, rules.value, object);
      bundle.objects.push_back(std::move(object.bytes));
    }
  }
  if (job.want_picture) {
    auto png = picture_png(analysis, read.value().frame, rules.value, context);
    if (!png.ok()) return failed(png.status(), analysis, job);
    bundle.picture = std::move(png.value());
  }
  bundle.manifest = json_text(manifest);
  return bundle;
}

}  // namespace crestgate

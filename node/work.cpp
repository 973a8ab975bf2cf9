#include "node/work.h"

#include <spdlog/spdlog.h>

#include <nlohmann/json.hpp>

#include "node/log.h"
#include "node/worker.h"

namespace crestgate {
namespace {

using Json = nlohmann::json;

Processed unusable(const Status& status) {
  Processed p;
  p.outcome = Processed::Outcome::unusable;
  p.status = status;
  return p;
}

Status error_of(const Json& element) {
  const Json& error = element.at("error");
  Code code = Code::internal;
  for (const Code c : {Code::invalid_input, Code::unsupported, Code::not_found, Code::no_space,
                       Code::too_large, Code::timeout, Code::unavailable}) {
    if (error.at("code") == code_name(c)) code = c;
  }
  Status status = Status::error(code, error.at("text").get<std::string>());
  if (error.at("tag").is_string()) status.tag = error.at("tag").get<std::string>();
  return status;
}

std::string summary_of(const Json& manifest) {
  const Json& e = manifest.at("element");
  std::string findings;
  for (const Json& finding : e.at("findings")) {
    findings += (findings.empty() ? "" : ", ") + finding.at("kind").get<std::string>();
  }
  std::string line = "intent=" + log_value(e.at("intent").at("value").get<std::string>()) +
                     " verdict=" + log_value(e.at("verdict").get<std::string>()) +
                     " findings=" + log_value(findings) +
                     " implants=" + std::to_string(e.at("implants").size()) +
                     " objects=" + std::to_string(manifest.at("objects").size());
  const auto withheld = manifest.at("note_withheld").get<std::string>();
  if (!withheld.empty()) line += " note_withheld=" + log_value(withheld);
  return line;
}

WantedComparison wanted_comparison(const Json& json) {
  WantedComparison wanted;
  json.at("patient_id").get_to(wanted.keys.patient_id);
  json.at("issuer_of_patient_id").get_to(wanted.keys.issuer_of_patient_id);
  json.at("sop_instance_uid").get_to(wanted.keys.sop_instance_uid);
  json.at("content_date").get_to(wanted.keys.content_date);
  json.at("teeth").get_to(wanted.keys.teeth);
  json.at("jig").get_to(wanted.keys.jig);
  for (const Baseline b : {Baseline::first_after_loading, Baseline::last, Baseline::all})
    if (json.at("baseline") == baseline_name(b)) wanted.keys.baseline = b;
  const Json& report = json.at("report");
  report.at(0).get_to(wanted.report.sop_class_uid);
  report.at(1).get_to(wanted.report.sop_instance_uid);
  report.at(2).get_to(wanted.report.study_instance_uid);
  report.at(3).get_to(wanted.report.series_instance_uid);
  return wanted;
}

Processed interpret_manifest(Bundle& bundle) {
  const Json manifest = Json::parse(bundle.manifest);
  const auto outcome = manifest.at("outcome").get<std::string>();
  Processed p;
  const Json& uid = manifest.at("element").at("sop_instance_uid");
  if (uid.is_string()) p.sop_instance_uid = uid.get<std::string>();
  if (outcome == "not judged") {
    p.outcome = Processed::Outcome::not_judged;
    p.summary = "why=" + log_value(manifest.at("why").get<std::string>());
    return p;
  }
  if (outcome != "judged") {
    p.status = error_of(manifest.at("element"));
    return p;
  }
  const Json& objects = manifest.at("objects");
  if (objects.size() != bundle.objects.size()) {
    return unusable(
        Status::error(Code::internal, "worker bundle: objects do not fit the manifest"));
  }
  p.summary = summary_of(manifest);
  p.exposure = exposure_from_json(manifest.at("exposure"));
  if (const auto wanted = manifest.find("comparison");
      wanted != manifest.end() && !wanted->is_null())
    p.comparison = wanted_comparison(*wanted);
  for (std::size_t i = 0; i < objects.size(); ++i) {
    p.objects.push_back({objects[i].at("kind").get<std::string>(), std::move(bundle.objects[i])});
  }
  p.outcome = Processed::Outcome::judged;
  return p;
}

std::string reason_json(const Processed& p, std::int64_t now_s) {
  const Json reason = {{"code", code_name(p.status.code)},
                       {"text", p.status.text},
                       {"tag", p.status.tag ? Json(*p.status.tag) : Json(nullptr)},
                       {"sop_instance_uid", p.sop_instance_uid},
                       {"at_s", now_s}};
  return reason.dump(1, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace

Processed interpret(const Result<Bytes>& output) {
  if (!output.ok()) {
    Processed p = unusable(output.status());
    if (output.status().code == Code::unavailable) p.outcome = Processed::Outcome::postponed;
    return p;
  }
  auto bundle = decode_bundle(output.value());
  if (!bundle.ok()) return unusable(Status::error(Code::internal, bundle.status().text));
  try {
    return interpret_manifest(bundle.value());
  } catch (const Json::exception& error) {
    return unusable(Status::error(Code::internal, std::string("worker manifest: ") + error.what()));
  }
}

Status work_one(Spool& spool, const Clock& clock, const Processor& process,
                const EntryName& entry) {
  const Processed p = process(entry, spool.working_path(entry));
  const std::string head = "sop=" + log_value(p.sop_instance_uid) + " entry=" + entry.folder();
  switch (p.outcome) {
    case Processed::Outcome::judged: {
      Status s = spool.finish(entry, p.objects, p.exposure, clock.now_s());
      if (s.ok()) spdlog::info("judged {} {}", head, p.summary);
      return s;
    }
    case Processed::Outcome::not_judged: {
      Status s = spool.finish(entry, {}, {}, clock.now_s());
      if (s.ok()) spdlog::info("not-judged {} {}", head, p.summary);
      return s;
    }
    case Processed::Outcome::unusable:
      spdlog::warn("set-aside {} file={} code={} reason={}{}", head, entry.file(),
                   code_name(p.status.code), log_value(p.status.text),
                   p.status.tag ? " tag=" + *p.status.tag : "");
      return spool.set_aside(entry, reason_json(p, clock.now_s()));
    case Processed::Outcome::postponed:
      return p.status;
  }
  return {};
}

}  // namespace crestgate

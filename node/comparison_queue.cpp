#include "node/comparison_queue.h"

#include <nlohmann/json.hpp>

namespace crestgate {
namespace {

using Json = nlohmann::json;

Json keys_json(const SearchKeys& k) {
  return {{"patient_id", k.patient_id},
          {"issuer_of_patient_id", k.issuer_of_patient_id},
          {"sop_instance_uid", k.sop_instance_uid},
          {"content_date", k.content_date},
          {"teeth", k.teeth},
          {"jig", k.jig},
          {"baseline", static_cast<int>(k.baseline)}};
}

std::string owed_json(const OwedComparison& owed) {
  const KnownDocument& p = owed.prior;
  const Json json = {{"keys", keys_json(owed.keys)},
                     {"prior",
                      {{"sop_class_uid", p.sop_class_uid},
                       {"sop_instance_uid", p.sop_instance_uid},
                       {"study_instance_uid", p.study_instance_uid},
                       {"series_instance_uid", p.series_instance_uid}}}};
  return json.dump(1, ' ', false, Json::error_handler_t::replace) + "\n";
}

bool read_owed(const Bytes& bytes, OwedComparison& owed) {
  const Json json = Json::parse(bytes.begin(), bytes.end(), nullptr, false);
  try {
    const Json& k = json.at("keys");
    k.at("patient_id").get_to(owed.keys.patient_id);
    k.at("issuer_of_patient_id").get_to(owed.keys.issuer_of_patient_id);
    k.at("sop_instance_uid").get_to(owed.keys.sop_instance_uid);
    k.at("content_date").get_to(owed.keys.content_date);
    k.at("teeth").get_to(owed.keys.teeth);
    owed.keys.jig = k.value("jig", "");
    owed.keys.baseline = static_cast<Baseline>(k.at("baseline").get<int>());
    const Json& p = json.at("prior");
    p.at("sop_class_uid").get_to(owed.prior.sop_class_uid);
    p.at("sop_instance_uid").get_to(owed.prior.sop_instance_uid);
    p.at("study_instance_uid").get_to(owed.prior.study_instance_uid);
    p.at("series_instance_uid").get_to(owed.prior.series_instance_uid);
    return true;
  } catch (const Json::exception&) {
    return false;
  }
}

}  // namespace

ComparisonQueue::ComparisonQueue(Fs& fs, std::string state_folder)
    : fs_(fs), folder_(std::move(state_folder) + "/comparing") {}

Status ComparisonQueue::open() { return fs_.make_dirs(folder_); }

std::string ComparisonQueue::image_path(const OwedComparison& owed) const {
  return folder_ + "/" + owed.entry.file();
}

Status ComparisonQueue::add(const OwedComparison& owed, const std::string& image_path_from) {
  const auto image = fs_.read(image_path_from);
  if (!image.ok()) return image.status();
  const std::string target = image_path(owed);
  // The .json comes last: without it the image does not count (and is written anew).
  const std::string about = folder_ + "/" + reason_file(owed.entry.file());
  const std::string json = owed_json(owed);
  for (const std::string& old : {about, target})
    if (Status s = fs_.remove(old); !s.ok()) return s;
  if (Status s = write_file(fs_, target, image.value().data(), image.value().size()); !s.ok())
    return s;
  if (Status s = fs_.sync_dir(folder_); !s.ok()) return s;
  if (Status s = write_file(fs_, about, json.data(), json.size()); !s.ok()) return s;
  return fs_.sync_dir(folder_);
}

std::vector<OwedComparison> ComparisonQueue::list() const {
  std::vector<OwedComparison> all;
  const auto names = fs_.list(folder_);
  if (!names.ok()) return all;
  for (const std::string& name : names.value()) {
    const auto entry = parse_entry_file(name);
    if (!entry) continue;
    OwedComparison owed;
    owed.entry = *entry;
    const auto about = fs_.read(folder_ + "/" + reason_file(name));
    if (about.ok() && read_owed(about.value(), owed)) all.push_back(std::move(owed));
  }
  return all;
}

Status ComparisonQueue::remove(const OwedComparison& owed) {
  if (Status s = fs_.remove(folder_ + "/" + reason_file(owed.entry.file())); !s.ok()) return s;
  if (Status s = fs_.remove(image_path(owed)); !s.ok()) return s;
  return fs_.sync_dir(folder_);
}

}  // namespace crestgate

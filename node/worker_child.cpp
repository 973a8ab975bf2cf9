// The worker's job text, and its main.
#include <fcntl.h>
#include <sched.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <ctime>
#include <exception>
#include <new>

#include "node/log.h"
#include "node/report/uid.h"
#include "node/worker.h"
#include "node/worker_process.h"

namespace crestgate {
namespace {

Result<Bytes> read_descriptor(int fd) {
  Bytes bytes;
  std::uint8_t block[65536];
  for (;;) {
    const ssize_t got = read(fd, block, sizeof block);
    if (got == 0) return bytes;
    if (got < 0 && errno == EINTR) continue;
    if (got < 0) return errno_status(errno, "descriptor " + std::to_string(fd));
    bytes.insert(bytes.end(), block, block + got);
  }
}

bool write_descriptor(int fd, const Bytes& bytes) {
  std::size_t at = 0;
  while (at < bytes.size()) {
    const ssize_t put = write(fd, bytes.data() + at, bytes.size() - at);
    if (put < 0 && errno == EINTR) continue;
    if (put < 0) return false;
    at += static_cast<std::size_t>(put);
  }
  return true;
}

/// A name space of its own for nodes, so that a node's UID is never that of an object.
std::string device_uid(const std::string& station, const std::string& ae_title) {
  return "2.25." + decimal(uuid_v5({}, "crestgate node\n" + station + "\n" + ae_title));
}

}  // namespace

namespace {

nlohmann::ordered_json noted_json(const NotedImage& image) {
  return {{"sop_class_uid", image.sop_class_uid},
          {"sop_instance_uid", image.sop_instance_uid},
          {"series_instance_uid", image.series_instance_uid},
          {"repeat", image.repeat},
          {"finding", image.finding}};
}

NotedImage noted_from_json(const nlohmann::json& json) {
  return {json.at("sop_class_uid").get<std::string>(),
          json.at("sop_instance_uid").get<std::string>(),
          json.at("series_instance_uid").get<std::string>(), json.at("repeat").get<bool>(),
          json.at("finding").get<bool>()};
}

}  // namespace

nlohmann::ordered_json exposure_json(const Exposure& e) {
  const auto or_null = [](bool there, double value) {
    return there ? nlohmann::ordered_json(value) : nlohmann::ordered_json(nullptr);
  };
  const Quantity angle = e.angle_deg.value_or(Quantity{});
  return {{"visit_key", e.visit_key},
          {"site_known", e.site_known},
          {"verdict", e.verdict},
          {"angle_deg", or_null(e.angle_deg.has_value(), angle.value)},
          {"angle_u_deg", or_null(e.angle_deg.has_value(), angle.expanded_uncertainty)},
          {"seating_view", e.seating_view},
          {"placement_view", e.placement_view},
          {"study_key", e.study_key},
          {"noted", noted_json(e.noted)}};
}

Exposure exposure_from_json(const nlohmann::json& json) {
  Exposure e;
  json.at("visit_key").get_to(e.visit_key);
  json.at("site_known").get_to(e.site_known);
  json.at("verdict").get_to(e.verdict);
  if (!json.at("angle_deg").is_null()) {
    e.angle_deg =
        Quantity{json.at("angle_deg").get<double>(), json.at("angle_u_deg").get<double>()};
  }
  json.at("seating_view").get_to(e.seating_view);
  json.at("placement_view").get_to(e.placement_view);
  json.at("study_key").get_to(e.study_key);
  e.noted = noted_from_json(json.at("noted"));
  return e;
}

namespace {

nlohmann::json document_json(const KnownDocument& d) {
  return {d.sop_class_uid, d.sop_instance_uid, d.study_instance_uid, d.series_instance_uid};
}

KnownDocument document_from_json(const nlohmann::json& json) {
  return {json.at(0).get<std::string>(), json.at(1).get<std::string>(),
          json.at(2).get<std::string>(), json.at(3).get<std::string>()};
}

nlohmann::json documents_json(const std::map<std::string, KnownDocument>& documents) {
  nlohmann::json all = nlohmann::json::object();
  for (const auto& [key, document] : documents) all[key] = document_json(document);
  return all;
}

std::map<std::string, KnownDocument> documents_from_json(const nlohmann::json& json) {
  std::map<std::string, KnownDocument> all;
  for (const auto& [key, document] : json.items()) all[key] = document_from_json(document);
  return all;
}

nlohmann::json past_json(const std::map<std::string, PastExposures>& exposures) {
  nlohmann::json all = nlohmann::json::object();
  for (const auto& [key, past] : exposures) {
    all[key] = {{"count", past.count},
                {"last", exposure_json(past.last)},
                {"seating_view", past.seating_view},
                {"placement_view", past.placement_view}};
  }
  return all;
}

std::map<std::string, PastExposures> past_from_json(const nlohmann::json& json) {
  std::map<std::string, PastExposures> all;
  for (const auto& [key, past] : json.items()) {
    all[key] = {past.at("count").get<int>(), exposure_from_json(past.at("last")),
                past.at("seating_view").get<bool>(), past.at("placement_view").get<bool>()};
  }
  return all;
}

nlohmann::json all_noted_json(const std::map<std::string, std::vector<NotedImage>>& noted) {
  nlohmann::json all = nlohmann::json::object();
  for (const auto& [key, images] : noted) {
    for (const NotedImage& image : images) all[key].push_back(nlohmann::json(noted_json(image)));
  }
  return all;
}

std::map<std::string, std::vector<NotedImage>> all_noted_from_json(const nlohmann::json& json) {
  std::map<std::string, std::vector<NotedImage>> all;
  for (const auto& [key, images] : json.items()) {
    for (const auto& image : images) all[key].push_back(noted_from_json(image));
  }
  return all;
}

}  // namespace

std::string encode_job(const WorkerJob& job) {
  std::vector<std::size_t> sizes;
  for (const Bytes& image : job.earlier) sizes.push_back(image.size());
  const nlohmann::json json = {
      {"file", job.file},
      {"rules_text", job.rules.text},
      {"rules_name", job.rules.name},
      {"language_text", job.rules.language_text},
      {"calling_ae", job.calling_ae},
      {"any_sender", job.any_sender},
      {"want_objects", job.want_objects},
      {"want_picture", job.want_picture},
      {"now_date", job.now_date},
      {"now_time", job.now_time},
      {"timezone_offset", job.timezone_offset},
      {"device_uid", job.device_uid},
      {"station_name", job.station_name},
      {"exposures", past_json(job.exposures)},
      {"noted", all_noted_json(job.noted)},
      {"visit_known", job.visit_known},
      {"archive", static_cast<int>(job.archive)},
      {"other_sites", job.other_sites},
      {"left_out", job.left_out},
      {"prior", job.prior ? document_json(*job.prior) : nlohmann::json(nullptr)},
      {"earlier_reports", documents_json(job.earlier_reports)},
      {"earlier_bytes", sizes}};
  std::string text = json.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace);
  text.push_back('\0');
  for (const Bytes& image : job.earlier) text.append(image.begin(), image.end());
  return text;
}

Result<WorkerJob> decode_job(const std::string& text) {
  const std::size_t end = std::min(text.find('\0'), text.size());
  const auto json = nlohmann::json::parse(
      text.begin(), text.begin() + static_cast<std::ptrdiff_t>(end), nullptr, false);
  if (!json.is_object()) return Status::error(Code::invalid_input, "worker job is not JSON");
  try {
    WorkerJob job;
    json.at("file").get_to(job.file);
    json.at("rules_text").get_to(job.rules.text);
    json.at("rules_name").get_to(job.rules.name);
    json.at("language_text").get_to(job.rules.language_text);
    json.at("calling_ae").get_to(job.calling_ae);
    json.at("any_sender").get_to(job.any_sender);
    json.at("want_objects").get_to(job.want_objects);
    json.at("want_picture").get_to(job.want_picture);
    json.at("now_date").get_to(job.now_date);
    json.at("now_time").get_to(job.now_time);
    json.at("timezone_offset").get_to(job.timezone_offset);
    json.at("device_uid").get_to(job.device_uid);
    json.at("station_name").get_to(job.station_name);
    job.exposures = past_from_json(json.at("exposures"));
    job.noted = all_noted_from_json(json.at("noted"));
    json.at("visit_known").get_to(job.visit_known);
    job.archive = static_cast<WorkerJob::Archive>(json.at("archive").get<int>());
    json.at("other_sites").get_to(job.other_sites);
    json.at("left_out").get_to(job.left_out);
    if (!json.at("prior").is_null()) job.prior = document_from_json(json.at("prior"));
    job.earlier_reports = documents_from_json(json.at("earlier_reports"));
    std::size_t at = end + 1;
    for (const auto size : json.at("earlier_bytes").get<std::vector<std::size_t>>()) {
      if (at > text.size() || size > text.size() - at)
        return Status::error(Code::invalid_input, "worker job: earlier images are cut short");
      const auto from = text.begin() + static_cast<std::ptrdiff_t>(at);
      job.earlier.emplace_back(from, from + static_cast<std::ptrdiff_t>(size));
      at += size;
    }
    return job;
  } catch (const nlohmann::json::exception& error) {
    return Status::error(Code::invalid_input, std::string("worker job: ") + error.what());
  }
}

void set_surroundings(WorkerJob& job, std::int64_t now_s, const std::string& ae_title) {
  const std::time_t now = static_cast<std::time_t>(now_s);
  std::tm local{};
  localtime_r(&now, &local);
  char text[16];
  std::strftime(text, sizeof text, "%Y%m%d", &local);
  job.now_date = text;
  std::strftime(text, sizeof text, "%H%M%S", &local);
  job.now_time = text;
  std::strftime(text, sizeof text, "%z", &local);
  job.timezone_offset = text;
  char host[256] = "";
  gethostname(host, sizeof host - 1);
  job.station_name = std::string(host).substr(0, 16);  // SH, PS3.5 table 6.2-1
  job.device_uid = device_uid(host, ae_title);
}

int run_worker_child() {
  start_log("error");
  // Best effort: without the right to do so the child still holds no socket.
  if (unshare(CLONE_NEWNET) != 0) unshare(CLONE_NEWUSER | CLONE_NEWNET);
  try {
    const auto job_bytes = read_descriptor(3);
    const auto image = read_descriptor(0);
    if (!job_bytes.ok() || !image.ok()) return 1;
    close(3);
    const auto job = decode_job({job_bytes.value().begin(), job_bytes.value().end()});
    if (!job.ok()) return 1;
    return write_descriptor(1, encode_bundle(process_image(image.value(), job.value()))) ? 0 : 1;
  } catch (const std::bad_alloc&) {
    return kWorkerOutOfMemory;
  } catch (const std::exception&) {
    return 70;
  }
}

}  // namespace crestgate

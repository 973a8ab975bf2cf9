// `crestgate inspect`: the same worker child per file as `serve` uses, so that a file that crashes
// a decoder gives an element with `error` and the next file is judged.
#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <ostream>
#include <set>

#include "config/load.h"
#include "node/clock.h"
#include "node/commands.h"
#include "node/entry_names.h"
#include "node/inspect_json.h"
#include "node/inspect_text.h"
#include "node/log.h"
#include "node/worker.h"
#include "node/worker_process.h"

namespace crestgate {
namespace {

using Json = nlohmann::ordered_json;

Result<int> open_image(const std::string& file) {
  const int fd = ::open(file.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK);
  if (fd < 0) return errno_status(errno, file);
  struct stat info {};
  if (::fstat(fd, &info) != 0 || !S_ISREG(info.st_mode)) {
    ::close(fd);
    return Status::error(Code::invalid_input, file + ": not a regular file");
  }
  if (static_cast<std::uint64_t>(info.st_size) > kMostBundleBytes) {
    ::close(fd);
    return Status::error(Code::too_large, file + ": larger than 256 MB");
  }
  return fd;
}

Json error_element(const Status& status, const WorkerJob& job) {
  Analysis analysis;
  analysis.error = status;
  return inspect_json(analysis, job.file, software_name());
}

/// Writes into the caller's folder; the name is the input's own, made unique among this run's.
Status save(const std::string& folder, const std::string& name, const Bytes& bytes) {
  std::error_code error;
  std::filesystem::create_directories(folder, error);
  std::ofstream out(folder + "/" + name, std::ios::binary);
  out.write(reinterpret_cast<const char*>(bytes.data()),
            static_cast<std::streamsize>(bytes.size()));
  out.close();
  if (!out) return Status::error(Code::internal, folder + "/" + name + ": cannot be written");
  return {};
}

Status save_results(const CommandLine& line, const Json& manifest, const Bundle& bundle,
                    const std::string& stem) {
  if (!line.picture_folder.empty() && !bundle.picture.empty()) {
    if (Status s = save(line.picture_folder, stem + ".png", bundle.picture); !s.ok()) return s;
  }
  if (line.objects_folder.empty()) return {};
  const Json& objects = manifest.at("objects");
  for (std::size_t i = 0; i < bundle.objects.size() && i < objects.size(); ++i) {
    const std::string name =
        stem + "-" + object_file(static_cast<int>(i) + 1, objects[i].at("kind").get<std::string>());
    if (Status s = save(line.objects_folder, name, bundle.objects[i]); !s.ok()) return s;
  }
  return {};
}

std::string unique_stem(const std::string& file, std::set<std::string>& used) {
  const std::string stem = std::filesystem::path(file).stem().string();
  std::string name = stem;
  for (int n = 2; !used.insert(name).second; ++n) name = stem + "-" + std::to_string(n);
  return name;
}

/// One file's element; files written as asked. `failed`: they could not be written.
Json inspect_one(const CommandLine& line, const WorkerJob& job, const std::string& program,
                 const std::string& stem, Status& failed) {
  const auto fd = open_image(job.file);
  if (!fd.ok()) return error_element(fd.status(), job);
  const auto output = run_worker(fd.value(), encode_job(job), WorkerLimits{}, program);
  ::close(fd.value());
  if (!output.ok()) return error_element(output.status(), job);
  const auto bundle = decode_bundle(output.value());
  if (!bundle.ok()) return error_element(bundle.status(), job);
  const Json manifest = Json::parse(bundle.value().manifest, nullptr, false);
  if (!manifest.is_object() || !manifest.contains("element")) {
    return error_element(Status::error(Code::internal, "worker manifest is not valid"), job);
  }
  failed = save_results(line, manifest, bundle.value(), stem);
  return manifest.at("element");
}

}  // namespace

ExitStatus inspect_files(const CommandLine& line, std::ostream& out, std::ostream& err,
                         const std::string& program) {
  start_log("warning");
  WorkerJob job;
  if (!line.rules_file.empty()) {
    const Loaded<Rules> rules = load_rules_file(line.rules_file, &job.rules);
    if (!rules.ok()) {
      err << rules.report;
      return ExitStatus::input_unusable;
    }
  }
  set_surroundings(job, SystemClock().now_s(), "");
  job.any_sender = true;
  job.want_objects = !line.objects_folder.empty();
  job.want_picture = !line.picture_folder.empty();

  ExitStatus exit = ExitStatus::ok;
  std::set<std::string> used;
  Json elements = Json::array();
  for (const std::string& file : line.files) {
    job.file = file;
    Status failed;
    const Json element = inspect_one(line, job, program, unique_stem(file, used), failed);
    if (!element.at("error").is_null() && exit == ExitStatus::ok) exit = ExitStatus::input_unusable;
    if (!failed.ok()) {
      err << failed.text << "\n";
      exit = ExitStatus::failed;
    }
    if (line.json) {
      elements.push_back(element);
    } else {
      out << inspect_text(element) << std::flush;
    }
  }
  if (line.json) out << json_text(elements) << "\n";
  return exit;
}

}  // namespace crestgate

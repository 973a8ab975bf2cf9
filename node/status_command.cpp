// `crestgate status`: what the state folder holds, read from the files themselves, so that it works
// whether or not the node runs.
#include <algorithm>
#include <nlohmann/json.hpp>
#include <ostream>

#include "config/load.h"
#include "node/commands.h"
#include "node/entry_names.h"
#include "node/fs.h"
#include "node/log.h"
#include "node/store_scu.h"

namespace crestgate {
namespace {

using Json = nlohmann::json;

int count_images(const Fs& fs, const std::string& folder) {
  int count = 0;
  const auto names = fs.list(folder);
  for (const std::string& name : names.ok() ? names.value() : std::vector<std::string>{}) {
    count += parse_entry_file(name) ? 1 : 0;
  }
  return count;
}

/// Objects in the outbox folders whose name is of that kind.
int count_outbox(const Fs& fs, const std::string& folder, bool (*is_kind)(const std::string&)) {
  int count = 0;
  const auto entries = fs.list(folder);
  for (const std::string& entry : entries.ok() ? entries.value() : std::vector<std::string>{}) {
    const auto objects = fs.list(folder + "/" + entry);
    if (!objects.ok()) continue;
    count +=
        static_cast<int>(std::count_if(objects.value().begin(), objects.value().end(), is_kind));
  }
  return count;
}

std::string text_at(const Json& json, const char* key) {
  const auto it = json.is_object() ? json.find(key) : json.end();
  return it != json.end() && it->is_string() ? it->get<std::string>() : "";
}

/// The files with a reason in a folder, one line each.
void print_reasons(const Fs& fs, const std::string& folder, const char* title, std::ostream& out) {
  std::vector<std::string> lines;
  const auto names = fs.list(folder);
  for (const std::string& name : names.ok() ? names.value() : std::vector<std::string>{}) {
    if (!is_reason_file(name)) continue;
    const auto bytes = fs.read(folder + "/" + name);
    const Json reason = Json::parse(
        bytes.ok() ? std::string(bytes.value().begin(), bytes.value().end()) : "", nullptr, false);
    std::string text = text_at(reason, "text");
    if (const std::string tag = text_at(reason, "tag"); !tag.empty()) text += " " + tag;
    if (const std::string uid = text_at(reason, "sop_instance_uid"); !uid.empty()) {
      text += " (SOP instance " + uid + ")";
    }
    lines.push_back("  " + name.substr(0, name.size() - 5) + ": " + log_value(text));
  }
  out << title << lines.size() << "\n";
  for (const std::string& text : lines) out << text << "\n";
}

}  // namespace

ExitStatus print_status(const std::string& config_file, std::ostream& out, std::ostream& err) {
  const Loaded<Settings> loaded = load_settings_file(config_file);
  if (!loaded.ok()) {
    err << loaded.report;
    return ExitStatus::input_unusable;
  }
  start_log("error");
  const Settings& settings = loaded.value;
  const std::string& root = settings.state.folder;
  const PosixFs fs;
  if (!fs.exists(root + "/ready")) {
    err << root << ": no node has run here (state.folder)\n";
    return ExitStatus::failed;
  }
  out << "ready:     " << count_images(fs, root + "/ready") << "\n"
      << "working:   " << count_images(fs, root + "/working") << "\n"
      << "outbox:    " << count_outbox(fs, root + "/outbox", is_object_file) << "\n";
  const int sent = count_outbox(fs, root + "/outbox", is_sent_file);
  if (settings.delivery.commitment || sent > 0) out << "awaiting commitment: " << sent << "\n";
  print_reasons(fs, root + "/dead", "refused by the archive: ", out);
  print_reasons(fs, root + "/set-aside", "set aside: ", out);
  if (const auto free = fs.free_bytes(root); free.ok()) {
    out << "free disk: " << (free.value() >> 20) << " MB\n";
  }
  const Status answered = echo_archive(settings.archive, settings.listen.ae_title);
  out << "archive:   " << (answered.ok() ? "reachable" : "not reachable: " + answered.text) << "\n";
  return ExitStatus::ok;
}

}  // namespace crestgate

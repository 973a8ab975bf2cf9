#include "tests/support/net/net_node.h"

#include <dcmtk/config/osconfig.h>
#include <dcmtk/dcmdata/dcpixel.h>
#include <dcmtk/dcmdata/dcpixseq.h>
#include <dcmtk/dcmdata/dcpxitem.h>
#include <dcmtk/dcmdata/dctk.h>
#include <fcntl.h>
#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

#include <fstream>
#include <sstream>

#include "node/commands.h"
#include "node/fs.h"
#include "tests/support/net/net_counting_scp.h"
#include "tests/support/net/net_image.h"

namespace crestgate {

NodeProcess::NodeProcess()
    : state_(folder_.path() + "/state"),
      settings_(folder_.path() + "/crestgate.yaml"),
      log_(folder_.path() + "/log") {
  write_rules("mode: trial\n");
}

NodeProcess::~NodeProcess() { kill_hard(); }

void NodeProcess::write_rules(const std::string& yaml) {
  std::ofstream(folder_.path() + "/rules.yaml") << yaml;
}

void NodeProcess::write_settings(int port, int archive_port, const std::string& path) {
  std::ofstream(path) << "rules_file: rules.yaml\n"
                      << "listen: {address: 127.0.0.1, port: " << port << "}\n"
                      << "archive: {ae_title: ARCHIVE, host: 127.0.0.1, port: " << archive_port
                      << "}\nstate: {folder: " << state_ << ", least_free_mb: 1}\n"
                      << "workers: {count: 2}\n"
                      << "delivery: {first_retry_s: 1, longest_retry_s: 2" << delivery_keys
                      << "}\n";
}

pid_t NodeProcess::spawn(const std::string& settings, const std::string& log) {
  const pid_t pid = fork();
  if (pid != 0) return pid;
  const int out = open(log.c_str(), O_WRONLY | O_CREAT | O_APPEND, 0600);
  dup2(out, 1);
  dup2(out, 2);
  execl(CRESTGATE_BINARY, "crestgate", "serve", "--config", settings.c_str(), nullptr);
  _exit(127);
}

namespace {
int exit_code(pid_t pid) {
  int state = 0;
  while (waitpid(pid, &state, 0) < 0 && errno == EINTR) {
  }
  return WIFEXITED(state) ? WEXITSTATUS(state) : -WTERMSIG(state);
}
}  // namespace

bool NodeProcess::start(int archive_port) {
  archive_port_ = archive_port;
  for (int tries = 0; tries < 5; ++tries) {
    port_ = free_port();
    write_settings(port_, archive_port, settings_);
    pid_ = spawn(settings_, log_);
    bool ended = false;
    const bool up = eventually(
        [&] {
          ended = waitpid(pid_, nullptr, WNOHANG) == pid_;
          return ended || echo(port_);
        },
        60);
    if (up && !ended) return true;
    if (!ended) kill_hard();
    pid_ = -1;
  }
  return false;
}

int NodeProcess::run_to_end(int archive_port) {
  write_settings(free_port(), archive_port, settings_);
  return exit_code(spawn(settings_, log_));
}

int NodeProcess::run_second() {
  const std::string settings = folder_.path() + "/second.yaml";
  write_settings(free_port(), archive_port_, settings);
  return exit_code(spawn(settings, folder_.path() + "/second.log"));
}

void NodeProcess::kill_hard() {
  if (pid_ <= 0) return;
  ::kill(pid_, SIGKILL);
  exit_code(pid_);
  pid_ = -1;
}

int NodeProcess::terminate() {
  ::kill(pid_, SIGTERM);
  const int code = exit_code(pid_);
  pid_ = -1;
  return code;
}

void NodeProcess::signal(int number) { ::kill(pid_, number); }

std::string NodeProcess::log() const {
  std::ostringstream text;
  text << std::ifstream(log_).rdbuf();
  return text.str();
}

std::string NodeProcess::status_text() const {
  std::ostringstream out, err;
  print_status(settings_, out, err);
  return out.str() + err.str();
}

int NodeProcess::count_in(const char* name) const {
  const auto names = PosixFs().list(state_ + "/" + name);
  return names.ok() ? static_cast<int>(names.value().size()) : 0;
}

bool NodeProcess::is_idle() const {
  return count_in("incoming") == 0 && count_in("ready") == 0 && count_in("working") == 0 &&
         count_in("outbox") == 0;
}

int NodeProcess::store_garbage_jpeg(const std::string& sop_instance_uid) {
  ImageWish wish;
  wish.sop_instance_uid = sop_instance_uid;
  DcmDataset dataset;
  fill_image(dataset, wish);
  dataset.findAndDeleteElement(DCM_PixelData);
  auto* sequence = new DcmPixelSequence(DCM_PixelSequenceTag);
  sequence->insert(new DcmPixelItem(DCM_PixelItemTag));
  Uint8 garbage[64];
  for (int i = 0; i < 64; ++i) garbage[i] = static_cast<Uint8>(37 * i + 11);
  DcmOffsetList offsets;
  sequence->storeCompressedFrame(offsets, garbage, sizeof garbage, 0);
  auto* pixels = new DcmPixelData(DCM_PixelData);
  pixels->putOriginalRepresentation(EXS_JPEGProcess14SV1, nullptr, sequence);
  dataset.insert(pixels, OFTrue);
  dataset.updateOriginalXfer();
  SendOptions options;
  options.transfer_syntax = UID_JPEGProcess14SV1TransferSyntax;
  return send(port_, dataset, options);
}

}  // namespace crestgate

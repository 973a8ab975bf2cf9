// A crestgate process for tests: `crestgate serve` on a free port with a state folder of its own.
#pragma once
#include <sys/types.h>

#include <string>

#include "tests/support/net/net_client.h"

namespace crestgate {

class NodeProcess {
 public:
  NodeProcess();
  ~NodeProcess();
  NodeProcess(const NodeProcess&) = delete;
  NodeProcess& operator=(const NodeProcess&) = delete;

  /// Starts it and waits until it answers C-ECHO; another port is tried if one is taken.
  bool start(int archive_port);
  /// Starts it and waits for its end; its exit code.
  int run_to_end(int archive_port);
  /// A second process on the same state folder; its exit code.
  int run_second();
  void kill_hard();  ///< SIGKILL
  int terminate();   ///< SIGTERM; the exit code
  void signal(int number);

  int port() const { return port_; }
  const std::string& state_folder() const { return state_; }
  /// More keys of the settings' delivery group, before start(): ", commitment: true".
  std::string delivery_keys;
  void write_rules(const std::string& yaml);
  std::string log() const;
  std::string status_text() const;  ///< output of `crestgate status`
  int count_in(const char* folder) const;
  bool is_idle() const;  ///< nothing ready, in work or to be delivered
  int store_garbage_jpeg(const std::string& sop_instance_uid);

 private:
  void write_settings(int port, int archive_port, const std::string& path);
  pid_t spawn(const std::string& settings, const std::string& log);
  TempFolder folder_;
  std::string state_, settings_, log_;
  int port_ = 0, archive_port_ = 0;
  pid_t pid_ = -1;
};

}  // namespace crestgate

// Settings of one node as plain values: addresses, paths, limits. Immutable after loading.
#pragma once
#include <string>
#include <vector>

namespace crestgate {

struct Peer {
  std::string ae_title;
  std::string host;
  int port = 0;
};

struct Settings {
  std::string rules_file = "rules.yaml";

  struct {
    std::string ae_title = "CRESTGATE";
    std::string address = "0.0.0.0";
    int port = 11117;
    std::vector<std::string> allowed_callers;  ///< empty: any
    int max_associations = 16;
    int max_object_mb = 128;
    int idle_timeout_s = 60;
  } listen;

  Peer archive{"ARCHIVE", "127.0.0.1", 11112};  ///< must be written out; shown as an example

  struct {
    std::string folder = "/var/lib/crestgate";  ///< spool, outbox, set-aside, index
    int least_free_mb = 512;
  } state;

  struct {
    int count = 1;
    int time_limit_s = 60;
    int memory_limit_mb = 2048;
  } workers;

  struct {
    int first_retry_s = 2;
    int longest_retry_s = 900;
    bool commitment = false;         ///< ask for storage commitment after delivery (PS3.4 annex J)
    int commitment_answer_s = 3600;  ///< then ask again
  } delivery;

  struct {
    std::string level = "info";
  } log;
};

}  // namespace crestgate

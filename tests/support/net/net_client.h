// A plain store client and small helpers for the node's network tests.
#pragma once
#include <cstdint>
#include <functional>
#include <memory>
#include <string>
#include <vector>

class DcmDataset;

namespace crestgate {

struct SendOptions {
  std::string calling = "MODALITY", called = "CRESTGATE";
  std::string transfer_syntax = "1.2.840.10008.1.2.1";
  std::string move_originator;
};

/// DIMSE status, or 0x10000 if there was no association or no answer.
constexpr int kNoAnswer = 0x10000;
int send(int port, DcmDataset& dataset, const SendOptions& options = {});
/// Announces `sop_instance_uid` of the class of `dataset`, then sends `body`.
int send_announced(int port, DcmDataset& dataset, const std::string& sop_instance_uid,
                   DcmDataset& body, const SendOptions& options = {});
/// True if C-ECHO is answered.
bool echo(int port, const SendOptions& options = {});
/// True if an association proposing this class gets it accepted.
bool accepts_class(int port, const std::string& sop_class, const std::string& transfer_syntax);

/// An association held open.
class OpenAssociation {
 public:
  explicit OpenAssociation(int port, const SendOptions& options = {});
  ~OpenAssociation();
  OpenAssociation(const OpenAssociation&) = delete;
  OpenAssociation& operator=(const OpenAssociation&) = delete;
  bool open() const { return open_; }
  /// True if the peer ends the association (aborts or closes) within the limit, nothing being said.
  bool ended_within(int limit_s);

 private:
  struct Scu;
  std::unique_ptr<Scu> scu_;
  bool open_ = false;
};

/// Looks again and again (every few ms) until the condition holds or the time is up.
bool eventually(const std::function<bool()>& condition, int limit_s = 60);

/// A folder of its own, removed at the end.
class TempFolder {
 public:
  TempFolder();
  ~TempFolder();
  TempFolder(const TempFolder&) = delete;
  TempFolder& operator=(const TempFolder&) = delete;
  const std::string& path() const { return path_; }

 private:
  std::string path_;
};

}  // namespace crestgate

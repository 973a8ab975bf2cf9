// Every name the node gives to a file or folder of its state directory is built and parsed here,
// from our own counter, hashes and fixed words; never from text a peer sent. Pure functions.
//
//   received image   <sequence>-<uid hash>-<content hash>-<starts>.dcm
//   its outbox       <sequence>-<uid hash>            (a folder)
//   object in it     <number>-<kind>.dcm
//   sent, not yet committed  <number>-<kind>.sent
//   refused object   <outbox folder>-<object>         (in dead/)
//   reason           <name of the image or object>.json
//   being received   <sequence>.part
#pragma once
#include <cstdint>
#include <optional>
#include <string>

namespace crestgate {

struct EntryName {
  std::uint64_t sequence = 0;  ///< our counter: order of arrival; 16 decimal digits in the name
  std::string uid_hash;        ///< short_hash() of the SOP Instance UID
  std::string content_hash;    ///< the same of the data set's bytes
  int starts = 0;              ///< how often a node stopped while this image was in work, 0..9

  std::string file() const;    ///< "...dcm"
  std::string folder() const;  ///< name of its outbox folder
};

std::optional<EntryName> parse_entry_file(const std::string& name);
/// content_hash and starts are left empty.
std::optional<EntryName> parse_entry_folder(const std::string& name);

std::string part_file(std::uint64_t sequence);
bool is_part_file(const std::string& name);

/// `kind` must be lower-case letters and '-' only; anything else is dropped from it.
std::string object_file(int number, const std::string& kind);
bool is_object_file(const std::string& name);

/// Name of a delivered object that waits for storage commitment, and back.
std::string sent_file(const std::string& object_name);
bool is_sent_file(const std::string& name);
std::string object_of_sent(const std::string& sent_name);

/// Name in dead/ of an object the archive refused for good.
std::string dead_file(const std::string& entry_folder, const std::string& object_name);

std::string reason_file(const std::string& name);
bool is_reason_file(const std::string& name);

}  // namespace crestgate

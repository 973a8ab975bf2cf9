// UIDs that follow from what they name, so that a crash, a re-send or a second node makes no
// duplicates: `2.25.` + the decimal value of a name-based UUID (RFC 4122 section 4.3, SHA-1;
// PS3.5 annex B.2).
#pragma once
#include <array>
#include <cstdint>
#include <string>
#include <vector>

namespace crestgate {

/// Everything an object's identity depends on (design section 4).
struct UidInputs {
  std::string source_sop_instance_uid;
  std::string kind;  ///< "structured-report", "key-object-note repeat", "series SR", ...
  std::string ruleset_digest;
  std::string software_version;
  std::vector<std::string> baseline_and_prior_uids;  ///< any order
};

std::string derived_uid(const UidInputs& inputs);

/// The same implant keeps its UID over a patient's images: from issuer, patient ID and ISO 3950
/// site (design section 4). Without patient ID or site: from the source image and the implant's
/// index.
std::string tracking_uid(const std::string& issuer, const std::string& patient_id,
                         const std::string& site, const std::string& source_sop_instance_uid,
                         int index);

/// UUIDv5 of `name` in a name space, 16 bytes big-endian.
std::array<std::uint8_t, 16> uuid_v5(const std::array<std::uint8_t, 16>& name_space,
                                     const std::string& name);

/// Decimal digits of a 128-bit big-endian number, no leading zeros.
std::string decimal(const std::array<std::uint8_t, 16>& number);

}  // namespace crestgate

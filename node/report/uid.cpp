#include "node/report/uid.h"

#include <uuid/uuid.h>

#include <algorithm>

namespace crestgate {
namespace {

/// uuid5(NAMESPACE_DNS, "crestgate.invalid"): fixed for ever, or old objects get new UIDs.
constexpr std::array<std::uint8_t, 16> kNameSpace = {
    0x04, 0x4b, 0x97, 0xf4, 0x2b, 0xf7, 0x59, 0x3b, 0xaf, 0x62, 0xa5, 0x2f, 0xb9, 0xe0, 0xbf, 0x9a};

/// Length-prefixed, so that no two different lists of fields join to the same text.
std::string join(const std::vector<std::string>& fields) {
  std::string joined;
  for (const std::string& field : fields) {
    joined += std::to_string(field.size()) + ":" + field + "\n";
  }
  return joined;
}

std::string uid_of(const std::vector<std::string>& fields) {
  return "2.25." + decimal(uuid_v5(kNameSpace, join(fields)));
}

}  // namespace

std::array<std::uint8_t, 16> uuid_v5(const std::array<std::uint8_t, 16>& name_space,
                                     const std::string& name) {
  std::array<std::uint8_t, 16> uuid{};
  uuid_generate_sha1(uuid.data(), name_space.data(), name.data(), name.size());
  return uuid;
}

std::string decimal(const std::array<std::uint8_t, 16>& number) {
  std::array<std::uint8_t, 16> rest = number;
  std::string digits;
  do {
    unsigned remainder = 0;
    for (std::uint8_t& byte : rest) {
      const unsigned value = remainder * 256 + byte;
      byte = static_cast<std::uint8_t>(value / 10);
      remainder = value % 10;
    }
    digits.push_back(static_cast<char>('0' + remainder));
  } while (std::any_of(rest.begin(), rest.end(), [](std::uint8_t b) { return b != 0; }));
  std::reverse(digits.begin(), digits.end());
  return digits;
}

std::string derived_uid(const UidInputs& inputs) {
  std::vector<std::string> others = inputs.baseline_and_prior_uids;
  std::sort(others.begin(), others.end());
  std::vector<std::string> fields = {inputs.source_sop_instance_uid, inputs.kind,
                                     inputs.ruleset_digest, inputs.software_version};
  fields.insert(fields.end(), others.begin(), others.end());
  return uid_of(fields);
}

std::string tracking_uid(const std::string& issuer, const std::string& patient_id,
                         const std::string& site, const std::string& source_sop_instance_uid,
                         int index) {
  if (!patient_id.empty() && !site.empty()) return uid_of({"site", issuer, patient_id, site});
  return uid_of({"image", source_sop_instance_uid, std::to_string(index)});
}

}  // namespace crestgate

#include "node/bundle.h"

#include <algorithm>

namespace crestgate {
namespace {

const std::string kMagic = "CGBNDL01";
constexpr std::size_t kHeadBytes = 9;

void put_frame(std::vector<std::uint8_t>& out, char type, const void* data, std::size_t size) {
  out.push_back(static_cast<std::uint8_t>(type));
  for (int shift = 56; shift >= 0; shift -= 8) {
    out.push_back(static_cast<std::uint8_t>((static_cast<std::uint64_t>(size) >> shift) & 0xff));
  }
  const auto* bytes = static_cast<const std::uint8_t*>(data);
  out.insert(out.end(), bytes, bytes + size);
}

Status broken(std::size_t offset, const std::string& what) {
  return Status::error(Code::invalid_input,
                       "worker bundle, byte " + std::to_string(offset) + ": " + what);
}

}  // namespace

std::vector<std::uint8_t> encode_bundle(const Bundle& bundle) {
  std::vector<std::uint8_t> out(kMagic.begin(), kMagic.end());
  put_frame(out, 'M', bundle.manifest.data(), bundle.manifest.size());
  for (const auto& object : bundle.objects) put_frame(out, 'O', object.data(), object.size());
  if (!bundle.picture.empty()) put_frame(out, 'P', bundle.picture.data(), bundle.picture.size());
  put_frame(out, 'E', nullptr, 0);
  return out;
}

Result<Bundle> decode_bundle(const std::vector<std::uint8_t>& bytes) {
  if (bytes.size() < kMagic.size() || !std::equal(kMagic.begin(), kMagic.end(), bytes.begin())) {
    return broken(0, "not a bundle");
  }
  Bundle bundle;
  bool have_manifest = false;
  std::size_t at = kMagic.size();
  for (;;) {
    if (bytes.size() - at < kHeadBytes) return broken(at, "cut short in a frame's head");
    const char type = static_cast<char>(bytes[at]);
    std::uint64_t length = 0;
    for (std::size_t i = 1; i < kHeadBytes; ++i) length = length << 8 | bytes[at + i];
    const std::size_t begin = at + kHeadBytes;
    if (length > bytes.size() - begin) return broken(at, "frame is longer than the bundle");
    const std::size_t end = begin + static_cast<std::size_t>(length);
    const auto first = bytes.begin() + static_cast<std::ptrdiff_t>(begin);
    const auto last = bytes.begin() + static_cast<std::ptrdiff_t>(end);
    if ((type == 'M') == have_manifest) return broken(at, "manifest missing or doubled");
    switch (type) {
      case 'M':
        bundle.manifest.assign(first, last);
        have_manifest = true;
        break;
      case 'O':
        if (bundle.objects.size() == kMostBundleObjects) return broken(at, "too many objects");
        bundle.objects.emplace_back(first, last);
        break;
      case 'P':
        if (!bundle.picture.empty()) return broken(at, "second picture");
        bundle.picture.assign(first, last);
        break;
      case 'E':
        if (length != 0 || end != bytes.size()) return broken(at, "bytes after the end");
        return bundle;
      default:
        return broken(at, "unknown frame type");
    }
    at = end;
  }
}

}  // namespace crestgate

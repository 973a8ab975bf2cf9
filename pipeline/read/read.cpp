#include "pipeline/read/read.h"
namespace crestgate {
Result<ReadImage> read_image(const std::vector<std::uint8_t>&, const ReadLimits&) {
  return Status::error(Code::unsupported, "reading is not built yet");
}
}  // namespace crestgate

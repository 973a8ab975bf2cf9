#include "pipeline/detect/detect.h"
namespace crestgate {
std::vector<ImplantShape> detect_implants(const Frame&, const Acquisition&) { return {}; }
}  // namespace crestgate

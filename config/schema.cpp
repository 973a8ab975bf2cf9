#include "config/schema.h"

namespace crestgate {

std::string group_of(const std::string& path) {
  const std::size_t dot = path.find('.');
  return dot == std::string::npos ? "" : path.substr(0, dot);
}

std::string leaf_of(const std::string& path) {
  const std::size_t dot = path.find('.');
  return dot == std::string::npos ? path : path.substr(dot + 1);
}

}  // namespace crestgate

// SHA-256 over a stream of bytes, as the first 32 hex digits (128 bits): enough to tell images
// apart, short enough for file names. One object belongs to one thread.
#pragma once
#include <memory>
#include <string>

struct evp_md_ctx_st;

namespace crestgate {

class ShortHash {
 public:
  ShortHash();
  ~ShortHash();
  ShortHash(const ShortHash&) = delete;
  ShortHash& operator=(const ShortHash&) = delete;
  void add(const void* data, std::size_t size);
  /// Once, at the end.
  std::string hex();

 private:
  evp_md_ctx_st* context_;
};

std::string short_hash(const std::string& text);

}  // namespace crestgate

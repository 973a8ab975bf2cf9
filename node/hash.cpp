#include "node/hash.h"

#include <openssl/evp.h>

#include <cstdio>

namespace crestgate {

ShortHash::ShortHash() : context_(EVP_MD_CTX_new()) {
  EVP_DigestInit_ex(context_, EVP_sha256(), nullptr);
}

ShortHash::~ShortHash() { EVP_MD_CTX_free(context_); }

void ShortHash::add(const void* data, std::size_t size) { EVP_DigestUpdate(context_, data, size); }

std::string ShortHash::hex() {
  unsigned char digest[EVP_MAX_MD_SIZE];
  unsigned int size = 0;
  EVP_DigestFinal_ex(context_, digest, &size);
  std::string text;
  for (unsigned int i = 0; i < 16; ++i) {
    char two[3];
    std::snprintf(two, sizeof two, "%02x", digest[i]);
    text += two;
  }
  return text;
}

std::string short_hash(const std::string& text) {
  ShortHash hash;
  hash.add(text.data(), text.size());
  return hash.hex();
}

}  // namespace crestgate

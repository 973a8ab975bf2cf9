#include "config/english.h"

namespace crestgate {

const Language::Texts& english_texts() {
  static const Language::Texts texts = [] {
    Language::Texts all = english_of_pipeline();
    all.merge(english_of_report());
    return all;
  }();
  return texts;
}

}  // namespace crestgate

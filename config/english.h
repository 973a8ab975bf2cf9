// The English texts, compiled in: the table every language file has to match, key by key and
// placeholder by placeholder. config/language/en.yaml is written from it. Internal to config/.
#pragma once
#include "config/language.h"

namespace crestgate {

Language::Texts english_of_pipeline();
Language::Texts english_of_report();

}  // namespace crestgate

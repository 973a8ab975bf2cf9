#include "pipeline/image/site.h"

#include <algorithm>

namespace crestgate {

std::string iso_site(const Analysis& analysis, const Implant& implant) {
  const auto judged = std::count_if(analysis.implants.begin(), analysis.implants.end(),
                                    [](const Implant& i) { return !i.possible_only; });
  const bool one_each = analysis.acquisition.teeth.size() == 1 && judged == 1;
  return one_each && !implant.possible_only ? analysis.acquisition.teeth.front() : "";
}

std::string site_name(const Analysis& analysis, const Implant& implant, const Language& text) {
  const std::string site = iso_site(analysis, implant);
  return site.empty() ? text.get("mark.number", {{"n", std::to_string(implant.id)}}) : site;
}

}  // namespace crestgate

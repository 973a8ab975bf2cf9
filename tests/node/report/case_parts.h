// What the cases are put together from; internal to cases.h.
#pragma once
#include "pipeline/image/advice.h"
#include "tests/node/report/cases.h"

namespace crestgate::report_test {

inline constexpr double kMmPerPx = 0.0195;

inline void put(DcmItem& item, const DcmTagKey& key, const char* value) {
  item.putAndInsertString(key, value);
}

/// A judged implant with every measure, nothing wrong with it.
Implant implant_at(int id, Point platform, Point apical, double radius_px, double length_px);

void add_views(std::vector<Case>& cases);        ///< verdicts, findings, several or no implants
void add_comparisons(std::vector<Case>& cases);  ///< with earlier images
void add_odd_headers(std::vector<Case>& cases);  ///< what a source may lack or hold

}  // namespace crestgate::report_test

// Small helpers to take trimmed text and numbers out of a DCMTK dataset. Private to this folder.
#pragma once
#include <dcmtk/config/osconfig.h>
#include <dcmtk/dcmdata/dctk.h>

#include <optional>
#include <string>
#include <vector>

namespace crestgate {

std::string trimmed(std::string text);

/// Whole value with all backslash-separated parts; empty if absent.
std::string text_of(DcmItem& item, const DcmTagKey& key);

/// Decimal values of a DS, FD or US/SS attribute; empty if absent or any part is not finite.
std::vector<double> numbers_of(DcmItem& item, const DcmTagKey& key);
std::optional<double> number_of(DcmItem& item, const DcmTagKey& key);

/// "(0028,0010)" as Status.tag has it.
std::string tag_text(const DcmTagKey& key);

}  // namespace crestgate

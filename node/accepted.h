// What the store SCP accepts: SOP classes and transfer syntaxes. Constant tables.
#pragma once
#include <string>
#include <vector>

namespace crestgate {

/// Image classes that may be judged.
const std::vector<std::string>& image_classes();
/// Classes of objects we write ourselves beside pictures. Accepted, so that an archive that routes
/// everything back gets success, and dropped, whoever wrote them: they are never images.
const std::vector<std::string>& report_classes();
bool is_image_class(const std::string& uid);
bool is_report_class(const std::string& uid);
/// Transfer syntaxes that the read stage decodes (DCMTK or GDCM).
const std::vector<std::string>& transfer_syntaxes();

}  // namespace crestgate

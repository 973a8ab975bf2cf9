// Log lines on standard error: `event key=value ...`, stable keys, one line per image and one per
// incident. Never a patient's name, number or accession: keys are UIDs, states and reasons.
#pragma once
#include <string>

namespace crestgate {

/// level: "debug", "info", "warning" or "error". Also silences the libraries' own logs, which
/// may print attribute values.
void start_log(const std::string& level);

/// A value for a log line: quoted if needed, control characters replaced, cut at 300 bytes.
std::string log_value(const std::string& text);

}  // namespace crestgate

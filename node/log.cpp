#include "node/log.h"

#include <dcmtk/config/osconfig.h>
#include <dcmtk/oflog/oflog.h>
#include <spdlog/sinks/stdout_sinks.h>
#include <spdlog/spdlog.h>

namespace crestgate {

void start_log(const std::string& level) {
  auto logger = std::make_shared<spdlog::logger>("crestgate",
                                                 std::make_shared<spdlog::sinks::stderr_sink_mt>());
  logger->set_pattern("%Y-%m-%dT%H:%M:%S.%e%z %l %v");
  logger->set_level(spdlog::level::from_str(level));
  logger->flush_on(spdlog::level::trace);
  spdlog::set_default_logger(std::move(logger));
  OFLog::configure(OFLogger::OFF_LOG_LEVEL);
}

std::string log_value(const std::string& text) {
  std::string out;
  bool plain = !text.empty();
  for (const char c : text.substr(0, 300)) {
    const auto byte = static_cast<unsigned char>(c);
    const bool control = byte < 0x20 || byte == 0x7f;
    if (c == '"' || c == '\\') out += '\\';
    out += control ? ' ' : c;
    if (c == ' ' || c == '"' || c == '=' || c == '\\' || control) plain = false;
  }
  return plain ? out : "\"" + out + "\"";
}

}  // namespace crestgate

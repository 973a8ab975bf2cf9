// `crestgate serve`: signals around a Daemon.
#include <signal.h>
#include <spdlog/spdlog.h>

#include "node/daemon.h"
#include "node/exit_status.h"
#include "node/log.h"

namespace crestgate {

int serve(const Settings& settings) {
  start_log(settings.log.level);
  sigset_t handled;
  sigemptyset(&handled);
  for (const int number : {SIGTERM, SIGINT, SIGHUP}) sigaddset(&handled, number);
  // Before any thread exists, so that all of them leave these signals to the loop below.
  pthread_sigmask(SIG_BLOCK, &handled, nullptr);
  signal(SIGPIPE, SIG_IGN);

  Daemon daemon(settings);
  if (Status s = daemon.start(); !s.ok()) {
    spdlog::error("not-started: {}", s.text);  // rules: the whole report, line by line
    return static_cast<int>(s.code == Code::invalid_input ? ExitStatus::input_unusable
                                                          : ExitStatus::failed);
  }
  for (;;) {
    int number = 0;
    if (sigwait(&handled, &number) != 0) continue;
    if (number == SIGHUP) {
      daemon.reload_rules();
      continue;
    }
    spdlog::info("draining");
    daemon.stop();
    spdlog::info("stopped");
    return static_cast<int>(ExitStatus::ok);
  }
}

}  // namespace crestgate

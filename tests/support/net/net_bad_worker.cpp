// Stands in for `crestgate worker` and misbehaves as the job (descriptor 3) says.
#include <fcntl.h>
#include <signal.h>
#include <sys/socket.h>
#include <unistd.h>

#include <cstdlib>
#include <cstring>
#include <new>
#include <string>

int main() {
  char job[64] = "";
  const ssize_t size = read(3, job, sizeof job - 1);
  std::string wish(job, size > 0 ? static_cast<std::size_t>(size) : 0);
  if (const char* forced = std::getenv("BAD_WORKER_WISH")) wish = forced;
  if (wish == "crash") raise(SIGSEGV);
  if (wish == "spin") {
    for (volatile unsigned long i = 0;; ++i) {
    }
  }
  if (wish == "sleep") {
    for (;;) pause();
  }
  if (wish == "flood") {
    const std::string block(1 << 20, 'x');
    while (write(1, block.data(), block.size()) > 0) {
    }
    return 0;
  }
  if (wish == "memory") {
    try {
      for (;;) {
        char* p = new char[64UL << 20];
        std::memset(p, 1, 64UL << 20);
      }
    } catch (const std::bad_alloc&) {
      return 71;
    }
  }
  if (wish == "descriptors") {  // says which descriptors above 2 are open, beside the job's
    std::string open;
    for (int fd = 4; fd < 256; ++fd) {
      if (fcntl(fd, F_GETFD) != -1) open += std::to_string(fd) + " ";
    }
    if (open.empty()) open = "none";
    return write(1, open.data(), open.size()) > 0 ? 0 : 1;
  }
  if (wish == "half") return write(1, "CGBNDL01M\0\0", 11) > 0 ? 0 : 1;
  return wish == "code 5" ? 5 : 0;
}

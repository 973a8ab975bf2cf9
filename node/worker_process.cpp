#include "node/worker_process.h"

#include <fcntl.h>
#include <linux/close_range.h>
#include <poll.h>
#include <signal.h>
#include <sys/mman.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cerrno>
#include <chrono>
#include <cstring>

#include "node/bundle.h"

namespace crestgate {
namespace {

using SteadyClock = std::chrono::steady_clock;
constexpr int kWallFactor = 3;

class Fd {
 public:
  explicit Fd(int fd = -1) : fd_(fd) {}
  ~Fd() { reset(); }
  Fd(const Fd&) = delete;
  Fd& operator=(const Fd&) = delete;
  int get() const { return fd_; }
  void reset(int fd = -1) {
    if (fd_ >= 0) ::close(fd_);
    fd_ = fd;
  }

 private:
  int fd_;
};

void limit(__rlimit_resource resource, rlim_t soft, rlim_t hard) {
  const rlimit both = {soft, hard};
  setrlimit(resource, &both);
}
void limit(__rlimit_resource resource, rlim_t value) { limit(resource, value, value); }

/// Between fork and exec: system calls only.
[[noreturn]] void become_worker(int image_fd, int job_fd, int pipe_fd, pid_t parent,
                                const WorkerLimits& limits, const char* program) {
  setpgid(0, 0);  // a terminal's Ctrl-C is for the node, which drains
  prctl(PR_SET_PDEATHSIG, SIGKILL);
  if (getppid() != parent) _exit(1);
  prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0);
  const int image = fcntl(image_fd, F_DUPFD, 16);
  const int job = fcntl(job_fd, F_DUPFD, 16);
  const int out = fcntl(pipe_fd, F_DUPFD, 16);
  if (dup2(image, 0) < 0 || dup2(out, 1) < 0 || dup2(job, 3) < 0) _exit(1);
  syscall(SYS_close_range, 4U, ~0U, 0U);
  limit(RLIMIT_CORE, 0);
  limit(RLIMIT_FSIZE, 0);
  limit(RLIMIT_NOFILE, 64);
  // The soft limit sends SIGXCPU, by which the parent knows the reason; the hard one kills.
  limit(RLIMIT_CPU, static_cast<rlim_t>(limits.time_limit_s),
        static_cast<rlim_t>(limits.time_limit_s) + 2);
#if !defined(__SANITIZE_ADDRESS__)  // whose shadow takes terabytes of address space
  limit(RLIMIT_AS, static_cast<rlim_t>(limits.memory_limit_mb) << 20);
#endif
  sigset_t none;
  sigemptyset(&none);
  sigprocmask(SIG_SETMASK, &none, nullptr);
  signal(SIGPIPE, SIG_DFL);
  signal(SIGXFSZ, SIG_IGN);
  char name[] = "crestgate";
  char word[] = "worker";
  char* const arguments[] = {name, word, nullptr};
  execv(program, arguments);
  _exit(127);
}

/// Reads until end of file or the deadline. `late`: the deadline came first.
Status read_all(int fd, SteadyClock::time_point deadline, Bytes& out, bool& late) {
  std::uint8_t block[65536];
  for (;;) {
    const auto left =
        std::chrono::duration_cast<std::chrono::milliseconds>(deadline - SteadyClock::now());
    late = left.count() <= 0;
    if (late) return {};
    pollfd waiting = {fd, POLLIN, 0};
    if (poll(&waiting, 1, static_cast<int>(left.count())) <= 0) continue;
    const ssize_t got = read(fd, block, sizeof block);
    if (got == 0) return {};
    if (got < 0 && errno == EINTR) continue;
    if (got < 0) return errno_status(errno, "worker pipe");
    if (out.size() + static_cast<std::size_t>(got) > kMostBundleBytes) {
      return Status::error(Code::too_large, "worker wrote more than a bundle may hold");
    }
    out.insert(out.end(), block, block + got);
  }
}

/// The child has closed its pipe or is to be killed: collect it, by force after the deadline.
int collect(pid_t child, SteadyClock::time_point deadline, bool kill_now, bool& late) {
  int state = 0;
  for (;;) {
    if (!kill_now && !late) late = SteadyClock::now() >= deadline;
    if (kill_now || late) kill(child, SIGKILL);
    const pid_t ended = waitpid(child, &state, kill_now || late ? 0 : WNOHANG);
    if (ended == child) return state;
    if (ended < 0 && errno != EINTR) return 0;
    if (ended == 0) poll(nullptr, 0, 2);
  }
}

Status explain(int state, bool late, const WorkerLimits& limits) {
  if (late || (WIFSIGNALED(state) && WTERMSIG(state) == SIGXCPU)) {
    return Status::error(Code::timeout, "no result within workers.time_limit_s = " +
                                            std::to_string(limits.time_limit_s) + " s");
  }
  if (WIFSIGNALED(state)) {
    return Status::error(Code::internal, std::string("worker ended by signal ") +
                                             std::to_string(WTERMSIG(state)) + " (" +
                                             strsignal(WTERMSIG(state)) + ")");
  }
  const int code = WEXITSTATUS(state);
  if (code == 0) return {};
  if (code == kWorkerOutOfMemory) {
    return Status::error(Code::too_large, "worker needs more than workers.memory_limit_mb = " +
                                              std::to_string(limits.memory_limit_mb) + " MB");
  }
  return Status::error(Code::internal, "worker ended with code " + std::to_string(code));
}

}  // namespace

Result<Bytes> run_worker(int image_fd, const std::string& job_json, const WorkerLimits& limits,
                         const std::string& program) {
  const Fd job(memfd_create("job", MFD_CLOEXEC));
  if (job.get() < 0 ||
      write(job.get(), job_json.data(), job_json.size()) != static_cast<ssize_t>(job_json.size()) ||
      lseek(job.get(), 0, SEEK_SET) != 0) {
    return Status::error(Code::unavailable, "no memory file for a worker's job");
  }
  int ends[2];
  if (pipe2(ends, O_CLOEXEC) != 0) return Status::error(Code::unavailable, "no pipe for a worker");
  const Fd from_child(ends[0]);
  Fd to_parent(ends[1]);

  const pid_t parent = getpid();
  const pid_t child = fork();
  if (child < 0) return Status::error(Code::unavailable, "no process for a worker");
  if (child == 0) {
    become_worker(image_fd, job.get(), to_parent.get(), parent, limits, program.c_str());
  }
  to_parent.reset();
  const auto deadline =
      SteadyClock::now() + std::chrono::seconds(kWallFactor * limits.time_limit_s);
  Bytes out;
  bool late = false;
  const Status got = read_all(from_child.get(), deadline, out, late);
  const int state = collect(child, deadline, !got.ok(), late);
  if (!got.ok()) return got;
  if (Status s = explain(state, late, limits); !s.ok()) return s;
  return out;
}

}  // namespace crestgate

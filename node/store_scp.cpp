#include "node/store_scp.h"

#include <arpa/inet.h>
#include <dcmtk/config/osconfig.h>
#include <dcmtk/dcmnet/assoc.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <poll.h>
#include <spdlog/spdlog.h>
#include <sys/socket.h>
#include <unistd.h>

#include <algorithm>

#include "node/association.h"
#include "node/clock.h"
#include "node/fs.h"

namespace crestgate {
namespace {

/// Largest association request served: 128 contexts with every transfer syntax stay below it.
constexpr std::uint32_t kMostRequestBytes = 128 * 1024;
constexpr int kAcseTimeout_s = 10;
constexpr int kPollPeriod_ms = 200;

Result<int> listen_on(const std::string& address, int port) {
  sockaddr_in where{};
  where.sin_family = AF_INET;
  where.sin_port = htons(static_cast<std::uint16_t>(port));
  if (inet_pton(AF_INET, address.c_str(), &where.sin_addr) != 1) {
    return Status::error(Code::invalid_input, "listen.address is not an IPv4 address: " + address);
  }
  const int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
  if (fd < 0) return errno_status(errno, "socket");
  const int on = 1;
  setsockopt(fd, SOL_SOCKET, SO_REUSEADDR, &on, sizeof on);
  const int buffer = 2 * static_cast<int>(kMostRequestBytes);
  setsockopt(fd, SOL_SOCKET, SO_RCVBUF, &buffer, sizeof buffer);
  if (bind(fd, reinterpret_cast<const sockaddr*>(&where), sizeof where) != 0 ||
      listen(fd, 64) != 0) {
    const Status failed = errno_status(errno, "listen on " + address + ":" + std::to_string(port));
    close(fd);
    return failed;
  }
  return fd;
}

enum class Request { incomplete, complete, bad };

/// Has the whole A-ASSOCIATE-RQ arrived? (PS3.8 9.3.2: type 01H, reserved, 4 bytes length)
Request look_at_request(int fd) {
  std::vector<unsigned char> peeked(kMostRequestBytes + 6);
  const ssize_t got = recv(fd, peeked.data(), peeked.size(), MSG_PEEK | MSG_DONTWAIT);
  if (got == 0) return Request::bad;
  if (got < 0) return errno == EAGAIN || errno == EINTR ? Request::incomplete : Request::bad;
  if (peeked[0] != 0x01) return Request::bad;
  if (got < 6) return Request::incomplete;
  const std::uint32_t length = static_cast<std::uint32_t>(peeked[2]) << 24 |
                               static_cast<std::uint32_t>(peeked[3]) << 16 |
                               static_cast<std::uint32_t>(peeked[4]) << 8 | peeked[5];
  if (length > kMostRequestBytes) return Request::bad;
  return static_cast<std::uint32_t>(got) >= length + 6 ? Request::complete : Request::incomplete;
}

}  // namespace

StoreScp::StoreScp(const Settings& settings, Spool& spool, CommitmentSink commitments,
                   Retrievals* retrievals)
    : settings_(settings),
      spool_(spool),
      commitments_(std::move(commitments)),
      retrievals_(retrievals) {}

StoreScp::~StoreScp() { stop(); }

Status StoreScp::start() {
  const auto fd = listen_on(settings_.listen.address, settings_.listen.port);
  if (!fd.ok()) return fd.status();
  listen_fd_ = fd.value();
  sockaddr_in bound{};
  socklen_t size = sizeof bound;
  getsockname(listen_fd_, reinterpret_cast<sockaddr*>(&bound), &size);
  port_ = ntohs(bound.sin_port);

  dcmDisableGethostbyaddr.set(OFTrue);
  // DCMTK can neither bind to an address nor tell the port; with an external socket set it opens
  // none of its own (dul.h, dcmExternalSocketHandle).
  dcmExternalSocketHandle.set(listen_fd_);
  const OFCondition made = ASC_initializeNetwork(NET_ACCEPTOR, 0, kAcseTimeout_s, &network_);
  dcmExternalSocketHandle.set(-1);
  if (made.bad()) {
    close(listen_fd_);
    listen_fd_ = -1;
    return Status::error(Code::internal, made.text());
  }
  acceptor_ = std::thread([this] { accept_loop(); });
  return {};
}

void StoreScp::stop() {
  if (!acceptor_.joinable()) return;
  stopping_ = true;
  acceptor_.join();
  reap(true);
  ASC_dropNetwork(&network_);
  close(listen_fd_);
  listen_fd_ = -1;
}

void StoreScp::reap(bool all) {
  for (auto it = servers_.begin(); it != servers_.end();) {
    if (all || *it->done) {
      it->thread.join();
      it = servers_.erase(it);
    } else {
      ++it;
    }
  }
}

void StoreScp::take_connection(int fd) {
  T_ASC_Association* association = nullptr;
  // Only this thread receives associations, so the global is safe to use; the request is already
  // in the socket's buffer, so the call does not wait for the peer.
  dcmExternalSocketHandle.set(fd);
  const OFCondition got = ASC_receiveAssociation(network_, &association, ASC_DEFAULTMAXPDU, nullptr,
                                                 nullptr, OFFalse, DUL_NOBLOCK, kAcseTimeout_s);
  dcmExternalSocketHandle.set(-1);
  if (got.bad() || association == nullptr) {
    if (association != nullptr) {
      ASC_dropAssociation(association);
      ASC_destroyAssociation(&association);
    }
    return;
  }
  reap(false);
  const bool busy = servers_.size() >= static_cast<std::size_t>(settings_.listen.max_associations);
  if (busy) {
    serve_association(association, settings_, spool_, commitments_, retrievals_, stopping_, true);
    return;
  }
  Server server;
  server.done = std::make_shared<std::atomic<bool>>(false);
  server.thread = std::thread([this, association, done = server.done] {
    serve_association(association, settings_, spool_, commitments_, retrievals_, stopping_, false);
    *done = true;
  });
  servers_.push_back(std::move(server));
}

void StoreScp::accept_loop() {
  const SystemClock clock;
  std::list<Pending> pending;
  // Connections that have not said anything yet are bounded too; more wait in the backlog.
  const std::size_t most_pending = static_cast<std::size_t>(settings_.listen.max_associations) + 16;
  while (!stopping_) {
    std::vector<pollfd> fds;
    const bool room = pending.size() < most_pending;
    fds.push_back({room ? listen_fd_ : -1, POLLIN, 0});
    for (const Pending& p : pending) fds.push_back({p.fd, POLLIN, 0});
    poll(fds.data(), fds.size(), kPollPeriod_ms);
    if ((fds[0].revents & POLLIN) != 0) {
      const int fd = accept4(listen_fd_, nullptr, nullptr, SOCK_CLOEXEC);
      if (fd >= 0) pending.push_back({fd, clock.now_s() + kAcseTimeout_s});
    }
    bool waiting_for_rest = false;
    for (auto it = pending.begin(); it != pending.end();) {
      const Request request = look_at_request(it->fd);
      if (request == Request::incomplete && clock.now_s() < it->deadline_s) {
        char first = 0;
        waiting_for_rest |= recv(it->fd, &first, 1, MSG_PEEK | MSG_DONTWAIT) == 1;
        ++it;
        continue;
      }
      const int fd = it->fd;
      it = pending.erase(it);
      if (request == Request::complete) {
        take_connection(fd);
      } else {
        close(fd);
      }
    }
    // poll() returns at once for a half-arrived request; give the rest time to come.
    if (waiting_for_rest) poll(nullptr, 0, 5);
  }
  for (const Pending& p : pending) close(p.fd);
}

}  // namespace crestgate

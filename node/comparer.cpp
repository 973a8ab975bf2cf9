#include "node/comparer.h"

#include <spdlog/spdlog.h>

#include "node/hash.h"
#include "node/log.h"

namespace crestgate {
namespace {

Processed postponed(const Status& status) {
  Processed p;
  p.outcome = Processed::Outcome::postponed;
  p.status = status;
  return p;
}

}  // namespace

Comparer::Comparer(ComparisonQueue& queue, Spool& spool, MakeJob make_job, Run run, Find find)
    : queue_(queue),
      spool_(spool),
      make_job_(std::move(make_job)),
      run_(std::move(run)),
      find_(std::move(find)) {}

Processed Comparer::compare(const std::string& path, const EarlierImages& earlier,
                            const KnownDocument* prior) const {
  WorkerJob job = make_job_();
  job.archive = WorkerJob::Archive::asked;
  job.earlier = earlier.files;
  job.earlier_reports = earlier.reports;
  job.other_sites = earlier.other_sites;
  job.left_out = earlier.left_out;
  if (prior != nullptr) job.prior = *prior;
  return interpret(run_(path, job));
}

Status Comparer::forget(const EntryName& entry) const {
  for (const OwedComparison& owed : queue_.list())
    if (owed.entry.folder() == entry.folder())
      if (Status s = queue_.remove(owed); !s.ok()) return s;
  return {};
}

Processed Comparer::process(const EntryName& entry, const std::string& path) const {
  WorkerJob job = make_job_();
  job.archive = WorkerJob::Archive::pending;
  Processed alone = interpret(run_(path, job));
  if (!alone.comparison) return alone;
  const auto earlier = find_(alone.comparison->keys);
  // Owed already if a stop came before the report was published: that report was never delivered.
  if (const Status s = forget(entry); !s.ok()) return postponed(s);
  if (earlier.ok()) {
    Processed compared = compare(path, earlier.value(), nullptr);
    if (compared.outcome != Processed::Outcome::unusable) return compared;
    // An earlier image a worker cannot digest must not cost this image its report.
    spdlog::warn("comparison-failed entry={} reason={}", entry.folder(),
                 log_value(compared.status.text));
    return alone;
  }
  spdlog::warn("comparison-pending entry={} reason={}", entry.folder(),
               log_value(earlier.status().text));
  const Status kept = queue_.add({entry, alone.comparison->keys, alone.comparison->report}, path);
  return kept.ok() ? alone : postponed(kept);
}

bool Comparer::settle_owed() const {
  for (const OwedComparison& owed : queue_.list()) {
    if (spool_.in_flight(owed.entry.uid_hash)) continue;  // its own report comes first
    const auto earlier = find_(owed.keys);
    if (!earlier.ok()) return false;
    const Processed p = compare(queue_.image_path(owed), earlier.value(), &owed.prior);
    if (p.outcome == Processed::Outcome::postponed) return false;
    if (p.outcome == Processed::Outcome::judged) {
      EntryName later = owed.entry;
      later.uid_hash = short_hash(owed.keys.sop_instance_uid + "\ncomparison");
      if (const Status s = spool_.publish_apart(later, p.objects); !s.ok()) {
        spdlog::error("cannot-publish-comparison entry={} reason={}", owed.entry.folder(),
                      log_value(s.text));
        return false;
      }
      spdlog::info("compared sop={} entry={} {}", log_value(p.sop_instance_uid),
                   owed.entry.folder(), p.summary);
    } else {
      spdlog::error("comparison-given-up entry={} reason={}", owed.entry.folder(),
                    log_value(p.status.text));
    }
    if (const Status s = queue_.remove(owed); !s.ok()) return false;
  }
  return true;
}

}  // namespace crestgate

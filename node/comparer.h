// Images that ask for a comparison: the worker says so, the archive is searched, the worker runs
// again with what was found. If the archive does not answer, the report goes out at once as
// 'comparison pending', and the comparison is owed durably (comparison_queue.h) until it does.
#pragma once
#include <functional>
#include <string>

#include "node/comparison_queue.h"
#include "node/spool.h"
#include "node/work.h"
#include "node/worker.h"

namespace crestgate {

class Comparer {
 public:
  using MakeJob = std::function<WorkerJob()>;
  using Run = std::function<Result<Bytes>(const std::string& image_path, const WorkerJob&)>;
  using Find = std::function<Result<EarlierImages>(const SearchKeys&)>;

  Comparer(ComparisonQueue& queue, Spool& spool, MakeJob make_job, Run run, Find find);

  /// Thread-safe. As a Processor: what is to be published for one image.
  Processed process(const EntryName& entry, const std::string& path) const;
  /// Settles what is owed, oldest first. False: the archive (or a worker) could not be had; the
  /// rest waits. One thread calls it.
  bool settle_owed() const;

 private:
  Processed compare(const std::string& path, const EarlierImages& earlier,
                    const KnownDocument* prior) const;
  /// What a stop left owed for an image that is being done again.
  Status forget(const EntryName& entry) const;
  ComparisonQueue& queue_;
  Spool& spool_;
  MakeJob make_job_;
  Run run_;
  Find find_;
};

}  // namespace crestgate

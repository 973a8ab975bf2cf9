#include "node/receive.h"

#include <dcmtk/config/osconfig.h>
#include <dcmtk/dcmdata/dcistrmb.h>
#include <dcmtk/dcmdata/dcmetinf.h>
#include <dcmtk/dcmdata/dcostrmb.h>
#include <dcmtk/dcmdata/dctk.h>
#include <dcmtk/dcmnet/diutil.h>

#include <algorithm>

#include "node/accepted.h"
#include "node/dimse_status.h"

namespace crestgate {
namespace {

/// The class and instance UIDs stand in group 0008, in the first few hundred bytes.
constexpr std::size_t kHeadBytes = 16384;
/// A sender that goes on this far past the limit is cut off instead of being listened to.
constexpr std::uint64_t kMostExcessBytes = 1024ULL * 1024 * 1024;

/// Takes the data set's bytes as they come. Swallows what is too much or cannot be written, so that
/// the association stays usable and the right refusal can be answered.
class SpoolConsumer : public DcmConsumer {
 public:
  /// `kept`: takes a copy in memory instead; with neither, the bytes are dropped.
  SpoolConsumer(Incoming* incoming, Bytes* kept, std::uint64_t most_bytes)
      : incoming_(incoming), kept_(kept), most_bytes_(most_bytes) {}
  OFBool good() const override { return OFTrue; }
  OFCondition status() const override { return EC_Normal; }
  OFBool isFlushed() const override { return OFTrue; }
  offile_off_t avail() const override { return 1L << 30; }
  void flush() override {}
  offile_off_t write(const void* data, offile_off_t size) override {
    const auto count = static_cast<std::size_t>(size);
    bytes_ += count;
    if (bytes_ > most_bytes_ + kMostExcessBytes) return 0;
    if (bytes_ > most_bytes_) {
      failed_ = Status::error(Code::too_large, "object is larger than listen.max_object_mb");
    }
    if (!failed_.ok()) return size;
    const auto* first = static_cast<const std::uint8_t*>(data);
    if (kept_ != nullptr) kept_->insert(kept_->end(), first, first + count);
    if (incoming_ == nullptr) return size;
    const std::size_t room = kHeadBytes - head_.size();
    head_.insert(head_.end(), first, first + std::min(room, count));
    failed_ = incoming_->append_data(data, count);
    return size;
  }
  const Status& failed() const { return failed_; }
  const Bytes& head() const { return head_; }
  std::uint64_t bytes() const { return bytes_; }

 private:
  Incoming* incoming_;
  Bytes* kept_;
  std::uint64_t most_bytes_, bytes_ = 0;
  Bytes head_;
  Status failed_;
};

class SpoolStream : public DcmOutputStream {
 public:
  explicit SpoolStream(SpoolConsumer& consumer) : DcmOutputStream(&consumer) {}
};

Result<Bytes> file_header(const T_DIMSE_C_StoreRQ& request, const char* syntax,
                          const char* calling_ae) {
  DcmMetaInfo meta;
  const Uint8 version[2] = {0, 1};
  meta.putAndInsertUint32(DCM_FileMetaInformationGroupLength, 0);
  meta.putAndInsertUint8Array(DCM_FileMetaInformationVersion, version, 2);
  meta.putAndInsertString(DCM_MediaStorageSOPClassUID, request.AffectedSOPClassUID);
  meta.putAndInsertString(DCM_MediaStorageSOPInstanceUID, request.AffectedSOPInstanceUID);
  meta.putAndInsertString(DCM_TransferSyntaxUID, syntax);
  meta.putAndInsertString(DCM_ImplementationClassUID, OFFIS_IMPLEMENTATION_CLASS_UID);
  meta.putAndInsertString(DCM_ImplementationVersionName, OFFIS_DTK_IMPLEMENTATION_VERSION_NAME);
  meta.putAndInsertString(DCM_SourceApplicationEntityTitle, calling_ae);
  meta.computeGroupLengthAndPadding(EGL_withGL, EPD_noChange, EXS_LittleEndianExplicit,
                                    EET_ExplicitLength);
  Bytes bytes(4096);
  DcmOutputBufferStream stream(bytes.data(), static_cast<offile_off_t>(bytes.size()));
  meta.transferInit();
  const OFCondition wrote =
      meta.write(stream, EXS_LittleEndianExplicit, EET_ExplicitLength, nullptr);
  meta.transferEnd();
  if (wrote.bad()) return Status::error(Code::internal, wrote.text());
  void* buffer = nullptr;
  offile_off_t length = 0;
  stream.flushBuffer(buffer, length);
  bytes.resize(static_cast<std::size_t>(length));
  return bytes;
}

/// The data set's own class and instance UID must be the ones of the command. `status` is the DIMSE
/// status to answer if they are not.
Status check_head(const Bytes& head, const T_DIMSE_C_StoreRQ& request, const char* syntax,
                  std::uint16_t& status) {
  const E_TransferSyntax xfer = DcmXfer(syntax).getXfer();
  if (xfer == EXS_DeflatedLittleEndianExplicit) return {};  // the worker will see
  DcmInputBufferStream stream;
  stream.setBuffer(head.data(), static_cast<offile_off_t>(head.size()));
  DcmDataset dataset;
  dataset.transferInit();
  dataset.readUntilTag(stream, xfer, EGL_noChange, 4096, DCM_StudyDate);
  OFString sop_class, instance;
  dataset.findAndGetOFString(DCM_SOPClassUID, sop_class);
  dataset.findAndGetOFString(DCM_SOPInstanceUID, instance);
  if (instance.empty() || sop_class.empty()) {
    status = kStoreCannotUnderstand;
    return Status::error(Code::invalid_input, "data set does not begin as a DICOM object",
                         instance.empty() ? "(0008,0018)" : "(0008,0016)");
  }
  if (sop_class != request.AffectedSOPClassUID || instance != request.AffectedSOPInstanceUID) {
    status = kStoreDoesNotMatchClass;
    return Status::error(Code::invalid_input, "data set is not the object of the command",
                         sop_class != request.AffectedSOPClassUID ? "(0008,0016)" : "(0008,0018)");
  }
  return {};
}

Received refuse(const Status& why, std::uint16_t answer, bool connection_good) {
  return {answer, "refused", why, connection_good};
}

}  // namespace

Received receive_object(T_ASC_Association* association, const T_DIMSE_C_StoreRQ& request,
                        unsigned char presentation_context, Spool& spool,
                        const std::string& own_ae_title, Retrievals* retrievals,
                        const ReceiveLimits& limits) {
  T_ASC_PresentationContext context;
  ASC_findAcceptedPresentationContext(association->params, presentation_context, &context);
  const bool answers_us = (request.opts & O_STORE_MOVEORIGINATORAETITLE) != 0 &&
                          own_ae_title == request.MoveOriginatorApplicationEntityTitle;
  const bool dropped = answers_us || is_report_class(request.AffectedSOPClassUID);

  const bool awaited =
      answers_us && retrievals != nullptr && retrievals->wanted(request.AffectedSOPInstanceUID);
  Status problem;
  std::unique_ptr<Incoming> incoming;
  Bytes kept;
  if (awaited || !dropped) {
    auto header = file_header(request, context.acceptedTransferSyntax,
                              association->params->DULparams.callingAPTitle);
    problem = header.status();
    if (awaited && problem.ok()) kept = std::move(header.value());
    if (!awaited && problem.ok()) {
      auto begun = spool.begin();
      problem = begun.status();
      if (problem.ok()) {
        incoming = std::move(begun.value());
        problem = incoming->append_header(header.value());
      }
    }
  }
  SpoolConsumer consumer(problem.ok() ? incoming.get() : nullptr, awaited ? &kept : nullptr,
                         limits.most_bytes);
  SpoolStream stream(consumer);
  T_ASC_PresentationContextID data_context = 0;
  const OFCondition got =
      DIMSE_receiveDataSetInFile(association, DIMSE_NONBLOCKING, limits.idle_timeout_s,
                                 &data_context, &stream, nullptr, nullptr);
  if (got.bad()) {
    return refuse(Status::error(Code::unavailable, got.text()), kStoreProcessingFailure, false);
  }
  if (problem.ok()) problem = consumer.failed();
  if (!problem.ok()) return refuse(problem, dimse_status(problem), true);
  if (awaited) retrievals->deliver(request.AffectedSOPInstanceUID, kept);
  if (dropped) {
    return {kStoreSuccess, answers_us ? "answer to our own retrieval" : "not an image", {}, true};
  }
  std::uint16_t answer = kStoreCannotUnderstand;
  problem = check_head(consumer.head(), request, context.acceptedTransferSyntax, answer);
  if (!problem.ok()) return refuse(problem, answer, true);

  const auto receipt = spool.commit(std::move(incoming), request.AffectedSOPInstanceUID);
  if (!receipt.ok()) return refuse(receipt.status(), dimse_status(receipt.status()), true);
  switch (receipt.value()) {
    case Receipt::stored:
      return {kStoreSuccess, "stored", {}, true};
    case Receipt::already_known:
      return {kStoreSuccess, "already known", {}, true};
    case Receipt::other_content:
      break;
  }
  return refuse(Status::error(Code::invalid_input,
                              "the same SOP Instance UID is known with other bytes; the first "
                              "one stands",
                              "(0008,0018)"),
                kStoreDuplicateInstance, true);
}

}  // namespace crestgate

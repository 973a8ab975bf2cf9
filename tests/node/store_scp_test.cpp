#include "node/store_scp.h"

#include <arpa/inet.h>
#include <dcmtk/config/osconfig.h>
#include <dcmtk/dcmdata/dctk.h>
#include <gtest/gtest.h>
#include <netinet/in.h>
#include <sys/socket.h>
#include <unistd.h>

#include <atomic>
#include <fstream>

#include "tests/support/net/net_client.h"
#include "tests/support/net/net_image.h"

namespace crestgate {
namespace {

class StoreScpTest : public ::testing::Test {
 protected:
  StoreScpTest() {
    settings.listen.address = "127.0.0.1";
    settings.listen.port = 0;
    settings.listen.idle_timeout_s = 20;
    settings.listen.max_object_mb = 1;
  }
  void start(std::uint64_t least_free_bytes = 0) {
    spool = std::make_unique<Spool>(fs, *index, folder.path(), least_free_bytes);
    std::vector<std::string> notes;
    ASSERT_TRUE(spool->open(notes).ok());
    scp = std::make_unique<StoreScp>(settings, *spool);
    const Status started = scp->start();
    ASSERT_TRUE(started.ok()) << started.text;
  }
  int send_image(const ImageWish& wish, const SendOptions& options = {}) {
    DcmDataset dataset;
    fill_image(dataset, wish);
    return send(scp->port(), dataset, options);
  }
  std::vector<std::string> in(const char* name) {
    return fs.list(folder.path() + "/" + name).value();
  }
  TempFolder folder;
  PosixFs fs;
  Settings settings;
  std::unique_ptr<Index> index = std::move(Index::open(":memory:").value());
  std::unique_ptr<Spool> spool;
  std::unique_ptr<StoreScp> scp;
};

TEST_F(StoreScpTest, AnswersEcho) {
  start();
  EXPECT_TRUE(echo(scp->port()));
}

TEST_F(StoreScpTest, StoresTheDataSetBitByBit) {
  start();
  ImageWish wish;
  EXPECT_EQ(send_image(wish), 0x0000);
  const auto entry = spool->try_take();
  ASSERT_TRUE(entry);
  DcmFileFormat file;
  ASSERT_TRUE(file.loadFile(spool->working_path(*entry).c_str()).good());
  OFString caller, syntax;
  file.getMetaInfo()->findAndGetOFString(DCM_SourceApplicationEntityTitle, caller);
  file.getMetaInfo()->findAndGetOFString(DCM_TransferSyntaxUID, syntax);
  EXPECT_EQ(caller, "MODALITY");
  EXPECT_EQ(syntax, UID_LittleEndianExplicitTransferSyntax);
  // The data set's bytes as DCMTK writes them, preamble and meta information cut off.
  const Bytes stored = fs.read(spool->working_path(*entry)).value();
  const Bytes sent = image_file(wish);
  ASSERT_GT(stored.size(), 144U);
  auto data_set = [](const Bytes& b) {
    // (0002,0000) UL 4: the length of the rest of the group
    const std::size_t length = b[140] | b[141] << 8 | b[142] << 16;
    return Bytes(b.begin() + 144 + static_cast<long>(length), b.end());
  };
  EXPECT_EQ(data_set(stored), data_set(sent));
}

TEST_F(StoreScpTest, SecondReceiptIsSuccessAndOneImage) {
  start();
  EXPECT_EQ(send_image({}), 0x0000);
  EXPECT_EQ(send_image({}), 0x0000);
  EXPECT_EQ(in("ready").size(), 1U);
  ImageWish other;
  other.seed = 2;
  EXPECT_EQ(send_image(other), 0x0111);
  EXPECT_EQ(in("ready").size(), 1U);
  EXPECT_TRUE(in("incoming").empty());
}

TEST_F(StoreScpTest, OnlyAllowedCallersUnderOurName) {
  settings.listen.allowed_callers = {"SENSOR1", "ROUTER"};
  start();
  SendOptions options;
  EXPECT_EQ(send_image({}, options), kNoAnswer);
  options.calling = "ROUTER";
  EXPECT_EQ(send_image({}, options), 0x0000);
  options.called = "SOMEBODY";
  EXPECT_EQ(send_image({}, options), kNoAnswer);
}

TEST_F(StoreScpTest, AcceptsItsClassesAndTransferSyntaxesOnly) {
  start();
  for (const char* uid :
       {UID_DigitalIntraOralXRayImageStorageForPresentation,
        UID_DigitalIntraOralXRayImageStorageForProcessing,
        UID_DigitalXRayImageStorageForPresentation, UID_DigitalXRayImageStorageForProcessing,
        UID_ComputedRadiographyImageStorage, UID_SecondaryCaptureImageStorage,
        UID_ComprehensiveSRStorage, UID_KeyObjectSelectionDocumentStorage,
        UID_GrayscaleSoftcopyPresentationStateStorage}) {
    EXPECT_TRUE(accepts_class(scp->port(), uid, UID_LittleEndianExplicitTransferSyntax)) << uid;
  }
  EXPECT_FALSE(
      accepts_class(scp->port(), UID_CTImageStorage, UID_LittleEndianExplicitTransferSyntax));
  EXPECT_FALSE(accepts_class(scp->port(), UID_MultiframeGrayscaleByteSecondaryCaptureImageStorage,
                             UID_LittleEndianExplicitTransferSyntax));
  const char* io = UID_DigitalIntraOralXRayImageStorageForPresentation;
  for (const char* syntax :
       {UID_LittleEndianImplicitTransferSyntax, UID_BigEndianExplicitTransferSyntax,
        UID_JPEGProcess14SV1TransferSyntax, UID_JPEGLSLosslessTransferSyntax,
        UID_JPEG2000LosslessOnlyTransferSyntax, UID_RLELosslessTransferSyntax}) {
    EXPECT_TRUE(accepts_class(scp->port(), io, syntax)) << syntax;
  }
  EXPECT_FALSE(accepts_class(scp->port(), io, UID_MPEG4HighProfileLevel4_1TransferSyntax));
}

TEST_F(StoreScpTest, AnObjectThatIsTooLargeIsRefusedAndTheNextTaken) {
  start();  // limit 1 MB
  ImageWish large;
  large.rows = 2000;
  large.columns = 1000;
  EXPECT_EQ(send_image(large), 0xA700);
  EXPECT_TRUE(in("ready").empty());
  EXPECT_TRUE(in("incoming").empty());
  EXPECT_EQ(send_image({}), 0x0000);
}

TEST_F(StoreScpTest, AFullDiskIsSaid) {
  start(~0ULL);
  EXPECT_EQ(send_image({}), 0xA700);
  EXPECT_TRUE(in("ready").empty());
}

TEST_F(StoreScpTest, ADataSetWithoutIdentityIsNotUnderstood) {
  start();
  DcmDataset dataset;
  fill_image(dataset, {});
  EXPECT_EQ(send_announced(scp->port(), dataset, "2.25.5", dataset), 0xA900);  // another instance
  DcmDataset nameless(dataset);
  nameless.findAndDeleteElement(DCM_SOPInstanceUID);
  EXPECT_EQ(send_announced(scp->port(), dataset, "2.25.1001", nameless), 0xC000);
  EXPECT_TRUE(in("ready").empty());
  EXPECT_TRUE(in("incoming").empty());
}

TEST_F(StoreScpTest, ReportsAndAnswersToOwnRetrievalsAreTakenAndDropped) {
  start();
  ImageWish report;
  report.sop_class_uid = UID_ComprehensiveSRStorage;
  EXPECT_EQ(send_image(report), 0x0000);
  SendOptions moved;
  moved.move_originator = "CRESTGATE";
  EXPECT_EQ(send_image({}, moved), 0x0000);
  EXPECT_TRUE(in("ready").empty());
  moved.move_originator = "VIEWER";  // somebody else's retrieval to us is a delivery like any other
  EXPECT_EQ(send_image({}, moved), 0x0000);
  EXPECT_EQ(in("ready").size(), 1U);
}

TEST_F(StoreScpTest, ManySendersAtOnceLoseAndDoubleNothing) {
  start();
  std::vector<std::thread> senders;
  std::atomic<int> good{0};
  for (int s = 0; s < 6; ++s) {
    senders.emplace_back([&, s] {
      for (int i = 0; i < 5; ++i) {
        ImageWish wish;
        wish.sop_instance_uid = "2.25.7" + std::to_string(s / 2) + std::to_string(i);
        good += send_image(wish) == 0 ? 1 : 0;
      }
    });
  }
  for (std::thread& sender : senders) sender.join();
  EXPECT_EQ(good, 30);
  EXPECT_EQ(in("ready").size(), 15U);  // two senders each sent the same five
}

TEST_F(StoreScpTest, SilentAndHalfSpokenConnectionsDoNotHoldUpOthers) {
  settings.listen.max_associations = 2;
  start();
  std::vector<int> silent;
  for (int i = 0; i < 8; ++i) {
    const int fd = socket(AF_INET, SOCK_STREAM, 0);
    sockaddr_in where{};
    where.sin_family = AF_INET;
    where.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    where.sin_port = htons(static_cast<std::uint16_t>(scp->port()));
    ASSERT_EQ(connect(fd, reinterpret_cast<const sockaddr*>(&where), sizeof where), 0);
    if (i % 2 == 0) {
      const char half[] = {1, 0, 0, 0};
      ASSERT_EQ(write(fd, half, sizeof half), 4);
    }
    silent.push_back(fd);
  }
  EXPECT_EQ(send_image({}), 0x0000);
  for (const int fd : silent) close(fd);
}

TEST_F(StoreScpTest, TheOneTooManyIsRejectedAndServedLater) {
  settings.listen.max_associations = 1;
  start();
  {
    OpenAssociation held(scp->port());
    ASSERT_TRUE(held.open());
    EXPECT_FALSE(echo(scp->port()));
  }
  EXPECT_TRUE(eventually([&] { return echo(scp->port()); }));
}

TEST_F(StoreScpTest, AnIdleAssociationIsEnded) {
  settings.listen.idle_timeout_s = 1;
  start();
  OpenAssociation held(scp->port());
  ASSERT_TRUE(held.open());
  EXPECT_TRUE(held.ended_within(20));
}

TEST_F(StoreScpTest, StopEndsIdleAssociationsAndFreesThePort) {
  start();
  const int port = scp->port();
  OpenAssociation held(port);
  ASSERT_TRUE(held.open());
  scp->stop();
  EXPECT_FALSE(echo(port));
}

TEST_F(StoreScpTest, ABadAddressOrATakenPortIsNamed) {
  start();
  Settings second = settings;
  second.listen.port = scp->port();
  StoreScp taken(second, *spool);
  const Status failed = taken.start();
  EXPECT_NE(failed.text.find(std::to_string(second.listen.port)), std::string::npos) << failed.text;
  second.listen.address = "not an address";
  StoreScp nowhere(second, *spool);
  EXPECT_EQ(nowhere.start().code, Code::invalid_input);
}

}  // namespace
}  // namespace crestgate

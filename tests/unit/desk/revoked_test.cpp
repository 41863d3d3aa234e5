// A revoked certificate stops working at the base at once: at the next call over a connection that
// stands, and in a stream that stands. Over a real server with TLS; the rule is our own.
#include "daemon/base/revoked.h"

#include <fstream>

#include "daemon/base/certificate_slack.h"
#include "fairlead/v1/jobs_service.grpc.pb.h"
#include "tests/unit/desk/over_tls.h"
#include "tests/unit/reports/sample_job.h"

namespace fairlead::desk {
namespace {

int64_t issued_s(const TlsFiles& files) { return files.own.from_s + kCertificateSlack_s; }

class RevokedOverTls : public OverTls {
 protected:
  void revoke(PeerRole role, const std::string& id, int64_t until_s) {
    const auto ok =
        RevokedCertificates::add(desk_.folder(), {role, "ozzlewick", id}, until_s, "lost");
    ASSERT_TRUE(ok) << ok.error().message;
  }
  grpc::Status head(const std::shared_ptr<grpc::Channel>& channel) {
    return call(channel, "/fairlead.v1.LedgerService/GetHead");
  }
};

TEST_F(RevokedOverTls, TheNextCallOverAnOpenConnectionIsRefused) {
  const auto files = authority_.files(PeerRole::kInsurer, "harrow");
  const auto harrow = dial(*files);
  const auto other = dial(*authority_.files(PeerRole::kInsurer, "otter"));
  const auto owner = dial(*authority_.files(PeerRole::kOwner, "harrow"));
  ASSERT_TRUE(head(harrow).ok());
  // Those issued before it were revoked; this one came a second later.
  revoke(PeerRole::kInsurer, "harrow", issued_s(*files) - 1);
  EXPECT_TRUE(head(harrow).ok());
  revoke(PeerRole::kInsurer, "harrow", issued_s(*files));
  const grpc::Status refused = head(harrow);
  EXPECT_EQ(refused.error_code(), grpc::StatusCode::UNAUTHENTICATED);
  EXPECT_NE(refused.error_message().find("revoked"), std::string::npos) << refused.error_message();
  EXPECT_EQ(head(dial(*files)).error_code(), grpc::StatusCode::UNAUTHENTICATED);
  EXPECT_TRUE(head(other).ok());
  EXPECT_TRUE(head(owner).ok()) << "another role of the same name is another certificate";
}

TEST_F(RevokedOverTls, AListNobodyCanReadLetsNobodyIn) {
  const auto channel = dial(*authority_.files(PeerRole::kInsurer, "harrow"));
  ASSERT_TRUE(head(channel).ok());
  const auto file = RevokedCertificates::file_in(desk_.folder());
  std::ofstream(file) << "insurer/harrow yesterday\n";
  EXPECT_EQ(head(channel).error_code(), grpc::StatusCode::UNAUTHENTICATED);
  EXPECT_FALSE(
      RevokedCertificates::add(desk_.folder(), {PeerRole::kOwner, "ozzlewick", "x"}, 1, ""));
  std::filesystem::remove(file);
  EXPECT_TRUE(head(channel).ok());
}

TEST_F(RevokedOverTls, AStreamThatStandsTellsNothingMore) {
  const auto files = authority_.files(PeerRole::kOwner, "anna");
  const auto stub = v1::JobsService::NewStub(dial(*files));
  grpc::ClientContext context;
  context.set_deadline(std::chrono::system_clock::now() + std::chrono::seconds(60));
  const auto stream = stub->WatchFindings(&context, v1::WatchFindingsRequest());
  const auto lines = reports::sample_job().lines;
  ASSERT_GT(lines.size(), 4U);
  ASSERT_TRUE(desk_.desk().import.feed(std::span(lines).first(2)));
  v1::WatchFindingsResponse news;
  ASSERT_TRUE(stream->Read(&news)) << stream->Finish().error_message();
  revoke(PeerRole::kOwner, "anna", issued_s(*files));
  ASSERT_TRUE(desk_.desk().import.feed(std::span(lines).subspan(2)));
  while (stream->Read(&news)) {
  }
  EXPECT_EQ(stream->Finish().error_code(), grpc::StatusCode::UNAUTHENTICATED);
}

}  // namespace
}  // namespace fairlead::desk

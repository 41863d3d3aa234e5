// The table of who may call what, against every method of every service in proto/, for every role:
// read as a table, and over a real server with TLS and a certificate of each role. What each role
// may do is the design's own; no outside source.
#include "daemon/desk/access.h"

#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <regex>
#include <set>

#include "daemon/base/key_file.h"
#include "daemon/intake/hello.h"
#include "tests/unit/desk/over_tls.h"

namespace fairlead::desk {
namespace {

constexpr PeerRole kRoles[] = {PeerRole::kOwner,   PeerRole::kOperator, PeerRole::kTruck,
                               PeerRole::kInsurer, PeerRole::kService,  PeerRole::kBase};

/// "JobsService/GetJob" of every service in proto/fairlead/v1, read as text: `service X {`, `rpc
/// Y(`.
std::set<std::string> all_methods() {
  const std::regex service(R"(^service (\w+) \{)"), rpc(R"(^  rpc (\w+)\()");
  std::set<std::string> out;
  for (const auto& item : std::filesystem::directory_iterator("proto/fairlead/v1")) {
    std::ifstream file(item.path());
    std::string name, line;
    for (std::smatch found; std::getline(file, line);) {
      if (std::regex_search(line, found, service)) name = found[1];
      if (std::regex_search(line, found, rpc)) out.insert(name + "/" + found[1].str());
    }
  }
  return out;
}

TEST(Access, EveryMethodHasItsRowAndNoRowIsForNothing) {
  std::set<std::string> rows;
  for (const AccessRow& row : access_table()) {
    EXPECT_TRUE(rows.insert(std::string(row.method)).second) << row.method << " stands twice";
    EXPECT_FALSE(row.roles.empty()) << row.method;
  }
  const std::set<std::string> methods = all_methods();
  EXPECT_GT(methods.size(), 20u);
  for (const std::string& method : methods) {
    EXPECT_TRUE(rows.contains(method))
        << method << " has no row: say in daemon/desk/access.cpp who may call it";
  }
  for (const std::string& row : rows) EXPECT_TRUE(methods.contains(row)) << row << " is no method";
}

TEST(Access, WhatIsNotInTheTableIsDenied) {
  for (const PeerRole role : kRoles) {
    EXPECT_FALSE(may_call(role, "/fairlead.v1.JobsService/DropJob"));
    EXPECT_FALSE(may_call(role, "/fairlead.v1.JobsService/"));
    EXPECT_FALSE(may_call(role, "/other.JobsService/GetJob"));
    EXPECT_FALSE(may_call(role, "JobsService/GetJob"));
    EXPECT_FALSE(may_call(role, ""));
  }
}

// The lines of the design that must not move by an oversight.
TEST(Access, RolesKeepToTheirs) {
  size_t truck = 0;
  for (const AccessRow& row : access_table()) {
    const std::string path = "/fairlead.v1." + std::string(row.method);
    EXPECT_TRUE(may_call(PeerRole::kOwnerLocal, path)) << path;
    EXPECT_FALSE(may_call(PeerRole::kBase, path)) << path;
    truck += may_call(PeerRole::kTruck, path) ? 1 : 0;
  }
  EXPECT_EQ(truck, 1u) << "a truck appends, nothing else";
  EXPECT_TRUE(may_call(PeerRole::kTruck, "/fairlead.v1.IntakeService/Record"));
  EXPECT_FALSE(may_call(PeerRole::kOwner, "/fairlead.v1.IntakeService/Record"));
  for (const char* denied : {"JobsService/ListJobs", "JobsService/GetJob", "ClaimsService/GetClaim",
                             "LedgerService/ExportBundle", "RegisterService/EnrolTruck"}) {
    EXPECT_FALSE(may_call(PeerRole::kInsurer, "/fairlead.v1." + std::string(denied))) << denied;
  }
}

TEST_F(OverTls, EveryMethodForEveryRole) {
  for (const PeerRole role : kRoles) {
    if (role == PeerRole::kBase) continue;  // A server's certificate cannot call; see below.
    const auto files = authority_.files(role, some_id(role));
    const auto channel = dial(*files);
    for (const std::string& method : all_methods()) {
      // It never ends by itself; who may listen is what the table test says.
      const std::string path = "/fairlead.v1." + method;
      if (method == "JobsService/WatchFindings" && may_call(role, path)) continue;
      const grpc::Status status = call(channel, path);
      const bool denied = status.error_code() == grpc::StatusCode::PERMISSION_DENIED;
      EXPECT_EQ(denied, !may_call(role, path))
          << role_word(role) << " " << method << ": " << status.error_message();
      EXPECT_NE(status.error_code(), grpc::StatusCode::UNAUTHENTICATED) << status.error_message();
      EXPECT_NE(status.error_code(), grpc::StatusCode::UNAVAILABLE) << status.error_message();
    }
    EXPECT_EQ(call(channel, "/fairlead.v1.JobsService/DropJob").error_code(),
              grpc::StatusCode::PERMISSION_DENIED);
  }
}

TEST_F(OverTls, OthersAreTurnedAwayInTheHandshake) {
  const std::string path = "/fairlead.v1.LedgerService/GetHead";
  const auto status_of = [&](const TlsFiles& files) {
    return call(dial(files), path).error_code();
  };
  EXPECT_EQ(status_of(*authority_.files(PeerRole::kInsurer, "harrow")), grpc::StatusCode::OK);
  // Expired an hour ago, made for a server, of another authority with the same name, and none.
  EXPECT_EQ(status_of(*authority_.files(PeerRole::kInsurer, "harrow", -3'600)),
            grpc::StatusCode::UNAVAILABLE);
  EXPECT_EQ(status_of(*authority_.files(PeerRole::kBase, "ozzlewick")),
            grpc::StatusCode::UNAVAILABLE);
  EXPECT_EQ(status_of(*Authority("ozzlewick").files(PeerRole::kOwner, "harrow")),
            grpc::StatusCode::UNAVAILABLE);
  const auto plain = grpc::CreateChannel(server_->address(), grpc::InsecureChannelCredentials());
  EXPECT_EQ(call(plain, path).error_code(), grpc::StatusCode::UNAVAILABLE);
}

/// A hello of `device`, signed by `key`.
v1::RecordRequest hello_of(const std::string& device, const SecretKey& key) {
  v1::RecordRequest request;
  v1::Hello& hello = *request.mutable_shipment()->mutable_hello();
  hello.set_device_id(device);
  hello.set_name("OW-09");
  hello.set_public_key(string_of(key.public_key().bytes));
  hello.set_signature(string_of(key.sign(intake::hello_text(hello)).bytes));
  return request;
}

TEST_F(OverTls, ATruckSpeaksForItselfOnly) {
  const SecretKey key = SecretKey::generate();
  const auto files = authority_.files(PeerRole::kTruck, std::string(32, 'a'));
  const auto stub = v1::IntakeService::NewStub(dial(*files));
  for (const char byte : {'\xaa', '\xbb'}) {
    grpc::ClientContext context;
    context.set_deadline(std::chrono::system_clock::now() + std::chrono::seconds(10));
    const auto stream = stub->Record(&context);
    ASSERT_TRUE(stream->Write(hello_of(std::string(16, byte), key)));
    v1::RecordResponse response;
    ASSERT_TRUE(stream->Read(&response));
    const std::string words = response.reply().refusal().words();
    // Its own id is only unknown here, never enrolled at first contact; the other's is refused.
    const char* expected = byte == '\xaa' ? "is not enrolled" : "the certificate is of device aaaa";
    EXPECT_NE(words.find(expected), std::string::npos) << words;
    EXPECT_EQ(response.reply().refusal().reason(), v1::Refusal::REASON_UNKNOWN_KEY);
    stream->WritesDone();
    (void)stream->Finish();
  }
}

TEST(Listening, BeyondThisMachineNeedsCertificates) {
  const auto server = Server::start({"0.0.0.0:0", nullptr, {}, nullptr}, {});
  ASSERT_FALSE(server);
  EXPECT_EQ(server.error().code, Code::kDenied);
  const auto wrong = Server::start(
      {"127.0.0.1:0", Authority("ozzlewick").files(PeerRole::kOwner, "anna"), {}}, {});
  ASSERT_FALSE(wrong);
  EXPECT_NE(wrong.error().message.find("--role base"), std::string::npos);
}

}  // namespace
}  // namespace fairlead::desk

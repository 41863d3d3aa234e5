// A whole desk behind a real server with TLS, and certificates of every role, for tests of access.
#pragma once

#include <grpcpp/generic/generic_stub.h>
#include <gtest/gtest.h>

#include <ctime>
#include <future>

#include "daemon/desk/server_rpc.h"
#include "daemon/desk/services_rpc.h"
#include "daemon/intake/intake_rpc.h"
#include "daemon/uplink/dial_rpc.h"
#include "tests/unit/desk/small_desk.h"

namespace fairlead::desk {

/// Certificates of one authority, in memory.
class Authority {
 public:
  explicit Authority(const std::string& base)
      : base_(base), key_(std::move(*make_tls_key())), now_(std::time(nullptr)) {
    ca_ = make_authority(key_.view(), base, now_).value();
  }
  std::shared_ptr<const TlsFiles> files(PeerRole role, const std::string& id,
                                        int64_t until_s = 3'600) const {
    SecretText key = std::move(*make_tls_key());
    const auto request = make_request(key.view(), "test").value();
    const Identity identity{role, base_, id};
    auto certificate =
        issue_certificate(ca_, key_.view(), request, {identity, {}, now_ - 7'200, now_ + until_s});
    EXPECT_TRUE(certificate) << (certificate ? "" : certificate.error().message);
    auto own = read_certificate(*certificate).value();
    return std::make_shared<const TlsFiles>(
        TlsFiles{*certificate, ca_, std::move(key), std::move(own)});
  }

 private:
  std::string base_;
  SecretText key_;
  int64_t now_;
  std::string ca_;
};

inline std::string some_id(PeerRole role) {
  return role == PeerRole::kTruck ? std::string(32, 'a') : "harrow";
}

class OverTls : public ::testing::Test {
 protected:
  OverTls() : authority_("ozzlewick") {
    require_tls13();
    revoked_ = desk_.desk().revoked = std::make_shared<RevokedCertificates>(desk_.folder());
    room_ = std::make_unique<intake::IntakeRoom>(desk_.desk().office, desk_.desk().devices,
                                                 intake::RoomOptions{});
    auto services = make_desk_services(desk_.desk(), pool_);
    services.push_back(intake::make_intake_service(*room_));
    auto server =
        Server::start({"127.0.0.1:0", authority_.files(PeerRole::kBase, "ozzlewick"), {}, revoked_},
                      std::move(services));
    EXPECT_TRUE(server) << (server ? "" : server.error().message);
    server_ = std::move(*server);
  }

  /// Calls with an empty message; the status that came back.
  grpc::Status call(const std::shared_ptr<grpc::Channel>& channel, const std::string& path) {
    grpc::TemplatedGenericStub<grpc::ByteBuffer, grpc::ByteBuffer> stub(channel);
    grpc::ClientContext context;
    context.set_deadline(std::chrono::system_clock::now() + std::chrono::seconds(5));
    const grpc::Slice empty("");
    grpc::ByteBuffer request(&empty, 1), response;
    std::promise<grpc::Status> done;
    stub.UnaryCall(&context, path, grpc::StubOptions(), &request, &response,
                   [&](grpc::Status status) { done.set_value(std::move(status)); });
    return done.get_future().get();
  }
  std::shared_ptr<grpc::Channel> dial(const TlsFiles& files) {
    grpc::ChannelArguments arguments;
    arguments.SetInt(GRPC_ARG_USE_LOCAL_SUBCHANNEL_POOL, 1);
    return uplink::channel_to(server_->address(), &files, arguments);
  }

  SmallDesk desk_;
  Authority authority_;
  std::shared_ptr<RevokedCertificates> revoked_;
  Pool pool_;
  std::unique_ptr<intake::IntakeRoom> room_;
  std::unique_ptr<Server> server_;
};

}  // namespace fairlead::desk

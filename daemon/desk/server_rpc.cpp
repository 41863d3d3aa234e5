#include "daemon/desk/server_rpc.h"

#include <fmt/format.h>
#include <sys/stat.h>

#include <chrono>

#include "daemon/base/address.h"
#include "daemon/desk/access.h"
#include "daemon/intake/peer_rpc.h"

namespace fairlead::desk {
namespace {

constexpr int kLongestMessage = 257 << 20;  // A film of 256 MiB and its words.
constexpr std::chrono::milliseconds kGrace{500};

// Stands before every call on the TLS port, also of methods nobody serves.
class Doorkeeper : public grpc::AuthMetadataProcessor {
 public:
  Doorkeeper(std::string base, std::shared_ptr<RevokedCertificates> revoked)
      : base_(std::move(base)), revoked_(std::move(revoked)) {}
  bool IsBlocking() const override { return false; }
  grpc::Status Process(const InputMetadata& metadata, grpc::AuthContext* connection,
                       OutputMetadata*, OutputMetadata*) override {
    const auto caller = intake::peer_of(*connection);
    if (!caller) return {grpc::StatusCode::UNAUTHENTICATED, caller.error().message};
    if (caller->role == PeerRole::kOwnerLocal || caller->base != base_) {
      return {grpc::StatusCode::UNAUTHENTICATED,
              fmt::format("this certificate is of base '{}', not of '{}'", caller->base, base_)};
    }
    if (revoked_) {
      const auto good = revoked_->check(*caller, intake::certificate_of(*connection));
      if (!good) return {grpc::StatusCode::UNAUTHENTICATED, good.error().message};
    }
    const auto path = metadata.find(":path");
    const std::string method =
        path == metadata.end() ? "" : std::string(path->second.data(), path->second.size());
    if (may_call(caller->role, method)) return grpc::Status::OK;
    return {grpc::StatusCode::PERMISSION_DENIED,
            fmt::format("{} '{}' may not call {}", role_word(caller->role), caller->id, method)};
  }

 private:
  std::string base_;
  std::shared_ptr<RevokedCertificates> revoked_;
};

std::shared_ptr<grpc::ServerCredentials> tls_credentials(const ListenOptions& listen) {
  const TlsFiles& tls = *listen.tls;
  grpc::SslServerCredentialsOptions options(
      GRPC_SSL_REQUEST_AND_REQUIRE_CLIENT_CERTIFICATE_AND_VERIFY);
  options.pem_root_certs = tls.ca;
  options.pem_key_cert_pairs.push_back({std::string(tls.key.view()), tls.certificate});
  auto credentials = grpc::SslServerCredentials(options);
  credentials->SetAuthMetadataProcessor(
      std::make_shared<Doorkeeper>(tls.own.identity.base, listen.revoked));
  return credentials;
}

Status check(const ListenOptions& options) {
  if (!options.tls) return check_local_address(options.address);
  if (is_unix_address(options.address)) {
    return fail(Code::kBadInput,
                options.address + ": certificates are for HOST:PORT; a socket needs none");
  }
  if (options.tls->own.identity.role != PeerRole::kBase) {
    return fail(Code::kBadInput,
                "tls: a base listens with a base's certificate; make it with "
                "fairlead enrol certificate --role base");
  }
  if (!options.local_address.empty()) {
    if (auto ok = check_local_address(options.local_address); !ok) return ok;
  }
  return check_address(options.address);
}

}  // namespace

Result<std::unique_ptr<Server>> Server::start(
    const ListenOptions& options, std::vector<std::unique_ptr<grpc::Service>> services) {
  if (auto ok = check(options); !ok) return std::unexpected(ok.error());
  const std::string& address = options.address;
  std::unique_ptr<Server> server(new Server());
  server->services_ = std::move(services);
  grpc::ServerBuilder builder;
  builder.SetMaxReceiveMessageSize(kLongestMessage);
  // Two daemons on one port would share its callers.
  builder.AddChannelArgument(GRPC_ARG_ALLOW_REUSEPORT, 0);
  int port = 0;
  builder.AddListeningPort(
      address, options.tls ? tls_credentials(options) : grpc::InsecureServerCredentials(), &port);
  if (options.tls && !options.local_address.empty()) {
    builder.AddListeningPort(options.local_address, grpc::InsecureServerCredentials());
  }
  for (const auto& service : server->services_) builder.RegisterService(service.get());
  const mode_t before = ::umask(0077);  // A socket nobody else may open.
  server->server_ = builder.BuildAndStart();
  ::umask(before);
  if (!server->server_ || (port <= 0 && !is_unix_address(address))) {
    return fail(Code::kUnavailable,
                address + ": cannot listen there; another program may hold the address");
  }
  server->address_ = is_unix_address(address)
                         ? address
                         : address.substr(0, address.rfind(':') + 1) + std::to_string(port);
  return server;
}

Server::~Server() {
  if (server_) {
    server_->Shutdown(std::chrono::system_clock::now() + kGrace);
    server_->Wait();
  }
}

}  // namespace fairlead::desk

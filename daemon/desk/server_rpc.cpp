#include "daemon/desk/server_rpc.h"

#include <sys/stat.h>

#include <chrono>

#include "daemon/base/address.h"

namespace fairlead::desk {
namespace {

constexpr int kLongestMessage = 257 << 20;  // A film of 256 MiB and its words.
constexpr std::chrono::milliseconds kGrace{500};

}  // namespace

Result<std::unique_ptr<Server>> Server::start(
    const std::string& address, std::vector<std::unique_ptr<grpc::Service>> services) {
  if (auto ok = check_local_address(address); !ok) return std::unexpected(ok.error());
  std::unique_ptr<Server> server(new Server());
  server->services_ = std::move(services);
  grpc::ServerBuilder builder;
  builder.SetMaxReceiveMessageSize(kLongestMessage);
  // Two daemons on one port would share its callers.
  builder.AddChannelArgument(GRPC_ARG_ALLOW_REUSEPORT, 0);
  int port = 0;
  builder.AddListeningPort(address, grpc::InsecureServerCredentials(), &port);
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

#include "daemon/uplink/dial_rpc.h"

#include "daemon/base/address.h"

namespace fairlead::uplink {

std::shared_ptr<grpc::Channel> channel_to(const std::string& address, const TlsFiles* tls,
                                          grpc::ChannelArguments arguments) {
  if (tls == nullptr || is_unix_address(address)) {
    return grpc::CreateCustomChannel(address, grpc::InsecureChannelCredentials(), arguments);
  }
  require_tls13();
  arguments.SetSslTargetNameOverride(server_name_of(tls->own.identity.base));
  grpc::SslCredentialsOptions options;
  options.pem_root_certs = tls->ca;
  options.pem_private_key = std::string(tls->key.view());
  options.pem_cert_chain = tls->certificate;
  return grpc::CreateCustomChannel(address, grpc::SslCredentials(options), arguments);
}

}  // namespace fairlead::uplink

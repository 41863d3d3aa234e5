// Certificates: what is issued must be good X.509 for somebody else. Source: RFC 5280 as the
// program `openssl verify` applies it; names and refusals are our own.
#include <fcntl.h>
#include <gtest/gtest.h>
#include <spawn.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cstdlib>
#include <ctime>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <sstream>

#include "daemon/base/crypto_certificate.h"
#include "daemon/base/key_file.h"
#include "daemon/base/profile.h"
#include "daemon/base/tls_files.h"

namespace fairlead {
namespace {

class Certificates : public ::testing::Test {
 protected:
  Certificates() {
    std::string name = (std::filesystem::temp_directory_path() / "fairlead-tls-XXXXXX").string();
    folder_ = mkdtemp(name.data());
    ca_key_ = std::make_unique<SecretText>(std::move(*make_tls_key()));
    ca_ = make_authority(ca_key_->view(), "ozzlewick", now_).value();
    write("ca.crt", ca_);
  }
  ~Certificates() override { std::filesystem::remove_all(folder_); }

  void write(const std::string& name, std::string_view text) {
    ASSERT_TRUE(write_private_file(folder_ / name, text));
  }
  /// tls.crt and tls.key in the folder.
  TlsPaths make(const Identity& identity, int64_t from_s, int64_t until_s,
                const std::vector<std::string>& hosts = {}) {
    const auto key = make_tls_key();
    const auto request = make_request(key->view(), "x");
    const auto issued = issue_certificate(ca_, ca_key_->view(), *request,
                                          {identity, hosts, now_ + from_s, now_ + until_s});
    EXPECT_TRUE(issued) << (issued ? "" : issued.error().message);
    write("tls.crt", *issued);
    write("tls.key", key->view());
    return {folder_ / "tls.crt", folder_ / "tls.key", folder_ / "ca.crt"};
  }
  /// Runs `openssl WORDS` in the folder; its exit code.
  int openssl(const std::string& words) {
    std::istringstream in("openssl " + words);
    std::vector<std::string> parts{std::istream_iterator<std::string>(in), {}};
    std::vector<char*> arguments;
    for (std::string& part : parts) arguments.push_back(part.data());
    arguments.push_back(nullptr);
    posix_spawn_file_actions_t actions;
    posix_spawn_file_actions_init(&actions);
    posix_spawn_file_actions_addchdir_np(&actions, folder_.c_str());
    posix_spawn_file_actions_addopen(&actions, 1, "out.txt", O_WRONLY | O_CREAT | O_TRUNC, 0600);
    posix_spawn_file_actions_adddup2(&actions, 1, 2);
    pid_t child = 0;
    int status = -1;
    const int failed =
        ::posix_spawnp(&child, "openssl", &actions, nullptr, arguments.data(), environ);
    posix_spawn_file_actions_destroy(&actions);
    return failed != 0 || ::waitpid(child, &status, 0) != child ? -1 : status;
  }
  std::string output() {
    std::ifstream in(folder_ / "out.txt");
    return {std::istreambuf_iterator<char>(in), {}};
  }
  static std::string words(const Result<std::shared_ptr<const TlsFiles>>& files) {
    return files ? "accepted" : files.error().message;
  }

  std::filesystem::path folder_;
  int64_t now_ = std::time(nullptr);
  std::unique_ptr<SecretText> ca_key_;
  std::string ca_;
};

const Identity kInsurer{PeerRole::kInsurer, "ozzlewick", "harrow"};
const Identity kBase{PeerRole::kBase, "ozzlewick", "ozzlewick"};

TEST_F(Certificates, AnotherProgramAcceptsThem) {
  make(kInsurer, 0, 86'400);
  EXPECT_EQ(openssl("verify -x509_strict -CAfile ca.crt -purpose sslclient tls.crt"), 0)
      << output();
  EXPECT_NE(openssl("verify -CAfile ca.crt -purpose sslserver tls.crt"), 0) << output();
  EXPECT_EQ(openssl("x509 -in tls.crt -noout -ext subjectAltName"), 0);
  EXPECT_NE(output().find("URI:fairlead://ozzlewick/insurer/harrow"), std::string::npos)
      << output();
  make(kBase, 0, 86'400, {"lot.example", "192.0.2.7"});
  EXPECT_EQ(openssl("verify -x509_strict -CAfile ca.crt -purpose sslserver -verify_hostname "
                    "ozzlewick.fairlead tls.crt"),
            0)
      << output();
  EXPECT_EQ(openssl("verify -CAfile ca.crt -verify_ip 192.0.2.7 tls.crt"), 0) << output();
  EXPECT_EQ(openssl("verify -CAfile ca.crt -verify_hostname lot.example tls.crt"), 0) << output();
  EXPECT_NE(openssl("verify -CAfile ca.crt -purpose sslclient tls.crt"), 0) << output();
}

TEST_F(Certificates, FilesThatDoNotFitAreNamedInWords) {
  const auto good = make(kInsurer, 0, 86'400);
  EXPECT_EQ(words(load_tls_files(good)), "accepted");
  EXPECT_NE(words(load_tls_files(make(kInsurer, -20'000, -7'200))).find("expired on"),
            std::string::npos);
  EXPECT_NE(words(load_tls_files(make(kInsurer, 40'000, 80'000))).find("not valid before"),
            std::string::npos);
  const auto paths = make(kInsurer, 0, 86'400);
  ASSERT_EQ(::chmod(paths.key.c_str(), 0640), 0);
  EXPECT_NE(words(load_tls_files(paths)).find("chmod 600"), std::string::npos);
  write("tls.key", make_tls_key()->view());
  EXPECT_NE(words(load_tls_files(paths)).find("is not the key"), std::string::npos);
  make(kInsurer, 0, 86'400);
  write("ca.crt", make_authority(make_tls_key()->view(), "ozzlewick", now_).value());
  EXPECT_NE(words(load_tls_files(paths)).find("did not issue"), std::string::npos);
  write("ca.crt", "hello");
  EXPECT_NE(words(load_tls_files(paths)).find("no certificate in PEM"), std::string::npos);
  EXPECT_NE(words(load_tls_files({paths.certificate, paths.key, {}})).find("ca is missing"),
            std::string::npos);
}

TEST_F(Certificates, OnlyTheOwnAuthorityIssues) {
  const auto request = make_request(make_tls_key()->view(), "x").value();
  const Grant grant{kInsurer, {}, now_, now_ + 60};
  EXPECT_FALSE(issue_certificate(ca_, make_tls_key()->view(), request, grant));
  EXPECT_FALSE(issue_certificate(ca_, ca_key_->view(), "hello", grant));
  Grant other = grant;
  other.identity.base = "elsewhere";
  EXPECT_FALSE(issue_certificate(ca_, ca_key_->view(), request, other));
  Grant host = grant;
  host.identity = kBase;
  host.hosts = {"a,URI:fairlead://ozzlewick/owner/me"};
  EXPECT_FALSE(issue_certificate(ca_, ca_key_->view(), request, host));
}

TEST(Identity, OneSpellingOnly) {
  const Identity truck{PeerRole::kTruck, "lot.example", std::string(32, '7')};
  EXPECT_EQ(parse_identity(format_identity(truck)).value(), truck);
  for (const char* bad :
       {"", "fairlead://a/owner", "fairlead://a/owner-local/b", "fairlead://a/boss/b",
        "fairlead:///owner/b", "fairlead://a/owner/", "fairlead://a/owner/b/c",
        "fairlead://a/truck/b", "https://a/owner/b", "fairlead://a b/owner/c"}) {
    EXPECT_FALSE(parse_identity(bad)) << bad;
  }
}

TEST_F(Certificates, AProfileIsReadAsItIsWritten) {
  write("profile.toml", format_profile("lot.example:7400"));
  const auto profile = load_profile(folder_ / "profile.toml");
  ASSERT_TRUE(profile) << profile.error().message;
  EXPECT_EQ(profile->base, "lot.example:7400");
  EXPECT_EQ(profile->tls.key, folder_ / "tls.key");
  write("profile.toml", "base = \"lot.example:7400\"\npassword = \"x\"\n");
  EXPECT_NE(load_profile(folder_ / "profile.toml").error().message.find(":2: password"),
            std::string::npos);
}

}  // namespace
}  // namespace fairlead

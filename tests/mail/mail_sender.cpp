// Sends one mail with files through daemon/desk/smtp: mail_sender SERVER FROM TO CA TLS USER
// PASSWORD_FILE FILE... ("-" = empty). Exit 0 taken; 10 may go better later; 11 refused for good;
// 12 settings. The words go to standard error.
#include <cstdio>
#include <fstream>
#include <iterator>

#include "daemon/desk/smtp.h"

int main(int argc, char** argv) {
  using namespace fairlead;
  if (argc < 8) return 2;
  const auto text = [&](int i) { return std::string(argv[i]) == "-" ? "" : std::string(argv[i]); };
  MailConfig config;
  config.server = text(1);
  config.from = text(2);
  config.ca = text(4);
  config.tls = text(5) != "off";
  config.user = text(6);
  config.password_file = text(7);
  desk::Mail mail;
  mail.to = {text(3), "second@example.org"};
  mail.subject = "Compliance summary\r\nBcc: everybody@example.org";
  mail.text = "The summary is attached.\n.\nA line with a dot above. Gr\u00fc\u00dfe.\n";
  mail.id = "insurer-20270101-20270401.0123456789abcdef@fairlead";
  mail.date_us = 1'806'000'000'000'000;  // 2027-03-25T18:40:00Z
  for (int i = 8; i < argc; ++i) {
    std::ifstream in(argv[i], std::ios::binary);
    const std::string path = argv[i];
    mail.files.push_back({path.substr(path.rfind('/') + 1), "application/octet-stream",
                          std::string(std::istreambuf_iterator<char>(in), {})});
  }
  const auto sent = desk::send_mail(config, mail);
  if (sent) return 0;
  std::fprintf(stderr, "%s\n", sent.error().message.c_str());
  return sent.error().code == Code::kUnavailable ? 10
         : sent.error().code == Code::kDenied    ? 11
                                                 : 12;
}

// Which programs may be started, and how a child is set up: behaviour of POSIX calls (posix_spawn,
// setpgid, waitid), seen from inside the child with tools of the base system.
#include "daemon/sensors/process.h"

#include <fcntl.h>
#include <gtest/gtest.h>
#include <poll.h>
#include <signal.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <cstdlib>
#include <filesystem>
#include <fstream>

namespace fairlead::sensors {
namespace {

namespace fs = std::filesystem;

class ProcessTest : public testing::Test {
 protected:
  void SetUp() override {
    std::string name = (fs::temp_directory_path() / "fairlead-process-XXXXXX").string();
    ASSERT_NE(mkdtemp(name.data()), nullptr);
    dir_ = name;
  }
  void TearDown() override { fs::remove_all(dir_); }

  fs::path program(const std::string& name, mode_t mode) {
    fs::path path = dir_ / name;
    std::ofstream(path) << "#!/bin/sh\nexit 0\n";
    chmod(path.c_str(), mode);
    return path;
  }

  // All it prints until it ends, and how it ended.
  static std::string output_of(Process& process, std::string& end) {
    std::string text;
    for (int i = 0; i < 500; ++i) {
      usleep(10'000);
      std::array<char, 512> buffer{};
      ssize_t got = 0;
      while ((got = read(process.output_fd(), buffer.data(), buffer.size())) > 0) {
        text.append(buffer.data(), static_cast<size_t>(got));
      }
      if (process.reap(end)) break;
    }
    return text;
  }

  fs::path dir_;
};

TEST_F(ProcessTest, RefusesWhatOthersMayWrite) {
  EXPECT_TRUE(trusted_program(program("good", 0755)));
  auto shared = trusted_program(program("shared", 0757));
  ASSERT_FALSE(shared);
  EXPECT_EQ(shared.error().code, Code::kDenied);
  EXPECT_NE(shared.error().message.find("anyone may write there; chmod o-w it"), std::string::npos);
}

TEST_F(ProcessTest, RefusesAFolderOthersMayWrite) {
  fs::create_directory(dir_ / "open");
  fs::path inside = program("open/tool", 0755);
  chmod((dir_ / "open").c_str(), 0777);
  auto refused = trusted_program(inside);
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().code, Code::kDenied);
  // A link into it is seen through.
  fs::create_symlink(inside, dir_ / "link");
  EXPECT_FALSE(trusted_program(dir_ / "link"));
}

TEST_F(ProcessTest, RefusesWhatIsNoProgram) {
  EXPECT_EQ(trusted_program(dir_ / "absent").error().code, Code::kNotFound);
  EXPECT_EQ(trusted_program(program("text", 0644)).error().code, Code::kDenied);
  EXPECT_EQ(trusted_program(dir_).error().code, Code::kDenied);
}

TEST_F(ProcessTest, ChildInheritsNothingAndLeadsAGroup) {
  int leaked = open("/dev/null", O_RDONLY);  // No close-on-exec: spawn has to see to it.
  auto process = Process::spawn("/bin/sh", {"-c",
                                            "ls /proc/$$/fd; cut -d' ' -f5 /proc/$$/stat; "
                                            "env | cut -d= -f1 | sort | tr '\\n' ' '"});
  ASSERT_TRUE(process) << process.error().message;
  std::string pid = std::to_string(process->pid());
  std::string end;
  std::string text = output_of(*process, end);
  close(leaked);
  EXPECT_EQ(end, "exit status 0");
  // No pipe while the shell lists itself: it would hold the pipe's ends for a moment.
  EXPECT_EQ(text.substr(0, 6), "0\n1\n2\n") << "stdin, stdout, stderr only: " << text;
  EXPECT_NE(text.find("\n" + pid + "\n"), std::string::npos) << "its own process group";
  EXPECT_NE(text.find("LANG PATH PWD"), std::string::npos) << text;
  EXPECT_EQ(text.find("HOME"), std::string::npos);
}

TEST_F(ProcessTest, TheWholeGroupGoes) {
  auto process = Process::spawn("/bin/sh", {"-c", "sleep 600 & echo $!; wait"});
  ASSERT_TRUE(process);
  std::array<char, 32> buffer{};
  pollfd fd{process->output_fd(), POLLIN, 0};
  ASSERT_EQ(poll(&fd, 1, 5000), 1);
  ASSERT_GT(read(process->output_fd(), buffer.data(), buffer.size() - 1), 0);
  pid_t grandchild = std::atoi(buffer.data());
  ASSERT_GT(grandchild, 0);
  process->signal_group(SIGKILL);
  std::string end;
  output_of(*process, end);
  EXPECT_EQ(end, "killed by signal 9");
  // The grandchild is reaped by init (or left a zombie where there is none): it does not run.
  bool gone = false;
  for (int i = 0; i < 200 && !gone; ++i) {
    std::ifstream stat("/proc/" + std::to_string(grandchild) + "/stat");
    std::string id, name, state;
    gone = !(stat >> id >> name >> state) || state == "Z";
    if (!gone) usleep(10'000);
  }
  EXPECT_TRUE(gone);
}

}  // namespace
}  // namespace fairlead::sensors

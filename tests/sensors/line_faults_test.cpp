// The line plugin with lines that are noisy, cut or slow, and with coils to switch, against a real
// Modbus server (libmodbus). A frame's CRC-16 lets one of 65,536 random damages through (Modbus
// over Serial Line V1.02); the damages below are of known kinds that it finds for certain (a burst
// of 16 bits or less, any CRC-16).
#include <fcntl.h>
#include <gtest/gtest.h>
#include <netinet/in.h>
#include <poll.h>
#include <pty.h>
#include <signal.h>
#include <sys/socket.h>
#include <termios.h>
#include <unistd.h>

#include <array>
#include <random>
#include <set>

#include "tests/sensors/harness.h"
#include "tests/sensors/modbus_device.h"

namespace fairlead::test {
namespace {

using namespace std::chrono_literals;

// Two pseudo-terminals joined by a thread that may damage what passes: in one of `one_in` chunks up
// to two neighbouring bytes are changed.
class NoisyPair {
 public:
  explicit NoisyPair(unsigned seed) : random_(seed) {
    for (Side& side : sides_) {
      char name[128];
      EXPECT_EQ(openpty(&side.master, &side.slave, name, nullptr, nullptr), 0);
      termios raw{};
      tcgetattr(side.slave, &raw);
      cfmakeraw(&raw);
      tcsetattr(side.slave, TCSANOW, &raw);
      side.name = name;
    }
    thread_ = std::thread([this] { run(); });
  }
  ~NoisyPair() {
    ending_ = true;
    thread_.join();
    for (Side& side : sides_) {
      close(side.master);
      close(side.slave);
    }
  }
  [[nodiscard]] const std::string& name(size_t side) const { return sides_[side].name; }
  void set_one_in(int one_in) { one_in_ = one_in; }
  [[nodiscard]] int damaged() const { return damaged_; }

 private:
  struct Side {
    int master = -1, slave = -1;
    std::string name;
  };

  void run() {
    std::array<pollfd, 2> fds{pollfd{sides_[0].master, POLLIN, 0},
                              pollfd{sides_[1].master, POLLIN, 0}};
    while (!ending_) {
      poll(fds.data(), fds.size(), 50);
      for (size_t i = 0; i < 2; ++i) {
        if ((fds[i].revents & POLLIN) == 0) continue;
        std::array<char, 512> buffer;
        ssize_t got = read(fds[i].fd, buffer.data(), buffer.size());
        if (got <= 0) continue;
        if (one_in_ > 0 && random_() % static_cast<unsigned>(one_in_) == 0) {
          damage(buffer.data(), static_cast<size_t>(got));
        }
        EXPECT_EQ(write(fds[1 - i].fd, buffer.data(), static_cast<size_t>(got)), got);
      }
    }
  }

  void damage(char* bytes, size_t size) {
    size_t at = random_() % size;
    bytes[at] = static_cast<char>(bytes[at] ^ static_cast<char>(1 + random_() % 255));
    if (at + 1 < size)
      bytes[at + 1] = static_cast<char>(bytes[at + 1] ^ static_cast<char>(random_()));
    ++damaged_;
  }

  std::array<Side, 2> sides_;
  std::minstd_rand random_;
  std::atomic<int> one_in_ = 0, damaged_ = 0;
  std::atomic<bool> ending_ = false;
  std::thread thread_;
};

std::string tcp_link(int port) {
  return "period_ms = 20\n[link]\nkind = \"tcp\"\nhost = \"127.0.0.1\"\nport = " +
         std::to_string(port) + "\ndeadline_ms = 200\n";
}

const char* const kPull =
    "[[register]]\nsignal = \"line.pull\"\nunit = \"N\"\nkind = \"input\"\naddress = 0\n"
    "type = \"float32\"\n";

sensors::PluginSpec line_plugin(const std::string& config) {
  return {.id = "winch", .program = FAIRLEAD_PLUGIN_LINE, .settings_toml = config};
}

TEST(LineFaultsTest, NoiseOnASerialLineCostsReadingsAndNeverGivesAWrongOne) {
  NoisyPair line(17);
  ModbusDevice device(line.name(1));
  device.set(0, 0x449A);  // 1234.5
  device.set(1, 0x5000);
  Host host({line_plugin("period_ms = 10\n[link]\nkind = \"rtu\"\ndevice = \"" + line.name(0) +
                         "\"\nbaud = 115200\nparity = \"none\"\ndeadline_ms = 50\n" + kPull)});
  auto values = [&] { return host.seen.values("line", "line.pull"); };
  ASSERT_TRUE(eventually([&] { return values().size() > 20; })) << host.log();
  line.set_one_in(6);
  std::this_thread::sleep_for(6s);
  int damaged = line.damaged();
  line.set_one_in(0);
  EXPECT_GT(damaged, 20);
  size_t noisy = values().size();
  EXPECT_TRUE(eventually([&] { return values().size() > noisy + 50; }, 5s)) << "back to work";
  for (double v : values()) ASSERT_EQ(v, 1234.5);
  EXPECT_TRUE(host.seen.has_gap("line", "register 0:")) << "what was lost is said";
  EXPECT_EQ(host.health_of("winch").starts, 1);
  std::printf("%d damaged chunks, %zu readings in the noise\n", damaged, noisy);
}

// A device that dribbles its answer byte by byte: the deadline holds for the whole of it.
TEST(LineFaultsTest, ADribbledAnswerIsOverAtTheDeadline) {
  int port = 0;
  int listener = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
  {
    ModbusDevice taken;
    port = taken.port();
  }
  sockaddr_in address{};
  address.sin_family = AF_INET;
  address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  address.sin_port = htons(static_cast<uint16_t>(port));
  int yes = 1;
  setsockopt(listener, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes);
  ASSERT_EQ(bind(listener, reinterpret_cast<sockaddr*>(&address), sizeof address), 0);
  ASSERT_EQ(listen(listener, 4), 0);
  std::atomic<bool> ending = false;
  std::atomic<int> connections = 0;
  std::thread dribbler([&] {
    while (!ending) {
      pollfd fd{listener, POLLIN, 0};
      if (poll(&fd, 1, 50) <= 0) continue;
      int client = accept(listener, nullptr, nullptr);
      ++connections;
      char request[260];
      if (read(client, request, sizeof request) > 0) {
        // The answer it should be: two registers of unit 1.
        const char answer[] = {request[0], request[1], 0, 0, 0, 7, 1, 4, 4, 0x44, 0x1A, 0x50, 0};
        for (char byte : answer) {
          if (ending || send(client, &byte, 1, MSG_NOSIGNAL) != 1) break;
          std::this_thread::sleep_for(100ms);
        }
      }
      close(client);
    }
  });
  Host host({line_plugin(tcp_link(port) + kPull)});
  EXPECT_TRUE(eventually([&] { return connections >= 3; }, 8s)) << "it gave up and dialled again";
  EXPECT_TRUE(host.seen.values("line", "line.pull").empty());
  EXPECT_TRUE(host.seen.has_gap("line", "timed out")) << host.log();
  EXPECT_EQ(host.health_of("winch").starts, 1) << "the heartbeat went on";
  ending = true;
  dribbler.join();
  close(listener);
}

TEST(LineFaultsTest, ACutSerialLineComesBackUnderItsName) {
  TempDir dir;
  std::string near = (dir.path() / "near").string(), far = (dir.path() / "far").string();
  auto pair = [&] {
    return std::make_unique<Program>(
        "/usr/bin/socat",
        std::vector<std::string>{"pty,raw,echo=0,link=" + near, "pty,raw,echo=0,link=" + far});
  };
  auto cable = pair();
  ASSERT_TRUE(eventually([&] { return std::filesystem::exists(far); }));
  auto device = std::make_unique<ModbusDevice>(far);
  Host host({line_plugin("period_ms = 20\n[link]\nkind = \"rtu\"\ndevice = \"" + near +
                         "\"\ndeadline_ms = 100\n" + kPull)});
  auto count = [&] { return host.seen.values("line", "line.pull").size(); };
  ASSERT_TRUE(eventually([&] { return count() > 10; })) << host.log();
  cable->kill(SIGKILL);
  device.reset();
  EXPECT_TRUE(eventually([&] { return host.seen.has_gap("line", ""); }, 3s));
  size_t before = count();
  std::filesystem::remove(near);
  std::filesystem::remove(far);
  cable = pair();
  ASSERT_TRUE(eventually([&] { return std::filesystem::exists(far); }));
  device = std::make_unique<ModbusDevice>(far);
  EXPECT_TRUE(eventually([&] { return count() > before + 10; }, 5s)) << host.log();
  EXPECT_EQ(host.health_of("winch").starts, 1);
}

TEST(LineFaultsTest, ContactsAndOtherSignalsAreOneTableEach) {
  ModbusDevice device;
  device.set_input(3, true);
  device.set(5, 0x0004);
  Host host({line_plugin(tcp_link(device.port()) +
                         "[[register]]\nsignal = \"clamp.pos.contact\"\nunit = \"1\"\n"
                         "kind = \"discrete\"\naddress = 3\n"
                         "[[register]]\nsignal = \"clamp.neg.contact\"\nunit = \"1\"\n"
                         "kind = \"holding\"\naddress = 5\ntype = \"bit\"\nbit = 2\n"
                         "[[register]]\nsignal = \"deck.accel_x\"\nunit = \"m/s2\"\n"
                         "kind = \"input\"\naddress = 7\ntype = \"int16\"\nscale = 0.01\n")});
  auto last = [&](const char* source, const char* signal) {
    auto values = host.seen.values(source, signal);
    return values.empty() ? -1 : values.back();
  };
  EXPECT_TRUE(eventually([&] { return last("clamp", "clamp.pos.contact") == 1; })) << host.log();
  EXPECT_EQ(last("clamp", "clamp.neg.contact"), 1);
  device.set_input(3, false);
  device.set(5, 0);
  device.set(7, 0xFF9C);
  EXPECT_TRUE(eventually([&] { return last("clamp", "clamp.pos.contact") == 0; }));
  EXPECT_TRUE(eventually([&] { return last("clamp", "clamp.neg.contact") == 0; }));
  EXPECT_TRUE(eventually([&] { return last("deck", "deck.accel_x") == -1.0; }));
}

const char* const kOutputs =
    "[[output]]\noutput = \"buzzer\"\ncoil = 4\n[[output]]\noutput = \"lamp\"\ncoil = 5\n";

TEST(LineFaultsTest, CoilsAreSwitchedForTheirTimeAndAnswered) {
  ModbusDevice device;
  Host host({line_plugin(tcp_link(device.port()) + kPull + kOutputs)});
  ASSERT_TRUE(eventually([&] { return !host.seen.values("line", "line.pull").empty(); }));
  Lateness late;
  auto start = std::chrono::steady_clock::now();
  EXPECT_EQ(host.supervisor().command("buzzer", true, 400), 1);
  EXPECT_EQ(host.supervisor().command("siren", true, 400), 0) << "nobody has it";
  ASSERT_TRUE(eventually([&] { return device.coil(4); }, 1s)) << host.log();
  EXPECT_LT(std::chrono::steady_clock::now() - start, late.stretched(300ms));
  EXPECT_FALSE(device.coil(5));
  EXPECT_TRUE(eventually([&] { return host.seen.has_state("winch", "on"); }, 1s));
  ASSERT_TRUE(eventually([&] { return !device.coil(4); }, 2s)) << "off by itself";
  EXPECT_GE(std::chrono::steady_clock::now() - start, 350ms);
}

TEST(LineFaultsTest, EverythingIsOffWhenThePluginEnds) {
  ModbusDevice device;
  Host host({line_plugin(tcp_link(device.port()) + kOutputs)});
  ASSERT_TRUE(eventually([&] { return host.supervisor().command("lamp", true, 0) == 1; }));
  ASSERT_TRUE(eventually([&] { return device.coil(5); }, 2s)) << host.log();
  host.supervisor().stop();
  EXPECT_FALSE(device.coil(5));
}

TEST(LineFaultsTest, AnOffThatCouldNotBeDoneIsDoneLater) {
  ModbusDevice device;
  Host host({line_plugin(tcp_link(device.port()) + kPull + kOutputs)});
  ASSERT_TRUE(eventually([&] { return !host.seen.values("line", "line.pull").empty(); }));
  host.supervisor().command("buzzer", true, 1000);
  ASSERT_TRUE(eventually([&] { return device.coil(4); }));
  device.set_silent(true);
  std::this_thread::sleep_for(2s);
  EXPECT_TRUE(device.coil(4)) << "nobody listened";
  device.set_silent(false);
  EXPECT_TRUE(eventually([&] { return !device.coil(4); }, 3s)) << host.log();
}

}  // namespace
}  // namespace fairlead::test

// fairlead-sim: instruments that are not there. Command line only; the work is beside.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <cstdio>
#include <string>
#include <vector>

#include "clients/sim/modbus_server.h"
#include "clients/sim/nmea_feeder.h"
#include "clients/sim/profile.h"

namespace {

using fairlead::Status;
namespace sim = fairlead::sim;

struct NmeaCommand {
  std::string profile;
  std::vector<double> origin{0, 0};
  sim::Noise noise;
  sim::FeederOptions feeder;

  void describe(CLI::App& app) {
    app.add_option("--profile", profile,
                   "text file of SECONDS NAME VALUE lines; names: speed (m/s), course (deg)")
        ->required();
    app.add_option("--port", feeder.port, "TCP port on 127.0.0.1; 0 takes a free one")
        ->check(CLI::Range(0, 65535));
    app.add_option("--origin", origin, "start, degrees: LAT LON")->expected(2);
    app.add_option("--rate", feeder.rate_hz, "epochs a second")->check(CLI::Range(0.1, 20.0));
    app.add_option("--seed", noise.seed, "seed of the noise");
    app.add_option("--noise", noise.position_sd_m, "sd of each position axis, m")
        ->check(CLI::Range(0.0, 1000.0));
    app.add_option("--noise-tau", noise.position_tau_s, "how long a position error lasts, s")
        ->check(CLI::Range(0.1, 3600.0));
    app.add_option("--noise-speed", noise.speed_sd_mps, "sd of the speed, m/s")
        ->check(CLI::Range(0.0, 100.0));
    app.add_flag("--once", feeder.once, "end when the profile is over");
    app.footer(
        "Example: fairlead-sim nmea --profile drive.txt --port 4001 --noise 1.5\n"
        "         gpsd -N tcp://127.0.0.1:4001");
  }

  [[nodiscard]] Status run() const {
    auto loaded = sim::Profile::load(profile);
    if (!loaded) return std::unexpected(loaded.error());
    if (!loaded->has("speed")) {
      return fairlead::fail(fairlead::Code::kBadInput,
                            profile + ": no line for speed; write SECONDS speed VALUE");
    }
    double length_s = loaded->length_s();
    sim::Track track(std::move(*loaded), origin[0], origin[1], noise);
    return sim::feed_nmea(std::move(track), length_s, feeder);
  }
};

struct ModbusCommand {
  std::string profile;
  sim::ModbusOptions options;

  void describe(CLI::App& app) {
    app.add_option("--profile", profile,
                   "text file of SECONDS NAME VALUE lines; names: the signals below")
        ->required();
    auto* port = app.add_option("--port", options.port, "TCP port on 127.0.0.1; 0 takes a free one")
                     ->check(CLI::Range(0, 65535));
    app.add_option("--serial", options.serial, "RTU on this serial device (19200 8E1) instead")
        ->excludes(port);
    app.add_option("--unit-id", options.unit_id, "Modbus unit id, RTU")->check(CLI::Range(1, 247));
    std::string places =
        "float32, high word first (word_order abcd), two registers each, input and holding:\n";
    for (const sim::Place& place : sim::register_places()) {
      places += fmt::format("  {:>2}  {}\n", place.address, place.signal);
    }
    app.footer(places + "Example: fairlead-sim modbus --profile winch.txt --port 1502");
  }

  [[nodiscard]] Status run() const {
    auto loaded = sim::Profile::load(profile);
    if (!loaded) return std::unexpected(loaded.error());
    return sim::serve_modbus(*loaded, options);
  }
};

}  // namespace

int main(int argc, char** argv) {
  CLI::App app("Simulated instruments for trying Fairlead without hardware", "fairlead-sim");
  app.require_subcommand(1);
  NmeaCommand nmea;
  nmea.feeder.port = 0;
  CLI::App* nmea_app = app.add_subcommand("nmea", "a GNSS receiver on a TCP port, for gpsd");
  nmea.describe(*nmea_app);
  ModbusCommand modbus;
  CLI::App* modbus_app = app.add_subcommand("modbus", "a Modbus device with load cell and more");
  modbus.describe(*modbus_app);
  CLI11_PARSE(app, argc, argv);
  Status done = nmea_app->parsed() ? nmea.run() : modbus.run();
  if (!done) {
    fmt::print(stderr, "fairlead-sim: {}\n", done.error().message);
    return 1;
  }
  return 0;
}

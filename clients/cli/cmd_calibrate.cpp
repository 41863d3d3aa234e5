#include "clients/cli/cmd_calibrate.h"

#include <fmt/format.h>

#include <charconv>
#include <cmath>
#include <iostream>
#include <thread>

#include "clients/cli/base_call.h"
#include "clients/cli/ending.h"
#include "clients/cli/sensors_text.h"
#include "daemon/base/time_text.h"
#include "daemon/base/units.h"
#include "daemon/physics/calibration.h"
#include "fairlead/v1/sensors_service.grpc.pb.h"

namespace fairlead::cli {
namespace {

constexpr std::chrono::seconds kTimeout{10};
constexpr double kStandardGravity = 9.80665;  // m/s2, CGPM 1901.
constexpr size_t kFewest = 10;

struct Arguments {
  std::string base, channel, source, certificate, date, load, low, card;
  unsigned seconds = 3;
  bool zero_only = false;
};

class Walk {
 public:
  explicit Walk(const Arguments& a)
      : a_(a), stub_(v1::SensorsService::NewStub(channel_to(a.base))) {}

  Status run() {
    auto view = look();
    if (!view) return std::unexpected(view.error());
    if (auto now = physics::calibration_from_text(view->calibration())) in_force_ = *now;
    unit_ = view->unit();
    auto low = load(a_.low.empty() ? "0" : a_.low);
    if (!low) return std::unexpected(low.error());
    std::cout << "The maker's guides of the load cell and of the weight go first.\n"
                 "Nobody under the load or in line with it.\n";
    auto first =
        point(low->second == 0 ? "Take all load off" : "Put on " + low->first, low->second);
    if (!first) return std::unexpected(first.error());
    auto found = a_.zero_only ? zero(*first) : span(*first);
    if (!found) return std::unexpected(found.error());
    return record(*found);
  }

 private:
  using Point = physics::CalibrationPoint;
  using Found = physics::Calibration;

  Result<v1::SensorView> look() {
    v1::GetSensorsRequest request;
    request.set_source(a_.source);
    request.set_channel(a_.channel);
    v1::GetSensorsResponse response;
    auto done = call_base(a_.base, kTimeout, [&](auto& context) {
      return stub_->GetSensors(&context, request, &response);
    });
    if (!done) return std::unexpected(done.error());
    for (const auto& view : response.sensor()) {
      if (view.source() == a_.source && view.channel() == a_.channel) return view;
    }
    return fail(Code::kNotFound, fmt::format("{} of {}: not heard; see fairlead watch sensors",
                                             a_.channel, a_.source));
  }

  // "500 kg" as a weight, "5 kN", or a plain number in the channel's unit; with the text to show.
  Result<std::pair<std::string, double>> load(const std::string& text) {
    double plain = 0;
    auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), plain);
    if (error == std::errc() && end == text.data() + text.size()) {
      return std::pair{fmt::format("{} {}", text, unit_), plain};
    }
    const auto as_double = [](const Rational& r) {
      return static_cast<double>(r.num) / static_cast<double>(r.den);
    };
    if (unit_ == "N") {
      if (auto force = parse_quantity(text, Dimension::kForce))
        return std::pair{text, as_double(force->stored)};
      if (auto mass = parse_quantity(text, Dimension::kMass))
        return std::pair{text, as_double(mass->stored) / 1000 * kStandardGravity};
    }
    return fail(Code::kBadInput,
                fmt::format("--load: \"{}\" is not understood; give a number in {}{}", text, unit_,
                            unit_ == "N" ? ", \"5 kN\" or \"500 kg\"" : ""));
  }

  // The instrument's own readings over some seconds, the calibration in force taken out again.
  Result<Point> point(const std::string& what, double load) {
    std::cout << fmt::format("{}, let it come to rest, and press Enter. ", what) << std::flush;
    std::string enter;
    if (!std::getline(std::cin, enter))
      return fail(Code::kBadInput, "calibration: ended before it was done; nothing is recorded");
    auto before = look();
    if (!before) return std::unexpected(before.error());
    const int64_t from_us =
        before->sample().empty() ? 0 : before->sample(before->sample_size() - 1).wall_us();
    std::this_thread::sleep_for(std::chrono::seconds(a_.seconds));
    auto view = look();
    if (!view) return std::unexpected(view.error());
    std::vector<double> readings;
    for (const v1::SensorSample& s : view->sample()) {
      if (s.wall_us() <= from_us) continue;
      if (s.quality() != v1::Quality::GOOD)
        return fail(Code::kBadInput, "calibration: a reading was not good; see the wiring first");
      readings.push_back(physics::uncalibrated(in_force_, s.value()));
    }
    if (readings.size() < kFewest || !view->gap().empty())
      return fail(Code::kBadInput,
                  fmt::format("calibration: {} readings in {} s are too few; see fairlead watch "
                              "sensors, or take more --seconds",
                              readings.size(), a_.seconds));
    return mean(readings, load);
  }

  Point mean(const std::vector<double>& readings, double load) {
    double sum = 0, squares = 0;
    for (double r : readings) sum += r;
    const double count = static_cast<double>(readings.size());
    for (double r : readings) squares += (r - sum / count) * (r - sum / count);
    Point out{load, sum / count, std::sqrt(squares / (count - 1))};
    std::cout << fmt::format("  {} readings: {:.6g}, sd {:.3g} {}\n", readings.size(), out.reading,
                             out.reading_sd, unit_);
    words_ += fmt::format("{}{:.6g} {} read as {:.6g} (sd {:.3g}, {} readings)",
                          words_.empty() ? "" : ", ", load, unit_, out.reading, out.reading_sd,
                          readings.size());
    return out;
  }

  Result<Found> zero(const Point& low) {
    Found found = in_force_;
    found.zero = low.reading - low.load / found.span;
    return found;
  }

  Result<Found> span(const Point& low) {
    auto high = load(a_.load);
    if (!high) return std::unexpected(high.error());
    auto second = point("Put on " + high->first, high->second);
    if (!second) return std::unexpected(second.error());
    return physics::two_point(low, *second);
  }

  Status record(Found found) {
    found.certificate = a_.certificate;
    found.date = a_.date.empty() ? format_time_us(wall_us()).substr(0, 10) : a_.date;
    v1::RecordCalibrationRequest request;
    request.set_source(a_.source);
    request.set_channel(a_.channel);
    request.set_calibration(physics::calibration_text(found));
    request.set_words(words_);
    request.set_operator_(a_.card);
    v1::RecordCalibrationResponse response;
    auto done = call_base(a_.base, kTimeout, [&](auto& context) {
      return stub_->RecordCalibration(&context, request, &response);
    });
    if (!done) return done;
    std::cout << fmt::format(
        "On record (entry {}). Put this under the register of {}\n"
        "in the truck's settings, in place of any calibration there, and start the daemon\nagain:\n"
        "calibration = {{ certificate = \"{}\", date = \"{}\", zero = {}, span = {} }}\n",
        response.leaf(), a_.channel, found.certificate, found.date, found.zero, found.span);
    return {};
  }

  static int64_t wall_us() {
    return std::chrono::duration_cast<std::chrono::microseconds>(
               std::chrono::system_clock::now().time_since_epoch())
        .count();
  }

  const Arguments& a_;
  std::unique_ptr<v1::SensorsService::Stub> stub_;
  physics::Calibration in_force_;
  std::string unit_, words_;
};

int run(Arguments a) {
  if (a.source.empty()) a.source = a.channel.substr(0, a.channel.find('.'));
  if (a.load.empty() && !a.zero_only)
    return complain(
        {Code::kBadInput, "--load: is missing; give the reference load, or --zero-only"});
  const Status done = Walk(a).run();
  return done ? 0 : complain(done.error());
}

}  // namespace

void add_calibrate(CLI::App& app) {
  auto a = std::make_shared<Arguments>();
  CLI::App* command = app.add_subcommand(
      "calibrate", "Zero and two-point calibration of a truck's instrument, step by step");
  command->add_option("CHANNEL", a->channel, "Signal, e.g. line.pull")->required();
  command->add_option("--source", a->source, "Its source; the signal's first word unless told");
  command->add_option("--load", a->load, "Reference load: \"500 kg\", \"5 kN\" or a plain number");
  command->add_option("--low", a->low, "Load of the first point; 0 unless told");
  command->add_option("--certificate", a->certificate, "Number of the reference's certificate")
      ->required();
  command->add_option("--date", a->date, "Of the calibration; today unless told");
  command->add_option("--operator", a->card, "Card of who does it")->required();
  command->add_option("--seconds", a->seconds, "How long each load is read")
      ->check(CLI::Range(1u, 5u));
  command->add_flag("--zero-only", a->zero_only, "Only the zero; the span in force stays");
  add_base_option(command, a->base);
  command->footer(
      "Example:\n  fairlead calibrate line.pull --load \"500 kg\" --certificate C-17 --operator "
      "card-3f \\\n      --base unix:truck/truck.sock");
  command->callback([a] { end_with(run(*a)); });
}

}  // namespace fairlead::cli

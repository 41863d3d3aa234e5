#include "plugins/misbehave/actor.h"

#include <fmt/format.h>
#include <signal.h>
#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <thread>
#include <utility>

#include "plugins/sdk/feed.h"
#include "plugins/sdk/stream.h"

namespace fairlead::misbehave {

namespace {
using namespace std::chrono_literals;

constexpr int kExitNoDaemon = 69;
constexpr int kExitRefused = 77;
constexpr int kExitConfig = 78;
constexpr int64_t kGiveUpAfterUs = 4'000'000;
constexpr int64_t kBatchEveryUs = 25'000;
constexpr size_t kKeep = 20'000;

volatile sig_atomic_t g_asked_to_end = 0;

int64_t mono_us() { return sdk::now().mono_us; }
}  // namespace

void watch_for_the_end() {
  struct sigaction action{};
  action.sa_handler = [](int) { g_asked_to_end = 1; };
  sigaction(SIGTERM, &action, nullptr);
  sigaction(SIGINT, &action, nullptr);
}

Actor::Actor(sdk::Address address, std::string session, Settings settings)
    : address_(std::move(address)),
      settings_(std::move(settings)),
      harm_(settings_.fault),
      random_(static_cast<uint64_t>(mono_us())),
      outbox_(kKeep) {
  hello_.set_wire_core(1);
  hello_.add_plugin_api(1);
  hello_.set_session_id(std::move(session));
  hello_.set_plugin("misbehave");
  hello_.set_version("1.0");
  hello_.add_capabilities("outputs");
  started_us_ = mono_us();
}

Actor::~Actor() {
  if (device_ >= 0) close(device_);
}

bool Actor::bad(Fault fault) const { return bad_since(fault, mono_us()); }

// Of a reading by its own time, so that it is spoilt alike however often it is sent.
bool Actor::bad_since(Fault fault, int64_t mono_us) const {
  return settings_.fault == fault && mono_us - started_us_ >= settings_.after_us;
}

int Actor::run() {
  while (settings_.fault == Fault::kMute && g_asked_to_end == 0) std::this_thread::sleep_for(50ms);
  int64_t last_good_us = mono_us();
  while (true) {
    std::optional<int> ending;
    bool was_served = false;
    {
      sdk::Stream stream(dial(address_));
      ending = greet(stream);
      was_served = !ending && !stream.broken();
      if (was_served) ending = serve(stream);
      stream.end();
    }
    if (was_served) last_good_us = mono_us();
    if (ending) return *ending;
    if (g_asked_to_end != 0) return 0;
    if (address_.fd >= 0 || mono_us() - last_good_us > kGiveUpAfterUs) return kExitNoDaemon;
    if (configured_) turn();
    std::this_thread::sleep_for(200ms);
  }
}

void Actor::send(sdk::Stream& stream, v1::FeedRequest frame) {
  while (!stream.can_write() && !stream.broken()) stream.wait(5ms);
  stream.try_write(std::move(frame));
}

std::optional<int> Actor::greet(sdk::Stream& stream) {
  v1::FeedRequest frame;
  *frame.mutable_hello() = hello_;
  send(stream, std::move(frame));
  int64_t until_us = mono_us() + 5'000'000;
  std::optional<v1::FeedResponse> answer;
  while (!answer && !stream.broken() && mono_us() < until_us && g_asked_to_end == 0) {
    stream.wait(50ms);
    answer = stream.take();
  }
  if (!answer) return std::nullopt;
  if (!answer->has_welcome()) {
    return bad(Fault::kIgnoreRefusal) ? std::nullopt : std::optional(kExitRefused);
  }
  const v1::PluginWelcome& welcome = answer->welcome();
  std::string wrong = sdk::objection(hello_, welcome);
  if (!wrong.empty() && !bad(Fault::kIgnoreRefusal)) return kExitRefused;
  if (welcome.heartbeat_ms() > 0) beat_every_us_ = welcome.heartbeat_ms() * 250;
  if (!std::exchange(configured_, true)) {
    if (auto ending = configure(stream, welcome.config_toml())) return ending;
  } else if (bad(Fault::kForgets)) {
    outbox_.ack(outbox_.close());
  }
  outbox_.rewind(welcome.acked_batch());
  beat_next_.reset();
  describe(stream);
  harm_.connected();
  return std::nullopt;
}

std::optional<int> Actor::configure(sdk::Stream& stream, const std::string& toml) {
  bool strict = settings_.fault != Fault::kAnyConfig;
  sdk::Problems problems = read_settings(toml, strict, settings_);
  if (!problems.empty()) {
    v1::FeedRequest frame;
    auto& refused = *frame.mutable_config_refused();
    refused.mutable_problems()->Assign(problems.begin(), problems.end());
    send(stream, std::move(frame));
    for (int i = 0; i < 20 && !stream.broken(); ++i) stream.wait(50ms);
    return kExitConfig;
  }
  if (settings_.fault == Fault::kRandom) {
    std::mt19937_64 dice(static_cast<uint64_t>(settings_.seed) * 1'000'003 +
                         static_cast<uint64_t>(getpid()));
    auto last = static_cast<int>(Fault::kRandom) - 1;
    // Litter would lie where the daemon runs.
    do {
      settings_.fault = static_cast<Fault>(std::uniform_int_distribution<int>(2, last)(dice));
    } while (settings_.fault == Fault::kLitter);
    settings_.lifetime_us = 2'000'000;
    settings_.after_us = std::uniform_int_distribution<int64_t>(0, 300'000)(dice);
  }
  harm_ = Harm(settings_.fault);
  harm_.prepare();
  fmt::print(stderr, "misbehaves: {}\n", word_of(settings_.fault));
  started_us_ = due_us_ = mono_us();
  wall_due_us_ = sdk::now().wall_us;
  heard_us_ = started_us_;
  return std::nullopt;
}

void Actor::describe(sdk::Stream& stream) {
  v1::FeedRequest frame;
  v1::PluginChannel& c = *frame.mutable_described()->add_channels();
  c.set_source(settings_.source);
  c.set_signal("line.pull");
  c.set_unit("N");
  c.set_range_hi(99'999);
  c.set_resolution(1);
  if (settings_.device.empty()) c.set_rate_hz(settings_.rate_hz);
  c.set_clock_source(v1::PluginChannel::ARRIVAL);
  if (!settings_.output.empty()) {
    frame.mutable_described()->add_outputs()->set_output(settings_.output);
  }
  bool wrong = settings_.fault == Fault::kBadSignal || settings_.fault == Fault::kBadUnit ||
               settings_.fault == Fault::kBadRange;
  if (wrong) {
    // A second channel, so that the first one's readings are not to blame.
    v1::PluginChannel& second = *frame.mutable_described()->add_channels();
    second = c;
    second.set_signal(settings_.fault == Fault::kBadSignal ? "line.ot" : "line.out");
    second.set_unit(settings_.fault == Fault::kBadUnit ? "ft" : "m");
    second.set_range_lo(settings_.fault == Fault::kBadRange ? 200'000 : 0);
  }
  send(stream, std::move(frame));
}

std::optional<int> Actor::serve(sdk::Stream& stream) {
  bool deaf = settings_.fault == Fault::kIgnoreTerm;
  std::optional<int64_t> end_by_us;
  while (!stream.broken()) {
    if (auto ending = listen(stream)) return ending;
    bool ending = stopping_ || g_asked_to_end != 0;
    if (ending && !deaf && !end_by_us) end_by_us = mono_us() + 1'000'000;
    if (end_by_us && (outbox_.drained() || mono_us() > *end_by_us)) return 0;
    if (!end_by_us) turn();
    speak(stream);
    stream.wait(5ms);
  }
  return std::nullopt;
}

std::optional<int> Actor::listen(sdk::Stream& stream) {
  while (auto answer = stream.take()) {
    if (answer->has_ack()) outbox_.ack(answer->ack().batch_seq());
    if (answer->has_stop()) stopping_ = true;
    if (answer->has_command()) switch_output(answer->command());
    if (answer->has_refused() && !bad(Fault::kIgnoreRefusal)) return kExitRefused;
  }
  return std::nullopt;
}

void Actor::switch_output(const v1::PluginCommand& command) {
  v1::PluginCommandDone& answer = answers_.emplace_back();
  answer.set_command_seq(command.command_seq());
  if (command.output() != settings_.output) answer.set_trouble("no such output");
  fmt::print(stderr, "{} {}\n", command.output(), command.on() ? "on" : "off");
}

void Actor::speak(sdk::Stream& stream) {
  while (stream.can_write()) {
    v1::FeedRequest frame = next_frame();
    if (frame.frame_case() == v1::FeedRequest::FRAME_NOT_SET) return;
    stream.try_write(std::move(frame));
  }
}

v1::FeedRequest Actor::next_frame() {
  v1::FeedRequest frame;
  if (!answers_.empty()) {
    *frame.mutable_command_done() = std::move(answers_.front());
    answers_.pop_front();
    return frame;
  }
  int64_t at_us = mono_us();
  auto since_beat_us = static_cast<uint64_t>(at_us - beat_told_us_);
  bool beat_due = turns_ != turns_told_ && since_beat_us >= beat_every_us_;
  if (beat_due && !beat_next_) {
    sdk::Stamp now = sdk::now();
    beat_next_.emplace();
    beat_next_->set_turns(turns_);
    beat_next_->set_wall_us(now.wall_us);
    beat_next_->set_mono_us(now.mono_us);
    beat_behind_ = outbox_.close();
  }
  bool flush = stopping_ || g_asked_to_end != 0 || at_us - batch_told_us_ >= kBatchEveryUs;
  if (beat_next_ && outbox_.sent(beat_behind_)) {
    turns_told_ = beat_next_->turns();
    beat_told_us_ = at_us;
    *frame.mutable_heartbeat() = *std::exchange(beat_next_, std::nullopt);
  } else if (const v1::PluginBatch* batch = outbox_.next(flush)) {
    ++batches_;
    batch_told_us_ = at_us;
    if (bad(Fault::kHelloAgain) && batches_ % 8 == 7) {
      *frame.mutable_hello() = hello_;
    } else if (bad(Fault::kDescribeAgain) && batches_ % 8 == 7) {
      frame.mutable_described()->add_channels()->set_signal("line.out");
    } else {
      *frame.mutable_batch() = *batch;
      spoil(*frame.mutable_batch());
    }
  }
  return frame;
}

void Actor::spoil(v1::PluginBatch& batch) const {
  if (bad(Fault::kBatchHole) && batch.batch_seq() > 5) batch.set_batch_seq(batch.batch_seq() + 1);
  if (bad_since(Fault::kHugeBatch, batch.readings(0).mono_us())) {
    while (batch.readings_size() <= 5000) *batch.add_readings() = batch.readings(0);
  }
  for (v1::PluginReading& r : *batch.mutable_readings()) {
    if (!r.has_value()) continue;
    if (std::fmod(r.value(), 10) != 7) continue;  // Now and then.
    const int64_t at_us = r.mono_us();
    if (bad_since(Fault::kBadChannel, at_us)) r.set_channel(9);
    if (bad_since(Fault::kClockJump, at_us)) r.set_wall_us(r.wall_us() + 3'600'000'000);
    if (bad_since(Fault::kMonoBack, at_us)) r.set_mono_us(r.mono_us() - 5'000'000);
    if (bad_since(Fault::kLie, at_us)) r.set_value(5e8);
    if (bad_since(Fault::kNotANumber, at_us)) r.set_value(std::nan(""));
    if (bad_since(Fault::kWrongKind, at_us)) r.mutable_fix()->set_lat_deg(1);
  }
}

}  // namespace fairlead::misbehave

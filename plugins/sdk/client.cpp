#include "plugins/sdk/client.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstdio>
#include <thread>
#include <utility>

#include "plugins/sdk/config.h"
#include "plugins/sdk/stream.h"

namespace fairlead::sdk {

namespace {
using Clock = std::chrono::steady_clock;

void say(const std::string& words) { fmt::print(stderr, "{}\n", words); }
}  // namespace

Client::Client(Address address, v1::PluginHello hello, Feed& feed, Configure configure, Ready ready)
    : address_(std::move(address)),
      hello_(std::move(hello)),
      feed_(feed),
      configure_(std::move(configure)),
      ready_(std::move(ready)) {}

Client::~Client() = default;

Ending Client::run() {
  auto last_good = Clock::now();
  while (true) {
    Stream stream(dial(address_));
    std::optional<Ending> ending = shake_hands(stream);
    if (!ending && !stream.broken()) {
      ending = pump(stream);
      last_good = Clock::now();
    }
    grpc::Status status = stream.end();
    {
      std::lock_guard lock(feed_.mutex_);
      feed_.switches_.lost_daemon();
      feed_.done_.clear();  // Answers belong to their stream.
      feed_.changed_.notify_all();
    }
    if (ending) return *ending;
    if (feed_.stopping()) return Ending::kStopped;
    bool give_up = address_.fd >= 0 || Clock::now() - last_good > kGiveUpAfter;
    if (give_up) {
      say(fmt::format("the daemon is gone ({}); ending", status.error_message()));
      return Ending::kStreamGone;
    }
    std::this_thread::sleep_for(std::chrono::milliseconds(200));
  }
}

std::optional<Ending> Client::shake_hands(Stream& stream) {
  v1::FeedRequest frame;
  *frame.mutable_hello() = hello_;
  stream.try_write(std::move(frame));
  auto until = Clock::now() + kAnswerWithin;
  std::optional<v1::FeedResponse> answer;
  while (!answer && !stream.broken() && Clock::now() < until) {
    stream.wait(std::chrono::milliseconds(100));
    answer = stream.take();
  }
  if (!answer) return std::nullopt;
  if (answer->has_refused()) {
    say("refused by the daemon: " + answer->refused().reason());
    return Ending::kRefused;
  }
  if (!answer->has_welcome()) return Ending::kRefused;
  const v1::PluginWelcome& welcome = answer->welcome();
  if (std::string wrong = objection(hello_, welcome); !wrong.empty()) {
    say(wrong);
    return Ending::kRefused;
  }
  // Well ahead: the daemon cannot tell a late beat from a loop that turned long ago.
  if (welcome.heartbeat_ms() > 0)
    beat_every_ = std::chrono::milliseconds(welcome.heartbeat_ms() / 4);

  // The hello's write may still be settling.
  while (!stream.can_write() && !stream.broken()) stream.wait(std::chrono::milliseconds(50));
  if (!configured_) {
    if (auto ending = configure(stream, welcome.config_toml())) return ending;
  }
  v1::FeedRequest reply;
  *reply.mutable_described() = described_;
  stream.try_write(std::move(reply));
  {
    std::lock_guard lock(feed_.mutex_);
    feed_.outbox_.rewind(welcome.acked_batch());
    beat_next_.reset();
  }
  if (!std::exchange(configured_, true)) ready_();
  return std::nullopt;
}

std::optional<Ending> Client::configure(Stream& stream, const std::string& toml) {
  Problems problems = configure_(toml, described_);
  if (problems.empty()) return std::nullopt;
  for (const auto& p : problems) say(fmt::format("{}: {}; {}", p.field(), p.problem(), p.remedy()));
  v1::FeedRequest reply;
  v1::PluginConfigRefused& refusal = *reply.mutable_config_refused();
  refusal.mutable_problems()->Assign(problems.begin(), problems.end());
  stream.try_write(std::move(reply));
  // The daemon ends the stream once it has read this.
  auto limit = Clock::now() + std::chrono::seconds(1);
  while (!stream.broken() && Clock::now() < limit) stream.wait(std::chrono::milliseconds(50));
  return Ending::kConfigRefused;
}

void Client::take_command(const v1::PluginCommand& command) {
  const auto& outputs = described_.outputs();
  bool known = std::any_of(outputs.begin(), outputs.end(), [&](const v1::PluginOutput& output) {
    return output.output() == command.output();
  });
  bool taken = false;
  if (known) {
    std::lock_guard lock(feed_.mutex_);
    taken = feed_.switches_.command(command);
    feed_.changed_.notify_all();
  }
  if (!taken) feed_.done(command, known ? "too many commands are waiting" : "no such output");
}

std::optional<Ending> Client::pump(Stream& stream) {
  while (!stream.broken()) {
    while (auto answer = stream.take()) {
      if (answer->has_ack()) {
        std::lock_guard lock(feed_.mutex_);
        feed_.outbox_.ack(answer->ack().batch_seq());
      } else if (answer->has_command()) {
        take_command(answer->command());
      } else if (answer->has_stop()) {
        say("stop: " + answer->stop().reason());
        feed_.request_stop();
      } else if (answer->has_refused()) {
        say("refused by the daemon: " + answer->refused().reason());
        return Ending::kRefused;
      }
    }
    {
      std::lock_guard lock(feed_.mutex_);
      if (drain_until_ && (feed_.outbox_.drained() || Clock::now() > *drain_until_)) {
        return Ending::kStopped;
      }
    }
    bool wrote = stream.can_write() && send_due(stream);
    if (!wrote) stream.wait(std::chrono::milliseconds(10));
  }
  return std::nullopt;
}

bool Client::send_due(Stream& stream) {
  v1::FeedRequest frame;
  {
    std::lock_guard lock(feed_.mutex_);
    auto at = Clock::now();
    bool flush = drain_until_.has_value() || at - batch_told_ >= kBatchEvery;
    bool beat_due = feed_.beat_.turns() != turns_told_ && at - beat_told_ >= beat_every_;
    if (beat_due && !beat_next_) beat_next_ = {feed_.beat_, feed_.outbox_.close()};
    if (!feed_.done_.empty()) {
      *frame.mutable_command_done() = std::move(feed_.done_.front());
      feed_.done_.pop_front();
    } else if (beat_next_ && feed_.outbox_.sent(beat_next_->behind)) {
      turns_told_ = beat_next_->beat.turns();
      beat_told_ = at;
      *frame.mutable_heartbeat() = std::move(beat_next_->beat);
      beat_next_.reset();
    } else if (const v1::PluginBatch* batch = feed_.outbox_.next(flush)) {
      *frame.mutable_batch() = *batch;
      batch_told_ = at;
    } else {
      return false;
    }
  }
  return stream.try_write(std::move(frame));
}

void Client::stop_after_drain(std::chrono::milliseconds within) {
  std::lock_guard lock(feed_.mutex_);
  drain_until_ = Clock::now() + within;
}

}  // namespace fairlead::sdk

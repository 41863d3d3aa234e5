#include "plugins/sdk/outbox.h"

#include <utility>

namespace fairlead::sdk {

void Outbox::add(v1::PluginReading reading) {
  if (full()) {
    Lost& lost = lost_[reading.channel()];
    if (lost.count == 0) {
      lost.wall_us = reading.wall_us();
      lost.mono_us = reading.mono_us();
    }
    ++lost.count;
    ++lost_in_all_;
    return;
  }
  mark_losses();
  put(std::move(reading));
}

void Outbox::mark_losses() {
  for (const auto& [channel, lost] : lost_) {
    v1::PluginReading mark;
    mark.set_channel(channel);
    mark.set_wall_us(lost.wall_us);
    mark.set_mono_us(lost.mono_us);
    mark.mutable_gap()->set_cause("buffer full: the recorder did not take the readings");
    mark.mutable_gap()->set_lost(lost.count);
    put(std::move(mark));
  }
  lost_.clear();
}

void Outbox::put(v1::PluginReading reading) {
  *open_.add_readings() = std::move(reading);
  ++kept_;
  if (open_.readings_size() >= kMaxBatch) close();
}

uint64_t Outbox::close() {
  if (open_.readings_size() == 0) return last_seq_;
  open_.set_batch_seq(++last_seq_);
  closed_.push_back(std::move(open_));
  open_ = v1::PluginBatch();
  return last_seq_;
}

bool Outbox::sent(uint64_t batch_seq) const {
  return sent_ == closed_.size() || batch_seq < closed_[sent_].batch_seq();
}

const v1::PluginBatch* Outbox::next(bool flush) {
  if (!full()) mark_losses();
  if (sent_ == closed_.size() && flush) close();
  if (sent_ == closed_.size()) return nullptr;
  return &closed_[sent_++];
}

void Outbox::ack(uint64_t batch_seq) {
  if (batch_seq > last_seq_) return;
  while (!closed_.empty() && closed_.front().batch_seq() <= batch_seq) {
    kept_ -= static_cast<size_t>(closed_.front().readings_size());
    closed_.pop_front();
    if (sent_ > 0) --sent_;
  }
}

void Outbox::rewind(uint64_t acked) {
  ack(acked);
  sent_ = 0;
}

}  // namespace fairlead::sdk

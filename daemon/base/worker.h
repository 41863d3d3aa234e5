// One thread that runs tasks in the order they were posted. A Poster stays valid after the worker
// has ended: what is posted then is dropped, so late callbacks do no harm.
//
// Threads: post from any thread; the worker is made and destroyed by one.
#pragma once

#include <chrono>
#include <functional>
#include <memory>
#include <thread>

namespace fairlead {

class Worker {
 public:
  using Task = std::function<void()>;

  class Poster {
   public:
    /// False: the worker has ended and the task is dropped.
    bool operator()(Task task) const;

   private:
    friend class Worker;
    struct Queue;
    explicit Poster(std::shared_ptr<Queue> queue) : queue_(std::move(queue)) {}
    std::shared_ptr<Queue> queue_;
  };

  /// `idle` runs whenever nothing was posted for `every` (zero: never).
  explicit Worker(std::chrono::milliseconds every = {}, Task idle = {});
  /// The task that runs is finished, tasks that wait are dropped.
  ~Worker();
  Worker(const Worker&) = delete;
  Worker& operator=(const Worker&) = delete;

  [[nodiscard]] Poster poster() const { return Poster(queue_); }
  bool post(Task task) const { return Poster(queue_)(std::move(task)); }

 private:
  std::shared_ptr<Poster::Queue> queue_;
  std::thread thread_;
};

}  // namespace fairlead

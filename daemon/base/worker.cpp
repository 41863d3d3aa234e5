#include "daemon/base/worker.h"

#include <condition_variable>
#include <deque>
#include <mutex>

namespace fairlead {

struct Worker::Poster::Queue {
  std::mutex mutex;
  std::condition_variable wake;
  std::deque<Task> tasks;
  bool stop = false;
};

bool Worker::Poster::operator()(Task task) const {
  {
    const std::lock_guard lock(queue_->mutex);
    if (queue_->stop) return false;
    queue_->tasks.push_back(std::move(task));
  }
  queue_->wake.notify_one();
  return true;
}

Worker::Worker(std::chrono::milliseconds every, Task idle)
    : queue_(std::make_shared<Poster::Queue>()) {
  thread_ = std::thread([queue = queue_, every, idle = std::move(idle)] {
    const auto ready = [&queue] { return queue->stop || !queue->tasks.empty(); };
    for (;;) {
      Task task;
      {
        std::unique_lock lock(queue->mutex);
        if (every.count() > 0) {
          queue->wake.wait_for(lock, every, ready);
        } else {
          queue->wake.wait(lock, ready);
        }
        if (queue->stop) return;
        if (!queue->tasks.empty()) {
          task = std::move(queue->tasks.front());
          queue->tasks.pop_front();
        }
      }
      if (task) {
        task();
      } else if (idle) {
        idle();
      }
    }
  });
}

Worker::~Worker() {
  {
    const std::lock_guard lock(queue_->mutex);
    queue_->stop = true;
  }
  queue_->wake.notify_all();
  thread_.join();
  // Dropped outside the lock: a task may own what posts again when it goes.
  std::deque<Task> dropped;
  {
    const std::lock_guard lock(queue_->mutex);
    dropped.swap(queue_->tasks);
  }
}

}  // namespace fairlead

#include "terminal.hpp"

#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstdlib>

namespace corefleck {
namespace {

bool is_set(const char* variable) {
  const char* value = std::getenv(variable);
  return value != nullptr && *value != '\0';
}

bool is_dumb() {
  const char* term = std::getenv("TERM");
  return term != nullptr && std::string_view(term) == "dumb";
}

std::string_view escape_of(Tone tone) {
  switch (tone) {
    case Tone::bold:
      return "\033[1m";
    case Tone::good:
      return "\033[32m";
    case Tone::doubtful:
      return "\033[33m";
    case Tone::bad:
      return "\033[31m";
    case Tone::plain:
      break;
  }
  return "";
}

std::string in_tone(std::string_view words, Tone tone, bool colour) {
  if (!colour || tone == Tone::plain) return std::string(words);
  return fmt::format("{}{}\033[0m", escape_of(tone), words);
}

}  // namespace

Terminal& Terminal::of_process() {
  const bool plain = is_set("NO_COLOR") || is_dumb();
  const bool out = ::isatty(STDOUT_FILENO) == 1, err = ::isatty(STDERR_FILENO) == 1;
  static Terminal terminal(
      stdout,
      stderr,
      {.colour_out = out && !plain, .colour_err = err && !plain, .progress = err && !is_dumb()});
  return terminal;
}

Terminal::Terminal(std::FILE* out, std::FILE* err, Style style) : out_(out), err_(err), style_(style) {}

// A reader who left (`| head`) is no failure: SIGPIPE is ignored in main, so that the files are still
// finished.
void Terminal::write(std::FILE* stream, std::string_view text) {
  errno = 0;
  const bool whole =
      std::fwrite(text.data(), 1, text.size(), stream) == text.size() && std::fflush(stream) == 0;
  if (!whole && stream == out_ && errno != EPIPE) out_failed_ = true;
}

void Terminal::erase_bar() {
  if (bar_.empty()) return;
  write(err_, "\r\033[K");
  bar_.clear();
}

void Terminal::print(std::string_view line) { print_raw(std::string(line) + '\n'); }

void Terminal::print_raw(std::string_view text) {
  const std::lock_guard lock(mutex_);
  erase_bar();
  write(out_, text);
}

void Terminal::complain(std::string_view text) {
  const std::lock_guard lock(mutex_);
  erase_bar();
  write(err_, fmt::format("{} {}\n", in_tone("corefleck:", Tone::bad, style_.colour_err), printable(text)));
}

void Terminal::progress(std::size_t done, std::size_t total) {
  if (!style_.progress || total == 0) return;
  constexpr std::size_t kWidth = 30;
  const std::size_t full = kWidth * done / total;
  const std::lock_guard lock(mutex_);
  bar_ = fmt::format("[{:=<{}}{: <{}}] {}/{}", "", full, "", kWidth - full, done, total);
  write(err_, "\r" + bar_ + "\033[K");
}

void Terminal::end_progress() {
  const std::lock_guard lock(mutex_);
  erase_bar();
}

std::string Terminal::toned(std::string_view words, Tone tone) const {
  return in_tone(words, tone, style_.colour_out);
}

bool Terminal::flush() {
  const std::lock_guard lock(mutex_);
  write(out_, "");
  return !out_failed_;
}

std::string printable(std::string_view bytes) {
  std::string shown(bytes);
  std::replace_if(
      shown.begin(),
      shown.end(),
      [](char c) { return static_cast<unsigned char>(c) < 0x20 || c == 0x7F; },
      '?');
  return shown;
}

}  // namespace corefleck

#pragma once

#include <cstdio>
#include <mutex>
#include <string>
#include <string_view>

namespace corefleck {

enum class Tone { plain, bold, good, doubtful, bad };

/// Everything that the program says goes through here: results to stdout, all talk to stderr. Colour and
/// progress are decided once. Safe to call from several threads; a line is never cut by another one.
class Terminal {
 public:
  struct Style {
    bool colour_out = false;
    bool colour_err = false;
    bool progress = false;  ///< a bar on stderr, redrawn in place
  };

  /// Of this process: colour and progress only on a terminal, none with NO_COLOR (non-empty) or TERM=dumb.
  [[nodiscard]] static Terminal& of_process();

  Terminal(std::FILE* out, std::FILE* err, Style style);

  /// A line of results, without its line end.
  void print(std::string_view line);
  /// Text that is results as a whole, byte for byte.
  void print_raw(std::string_view text);
  /// `corefleck: TEXT` on stderr.
  void complain(std::string_view text);
  /// Draws or redraws the bar; nothing where there is no terminal.
  void progress(std::size_t done, std::size_t total);
  void end_progress();

  /// Words for stdout, in colour where that is wanted.
  [[nodiscard]] std::string toned(std::string_view words, Tone tone) const;

  /// False if results could not be written: a full disk, not a reader who left (that ends quietly).
  [[nodiscard]] bool flush();

 private:
  void write(std::FILE* stream, std::string_view text);
  void erase_bar();

  std::FILE* out_;
  std::FILE* err_;
  Style style_;
  std::mutex mutex_;
  std::string bar_;  ///< as it stands on the terminal; empty: none
  bool out_failed_ = false;
};

/// File names may hold anything; on a terminal, control characters would act. They are shown as '?'.
[[nodiscard]] std::string printable(std::string_view bytes);

}  // namespace corefleck

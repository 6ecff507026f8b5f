#include "corefleck/lists.hpp"
#include "corefleck/utf8.hpp"

#include <algorithm>

namespace corefleck {
namespace {

constexpr std::string_view kByteOrderMark = "\xEF\xBB\xBF";

bool ends_line(char c) { return c == '\r' || c == '\n'; }

std::string without_blanks(const std::string& text) {
  constexpr std::string_view kBlanks = " \t";
  const auto first = text.find_first_not_of(kBlanks);
  return first == std::string::npos ? "" : text.substr(first, text.find_last_not_of(kBlanks) - first + 1);
}

/// Goes through the text once. A fault does not stop it: the next line begins anew.
class CsvReader {
 public:
  explicit CsvReader(std::string_view text) : text_(text) {}

  ListResult<std::vector<std::vector<ListCell>>> read() {
    while (at_ < text_.size()) read_row();
    if (!faults_.empty()) return tl::make_unexpected(std::move(faults_));
    return std::move(rows_);
  }

 private:
  void read_row() {
    std::vector<ListCell> row;
    for (bool more = true; more;) {
      ListCell cell{"", line_, static_cast<int>(row.size()) + 1};
      const bool good = read_cell(cell);
      cell.text = without_blanks(cell.text);
      row.push_back(std::move(cell));
      if (!good) skip_line();
      more = at_ < text_.size() && text_[at_] == ',';
      if (more) ++at_;
    }
    end_line();
    rows_.push_back(std::move(row));
  }

  /// Stands on the comma or line end behind the cell afterwards. False: the rest of the line means nothing.
  bool read_cell(ListCell& cell) {
    if (at_ < text_.size() && text_[at_] == '"') return read_quoted(cell);
    for (; at_ < text_.size() && text_[at_] != ',' && !ends_line(text_[at_]); ++at_) {
      if (text_[at_] == '"')
        return fault(
            cell, "a quote inside a cell without quotes", "put the cell in quotes and double those inside");
      cell.text += text_[at_];
    }
    return true;
  }

  bool read_quoted(ListCell& cell) {
    for (++at_; at_ < text_.size(); ++at_) {
      if (text_[at_] != '"') {
        if (ends_line(text_[at_])) count_line_end();
        cell.text += text_[at_];
      } else if (at_ + 1 < text_.size() && text_[at_ + 1] == '"') {
        cell.text += text_[++at_];
      } else {
        ++at_;
        if (at_ == text_.size() || text_[at_] == ',' || ends_line(text_[at_])) return true;
        return fault(cell, "text after the closing quote", "double the quotes inside the cell");
      }
    }
    return fault(cell, "a quote that is never closed", "close it, or double it where it belongs to the text");
  }

  bool fault(const ListCell& cell, std::string what, std::string hint) {
    faults_.push_back({cell.line, cell.column, std::move(what), std::move(hint)});
    return false;
  }

  void skip_line() {
    while (at_ < text_.size() && !ends_line(text_[at_])) ++at_;
  }

  /// CRLF is counted at its LF.
  void count_line_end() {
    if (text_[at_] == '\n' || at_ + 1 == text_.size() || text_[at_ + 1] != '\n') ++line_;
  }

  void end_line() {
    if (at_ == text_.size()) return;
    if (text_[at_] == '\r' && at_ + 1 < text_.size() && text_[at_ + 1] == '\n') ++at_;
    ++at_;
    ++line_;
  }

  std::string_view text_;
  std::size_t at_ = 0;
  int line_ = 1;
  std::vector<std::vector<ListCell>> rows_;
  std::vector<ListFault> faults_;
};

/// Line of the first place where the two differ, or of the end of the shorter.
int line_of_difference(std::string_view a, std::string_view b) {
  const auto [in_a, in_b] = std::mismatch(a.begin(), a.end(), b.begin(), b.end());
  return 1 + static_cast<int>(std::count(a.begin(), in_a, '\n'));
}

}  // namespace

ListResult<std::vector<std::vector<ListCell>>> csv_cells(std::string_view text) {
  const auto no_text = [](int line) {
    return tl::make_unexpected(
        std::vector<ListFault>{{line, 0, "is no text in UTF-8", "save the table as CSV in UTF-8"}});
  };
  // A spreadsheet's own file, or UTF-16, shows a NUL in its first bytes; a photo, too.
  if (text.find('\0') != std::string_view::npos) return no_text(0);
  if (const std::string valid = valid_utf8(text); valid != text)
    return no_text(line_of_difference(text, valid));
  if (text.starts_with(kByteOrderMark)) text.remove_prefix(kByteOrderMark.size());
  return CsvReader(text).read();
}

}  // namespace corefleck

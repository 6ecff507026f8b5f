#include "whole_file.hpp"

#include "corefleck/report.hpp"
#include "corefleck/utf8.hpp"

#include <fmt/format.h>
#include <unistd.h>

#include <fstream>
#include <system_error>
#include <utility>

namespace corefleck {
namespace {

tl::unexpected<MeasureError> cannot_write(const std::filesystem::path& path, const std::string& why) {
  return failure(ErrorCode::cannot_write,
                 fmt::format("{}: cannot be written ({})", valid_utf8(path.string()), why),
                 "check that the folder exists, may be written to, and has room");
}

// Hidden and with the process number, so that two runs into one folder do not write into each other's file.
std::filesystem::path temporary_name(const std::filesystem::path& path) {
  return path.parent_path() / fmt::format(".{}.partial-{}", path.filename().string(), ::getpid());
}

}  // namespace

PendingFile::PendingFile(std::filesystem::path path)
    : path_(std::move(path)), temporary_(temporary_name(path_)) {}

PendingFile::PendingFile(PendingFile&& other) noexcept
    : path_(std::move(other.path_)), temporary_(std::exchange(other.temporary_, {})) {}

PendingFile& PendingFile::operator=(PendingFile&& other) noexcept {
  if (this != &other) {
    discard();
    path_ = std::move(other.path_);
    temporary_ = std::exchange(other.temporary_, {});
  }
  return *this;
}

PendingFile::~PendingFile() { discard(); }

void PendingFile::discard() noexcept {
  if (temporary_.empty()) return;
  std::error_code ignored;
  std::filesystem::remove(temporary_, ignored);
  temporary_.clear();
}

Result<PendingFile> PendingFile::write(const std::filesystem::path& path, std::string_view bytes) {
  std::error_code ignored;
  if (std::filesystem::is_directory(path, ignored))
    return cannot_write(path, "a folder of that name is in the way");
  PendingFile pending(path);
  std::ofstream file(pending.temporary_, std::ios::binary | std::ios::trunc);
  if (!file) {
    const auto why = std::error_code(errno, std::generic_category()).message();
    return cannot_write(path, why);
  }
  file.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
  file.close();  // a full disk may show only now
  if (!file) return cannot_write(path, std::error_code(errno, std::generic_category()).message());
  return pending;
}

Result<void> PendingFile::publish() {
  std::error_code error;
  std::filesystem::rename(temporary_, path_, error);
  if (error) return cannot_write(path_, error.message());
  temporary_.clear();
  return {};
}

Result<bool> make_folder(const std::filesystem::path& folder) {
  std::error_code error;
  if (folder.empty() || std::filesystem::is_directory(folder, error)) return false;
  const bool made = std::filesystem::create_directories(folder, error);
  if (error) return cannot_write(folder, error.message());
  return made;
}

Result<void> write_whole(const std::filesystem::path& path, std::string_view bytes) {
  return PendingFile::write(path, bytes).and_then([](PendingFile pending) { return pending.publish(); });
}

}  // namespace corefleck

#pragma once

#include "corefleck/error.hpp"

#include <filesystem>
#include <string>
#include <string_view>

namespace corefleck {

/// Bytes that stand on the disk under a temporary name beside their place, and come to their own name only by
/// `publish`. What was not published is removed with this object.
class PendingFile {
 public:
  [[nodiscard]] static Result<PendingFile> write(const std::filesystem::path& path, std::string_view bytes);
  PendingFile(PendingFile&& other) noexcept;
  PendingFile& operator=(PendingFile&& other) noexcept;
  PendingFile(const PendingFile&) = delete;
  PendingFile& operator=(const PendingFile&) = delete;
  ~PendingFile();
  [[nodiscard]] Result<void> publish();

 private:
  explicit PendingFile(std::filesystem::path path);
  void discard() noexcept;
  std::filesystem::path path_;
  std::filesystem::path temporary_;  ///< empty: nothing of ours lies on the disk
};

/// Makes the folder and those above it where missing. True: it was made just now.
[[nodiscard]] Result<bool> make_folder(const std::filesystem::path& folder);

}  // namespace corefleck

#include "file_set.hpp"

#include "whole_file.hpp"

namespace corefleck {
namespace {

Result<void> write_all(const std::vector<NamedBytes>& files, const std::filesystem::path& folder) {
  std::vector<PendingFile> pending;
  for (const NamedBytes& file : files) {
    auto written = PendingFile::write(folder / file.name, file.bytes);
    if (!written) return tl::make_unexpected(written.error());
    pending.push_back(*std::move(written));
  }
  for (PendingFile& file : pending)
    if (auto published = file.publish(); !published) return published;
  return {};
}

}  // namespace

Result<void> write_files(const std::vector<NamedBytes>& files, const std::filesystem::path& folder) {
  const auto made = make_folder(folder);
  if (!made) return tl::make_unexpected(made.error());
  auto written = write_all(files, folder);
  if (!written && *made) {
    std::error_code ignored;  // removes the folder only if nothing lies in it
    std::filesystem::remove(folder, ignored);
  }
  return written;
}

}  // namespace corefleck

#include "photo_file.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <system_error>
#include <utility>

namespace corefleck {
namespace {

tl::unexpected<MeasureError> open_refusal(int error_number) {
  switch (error_number) {
    case ENOENT:
    case ENOTDIR:
      return failure(ErrorCode::unreadable_photo, "no such file", "check the path and the spelling");
    case EACCES:
    case EPERM:
      return failure(ErrorCode::unreadable_photo,
                     "reading is not permitted",
                     "give yourself read permission for the file");
    default:
      return failure(ErrorCode::unreadable_photo,
                     fmt::format("cannot be opened ({})", std::generic_category().message(error_number)),
                     "check the disk or the card, or copy the file to another place");
  }
}

}  // namespace

Result<PhotoFile> PhotoFile::open(const std::filesystem::path& path) {
  // O_NONBLOCK: opening a named pipe must not wait for a writer; it has no effect on plain files.
  const int descriptor = ::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK);
  if (descriptor < 0) return open_refusal(errno);
  PhotoFile file(descriptor, State{});

  struct stat status {};
  if (::fstat(descriptor, &status) != 0) return open_refusal(errno);
  if (S_ISDIR(status.st_mode))
    return failure(ErrorCode::unreadable_photo, "is a folder, not a photo", "name the photos inside it");
  if (!S_ISREG(status.st_mode))
    return failure(
        ErrorCode::unreadable_photo, "is not a plain file", "save the photo as a file and name that");
  if (status.st_size <= 0)
    return failure(ErrorCode::unreadable_photo, "is empty (0 bytes)", "copy it again from the camera");
  file.state_ =
      State{static_cast<std::uintmax_t>(status.st_size), status.st_mtim.tv_sec, status.st_mtim.tv_nsec};
  return file;
}

PhotoFile::PhotoFile(PhotoFile&& other) noexcept
    : descriptor_(std::exchange(other.descriptor_, -1)), state_(other.state_) {}

PhotoFile::~PhotoFile() {
  if (descriptor_ >= 0) ::close(descriptor_);
}

std::size_t PhotoFile::read_at(std::uintmax_t position, std::span<std::uint8_t> into) const noexcept {
  std::size_t done = 0;
  while (done < into.size() && position + done < state_.size) {
    const ssize_t got =
        ::pread(descriptor_, into.data() + done, into.size() - done, static_cast<off_t>(position + done));
    if (got < 0 && errno == EINTR) continue;
    if (got <= 0) break;
    done += static_cast<std::size_t>(got);
  }
  return done;
}

bool PhotoFile::changed_since_opened() const noexcept {
  struct stat status {};
  if (::fstat(descriptor_, &status) != 0) return true;
  return State{static_cast<std::uintmax_t>(status.st_size), status.st_mtim.tv_sec, status.st_mtim.tv_nsec} !=
         state_;
}

}  // namespace corefleck

#include "photo_words.hpp"

#include <fmt/format.h>

namespace corefleck {

std::string taken_words(const Photo& photo) {
  std::string taken = photo.camera.taken;
  if (taken.empty()) return "date not recorded";
  if (taken.size() > 10 && taken[10] == 'T') taken[10] = ' ';
  return "taken " + taken;
}

std::string hash_words(const Photo& photo) {
  return photo.sha256.empty() ? std::string() : fmt::format("   ·   SHA-256 {}…", photo.sha256.substr(0, 12));
}

}  // namespace corefleck

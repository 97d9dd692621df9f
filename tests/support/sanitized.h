// SPDX-License-Identifier: GPL-3.0-or-later
// SANITIZED: this is a build with a sanitizer that has an allocator, or a tracer, of its own.
#ifndef SLOWMATCH_TESTS_SANITIZED_H
#define SLOWMATCH_TESTS_SANITIZED_H

#if defined __has_feature
#if __has_feature(address_sanitizer) || __has_feature(thread_sanitizer)
#define SANITIZED 1
#endif
#elif defined __SANITIZE_ADDRESS__ || defined __SANITIZE_THREAD__
#define SANITIZED 1
#endif

#endif

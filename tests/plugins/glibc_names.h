/* For tests that put an allocator of their own in the place of glibc's: its own functions, under the names that the
 * dynamic linker finds first. SANITIZED is defined where the address sanitizer has put its allocator there; then there
 * is no place for a test's. */
#ifndef LINCTUS_GLIBC_NAMES_H
#define LINCTUS_GLIBC_NAMES_H

#include <stddef.h>

#if defined __SANITIZE_ADDRESS__
#define SANITIZED 1
#elif defined __has_feature
#if __has_feature(address_sanitizer)
#define SANITIZED 1
#endif
#endif

#ifndef SANITIZED
/* NOLINTBEGIN(bugprone-reserved-identifier,cert-dcl37-c,cert-dcl51-cpp): glibc's names, not ours */
void *__libc_malloc(size_t size);
void *__libc_calloc(size_t n, size_t size);
void *__libc_realloc(void *old, size_t size);
void __libc_free(void *memory);
/* NOLINTEND(bugprone-reserved-identifier,cert-dcl37-c,cert-dcl51-cpp) */
#endif

#endif

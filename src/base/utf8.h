/* UTF-8 inside the base room. */
#ifndef DRYFRONT_BASE_UTF8_H
#define DRYFRONT_BASE_UTF8_H

#include <stddef.h>

/* Bytes of the code point that starts at `bytes` (1..4), 0 where the bytes are not valid UTF-8 (RFC 3629: no overlong
 * form, no surrogate, at most U+10FFFF) or `length` is 0. */
size_t df_utf8_length(const char *bytes, size_t length);

#endif
